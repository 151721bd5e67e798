"""What every stage reports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from groovewright.quantities import Why


@dataclass(frozen=True)
class StageReport:
    """Where one stage stands.

    Parameters
    ----------
    status : str
        'done', 'open', 'waiting' (for an earlier stage) or 'not-needed'.
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
