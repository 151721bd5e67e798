"""Which radii of a record carry modulated grooves."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.quantities.errors import InputError, unknown_word
from groovewright.quantities.limits import CENTIMETRES, INCHES, METRES, Limits

GROOVE_RADIUS = Limits("groove radius", 20.0, 210.0, "mm", (INCHES, CENTIMETRES, METRES))


@dataclass(frozen=True)
class GrooveRange:
    """The innermost and outermost modulated groove radius, in mm, and where the two figures come from."""

    inner_mm: float
    outer_mm: float
    source: str = "given"

    def __post_init__(self) -> None:
        GROOVE_RADIUS.check(self.inner_mm, "innermost groove")
        GROOVE_RADIUS.check(self.outer_mm, "outermost groove")
        if self.inner_mm > self.outer_mm:
            raise InputError(
                f"groove range {self.inner_mm:g}:{self.outer_mm:g} mm is the wrong way round: the innermost "
                f"radius comes first; try {self.outer_mm:g}:{self.inner_mm:g}"
            )
        if self.outer_mm - self.inner_mm < 1.0:
            raise InputError(
                f"groove range {self.inner_mm:g}:{self.outer_mm:g} mm is narrower than 1 mm; "
                "an LP is about 60.325:146.05"
            )


NAMED_RANGES = {
    "lp": GrooveRange(60.325, 146.05, "IEC 98:1958, the figures the trade quotes as IEC"),
    "lp-din": GrooveRange(57.5, 146.3, "DIN 45547:1981"),
    "lp-jis": GrooveRange(57.6, 146.5, "JIS S 8502:1973"),
    "lp-iec-1987": GrooveRange(60.325, 146.3, "inner IEC 98:1958, outer IEC 60098:1987, 8.5"),
    "25cm": GrooveRange(57.6, 120.9, "inner JIS S 8502:1973, outer IEC 60098:1987"),
    "17cm": GrooveRange(53.0, 84.15, "inner JIS S 8502:1973, outer IEC 60098:1987"),
}
"""Modulated grooves by record, from the published standards."""

LP = NAMED_RANGES["lp"]


def parse_groove_range(text: str) -> GrooveRange:
    """Return the range for a name of `NAMED_RANGES` or for 'INNER:OUTER' in mm.

    Raises
    ------
    InputError
        The name is not known, or the radii are not two numbers in the right order.
    """
    if ":" not in text:
        if text not in NAMED_RANGES:
            raise unknown_word("groove range (or INNER:OUTER in mm)", text, NAMED_RANGES)
        return NAMED_RANGES[text]
    parts = text.split(":")
    try:
        inner, outer = (float(part) for part in parts)
    except ValueError:
        raise InputError(f"groove range '{text}' is not INNER:OUTER in mm, such as 60.325:146.05") from None
    return GrooveRange(inner, outer)
