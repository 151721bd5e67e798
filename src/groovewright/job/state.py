"""From the log to what is known: a pure fold."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from groovewright.job.events import Described, Log, Looked, Moved, effective
from groovewright.job.kept import Kept
from groovewright.job.records import Aim, Arm, Cartridge, Deck, Job
from groovewright.job.wear import Play


@dataclass(frozen=True)
class JobState:
    """Everything that the log says, after undo. None: that section was never described."""

    job: Job = field(default_factory=Job)
    deck: Deck | None = None
    arm: Arm | None = None
    cartridge_out: Cartridge | None = None
    cartridge_in: Cartridge | None = None
    aim: Aim = field(default_factory=Aim)
    kept: Kept | None = None
    play: Play | None = None
    squaring: tuple[Looked | Moved, ...] = ()


def fold(log: Log) -> JobState:
    """Return the state after a log."""
    state = JobState()
    for event in effective(log):
        if isinstance(event, Described):
            described: dict[str, Any] = {event.section: event.record}
            state = replace(state, **described)
        elif isinstance(event, Looked | Moved):
            state = replace(state, squaring=(*state.squaring, event))
    return state
