"""What goes into squaring: the piece of work, the looks and the moves, in order."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from groovewright.geometry import Alignment
from groovewright.geometry.headshell import Headshell
from groovewright.quantities import InputError, Limits, Reading

SLIDE_MOVED = Limits("slide", -20.0, 20.0, "mm")
TURN_MOVED = Limits("turn", -45.0, 45.0, "deg")
DISTANCE_SD = Limits("standard uncertainty of the pivot-to-spindle distance", 0.0, 20.0, "mm")
SMALLEST_NULL_GAP_MM = 15.0
"""Nulls closer than this can't tell a slide from a turn."""


@dataclass(frozen=True)
class YawReading:
    """A yaw that was read, in degrees: between two bounds (equal for a number), with its uncertainty."""

    low_deg: float
    high_deg: float
    sd_deg: float

    def as_reading(self) -> Reading:
        """Return the middle of the bounds; their width adds as an even spread (GUM 4.3.7)."""
        middle = 0.5 * (self.low_deg + self.high_deg)
        return Reading(middle, math.hypot(self.sd_deg, (self.high_deg - self.low_deg) / math.sqrt(12.0)))


@dataclass(frozen=True)
class Look:
    """One round over the sheet: the yaw at the outer and at the inner null; None where it was not read."""

    outer: YawReading | None
    inner: YawReading | None


@dataclass(frozen=True)
class Hand:
    """How well a person moves a cartridge: standard uncertainties of one move."""

    slide_sd_mm: float = 0.15
    turn_sd_deg: float = 0.2

    def __post_init__(self) -> None:
        for name, value in (("slide", self.slide_sd_mm), ("turn", self.turn_sd_deg)):
            Limits(f"standard uncertainty of a {name}", 0.0, 10.0, "").check(value)


@dataclass(frozen=True)
class Move:
    """What was done between two looks: slide and turn as intended. Both 0: nothing was touched."""

    slide_mm: float
    turn_deg: float
    hand: Hand = field(default_factory=Hand)

    def __post_init__(self) -> None:
        SLIDE_MOVED.check(self.slide_mm)
        TURN_MOVED.check(self.turn_deg)

    @property
    def touched(self) -> bool:
        """Whether the cartridge was moved at all."""
        return self.slide_mm != 0.0 or self.turn_deg != 0.0


@dataclass(frozen=True)
class Room:
    """How far the cartridge can slide from where it first stood: back and forward, both >= 0, in mm."""

    back_mm: float = math.inf
    forward_mm: float = math.inf

    def __post_init__(self) -> None:
        for name, value in (("back", self.back_mm), ("forward", self.forward_mm)):
            if not value >= 0.0:
                raise InputError(f"room to slide {name} is {value} mm; allowed is 0 or more")


@dataclass(frozen=True)
class Workpiece:
    """The arm and cartridge being squared.

    `aim` is the alignment for the pivot-to-spindle distance as measured; that distance has the standard
    uncertainty `pivot_to_spindle_sd_mm`.
    """

    aim: Alignment
    headshell: Headshell = field(default_factory=Headshell)
    pivot_to_spindle_sd_mm: float = 0.5
    room: Room = field(default_factory=Room)

    def __post_init__(self) -> None:
        DISTANCE_SD.check(self.pivot_to_spindle_sd_mm)
        gap = self.aim.null_outer_mm - self.aim.null_inner_mm
        if not gap >= SMALLEST_NULL_GAP_MM:
            raise InputError(
                f"squaring needs two nulls at least {SMALLEST_NULL_GAP_MM:g} mm apart; these are "
                f"{self.aim.null_inner_mm:g} and {self.aim.null_outer_mm:g} mm"
            )

    @property
    def radii_mm(self) -> tuple[float, float]:
        """The outer and the inner null, in the order in which they are looked at."""
        return self.aim.null_outer_mm, self.aim.null_inner_mm


Steps = tuple[Look | Move, ...]
"""Looks and moves in the order in which they happened."""
