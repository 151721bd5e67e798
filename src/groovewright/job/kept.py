"""What came off the player: where it lies and how it was set, so that it can be put back."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Kept:
    """The removed cartridge and the settings it was found with. None or empty: not noted.

    The null radii say how it was aligned; `antiskating` and `counterweight` are what the arm's own scales
    showed, in the arm's own words.
    """

    place: str = ""
    null_inner_mm: float | None = None
    null_outer_mm: float | None = None
    tracking_force_gf: float | None = None
    tracking_force_sd_gf: float = 0.05
    antiskating: str = ""
    counterweight: str = ""
    arm_height_mm: float | None = None
    stylus_hours: float | None = None


def kept_words(kept: Kept) -> str:
    """Return the settings as found as one line for a person; empty where none were noted."""
    said = []
    if kept.tracking_force_gf is not None:
        said.append(f"tracking force {kept.tracking_force_gf:g} ± {kept.tracking_force_sd_gf:g} gf")
    if kept.antiskating:
        said.append(f"anti-skating {kept.antiskating}")
    if kept.counterweight:
        said.append(f"counterweight {kept.counterweight}")
    if kept.arm_height_mm is not None:
        said.append(f"arm height {kept.arm_height_mm:g} mm")
    if kept.null_inner_mm is not None and kept.null_outer_mm is not None:
        said.append(f"square at {kept.null_inner_mm:g} and {kept.null_outer_mm:g} mm")
    if kept.stylus_hours is not None:
        said.append(f"about {kept.stylus_hours:g} h on the stylus")
    return ", ".join(said)
