"""How each value of a job is asked for: its label, unit, step and slider. What is allowed stands in `job.keys`."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.geometry import CRITERIA, CRITERION_NAMES
from groovewright.job.records import ARM_KINDS, CARTRIDGE_KINDS
from groovewright.mechanics.mounts import MOUNTS
from groovewright.mechanics.player import DRIFTS
from groovewright.quantities import SPEEDS_RPM


@dataclass(frozen=True)
class Field:
    """One value as a person fills it in.

    Parameters
    ----------
    step : float or None
        What one press of a stepper changes; None for what is no number.
    choices : tuple of (value, label)
        Where one of a few is picked.
    slider : (low, high) or None
        The ends of the slider that lies under the number.
    suggest : str
        The kind of name that is looked up from earlier jobs.
    """

    label: str
    unit: str = ""
    step: float | None = None
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    slider: tuple[float, float] | None = None
    suggest: str = ""
    lines: int = 1


def _plain(words: tuple[str, ...], empty: str = "") -> tuple[tuple[str, str], ...]:
    first = ((("", empty),)) if empty else ()
    return (*first, *((word, word.replace("-", " ")) for word in words))


YES_NO = (("no", "no"), ("yes", "yes"))
GROOVES = (
    ("lp", "30 cm LP"),
    ("lp-din", "30 cm LP, older standard (DIN)"),
    ("lp-jis", "30 cm LP, Japanese standard (JIS)"),
    ("25cm", "25 cm"),
    ("17cm", "17 cm"),
)

_CARTRIDGE = {
    "name": Field("Cartridge", suggest="cartridge"),
    "kind": Field("Kind", choices=_plain(CARTRIDGE_KINDS, "not known")),
    "stylus": Field("Stylus profile", hint="elliptical, fine line ..."),
    "holes_to_stylus_mm": Field("Holes to stylus", "mm", 0.5),
    "mono": Field("Mono", choices=YES_NO),
    "mass_g": Field("Mass", "g", 0.1, slider=(2.0, 20.0)),
    "fastener_mass_g": Field("Screws and nuts", "g", 0.1),
    "height_mm": Field("Height of the body", "mm", 0.1),
    "force_min_gf": Field("Tracking force from", "gf", 0.05),
    "force_max_gf": Field("Tracking force to", "gf", 0.05),
    "force_target_gf": Field("Maker's target", "gf", 0.05),
    "compliance_um_per_mN": Field("Compliance", "µm/mN", 0.5, slider=(3.0, 50.0)),
    "compliance_at": Field("Measured at", "Hz", hint="10, 100, static or unknown"),
    "compliance_lateral_um_per_mN": Field("Lateral compliance", "µm/mN", 0.5),
    "inductance_mH": Field("Coil's inductance", "mH", 10.0, slider=(10.0, 1000.0)),
    "resistance_ohm": Field("Coil's resistance", "Ω", 10.0),
    "iron_loss_ohm": Field("Iron loss", "Ω", 1000.0),
}

SECTION_FIELDS: dict[str, dict[str, Field]] = {
    "job": {
        "title": Field("What is to be done"),
        "owner": Field("Owner", suggest="customer"),
        "shop": Field("Shop"),
        "date": Field("Date", hint="2026-03-14"),
        "notes": Field("Notes", lines=3),
    },
    "deck": {
        "name": Field("Player", suggest="deck"),
        "speeds_rpm": Field("Speeds", "rpm", hint="33.333, 45"),
    },
    "arm": {
        "name": Field("Arm", suggest="arm"),
        "kind": Field("Kind of arm", choices=_plain(ARM_KINDS)),
        "headshell": Field("Headshell", choices=_plain(tuple(MOUNTS))),
        "pivot_to_spindle_mm": Field("Pivot to spindle", "mm", 0.5, slider=(180.0, 330.0)),
        "pivot_to_spindle_sd_mm": Field("How well it could be read", "mm", 0.1, hint="standard uncertainty"),
        "effective_mass_g": Field("Effective mass", "g", 0.5, slider=(3.0, 35.0)),
        "counterweight_turn_gf": Field("One turn of the counterweight", "gf", 0.1),
        "room_back_mm": Field("Room to slide back", "mm", 0.5),
        "room_forward_mm": Field("Room to slide forward", "mm", 0.5),
        "effective_length_mm": Field("Effective length", "mm", 0.5, hint="only where the mounting fixes it"),
        "offset_angle_deg": Field("Offset angle", "°", 0.1, hint="only where the mounting fixes it"),
        "slot_angle_deg": Field("Angle of the slots", "°", 0.5),
        "damping_mN_s_per_m": Field("Damping", "mN s/m", 10.0),
        "arm_moment_gmm": Field("Arm's own moment", "g mm", 50.0),
        "counterweight_mass_g": Field("Counterweight", "g", 1.0),
        "counterweight_nearest_mm": Field("Nearest to the bearing", "mm", 1.0),
        "counterweight_farthest_mm": Field("Farthest from it", "mm", 1.0),
        "height_down_mm": Field("Height: room down", "mm", 0.5),
        "height_up_mm": Field("Height: room up", "mm", 0.5),
    },
    "cartridge_out": _CARTRIDGE,
    "cartridge_in": _CARTRIDGE,
    "phono": {
        "load_ohm": Field("Load resistance in use", "Ω", 1000.0, slider=(1000.0, 100000.0)),
        "load_pF": Field("Load capacitance in use", "pF", 10.0, slider=(0.0, 600.0)),
        "cable_pF": Field("Leads' capacitance", "pF", 10.0, slider=(0.0, 400.0)),
        "offered_ohm": Field("Resistances on offer", "Ω", hint="47000, 68000"),
        "offered_pF": Field("Capacitances on offer", "pF", hint="50, 100, 150"),
    },
    "found": {
        "force_gf": Field("Tracking force", "gf", 0.05),
        "force_sd_gf": Field("How well it was read", "gf", 0.01, hint="standard uncertainty"),
        "antiskating": Field("Anti-skating"),
        "yaw_outer_deg": Field("Yaw at the outer point", "°", 0.1, hint="+ is front in"),
        "yaw_inner_deg": Field("Yaw at the inner point", "°", 0.1, hint="+ is front in"),
        "yaw_sd_deg": Field("How well the yaws were read", "°", 0.1),
        "azimuth_deg": Field("Lean", "°", 0.1, hint="+ is clockwise from the front"),
        "azimuth_sd_deg": Field("How well the lean was read", "°", 0.1),
        "overhang_mm": Field("Overhang", "mm", 0.5),
        "arm_height": Field("Arm height"),
        "notes": Field("Notes", lines=3),
    },
    "aim": {
        "criterion": Field(
            "Where the nulls belong",
            choices=tuple((name, CRITERION_NAMES.get(name, name)) for name in CRITERIA),
        ),
        "grooves": Field("Grooves", choices=GROOVES),
        "tolerance_deg": Field("Near enough", "°", 0.1),
        "null_inner_mm": Field("Inner null, if given", "mm", 0.5),
        "null_outer_mm": Field("Outer null, if given", "mm", 0.5),
        "reading_sd_deg": Field("How well a yaw can be read", "°", 0.1),
        "slide_sd_mm": Field("How well you slide", "mm", 0.05),
        "turn_sd_deg": Field("How well you turn", "°", 0.1),
    },
    "kept": {
        "place": Field("Where it lies"),
        "counterweight": Field("Counterweight's scale"),
        "stylus_hours": Field("Hours on its stylus", "h", 50.0),
    },
    "play": {
        "hours_per_week": Field("Hours of play a week", "h", 1.0),
        "hours_before": Field("Hours on the new stylus", "h", 50.0),
        "since": Field("Since", hint="2026-03-14"),
    },
}
"""Every key of a section, in the order in which it is asked for."""

STEP_FIELDS: dict[str, dict[str, Field]] = {
    "look": {
        "outer": Field(
            "Outer point", "°", 0.1, "+ front in, − front out; or a word: slightly out", slider=(-4.0, 4.0)
        ),
        "inner": Field(
            "Inner point", "°", 0.1, "+ front in, − front out; or a word: slightly out", slider=(-4.0, 4.0)
        ),
        "reading_sd_deg": Field("How well it was read", "°", 0.1, "empty: as the aim says"),
    },
    "moved": {
        "slide_mm": Field("Slid", "mm", 0.1, "+ forward, − back", slider=(-8.0, 8.0)),
        "turn_deg": Field("Turned", "°", 0.1, "+ front in, − front out", slider=(-6.0, 6.0)),
    },
    "weighed": {
        "force_gf": Field("The gauge reads", "gf", 0.01, slider=(0.5, 4.0)),
        "above_record_mm": Field("Pan above the record's surface", "mm", 0.5),
    },
    "gauge_checked": {
        "true_gf": Field("Check mass", "gf", 0.1),
        "read_gf": Field("The gauge shows", "gf", 0.01),
    },
    "weight_turned": {"turns": Field("Turns", "", 0.05, "+ wound in: more force", slider=(-2.0, 2.0))},
    "crosstalk": {
        "left_to_right_db": Field("Left into right", "dB", 0.5, slider=(-50.0, 0.0)),
        "right_to_left_db": Field("Right into left", "dB", 0.5, slider=(-50.0, 0.0)),
        "sd_db": Field("How well it was read", "dB", 0.1),
    },
    "rake": {
        "rake_deg": Field("Stylus rake angle", "°", 0.5, slider=(-12.0, 12.0)),
        "sd_deg": Field("How well it was read", "°", 0.1),
        "vertical_tracking_deg": Field("Vertical tracking angle", "°", 0.5),
    },
    "lean": {
        "lean_deg": Field("Lean of the body", "°", 0.1, "+ clockwise from the front", slider=(-5.0, 5.0)),
        "sd_deg": Field("How well it was read", "°", 0.1),
    },
    "tilt": {
        "right_deg": Field("Right side low", "°", 0.1, "− left side low", slider=(-3.0, 3.0)),
        "front_deg": Field("Front low", "°", 0.1, "− rear low", slider=(-3.0, 3.0)),
        "sd_deg": Field("How well it was read", "°", 0.1),
    },
    "speed": {
        "speed": Field("Speed", choices=tuple((name, f"{name} rpm") for name in SPEEDS_RPM)),
        "bars": Field("Bars that passed", "", 1.0),
        "seconds": Field("In", "s", 10.0),
        "drift": Field("They drifted", choices=_plain(DRIFTS)),
        "flash_hz": Field("Flashes of the lamp", "in a second", 10.0),
    },
    "antiskating": {
        "setting": Field("Set to", hint="as the arm's own scale says: dial at 1.8"),
        "force_mN": Field("Force, if known", "mN", 0.1),
    },
    "listen_closed": {"why": Field("Why not", hint="no test recording at hand")},
}
"""Every key of a step but the mounting list's, which has its own page."""

FIELDS = {**SECTION_FIELDS, **STEP_FIELDS}
"""The fields of every section and step by its name."""
