"""What a job is about: the player, its arm, the cartridges, the aim. Measures are in the unit of the name."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.job.kept import Kept
from groovewright.job.wear import Play
from groovewright.quantities import LP, GrooveRange, InputError

ARM_KINDS = ("pivoted", "straight-underhung", "parallel")
"""With an offset angle; straight and stopping short of the spindle; travelling along a line."""

HEADSHELLS = ("slotted", "bayonet", "fixed-holes", "plug-in", "moulded-in")
"""How the cartridge is held: what can slide and turn, and what can't."""

CARTRIDGE_KINDS = ("moving-magnet", "moving-iron", "moving-coil", "ceramic")


@dataclass(frozen=True)
class Job:
    """What the paper says at its top."""

    title: str = ""
    shop: str = ""
    owner: str = ""
    date: str = ""
    notes: str = ""


@dataclass(frozen=True)
class Deck:
    """The record player."""

    name: str = ""
    speeds_rpm: tuple[float, ...] = ()


@dataclass(frozen=True)
class Arm:
    """The arm. None stands for what is not known.

    `effective_length_mm` and `offset_angle_deg` are given only where the mounting fixes them.
    """

    name: str = ""
    kind: str = "pivoted"
    headshell: str = "slotted"
    pivot_to_spindle_mm: float | None = None
    pivot_to_spindle_sd_mm: float = 0.5
    effective_length_mm: float | None = None
    offset_angle_deg: float | None = None
    slot_angle_deg: float = 0.0
    room_back_mm: float | None = None
    room_forward_mm: float | None = None
    effective_mass_g: float | None = None
    damping_mN_s_per_m: float = 0.0
    arm_moment_gmm: float | None = None
    counterweight_mass_g: float | None = None
    counterweight_nearest_mm: float | None = None
    counterweight_farthest_mm: float | None = None
    counterweight_turn_gf: float | None = None
    height_down_mm: float | None = None
    height_up_mm: float | None = None


@dataclass(frozen=True)
class Cartridge:
    """A phono cartridge. None stands for what is not known."""

    name: str = ""
    kind: str | None = None
    stylus: str = ""
    holes_to_stylus_mm: float = 9.5
    mono: bool = False
    mass_g: float | None = None
    fastener_mass_g: float | None = None
    height_mm: float | None = None
    force_min_gf: float | None = None
    force_max_gf: float | None = None
    force_target_gf: float | None = None
    compliance_um_per_mN: float | None = None
    compliance_at: str = "unknown"
    compliance_lateral_um_per_mN: float | None = None
    inductance_mH: float | None = None
    resistance_ohm: float | None = None
    iron_loss_ohm: float | None = None

    def __post_init__(self) -> None:
        low, high, target = self.force_min_gf, self.force_max_gf, self.force_target_gf
        if low is not None and high is not None and low >= high:
            raise InputError(
                f"force_min_gf {low:g} is not below force_max_gf {high:g}; the maker's range has two ends"
            )
        if target is not None and low is not None and high is not None and not low <= target <= high:
            raise InputError(
                f"force_target_gf {target:g} lies outside the maker's range of {low:g} to {high:g} gf, which wins"
            )


@dataclass(frozen=True)
class Phono:
    """The phono input: the load in use, the leads' capacitance, and what it offers. None: not known."""

    load_ohm: float | None = None
    load_pF: float | None = None
    cable_pF: float | None = None
    offered_ohm: tuple[float, ...] = ()
    offered_pF: tuple[float, ...] = ()


@dataclass(frozen=True)
class Found:
    """How the player stood as it came in: the way back, and what the owner was used to. None: not recorded."""

    force_gf: float | None = None
    force_sd_gf: float = 0.03
    antiskating: str = ""
    yaw_outer_deg: float | None = None
    yaw_inner_deg: float | None = None
    yaw_sd_deg: float = 0.3
    azimuth_deg: float | None = None
    azimuth_sd_deg: float = 0.5
    overhang_mm: float | None = None
    arm_height: str = ""
    notes: str = ""


@dataclass(frozen=True)
class Aim:
    """Where the nulls belong and how near is near enough.

    Given nulls take the place of the criterion.
    """

    criterion: str = "lofgren-a"
    grooves: GrooveRange = LP
    null_inner_mm: float | None = None
    null_outer_mm: float | None = None
    tolerance_deg: float = 0.5
    reading_sd_deg: float = 0.3
    slide_sd_mm: float = 0.15
    turn_sd_deg: float = 0.2


Record = Job | Deck | Arm | Cartridge | Phono | Found | Aim | Kept | Play

RECORDS: dict[str, type[Record]] = {
    "job": Job,
    "deck": Deck,
    "arm": Arm,
    "cartridge_out": Cartridge,
    "cartridge_in": Cartridge,
    "phono": Phono,
    "found": Found,
    "aim": Aim,
    "kept": Kept,
    "play": Play,
}
"""Each section of a job, and the record that it holds."""
