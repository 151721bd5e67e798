"""Going back: a new job that puts the cartridge that came off where it was, as it was found."""

from __future__ import annotations

from dataclasses import replace

from groovewright.job.events import Described, Log
from groovewright.job.kept import kept_words
from groovewright.job.records import Aim, Job, Record
from groovewright.job.state import JobState, fold
from groovewright.quantities import CannotBeDoneError


def log_for_going_back(log: Log) -> Log:
    """Return the events that begin a job which undoes the job of `log`.

    The cartridges change places; player and arm stay; where the null radii were noted as found, they are
    the aim; the other settings as found, and where the cartridge lies, stand in the notes.

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
            title=f"Back to {state.cartridge_out.name or 'the cartridge that came off'}",
            shop=state.job.shop,
            owner=state.job.owner,
            notes=_notes(state),
        ),
        "deck": state.deck,
        "arm": state.arm,
        "cartridge_out": state.cartridge_in,
        "cartridge_in": state.cartridge_out,
        "aim": _aim(state),
    }
    return tuple(Described(section, record) for section, record in records.items() if record is not None)


def _aim(state: JobState) -> Aim:
    kept = state.kept
    if kept is None or kept.null_inner_mm is None or kept.null_outer_mm is None:
        return state.aim
    return replace(state.aim, null_inner_mm=kept.null_inner_mm, null_outer_mm=kept.null_outer_mm)


def _notes(state: JobState) -> str:
    if state.kept is None:
        return "No settings were noted when it came off."
    settings = kept_words(state.kept)
    sentences = [
        f"It lies here: {state.kept.place}." if state.kept.place else "",
        f"As found: {settings}." if settings else "No settings were noted when it came off.",
    ]
    return " ".join(sentence for sentence in sentences if sentence)[:500]
