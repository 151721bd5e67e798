"""Recordings of a job: handed in or picked, heard, played, corrected, entered into the job, deleted."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse, Response

from groovewright.audio import Replay, band_list_toml
from groovewright.job.checks import iso_date
from groovewright.quantities import BenchError, InputError
from groovewright.store import ConflictError, KeptJob, append
from groovewright.store.files import KeptFile, kept_file, note_file, remove_file, use_file
from groovewright.web.bench import Bench
from groovewright.web.faults import NotThereError, status_of
from groovewright.web.listen_bands import REPLAYS, checked_list, with_band, without_band
from groovewright.web.listen_folder import LINK, pick, sound_of
from groovewright.web.listen_page import BANDS, ENTERED, REPLAY, list_of, recording_page
from groovewright.web.listen_slice import QUIET_DB, USUAL_DB, seconds_in, slice_of, sound_response
from groovewright.web.render import bench_of
from groovewright.web.requests import Filled, filled, job_of
from groovewright.web.said import event_words
from groovewright.web.upload_kinds import RECORDING
from groovewright.web.uploads import hand_in, handed_in_file, inert

router = APIRouter(include_in_schema=False)

Form = Annotated[Filled, Depends(filled)]
PLACE = "/jobs/{number}/recordings/{name}"


@router.post("/jobs/{number}/upload/recording")
async def upload(request: Request, number: int) -> Response:
    """Keep a recording that the browser hands in, and begin to listen to it."""
    bench = bench_of(request)
    job = await run_in_threadpool(job_of, bench.store, number)
    handed_in = await hand_in(request, RECORDING, job.uid)
    if not handed_in.files:
        raise InputError("Choose a recording first: WAV, FLAC or AIFF")
    return await run_in_threadpool(_begun, bench, job, handed_in.files[0], handed_in.form)


@router.post("/jobs/{number}/recordings")
def pick_one(request: Request, number: int, form: Form) -> Response:
    """Take a recording of the folder that the page was started with, and begin to listen to it."""
    bench = bench_of(request)
    job = job_of(bench.store, number)
    return _begun(bench, job, pick(bench, bench.store, job.uid, form["file"]), form)


def _begun(bench: Bench, job: KeptJob, kept: KeptFile, form: Filled) -> Response:
    """Note what was said about a recording, begin to listen, and show it."""
    other = form["list"]
    if other:  # the same record was played before: its list serves again
        listed = kept_file(bench.store, job.uid, other).notes.get(BANDS, "")
        kept = note_file(kept, **{BANDS: listed}) if listed else kept
    if form["replay"] in dict(REPLAYS):
        kept = note_file(kept, **{REPLAY: form["replay"]})
    _listen(bench, job, kept)
    return RedirectResponse(_place(job, kept), 303)


def _place(job: KeptJob, kept: KeptFile) -> str:
    return f"/jobs/{job.number}/recordings/{kept.name}"


def _listen(bench: Bench, job: KeptJob, kept: KeptFile) -> None:
    bands = checked_list(kept.notes[BANDS]) if kept.notes.get(BANDS) else None
    replay = Replay(kept.notes.get(REPLAY, Replay.EQUALISED.value))
    path = sound_of(bench, kept)
    use_file(kept)
    bench.listenings.start((job.uid, kept.name), path, kept.called, bands, replay)


def found_recording(request: Request, number: int, name: str) -> tuple[KeptJob, KeptFile]:
    """Return a job and one of its recordings by the invented name.

    Raises
    ------
    NotThereError
        There is none.
    """
    store = bench_of(request).store
    job = job_of(store, number)
    return job, handed_in_file(store, job, name, RECORDING)


@router.get(PLACE, response_class=HTMLResponse)
def show(request: Request, number: int, name: str) -> Response:
    """Show a recording: while it is heard, and what it proved."""
    return recording_page(request, *found_recording(request, number, name))


@router.get(f"{PLACE}/live", response_class=HTMLResponse)
def live(request: Request, number: int, name: str) -> Response:
    """Show only what changes while a recording is heard."""
    return recording_page(request, *found_recording(request, number, name), template="listen_live.html")


@router.get(f"{PLACE}/file")
def give_back(request: Request, number: int, name: str) -> Response:
    """Send a recording as it was handed in."""
    _, kept = found_recording(request, number, name)
    if kept.path.suffix == f".{LINK}":
        raise NotThereError(f"{kept.called} lies in the folder of recordings; it was never handed in")
    return inert(kept)


@router.get(f"{PLACE}/sound.wav")
def play(
    request: Request, number: int, name: str, start: str = "", end: str = "", level: str = ""
) -> Response:
    """Send one stretch of a recording, at a safe level, for the browser to play."""
    _, kept = found_recording(request, number, name)
    path = sound_of(bench_of(request), kept)
    first, last = seconds_in(start, "start"), seconds_in(end, "end")
    peak_db = USUAL_DB if level == "usual" else QUIET_DB
    content = slice_of(path, path.stat().st_mtime_ns, first, last, peak_db)
    return sound_response(content, request.headers.get("range"))


@router.post(f"{PLACE}/start")
def start(request: Request, number: int, name: str, form: Form) -> Response:
    """Listen, with the list as it stands; `find` forgets the list and looks for the bands anew."""
    job, kept = found_recording(request, number, name)
    bench = bench_of(request)
    if form["replay"] in dict(REPLAYS):
        kept = note_file(kept, **{REPLAY: form["replay"]})
    if form["find"]:
        kept = note_file(kept, **{BANDS: ""})
    _listen(bench, job, kept)
    return RedirectResponse(_place(job, kept), 303)


@router.post(f"{PLACE}/cancel", dependencies=[Depends(filled)])
def cancel(request: Request, number: int, name: str) -> Response:
    """Stop listening."""
    job, kept = found_recording(request, number, name)
    bench_of(request).listenings.cancel((job.uid, kept.name))
    return RedirectResponse(_place(job, kept), 303)


@router.post(f"{PLACE}/list")
def set_list(request: Request, number: int, name: str, form: Form) -> Response:
    """Take a band list as text or as a file, and listen with it."""
    job, kept = found_recording(request, number, name)
    text = form["text"]
    try:
        if form.file.strip():
            text = form.file.decode("utf-8")
        kept = note_file(kept, **{BANDS: band_list_toml(checked_list(text))})
        _listen(bench_of(request), job, kept)
    except UnicodeDecodeError:
        problem = "The list is not a text file in UTF-8"
        return recording_page(request, job, kept, problem=problem, status=422)
    except BenchError as error:
        return recording_page(
            request, job, kept, problem=f"Not taken: {error}.", typed_list=text, status=status_of(error)[0]
        )
    return RedirectResponse(_place(job, kept), 303)


@router.post(f"{PLACE}/band/{{place}}")
def set_band(request: Request, number: int, name: str, place: int, form: Form) -> Response:
    """Correct one band of the list, or take it out; it counts when the recording is heard again."""
    job, kept = found_recording(request, number, name)
    bands = list_of(kept, bench_of(request).listenings.of((job.uid, kept.name)))
    try:
        if bands is None:
            raise InputError("there is no list yet: listen first, or hand one in")
        made = without_band(bands, place) if form["drop"] else with_band(bands, place, form.of("band"))
        note_file(kept, **{BANDS: band_list_toml(made)})
    except BenchError as error:
        return recording_page(request, job, kept, problem=f"Not taken: {error}.", status=status_of(error)[0])
    return RedirectResponse(f"{_place(job, kept)}#bands", 303)


@router.post(f"{PLACE}/enter")
def enter(request: Request, number: int, name: str, form: Form) -> Response:
    """Put what a recording proved into the job."""
    job, kept = found_recording(request, number, name)
    bench = bench_of(request)
    work = bench.listenings.of((job.uid, kept.name))
    try:
        if work is None or work.proved is None:
            raise InputError("the recording has not been heard yet; listen to it first")
        event = replace(
            work.proved.event,
            file=kept.called,
            as_found=form["as_found"] == "yes",
            heard_on=iso_date(form["heard_on"], "the day") if form["heard_on"] else "",
        )
        sequence = append(bench.store, number, event, form.expected)
    except ConflictError as error:
        words = tuple(event_words(one.event) for one in error.changed)
        now = job_of(bench.store, number)
        return recording_page(request, now, kept, conflict=words, status=409)
    except BenchError as error:
        return recording_page(request, job, kept, problem=f"Not saved: {error}.", status=status_of(error)[0])
    note_file(kept, **{ENTERED: str(sequence)})
    return RedirectResponse(f"/jobs/{number}/listen", 303)


@router.post(f"{PLACE}/delete", dependencies=[Depends(filled)])
def delete(request: Request, number: int, name: str) -> Response:
    """Delete a recording; what it proved stays in the job."""
    job, kept = found_recording(request, number, name)
    bench_of(request).listenings.forget((job.uid, kept.name))
    remove_file(kept)
    return RedirectResponse(f"/jobs/{number}/listen", 303)
