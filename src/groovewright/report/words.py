"""How readings are said on paper and to the owner: signs, degrees, which way."""

from __future__ import annotations

import math
import re

READABLE_DEG = 0.05
MINUS = "\u2212"
DEGREES = re.compile(r" deg\b")
"""The unit, not the beginning of the word."""


def signed(value: float, decimals: int = 2) -> str:
    """Return a number with its sign, a true minus, and no sign on a nought."""
    text = f"{value:+.{decimals}f}"
    return text[1:] if float(text) == 0.0 else text.replace("-", MINUS)


def yaw_words(yaw_deg: float) -> str:
    """Return where the front points, as the end of a sentence that starts with the cartridge."""
    if not math.isfinite(yaw_deg):
        return "can't be read"
    if abs(yaw_deg) < READABLE_DEG:
        return "is square"
    return f"points {'in' if yaw_deg > 0 else 'out'} by {abs(yaw_deg):.1f}°"


def with_minus(text: str) -> str:
    """Return a row's text as it is set on paper: a true minus, a plus-minus sign, degree signs."""
    text = DEGREES.sub("°", text.replace("+-", "±"))
    return "".join(
        MINUS if c == "-" and text[i + 1 : i + 2].isdigit() and not text[max(i - 1, 0) : i].isalnum() else c
        for i, c in enumerate(text)
    )
