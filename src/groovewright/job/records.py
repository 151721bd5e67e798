"""What a job is about: the player, its arm, the cartridges, the aim. Measures are in the unit of the name."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.job.kept import Kept
from groovewright.job.wear import Play
from groovewright.quantities import LP, GrooveRange

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


@dataclass(frozen=True)
class Cartridge:
    """A phono cartridge. None stands for what is not known."""

    name: str = ""
    kind: str | None = None
    stylus: str = ""
    holes_to_stylus_mm: float = 9.5
    mass_g: float | None = None
    force_min_gf: float | None = None
    force_max_gf: float | None = None


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


Record = Job | Deck | Arm | Cartridge | Aim | Kept | Play

RECORDS: dict[str, type[Record]] = {
    "job": Job,
    "deck": Deck,
    "arm": Arm,
    "cartridge_out": Cartridge,
    "cartridge_in": Cartridge,
    "aim": Aim,
    "kept": Kept,
    "play": Play,
}
"""Each section of a job, and the record that it holds."""
