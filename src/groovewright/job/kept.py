"""What came off the player: where it lies, and what to know when it is put back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Kept:
    """The removed cartridge. None or empty: not noted.

    `counterweight` is how its weight stood, in the arm's own marks; `stylus_hours` what its stylus had played,
    as the owner estimates it. How it was set stands in the section 'found'.
    """

    place: str = ""
    counterweight: str = ""
    stylus_hours: float | None = None
