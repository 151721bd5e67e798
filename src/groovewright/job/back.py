"""Going back: a new job that puts the cartridge that came off where it was, as it was found."""

from __future__ import annotations

import math
from dataclasses import replace

from groovewright.geometry import Alignment, alignment_for_mounting
from groovewright.job.aim import aimed_alignment
from groovewright.job.events import Described, Log
from groovewright.job.kept import Kept
from groovewright.job.records import Aim, Cartridge, Found, Job, Record
from groovewright.job.state import JobState, fold
from groovewright.quantities import CannotBeDoneError

LENGTHS_TRIED_MM = 30.0
"""How far from the aimed effective length the one as found is looked for."""


def log_for_going_back(log: Log) -> Log:
    """Return the events that begin a job which undoes the job of `log`.

    The cartridges change places; player and arm stay. The aim is the pair of null radii that the yaws as
    found amount to, the target the force as found; what can't be aimed at stands in the notes, with where the
    cartridge lies.

    Raises
    ------
    CannotBeDoneError
        The job doesn't say what came off.
    """
    state = fold(log)
    if state.cartridge_out is None:
        raise CannotBeDoneError(
            "the job doesn't say which cartridge came off ([cartridge_out]), so there is nothing to go back to"
        )
    records: dict[str, Record | None] = {
        "job": Job(
            title=f"Back to {state.cartridge_out.name or 'the cartridge that came off'}"[:500],
            shop=state.job.shop,
            owner=state.job.owner,
            notes=_notes(state),
        ),
        "deck": state.deck,
        "arm": state.arm,
        "cartridge_out": state.cartridge_in,
        "cartridge_in": _with_force_as_found(state.cartridge_out, state.found),
        "phono": state.phono,
        "aim": _aim_as_found(state),
    }
    return tuple(Described(section, record) for section, record in records.items() if record is not None)


def _with_force_as_found(cartridge: Cartridge, found: Found | None) -> Cartridge:
    """Return the cartridge with the force as found for its target, where the maker's range allows it."""
    force = found.force_gf if found else None
    low, high = cartridge.force_min_gf, cartridge.force_max_gf
    if force is None or (low is not None and force < low) or (high is not None and force > high):
        return cartridge
    return replace(cartridge, force_target_gf=force)


def _aim_as_found(state: JobState) -> Aim:
    found = state.found
    if state.arm is None or found is None or found.yaw_outer_deg is None or found.yaw_inner_deg is None:
        return state.aim
    aimed = aimed_alignment(state.arm, state.aim)
    if aimed is None or not math.isfinite(aimed.null_inner_mm + aimed.null_outer_mm):
        return state.aim
    was = alignment_as_found(aimed, yaw_outer_deg=found.yaw_outer_deg, yaw_inner_deg=found.yaw_inner_deg)
    if was is None:
        return state.aim
    return replace(
        state.aim, null_inner_mm=round(was.null_inner_mm, 2), null_outer_mm=round(was.null_outer_mm, 2)
    )


def alignment_as_found(aimed: Alignment, *, yaw_outer_deg: float, yaw_inner_deg: float) -> Alignment | None:
    """Return the alignment that yaws read at the nulls of the aimed one amount to; None where there is none.

    From ``yaw = offset - asin((L^2 + r^2 - d^2) / (2 L r))`` at both radii: the difference of the two leaves
    the effective length alone, found as a root; the offset angle follows. None too where the result is
    square nowhere on the record.
    """
    from scipy.optimize import brentq

    distance = aimed.pivot_to_spindle_mm

    def groove_angle(length: float, radius: float) -> float:
        return math.asin((length**2 + radius**2 - distance**2) / (2.0 * length * radius))

    def misfit(length: float) -> float:
        turned = groove_angle(length, aimed.null_outer_mm) - groove_angle(length, aimed.null_inner_mm)
        return turned + math.radians(yaw_outer_deg - yaw_inner_deg)

    low, high = (aimed.effective_length_mm + side * LENGTHS_TRIED_MM for side in (-1.0, 1.0))
    try:
        length = float(brentq(misfit, low, high, xtol=1e-9))
    except ValueError:  # no such length, or the stylus can't reach both radii
        return None
    offset_deg = math.degrees(groove_angle(length, aimed.null_outer_mm)) + yaw_outer_deg
    was = alignment_for_mounting(distance, length, offset_deg)
    return was if math.isfinite(was.null_inner_mm + was.null_outer_mm) else None


def as_found_words(found: Found | None, kept: Kept | None) -> str:
    """Return the settings as found as one line for a person; empty where none were noted."""
    said = []
    if found is not None and found.force_gf is not None:
        said.append(f"tracking force {found.force_gf:g} ± {found.force_sd_gf:g} gf")
    if found is not None and found.antiskating:
        said.append(f"anti-skating {found.antiskating}")
    if kept is not None and kept.counterweight:
        said.append(f"counterweight {kept.counterweight}")
    if found is not None and found.arm_height:
        said.append(f"arm height {found.arm_height}")
    if found is not None and found.overhang_mm is not None:
        said.append(f"overhang {found.overhang_mm:g} mm")
    if found is not None and found.yaw_outer_deg is not None and found.yaw_inner_deg is not None:
        said.append(
            f"yaw {found.yaw_outer_deg:+g} deg outer and {found.yaw_inner_deg:+g} deg inner "
            f"(± {found.yaw_sd_deg:g})"
        )
    if found is not None and found.azimuth_deg is not None:
        said.append(f"azimuth {found.azimuth_deg:+g} ± {found.azimuth_sd_deg:g} deg")
    if kept is not None and kept.stylus_hours is not None:
        said.append(f"about {kept.stylus_hours:g} h on the stylus")
    return ", ".join(said)


def _notes(state: JobState) -> str:
    place = state.kept.place if state.kept else ""
    settings = as_found_words(state.found, state.kept)
    sentences = [
        f"It lies here: {place}." if place else "",
        f"As found: {settings}." if settings else "No settings were noted before it came off.",
        state.found.notes if state.found else "",
    ]
    return " ".join(sentence for sentence in sentences if sentence)[:500]
