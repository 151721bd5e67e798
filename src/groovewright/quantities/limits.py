"""Checks of numbers that come from a person: finite, within what is possible, and in the right unit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities.errors import InputError


@dataclass(frozen=True)
class OtherUnit:
    """A unit that is easily given by mistake: one of it is `factor` of the unit that is wanted."""

    name: str
    factor: float


INCHES = OtherUnit("inches", 25.4)
METRES = OtherUnit("metres", 1000.0)
CENTIMETRES = OtherUnit("centimetres", 10.0)
RADIANS = OtherUnit("radians", 180.0 / np.pi)


@dataclass(frozen=True)
class Limits:
    """What a quantity may be, in words and numbers.

    Parameters
    ----------
    name : str
        What the user calls it: 'pivot-to-spindle distance'.
    low, high : float
        Both ends are allowed.
    unit : str
        As printed behind a number; empty for a bare number.
    others : tuple of OtherUnit
        Units tried, in order, to explain a value that is out of range.
    """

    name: str
    low: float
    high: float
    unit: str
    others: tuple[OtherUnit, ...] = ()

    def check(self, value: float, where: str = "") -> float:
        """Return `value` as a float where it is allowed.

        Raises
        ------
        InputError
            Not a number, not finite or out of range; `where` (a file and key, an option) stands in front.
        """
        prefix = f"{where}: " if where else ""
        try:
            number = float(value)
        except (TypeError, ValueError):
            raise InputError(f"{prefix}{self.name} is {value!r}, not a number; {self.allowed()}") from None
        if isinstance(value, bool) or not np.isfinite(number):
            raise InputError(f"{prefix}{self.name} is {value!r}, not a finite number; {self.allowed()}")
        if not self.low <= number <= self.high:
            raise InputError(
                f"{prefix}{self.name} is {self._show(number)}; {self.allowed()}{self._guess(number)}"
            )
        return number

    def check_all(self, values: ArrayLike, where: str = "") -> None:
        """Check every element of an array; the first that is not allowed raises as in `check`."""
        array = np.asarray(values, dtype=float)
        bad = ~((array >= self.low) & (array <= self.high))
        if bad.any():
            self.check(float(array[bad].flat[0]), where)

    def allowed(self) -> str:
        """Return the allowed range as words."""
        return f"allowed is {self._show(self.low)} to {self._show(self.high)}"

    def _show(self, number: float) -> str:
        return f"{number:g} {self.unit}".rstrip()

    def _guess(self, number: float) -> str:
        for other in self.others:
            converted = number * other.factor
            if self.low <= converted <= self.high:
                return f". Is {number:g} in {other.name}? That would be {self._show(round(converted, 4))}"
        nearest_end = self.low if number < self.low else self.high
        return f"; the nearest that works is {self._show(nearest_end)}"
