"""A number can always answer why: its formula, its inputs, its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Why:
    """How one number came about.

    Parameters
    ----------
    number : str
        The name of the number, with its unit: 'overhang_mm'.
    formula : str
        As a person would write it: 'L - d'.
    inputs : mapping of str to str
        Each symbol of the formula with its value and unit, as text.
    source : str
        Paper, standard, derivation in docs, common practice, or 'from memory'.
    """

    number: str
    formula: str
    source: str
    inputs: Mapping[str, str] = field(default_factory=dict)
