"""Listening in the background: what is being heard, how far it is, what was found, and what came of it.

A recording is heard in a thread of its own. What is known of it lies in memory only: after a restart the file
is still there and is heard again when somebody asks for it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from groovewright.audio import (
    Band,
    BandData,
    BandList,
    Replay,
    Verdict,
    assess,
    band_list_toml,
    hear_recording,
    next_move,
    open_recording,
    verdicts,
)
from groovewright.job.heard import Listened
from groovewright.job.recording import listened_from
from groovewright.quantities import BenchError

AT_ONCE = 2
"""Recordings that are heard at the same time; the others wait."""

KEPT_RESULTS = 40
"""Results kept in memory; an older one is heard again when it is asked for."""

WORKING = ("waits", "finds", "hears", "judges")

Key = tuple[str, str]
"""A job's own name and the name of one of its recordings."""


@dataclass(frozen=True)
class Proved:
    """What came of listening: the event for the job, and what it means."""

    event: Listened
    verdicts: tuple[Verdict, ...]
    next_move: str
    band_list: str
    problem: str = ""


@dataclass
class Work:
    """One recording while it is heard. Written by its thread, read by pages.

    Parameters
    ----------
    stage : str
        'waits', 'finds' (the bands), 'hears', 'judges'; then 'done', 'failed' or 'cancelled'.
    share : float
        How much of the walk is done, 0 to 1.
    found : list of Band
        Bands that have been heard, in the order in which they were.
    listed : tuple of Band
        The list that it was started with; empty where the bands are to be found.
    problem : str
        Why it failed.
    """

    called: str
    duration_s: float = 0.0
    listed: tuple[Band, ...] = ()
    stage: str = "waits"
    share: float = 0.0
    found: list[Band] = field(default_factory=list)
    proved: Proved | None = None
    problem: str = ""
    stop: threading.Event = field(default_factory=threading.Event)

    @property
    def at_work(self) -> bool:
        """Return whether it is not over yet."""
        return self.stage in WORKING


class _StoppedError(Exception):
    """Somebody asked to stop."""


@dataclass
class Listenings:
    """All recordings that are heard by one bench page, by job and name."""

    works: dict[Key, Work] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)
    turns: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(AT_ONCE))

    def of(self, key: Key) -> Work | None:
        """Return the work on a recording; None where it was not heard since the page was started."""
        with self.lock:
            return self.works.get(key)

    def start(self, key: Key, path: Path, called: str, bands: BandList | None, replay: Replay) -> Work:
        """Begin to listen; where it is heard already, that goes on."""
        with self.lock:
            running = self.works.get(key)
            if running is not None and running.at_work:
                return running
            work = Work(called, listed=() if bands is None else bands.bands)
            self.works.pop(key, None)
            self.works[key] = work
            over = [old for old, one in self.works.items() if not one.at_work]
            for old in over[: max(0, len(self.works) - KEPT_RESULTS)]:
                del self.works[old]
        # a daemon: it holds nothing that would be lost when the page is stopped
        threading.Thread(target=_listen, args=(work, path, bands, replay, self.turns), daemon=True).start()
        return work

    def cancel(self, key: Key) -> None:
        """Ask the work on a recording to stop; it does within a block of sound."""
        work = self.of(key)
        if work is not None:
            work.stop.set()

    def forget(self, key: Key) -> None:
        """Stop the work on a recording and drop what came of it."""
        self.cancel(key)
        with self.lock:
            self.works.pop(key, None)


def _listen(
    work: Work, path: Path, bands: BandList | None, replay: Replay, turns: threading.Semaphore
) -> None:
    with turns:
        try:
            work.duration_s = open_recording(path).duration_s
            work.proved = _proved(work, path, bands, replay)
            work.stage = "done"
        except _StoppedError:
            work.stage = "cancelled"
        except BenchError as error:
            work.problem, work.stage = str(error).replace(str(path), work.called), "failed"
        except Exception as error:
            work.problem = (
                f"listening stopped by a fault of this program ({type(error).__name__}: {error}); the recording "
                "is kept. Please report it with the recording"
            )
            work.stage = "failed"


def _proved(work: Work, path: Path, bands: BandList | None, replay: Replay) -> Proved:
    work.stage = "hears" if bands is not None else "finds"
    _stop_if_asked(work)
    heard = hear_recording(
        path, bands, assumed_replay=replay, progress=_progress(work, bands is None), found=_found(work)
    )
    work.stage = "judges"
    listening = assess(heard)
    found = verdicts(listening)
    return Proved(
        listened_from(listening), found, next_move(found), band_list_toml(heard.bands), heard.problem
    )


def _progress(work: Work, walks_twice: bool) -> Callable[[float], None]:
    def tell(share: float) -> None:
        _stop_if_asked(work)
        work.share = share
        if walks_twice and share > 0.5:
            work.stage = "hears"

    return tell


def _found(work: Work) -> Callable[[BandData], None]:
    def tell(data: BandData) -> None:
        work.found.append(data.band)

    return tell


def _stop_if_asked(work: Work) -> None:
    if work.stop.is_set():
        raise _StoppedError
