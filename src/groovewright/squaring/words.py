"""What an eye says in words, as intervals of yaw. The bounds are common practice, without a source."""

from __future__ import annotations

from groovewright.quantities import RADIANS, InputError, Limits, nearest
from groovewright.squaring.record import YawReading

WORDS: dict[str, tuple[float, float]] = {
    "far-out": (-12.0, -3.0),
    "out": (-6.0, -0.5),
    "slightly-out": (-1.5, -0.2),
    "square": (-0.5, 0.5),
    "slightly-in": (0.2, 1.5),
    "in": (0.5, 6.0),
    "far-in": (3.0, 12.0),
}
"""Where the front points, and the yaw in degrees that this stands for; 'out' is away from the spindle."""

YAW = Limits("yaw", -45.0, 45.0, "deg", (RADIANS,))
READING_SD = Limits("standard uncertainty of a reading", 0.0, 10.0, "deg")


def parse_yaw(said: str | float, sd_deg: float, where: str = "") -> YawReading:
    """Return the reading for a number of degrees or a word of `WORDS`.

    Raises
    ------
    InputError
        Neither a number of degrees nor a word, or out of range; `where` stands in front.
    """
    READING_SD.check(sd_deg, where)
    prefix = f"{where}: " if where else ""
    if isinstance(said, str):
        word = said.strip().lower().replace(" ", "-").replace("_", "-")
        if word in WORDS:
            return YawReading(*WORDS[word], sd_deg)
        try:
            said = float(said)
        except ValueError:
            near = nearest(word, WORDS)
            hint = f"; did you mean '{near}'?" if near else ""
            raise InputError(
                f"{prefix}'{said}' is neither degrees nor one of {', '.join(WORDS)}{hint}"
            ) from None
    degrees = YAW.check(said, where)
    return YawReading(degrees, degrees, sd_deg)
