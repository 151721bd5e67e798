"""One walk through a recording: blocks go to the bands that they belong to, in bounded memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from groovewright.audio.bands import BandList, Kind, Replay
from groovewright.audio.detect import find_bands
from groovewright.audio.faults import LevelTally
from groovewright.audio.gather import BandData, BandGatherer
from groovewright.audio.reader import BlockReader, Recording, Samples, open_recording
from groovewright.audio.spectra import plan_for
from groovewright.audio.survey import step_s, survey
from groovewright.quantities import RPM_33

BLOCK_S = 2.0
SURVEY_SHARE = 0.2
"""Of the progress that is told, where the bands have to be found first."""

LARGEST_MAPPED = 31 << 20
"""Bytes; a little below what the GNU allocator's threshold may rise to."""

Progress = Callable[[float], None]
"""Is told, now and then, how much of the walk is done, 0 to 1."""
Found = Callable[[BandData], None]
"""Is given each band as soon as it has been heard."""


@dataclass(frozen=True)
class Heard:
    """What a walk through a recording gave.

    Parameters
    ----------
    bands : BandList
        As given, or as found.
    data : tuple of BandData
        One for each band that began before the recording ended.
    problem : str
        Why the file could not be read to its end; empty where it could.
    """

    recording: Recording
    bands: BandList
    data: tuple[BandData, ...]
    tally: LevelTally
    problem: str
    not_finite: int


def hear_recording(
    path: Path,
    bands: BandList | None,
    *,
    assumed_replay: Replay = Replay.EQUALISED,
    progress: Progress | None = None,
    found: Found | None = None,
) -> Heard:
    """Walk through a recording with its band list; without one, look over it first to find the bands.

    Raises
    ------
    InputError
        The file is not a recording that can be measured (see `open_recording`).
    """
    recording = open_recording(path)
    _settle_allocator()
    if bands is None:
        bands = detected_bands(recording, replay=assumed_replay, progress=progress)
        return _walk(recording, bands, _after_survey(progress), found)
    return _walk(recording, bands, progress or _silent, found)


def detected_bands(
    recording: Recording,
    *,
    replay: Replay = Replay.EQUALISED,
    speed_rpm: float = RPM_33,
    progress: Progress | None = None,
) -> BandList:
    """Look over the recording to find the bands."""
    plan = plan_for(recording.rate_hz)
    tell = progress or _silent
    table = survey(recording, plan, lambda share: tell(SURVEY_SHARE * share))
    return find_bands(table, step_s(plan), replay=replay, speed_rpm=speed_rpm)


def _walk(recording: Recording, bands: BandList, progress: Progress, found: Found | None) -> Heard:
    plan = plan_for(recording.rate_hz)
    quiet = [band for band in bands.bands if band.kind is Kind.SILENCE]
    # the meter is slow work: only the longest groove, which fills the keys, goes through it
    longest = max(quiet, key=lambda band: band.duration_s, default=None)
    gatherers = (BandGatherer(band, plan, with_meter=band is longest) for band in bands.bands)
    waiting = sorted(gatherers, key=lambda gatherer: gatherer.first)
    active: list[BandGatherer] = []
    done: list[BandData] = []
    reader = BlockReader(recording)
    tally = LevelTally(recording.rate_hz)
    place = 0
    for block in _ahead(_counted(reader.blocks(int(BLOCK_S * recording.rate_hz)), tally)):
        end = place + len(block)
        while waiting and waiting[0].first < end:
            active.append(waiting.pop(0))
        for gatherer in active:
            gatherer.feed(block, place)
        ended = [gatherer for gatherer in active if gatherer.last <= end]
        active = [gatherer for gatherer in active if gatherer.last > end]
        for gatherer in ended:
            _keep(gatherer, done, found)
        place = end
        progress(_share(place, recording))
    for gatherer in active:
        _keep(gatherer, done, found)
    order = {band.name: number for number, band in enumerate(bands.bands)}
    done.sort(key=lambda data: order[data.band.name])
    return Heard(recording, bands, tuple(done), tally, reader.problem, reader.not_finite)


def _keep(gatherer: BandGatherer, done: list[BandData], found: Found | None) -> None:
    data = gatherer.finish()
    done.append(data)
    if found:
        found(data)


def _counted(blocks: Iterator[Samples], tally: LevelTally) -> Iterator[Samples]:
    """Count levels where the blocks are decoded, beside the work on the block before."""
    for block in blocks:
        tally.add(block)
        yield block


def _ahead(blocks: Iterator[Samples]) -> Iterator[Samples]:
    """Decode the next block on another core while this one is worked on."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        following = pool.submit(next, blocks, None)
        while True:
            block = following.result()
            if block is None:
                return
            following = pool.submit(next, blocks, None)
            yield block


def _settle_allocator() -> None:
    """Have freed blocks kept for the next batch, not handed back to the system and asked for again.

    The GNU allocator maps and unmaps large blocks one by one, each time with a fault for every page, until one
    of its largest was freed (mallopt(3), "dynamic mmap threshold"); others take no notice. No page is touched.
    """
    np.empty(LARGEST_MAPPED, dtype=np.uint8)


def _share(frames: int, recording: Recording) -> float:
    return min(1.0, frames / recording.frames) if recording.frames else 0.0


def _silent(_share_done: float) -> None:
    return None


def _after_survey(progress: Progress | None) -> Progress:
    if progress is None:
        return _silent
    return lambda share: progress(SURVEY_SHARE + (1.0 - SURVEY_SHARE) * share)
