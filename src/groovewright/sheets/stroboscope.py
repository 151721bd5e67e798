"""Stroboscope rings: how many bars seem to stand still under a flashing lamp, and at which speed they do.

A ring of N bars moves on by one bar from flash to flash at the speed n = 60 f / N (n in rpm, f flashes in
a second), because then N n / 60 bars pass in a second; so N = 60 f / n, rounded to a whole number.
A lamp fed by the mains flashes twice in each cycle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from groovewright.quantities import SPEEDS_RPM, InputError, Limits

FLASH = Limits("lamp flashes", 20.0, 2000.0, "in a second")
"""Slower flashes can't be looked at; faster ones need more bars than a ring can carry."""
RING_SPEED = Limits("speed", 10.0, 120.0, "rpm")
MOST_BARS = 720
"""Bars that a ring of 80 mm radius can carry at 0.35 mm each, which a printer of 300 dpi still resolves."""


@dataclass(frozen=True)
class Ring:
    """One ring: what it is for, its bars, and the speed at which they stand still."""

    name: str
    wanted_rpm: float
    bars: int
    exact_rpm: float

    @property
    def off_percent(self) -> float:
        """How far the speed at which the bars stand still is from the one that is wanted."""
        return 100.0 * (self.exact_rpm / self.wanted_rpm - 1.0)


def flashes_for_mains(mains_hz: float) -> float:
    """Return the flashes in a second of a lamp fed by the mains: two in each cycle."""
    return 2.0 * mains_hz


def stroboscope_rings(flash_hz: float, speeds: Mapping[str, float] = SPEEDS_RPM) -> tuple[Ring, ...]:
    """Return one ring for each speed in rpm, in the order given.

    Raises
    ------
    InputError
        The flash frequency or a speed is out of range, or a ring would need too many bars.
    """
    FLASH.check(flash_hz)
    rings = []
    for name, rpm in speeds.items():
        RING_SPEED.check(rpm, name)
        bars = round(60.0 * flash_hz / rpm)
        if bars > MOST_BARS:
            raise InputError(
                f"lamp flashes are {flash_hz:g} in a second; a ring for {rpm:.4g} rpm would need {bars} "
                f"bars and can carry {MOST_BARS}; the fastest that works is {MOST_BARS * rpm / 60.0:.4g}"
            )
        rings.append(Ring(name, float(rpm), bars, 60.0 * flash_hz / bars))
    return tuple(rings)
