"""What every stage reports."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from groovewright.quantities import Why

STATUSES = {
    "done": "nothing more to do here",
    "open": "the sentence says what to do",
    "waiting": "an earlier stage comes first",
    "unknown": "can't be judged; the rows say what is needed",
    "not-needed": "this arm or cartridge has nothing to do here",
}
"""Where a stage can stand."""


@dataclass(frozen=True)
class StageReport:
    """Where one stage stands.

    Parameters
    ----------
    status : str
        A key of `STATUSES`.
    sentence : str
        The next move or the verdict, for a person with a screwdriver in hand.
    rows : tuple of (str, str)
        The few numbers that matter, as names and values with their uncertainty.
    values : mapping
        The same for a program, with the unit as the last part of each key.
    """

    stage: str
    status: str
    sentence: str
    rows: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    whys: tuple[Why, ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Part:
    """One question inside a stage: what to do or what is so, whether it is settled, and the numbers."""

    sentence: str
    settled: bool
    rows: tuple[tuple[str, str], ...] = ()
    whys: tuple[Why, ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)


def all_rows(parts: Sequence[Part]) -> tuple[tuple[str, str], ...]:
    """Return the rows of all parts in order."""
    return tuple(row for part in parts for row in part.rows)


def all_values(parts: Sequence[Part]) -> dict[str, Any]:
    """Return the values of all parts as one mapping."""
    return {key: value for part in parts for key, value in part.values.items()}
