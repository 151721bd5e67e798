"""From the log to what is known: a pure fold."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from groovewright.job.events import (
    AntiskatingSet,
    Checked,
    CrosstalkRead,
    Described,
    GaugeChecked,
    LeanRead,
    Log,
    Looked,
    Moved,
    RakeRead,
    Redone,
    SpeedCounted,
    Step,
    TiltRead,
    Unchecked,
    Undone,
    Weighed,
    WeightTurned,
    effective,
)
from groovewright.job.heard import ListenClosed, Listened
from groovewright.job.kept import Kept
from groovewright.job.records import Aim, Arm, Cartridge, Deck, Found, Job, Phono
from groovewright.job.wear import Play


@dataclass(frozen=True)
class JobState:
    """Everything that the log says, after undo. None: that section was never described.

    `squaring` holds looks and moves, `weighings` the gauge's readings since the counterweight was last
    turned, `levelling` the readings of crosstalk (recordings too), rake, lean and the anti-skating that was set,
    `player` speed and level of the player, `listening` the recordings that were heard, all in order.
    `changed_since_heard`: something that a recording shows was set after the last one.
    """

    job: Job = field(default_factory=Job)
    deck: Deck | None = None
    arm: Arm | None = None
    cartridge_out: Cartridge | None = None
    cartridge_in: Cartridge | None = None
    phono: Phono | None = None
    found: Found | None = None
    aim: Aim = field(default_factory=Aim)
    kept: Kept | None = None
    play: Play | None = None
    squaring: tuple[Looked | Moved, ...] = ()
    checks: tuple[str, ...] = ()
    gauge_checks: tuple[GaugeChecked, ...] = ()
    weighings: tuple[Weighed, ...] = ()
    levelling: tuple[CrosstalkRead | RakeRead | LeanRead | AntiskatingSet | Listened, ...] = ()
    player: tuple[SpeedCounted | TiltRead, ...] = ()
    listening: tuple[Listened | ListenClosed, ...] = ()
    changed_since_heard: bool = False


def fold(log: Log) -> JobState:
    """Return the state after a log."""
    state = JobState()
    for event in effective(log):
        if isinstance(event, Described):
            described: dict[str, Any] = {event.section: event.record}
            state = replace(state, **described)
        elif not isinstance(event, Undone | Redone):
            changed = isinstance(event, WeightTurned | AntiskatingSet) or (
                isinstance(event, Moved) and (event.slide_mm, event.turn_deg) != (0.0, 0.0)
            )
            state = replace(
                _after_step(state, event), changed_since_heard=changed or state.changed_since_heard
            )
            if isinstance(event, ListenClosed) or (isinstance(event, Listened) and not event.as_found):
                state = replace(state, changed_since_heard=False)
    return state


def _after_step(state: JobState, step: Step) -> JobState:
    match step:
        case Looked() | Moved():
            return replace(state, squaring=(*state.squaring, step))
        case Checked() | Unchecked():
            others = tuple(what for what in state.checks if what != step.what)
            return replace(state, checks=(*others, step.what) if isinstance(step, Checked) else others)
        case GaugeChecked():
            return replace(state, gauge_checks=(*state.gauge_checks, step))
        case Weighed():
            return replace(state, weighings=(*state.weighings, step))
        case WeightTurned():
            return replace(state, weighings=())
        case CrosstalkRead() | RakeRead() | LeanRead() | AntiskatingSet():
            return replace(state, levelling=(*state.levelling, step))
        case SpeedCounted() | TiltRead():
            return replace(state, player=(*state.player, step))
        case Listened() if not step.as_found:
            return replace(state, listening=(*state.listening, step), levelling=(*state.levelling, step))
        case Listened() | ListenClosed():
            return replace(state, listening=(*state.listening, step))
