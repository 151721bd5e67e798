"""What the pages of the stage listen show: the recordings of a job, and one of them with what it proved."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from markupsafe import Markup
from starlette.responses import Response

from groovewright.audio import Band, BandList, State, Verdict, parse_band_list
from groovewright.job import JobState
from groovewright.job.heard import Listened
from groovewright.job.heard_words import NAMES, finding_text, number_text
from groovewright.job.recording import last_heard, readings_of, verdicts_of
from groovewright.job.stages.listen import CAUTIONS
from groovewright.quantities import BenchError, InputError
from groovewright.report.picture import inline_svg
from groovewright.report.words import with_minus
from groovewright.sheets.drawing import Drawing
from groovewright.store import KeptJob
from groovewright.store.files import KEPT_DAYS, KeptFile, kept_files, megabytes
from groovewright.web.bench import Bench
from groovewright.web.listen_bands import REPLAYS, band_fields, band_words, clock_words
from groovewright.web.listen_folder import OnOffer, on_offer
from groovewright.web.listen_slice import LONGEST_S, goes_low
from groovewright.web.listen_strip import strip_view
from groovewright.web.listen_view import heard_drawings
from groovewright.web.listen_work import Proved, Work
from groovewright.web.render import bench_of, page
from groovewright.web.stage_page import MARKS, FilledField, StageView
from groovewright.web.upload_kinds import RECORDING

BANDS, REPLAY, ENTERED = "bands", "replay", "entered"
"""What is noted beside a recording: its list as TOML, what stood before the file, the step that entered it."""

SIGNS = {
    State.RIGHT: ("✓", "right"),
    State.LOOK: ("●", "have a look"),
    State.WRONG: ("!", "wrong"),
    State.UNKNOWN: ("?", "can't tell"),
}
MARKS_HERE = {**MARKS, "waiting": ("…", "listening"), "unknown": ("?", "not heard")}

FOUND_NUMBER = re.compile(r"^\d+: ")
"""What stands before the name of a band that was found: the page counts by itself."""

STATES = {
    "waits": "Waits for its turn: other recordings are being heard.",
    "finds": "Looking for the bands.",
    "hears": "Listening.",
    "judges": "Working out what it proves.",
    "cancelled": "Stopped before its end. Listen again when you like.",
}


@dataclass(frozen=True)
class BandShown:
    """A band on the page: what it is, where, whether it goes low, and its form."""

    name: str
    words: str
    start: str
    end: str
    start_s: str
    end_s: str
    low: bool
    heard: bool
    fields: tuple[FilledField, ...]


@dataclass(frozen=True)
class RecordingShown:
    """A recording in the list of a job."""

    name: str
    called: str
    size: str
    words: str


@dataclass(frozen=True)
class Entry:
    """What the stage's page shows of recordings."""

    recordings: tuple[RecordingShown, ...]
    folder: tuple[OnOffer, ...]
    has_folder: bool
    largest: str
    largest_bytes: int
    kept_days: int
    lists: tuple[tuple[str, str], ...]
    more: tuple[tuple[str, Markup], ...]
    verdicts: tuple[tuple[str, str, str], ...]
    problem: str = ""


def listen_entry(request: Request, job: KeptJob, state: JobState) -> Entry:
    """Return what the stage's page shows beside its sentence and drawing."""
    bench = bench_of(request)
    kept = kept_files(bench.store, job.uid, RECORDING.purpose)
    problem = ""
    offers: tuple[OnOffer, ...] = ()
    try:
        offers = on_offer(bench.recordings)
    except BenchError as error:
        problem = str(error)
    heard = last_heard(state)
    drawn = heard_drawings(heard, verdicts_of(heard)) if heard else ()
    return Entry(
        recordings=tuple(
            RecordingShown(one.name, one.called, _size_words(one), _state_words(bench, job, one))
            for one in kept
        ),
        folder=offers,
        has_folder=bench.recordings is not None,
        largest=megabytes(RECORDING.largest_bytes),
        largest_bytes=RECORDING.largest_bytes,
        kept_days=KEPT_DAYS,
        lists=tuple((one.name, one.called) for one in kept if one.notes.get(BANDS)),
        more=_more(drawn[1:]),
        verdicts=verdict_rows(verdicts_of(heard)) if heard else (),
        problem=problem,
    )


def _size_words(kept: KeptFile) -> str:
    return "in the folder" if kept.path.suffix == ".link" else megabytes(kept.size_bytes)


def _state_words(bench: Bench, job: KeptJob, kept: KeptFile) -> str:
    work = bench.listenings.of((job.uid, kept.name))
    if work is not None and work.at_work:
        return f"being heard, {100.0 * work.share:.0f} %"
    if ENTERED in kept.notes:
        return f"in the job since step {kept.notes[ENTERED]}"
    if work is None:
        return "kept, not heard yet"
    words = {"done": "heard, not in the job yet", "failed": "can't be heard", "cancelled": "stopped"}
    return words[work.stage]


def verdict_rows(found: tuple[Verdict, ...]) -> tuple[tuple[str, str, str], ...]:
    """Return sign, word and sentence of each finding; what is wrong comes first."""
    order = (State.WRONG, State.LOOK, State.UNKNOWN, State.RIGHT)
    return tuple(
        (*SIGNS[verdict.state], with_minus(verdict.text))
        for verdict in sorted(found, key=lambda verdict: order.index(verdict.state))
    )


def _more(drawings: tuple[Drawing, ...]) -> tuple[tuple[str, Markup], ...]:
    return tuple((drawing.title, Markup(inline_svg(drawing))) for drawing in drawings)


def list_of(kept: KeptFile, work: Work | None) -> BandList | None:
    """Return the band list of a recording: confirmed, else as it was found; None where there is none yet."""
    text = _list_text(kept, work.proved if work else None)
    try:
        return parse_band_list(text) if text else None
    except InputError:
        return None


def recording_page(
    request: Request,
    job: KeptJob,
    kept: KeptFile,
    *,
    template: str = "listen_recording.html",
    problem: str = "",
    conflict: tuple[str, ...] = (),
    typed_list: str | None = None,
    status: int = 200,
) -> Response:
    """Return the page of one recording, or what lives on it."""
    bench = bench_of(request)
    work = bench.listenings.of((job.uid, kept.name))
    proved = work.proved if work else None
    bands = list_of(kept, work)
    drawn = heard_drawings(proved.event, proved.verdicts) if proved else ()
    at_work = work is not None and work.at_work
    content: dict[str, Any] = {
        "job": job,
        "kept": kept,
        "base": f"/jobs/{job.number}/recordings/{kept.name}",
        "view": _view(work, bands, drawn),
        "work": work,
        "at_work": at_work,
        "percent": round(100.0 * work.share) if work else 0,
        "proved": proved,
        "verdicts": verdict_rows(proved.verdicts) if proved else (),
        "more": _more((*drawn[1:], _strip(work, bands))) if drawn else (),
        "bands": _bands_shown(work, bands),
        "band_list": _list_text(kept, proved) if typed_list is None else typed_list,
        "confirmed": bool(kept.notes.get(BANDS)),
        "changed": _list_changed(kept, proved),
        "entered": kept.notes.get(ENTERED, ""),
        "replay": kept.notes.get(REPLAY, REPLAYS[0][0]),
        "replays": REPLAYS,
        "cautions": CAUTIONS[:2],
        "today": bench.store.time()[:10],
        "longest_s": f"{LONGEST_S:g}",
        "problem": problem,
        "conflict": conflict,
        "marks": MARKS_HERE,
        "trying": False,
        "live": False,
        "is_next": proved is not None,
    }  # fmt: skip
    return page(request, template, status, **content)


def _list_text(kept: KeptFile, proved: Proved | None) -> str:
    return kept.notes.get(BANDS) or (proved.band_list if proved else "")


def _list_changed(kept: KeptFile, proved: Proved | None) -> bool:
    return proved is not None and kept.notes.get(BANDS, "") not in ("", proved.band_list)


def _strip(work: Work | None, bands: BandList | None) -> Drawing:
    heard = tuple(work.found) if work else ()
    listed = work.listed if work and work.at_work else bands.bands if bands else ()
    share = work.share if work and work.at_work else None
    if work and work.stage == "finds" and share is not None:
        share *= 2.0  # the first of two walks
    elif work and share is not None and not work.listed:
        share = max(0.0, 2.0 * share - 1.0)
    return strip_view(listed, heard, work.duration_s if work else 0.0, share)


def _view(work: Work | None, bands: BandList | None, drawn: tuple[Drawing, ...]) -> StageView:
    proved = work.proved if work else None
    event = proved.event if proved else None
    main = drawn[0] if drawn else _strip(work, bands)
    rows, more = _rows(event) if event else ((), ())
    return StageView(
        stage="listen",
        title="recording",
        status=_status(work),
        sentence=with_minus(_sentence(work)),
        drawings=(Markup(inline_svg(main)),),
        details=(),
        rows=rows,
        more_rows=more,
        cautions=(),
        warnings=tuple(with_minus(warning) for warning in event.warnings) if event else (),
        whys=(),
    )


def _status(work: Work | None) -> str:
    if work is None or work.stage in ("failed", "cancelled"):
        return "unknown"
    if work.at_work:
        return "waiting"
    found = work.proved.verdicts if work.proved else ()
    return "open" if any(verdict.state in (State.WRONG, State.LOOK) for verdict in found) else "done"


def _sentence(work: Work | None) -> str:
    if work is None:
        return (
            "This recording is kept, and has not been heard since the bench page was started. Listen to it."
        )
    if work.stage == "failed":
        return f"It can't be heard: {work.problem}.".replace("..", ".")
    if work.proved is not None:
        return work.proved.next_move
    heard = len(work.found)
    said = STATES["hears" if work.stage == "finds" and heard else work.stage]
    return f"{said} {heard} band{'s' if heard != 1 else ''} heard." if heard and work.at_work else said


def _rows(event: Listened) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """Return the numbers that matter, and all others with what could not be measured and why."""
    rows = [
        (name, with_minus(said))
        for key, (name, _) in NAMES.items()
        if (said := finding_text(event, key)) is not None
    ]
    more = [
        (key.replace("_", " "), with_minus(number_text(reading, "")))
        for key, reading in readings_of(event).items()
        if key not in NAMES
    ]
    more += [(key.replace("_", " "), f"not measured: {why}") for key, why in event.withheld]
    return tuple(rows), tuple(more)


def _bands_shown(work: Work | None, bands: BandList | None) -> tuple[BandShown, ...]:
    heard = {(band.name, band.start_s) for band in work.found} if work else set()
    shown: tuple[Band, ...] = bands.bands if bands is not None else tuple(work.found) if work else ()
    return tuple(
        BandShown(
            name=FOUND_NUMBER.sub("", band.name),
            words=band_words(band),
            start=clock_words(band.start_s),
            end=clock_words(band.end_s),
            start_s=f"{band.start_s:.3f}",
            end_s=f"{band.end_s:.3f}",
            low=goes_low(band),
            heard=(band.name, band.start_s) in heard,
            fields=band_fields(band) if bands is not None else (),
        )
        for band in shown
    )
