"""Papers, what a printer does to them, and whose sheet it is."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.quantities import CENTIMETRES, INCHES, METRES, InputError, Limits


@dataclass(frozen=True)
class Paper:
    """A paper size, upright, in mm."""

    name: str
    width_mm: float
    height_mm: float


A4 = Paper("A4", 210.0, 297.0)
"""ISO 216."""
LETTER = Paper("US Letter", 215.9, 279.4)
"""8.5 by 11 inches (ANSI/ASME Y14.1)."""

PAPERS = {"a4": A4, "letter": LETTER}
"""The papers by the word that is typed."""

MEASURED_BAR = Limits("printed 100 mm bar", 90.0, 110.0, "mm", (INCHES, CENTIMETRES, METRES))


@dataclass(frozen=True)
class PrintCorrection:
    """What the printed 100 mm bars measured, across (x) and down (y) the paper.

    A sheet with a correction is drawn larger or smaller by 100 over that, so that the next print is true.
    """

    measured_x_mm: float = 100.0
    measured_y_mm: float = 100.0

    def __post_init__(self) -> None:
        for value, axis in ((self.measured_x_mm, "across"), (self.measured_y_mm, "down")):
            try:
                MEASURED_BAR.check(value, axis)
            except InputError as error:
                raise InputError(f"{error}; a printer isn't that far off: measure the bar again") from None

    @property
    def scale_x(self) -> float:
        """By how much to draw too large across, so that it prints true."""
        return 100.0 / self.measured_x_mm

    @property
    def scale_y(self) -> float:
        """By how much to draw too large down, so that it prints true."""
        return 100.0 / self.measured_y_mm

    @property
    def is_none(self) -> bool:
        """Whether nothing is corrected."""
        return self.measured_x_mm == 100.0 and self.measured_y_mm == 100.0


@dataclass(frozen=True)
class SheetLabel:
    """What is written on a sheet so that it can be told from others; any of it may be empty."""

    arm: str = ""
    criterion: str = ""
    grooves: str = ""
    for_whom: str = ""
