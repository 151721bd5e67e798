"""What a job may say: every section, its keys, and what each value may be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from groovewright.electrics import check_capacitance_pF, parts
from groovewright.geometry import CRITERIA, PIVOT_TO_SPINDLE
from groovewright.geometry.alignment import EFFECTIVE_LENGTH, OFFSET_ANGLE
from groovewright.geometry.headshell import HOLES_TO_STYLUS, SLOT_ANGLE
from groovewright.job.checks import Check, choice, flag, iso_date, list_of, number, text
from groovewright.job.events import MOUNT_CHECKS
from groovewright.job.heard_keys import LISTENED_KEYS
from groovewright.job.records import ARM_KINDS, CARTRIDGE_KINDS
from groovewright.mechanics.azimuth import CROSSTALK_SD_DB
from groovewright.mechanics.balance import COUNTERWEIGHT_MASS
from groovewright.mechanics.compliance import COMPLIANCE, parse_basis
from groovewright.mechanics.height import RAKE
from groovewright.mechanics.lean import CROSSTALK_DB
from groovewright.mechanics.mounts import MOUNTS
from groovewright.mechanics.player import DRIFTS, TILT
from groovewright.mechanics.resonance import CARTRIDGE_MASS, EFFECTIVE_MASS, SMALL_MASS
from groovewright.mechanics.weighing import FORCE_GF
from groovewright.quantities import (
    CENTIMETRES,
    GROOVE_RADIUS,
    INCHES,
    MN_PER_GF,
    RADIANS,
    SPEEDS_RPM,
    InputError,
    Limits,
    OtherUnit,
    nearest,
    parse_groove_range,
)
from groovewright.squaring.policy import TOLERANCE
from groovewright.squaring.record import DISTANCE_SD, SLIDE_MOVED, TURN_MOVED
from groovewright.squaring.words import READING_SD, YAW, parse_yaw


def yaw(value: object, where: str) -> float | str:
    """Check a yaw: degrees or a word."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError(f"{where} is {value!r}; allowed are degrees or a word such as 'square'")
    parse_yaw(value, 0.0, where)
    return value


def grooves(value: object, where: str) -> Any:
    """Check a groove range: a record's name or 'INNER:OUTER'."""
    try:
        return parse_groove_range(text(value, where))
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def capacitance(value: object, where: str) -> float:
    """Check a capacitance in pF: 0, or what leads and inputs have."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InputError(f"{where} is {value!r}, not a number of pF")
    return check_capacitance_pF(float(value), where)


def compliance_at(value: object, where: str) -> str:
    """Check at which frequency a compliance was measured: hertz, 'static' or 'unknown'."""
    said = (
        f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else text(value, where)
    )
    try:
        parse_basis(said)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
    return said


def _sd(name: str, unit: str) -> Check:
    return number(Limits(f"standard uncertainty of {name}", 0.0, 10.0, unit))


ROOM = Limits("room to slide", 0.0, 50.0, "mm", (INCHES, CENTIMETRES))
HEIGHT = Limits("height", 0.0, 100.0, "mm", (INCHES, CENTIMETRES))
DISTANCE = Limits("distance behind the bearing", 0.0, 200.0, "mm", (INCHES, CENTIMETRES))
SPEED = Limits("speed", 8.0, 100.0, "rpm")
DAMPING = Limits("damping", 0.0, 10_000.0, "mN s/m")
MOMENT = Limits("arm's own moment", -1e6, 1e6, "g mm")
ABOVE_RECORD = Limits("gauge pan above the record", -30.0, 30.0, "mm", (CENTIMETRES,))
TURNS = Limits("turns of the counterweight", -50.0, 50.0, "turns")
TURN_FORCE = Limits("change of force for one turn", 0.001, 10.0, "gf")
SIDE_FORCE = Limits("anti-skating force", 0.0, 50.0, "mN", (OtherUnit("gf", MN_PER_GF),))
INDUCTANCE = Limits("inductance", 0.0005, 3000.0, "mH", (parts.HENRY, parts.MICROHENRY))
RESISTANCE = Limits("coil resistance", 0.5, 6000.0, "ohm", (parts.KILOOHM, parts.MILLIOHM))
LOAD = Limits("load resistance", 0.1, 1e7, "ohm", (parts.KILOOHM, parts.MEGOHM))
LEAN = Limits("lean", -20.0, 20.0, "deg", (RADIANS,))
HOURS_PER_WEEK = Limits("play time", 0.0, 168.0, "h a week")
STYLUS_HOURS = Limits("hours on the stylus", 0.0, 20_000.0, "h")

_CARTRIDGE: dict[str, Check] = {
    "name": text,
    "kind": choice(CARTRIDGE_KINDS),
    "stylus": text,
    "holes_to_stylus_mm": number(HOLES_TO_STYLUS),
    "mono": flag,
    "mass_g": number(CARTRIDGE_MASS),
    "fastener_mass_g": number(SMALL_MASS),
    "height_mm": number(HEIGHT),
    "force_min_gf": number(FORCE_GF),
    "force_max_gf": number(FORCE_GF),
    "force_target_gf": number(FORCE_GF),
    "compliance_um_per_mN": number(COMPLIANCE),
    "compliance_at": compliance_at,
    "compliance_lateral_um_per_mN": number(COMPLIANCE),
    "inductance_mH": number(INDUCTANCE),
    "resistance_ohm": number(RESISTANCE),
    "iron_loss_ohm": number(parts.IRON_LOSS),
}

SECTION_KEYS: dict[str, dict[str, Check]] = {
    "job": {"title": text, "shop": text, "owner": text, "date": text, "notes": text},
    "deck": {"name": text, "speeds_rpm": list_of(number(SPEED))},
    "arm": {
        "name": text,
        "kind": choice(ARM_KINDS),
        "headshell": choice(tuple(MOUNTS)),
        "pivot_to_spindle_mm": number(PIVOT_TO_SPINDLE),
        "pivot_to_spindle_sd_mm": number(DISTANCE_SD),
        "effective_length_mm": number(EFFECTIVE_LENGTH),
        "offset_angle_deg": number(OFFSET_ANGLE),
        "slot_angle_deg": number(SLOT_ANGLE),
        "room_back_mm": number(ROOM),
        "room_forward_mm": number(ROOM),
        "effective_mass_g": number(EFFECTIVE_MASS),
        "damping_mN_s_per_m": number(DAMPING),
        "arm_moment_gmm": number(MOMENT),
        "floated_mass_g": number(SMALL_MASS),
        "floated_at_mm": number(DISTANCE),
        "counterweight_mass_g": number(COUNTERWEIGHT_MASS),
        "counterweight_nearest_mm": number(DISTANCE),
        "counterweight_farthest_mm": number(DISTANCE),
        "counterweight_turn_gf": number(TURN_FORCE),
        "height_down_mm": number(HEIGHT),
        "height_up_mm": number(HEIGHT),
    },
    "cartridge_out": _CARTRIDGE,
    "cartridge_in": _CARTRIDGE,
    "phono": {
        "load_ohm": number(LOAD),
        "load_pF": capacitance,
        "cable_pF": capacitance,
        "offered_ohm": list_of(number(LOAD)),
        "offered_pF": list_of(capacitance),
    },
    "found": {
        "force_gf": number(FORCE_GF),
        "force_sd_gf": _sd("a force", "gf"),
        "antiskating": text,
        "yaw_outer_deg": number(YAW),
        "yaw_inner_deg": number(YAW),
        "yaw_sd_deg": number(READING_SD),
        "azimuth_deg": number(LEAN),
        "azimuth_sd_deg": _sd("a lean", "deg"),
        "overhang_mm": number(Limits("overhang", -40.0, 60.0, "mm", (INCHES, CENTIMETRES))),
        "arm_height": text,
        "notes": text,
    },
    "aim": {
        "criterion": choice(CRITERIA),
        "grooves": grooves,
        "null_inner_mm": number(GROOVE_RADIUS),
        "null_outer_mm": number(GROOVE_RADIUS),
        "tolerance_deg": number(TOLERANCE),
        "reading_sd_deg": number(READING_SD),
        "slide_sd_mm": _sd("a slide", "mm"),
        "turn_sd_deg": _sd("a turn", "deg"),
    },
    "kept": {"place": text, "counterweight": text, "stylus_hours": number(STYLUS_HOURS)},
    "play": {
        "hours_per_week": number(HOURS_PER_WEEK),
        "hours_before": number(STYLUS_HOURS),
        "since": iso_date,
    },
}
"""Section, key, check. A key is the name of the record's field."""

STEP_KEYS: dict[str, dict[str, Check]] = {
    "look": {"outer": yaw, "inner": yaw, "reading_sd_deg": number(READING_SD), "read_from": text},
    "moved": {"slide_mm": number(SLIDE_MOVED), "turn_deg": number(TURN_MOVED)},
    "checked": {"what": choice(tuple(MOUNT_CHECKS))},
    "unchecked": {"what": choice(tuple(MOUNT_CHECKS))},
    "weighed": {"force_gf": number(FORCE_GF), "above_record_mm": number(ABOVE_RECORD)},
    "gauge_checked": {"true_gf": number(FORCE_GF), "read_gf": number(FORCE_GF)},
    "weight_turned": {"turns": number(TURNS)},
    "crosstalk": {
        "left_to_right_db": number(CROSSTALK_DB),
        "right_to_left_db": number(CROSSTALK_DB),
        "sd_db": number(CROSSTALK_SD_DB),
    },
    "rake": {
        "rake_deg": number(RAKE),
        "sd_deg": _sd("a rake angle", "deg"),
        "vertical_tracking_deg": number(Limits("vertical tracking angle", 0.0, 45.0, "deg", (RADIANS,))),
        "read_from": text,
    },
    "lean": {"lean_deg": number(LEAN), "sd_deg": _sd("a lean", "deg"), "read_from": text},
    "antiskating": {"setting": text, "force_mN": number(SIDE_FORCE)},
    "speed": {
        "speed": choice(tuple(SPEEDS_RPM)),
        "bars": number(Limits("bars that passed", 0.0, 10_000.0, "")),
        "seconds": number(Limits("time of the count", 1.0, 3600.0, "s")),
        "drift": choice(DRIFTS),
        "flash_hz": number(Limits("flashes of the lamp", 20.0, 1000.0, "in a second")),
    },
    "tilt": {"right_deg": number(TILT), "front_deg": number(TILT), "sd_deg": _sd("a level", "deg")},
    "listened": LISTENED_KEYS,
    "listen_closed": {"why": text},
}
"""The steps of work, each with its keys."""


def checked(keys: Mapping[str, Check], values: object, where: str) -> dict[str, Any]:
    """Return the checked values of one section or step.

    Raises
    ------
    InputError
        Not a table, an unknown key (the nearest is named), or a value that is not allowed.
    """
    if not isinstance(values, dict):
        raise InputError(f"{where} is {values!r}; it holds keys such as {', '.join(list(keys)[:3])}")
    result = {}
    for key, value in values.items():
        if key not in keys:
            near = nearest(key, keys)
            hint = f"; did you mean '{near}'?" if near else f"; known are {', '.join(keys)}"
            raise InputError(f"{where}: there is no key '{key}'{hint}")
        result[key] = keys[key](value, f"{where}, {key}")
    return result
