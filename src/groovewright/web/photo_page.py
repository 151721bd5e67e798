"""Photographs at the stages square and level: taken, read, adjusted, and written into the job or rejected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse, Response

from groovewright.job import Event, fold
from groovewright.quantities import CannotBeDoneError, InputError, Reading
from groovewright.store import KeptJob, Store
from groovewright.store.files import (
    KeptFile,
    begin_file,
    keep_file,
    kept_files,
    remove_file,
    told,
    use_file,
)
from groovewright.vision import without_metadata
from groovewright.web.changes import change_job
from groovewright.web.faults import NotThereError
from groovewright.web.photo_asked import (
    FRONTS,
    KINDS,
    MOST_PHOTOS,
    WHATS,
    Asked,
    asked_of,
    line_of,
    photo_names,
)
from groovewright.web.photo_guide import GUIDANCE
from groovewright.web.photo_read import PICTURES, Finding, find, forget_read, picture
from groovewright.web.render import bench_of, page
from groovewright.web.requests import Filled, filled, job_of
from groovewright.web.stage_page import TITLES
from groovewright.web.upload_kinds import PHOTO
from groovewright.web.uploads import INERT, hand_in, handed_in_file

router = APIRouter(include_in_schema=False)

Form = Annotated[Filled, Depends(filled)]


@router.post("/jobs/{number}/upload/photo")
async def upload(request: Request, number: int) -> Response:
    """Keep photos that the browser hands in, without what they tell of place and owner."""
    store = bench_of(request).store
    job = await run_in_threadpool(job_of, store, number)
    handed_in = await hand_in(request, PHOTO, job.uid)
    fields = handed_in.form.fields
    stage = _stage(fields.get("stage", ""))
    if not handed_in.files:
        raise InputError("Choose or take a photo first: JPEG, PNG or HEIC")
    names = await run_in_threadpool(_cleaned, store, job, handed_in.files)
    asked = asked_of(stage, {**fields, "photos": ",".join((*photo_names(fields), *names))})
    return RedirectResponse(_address(number, stage, asked), 303)


@router.get("/jobs/{number}/{stage}/photo", response_class=HTMLResponse)
def show(request: Request, number: int, stage: str) -> Response:
    """Show what the photos say; the address holds which photos and lines."""
    stage = _stage(stage)
    store = bench_of(request).store
    job = job_of(store, number)
    fields = dict(request.query_params)
    asked, problem = _asked(stage, fields)
    if "drop" in fields:
        return RedirectResponse(
            _address(number, stage, asked.without_photo(_place(fields["drop"], asked))), 303
        )
    if "photo" in fields:  # a line was drawn on one of the photos
        try:
            asked = _with_line(asked, fields)
            return RedirectResponse(_address(number, stage, asked), 303)
        except InputError as error:
            problem = str(error)
    kept = tuple(photo_of(store, job, name) for name in asked.photos)
    found = find(kept, asked, fold(job.log))
    others = [photo for photo in kept_files(store, job.uid, PHOTO.purpose) if photo.name not in asked.photos]
    return page(
        request,
        "photo.html",
        job=job,
        stage=stage,
        title=TITLES.get(stage, stage),
        asked=asked,
        found=found,
        problem=problem or ("" if found.problem in _told_beside(found) else found.problem),
        said=_said(asked, found),
        query=urlencode(asked.query()),
        own=asked.query(),
        others=[(photo, urlencode(_also(asked, photo).query())) for photo in others[:12]],
        room=MOST_PHOTOS - len(kept) if asked.what == "yaw" else 1 - len(kept),
        kinds=KINDS,
        fronts=FRONTS,
        guidance=GUIDANCE[asked.what],
        expected=job.sequence,
    )


@router.get("/jobs/{number}/{stage}/photo/{place}/{kind}.png")
def show_picture(request: Request, number: int, stage: str, place: int, kind: str) -> Response:
    """Send a picture of one of the page's photos."""
    stage = _stage(stage)
    store = bench_of(request).store
    job = job_of(store, number)
    asked = asked_of(stage, dict(request.query_params))
    if kind not in PICTURES or not 0 <= place < len(asked.photos):
        raise NotThereError(f"there is no picture '{kind[:20]}' of photo {place + 1}")
    content = picture(photo_of(store, job, asked.photos[place]), asked, place, kind)
    return Response(content, media_type="image/png", headers=INERT)


@router.post("/jobs/{number}/{stage}/photo/take")
def take(request: Request, number: int, stage: str, form: Form) -> Response:
    """Write what the photos say into the job."""
    stage = _stage(stage)
    store = bench_of(request).store

    def event(job: KeptJob) -> Event:
        asked = asked_of(stage, form.fields)
        kept = tuple(photo_of(store, job, name) for name in asked.photos)
        found = find(kept, asked, fold(job.log))
        if found.step is None:
            raise CannotBeDoneError(found.problem or "no photo was chosen")
        for photo in kept:
            use_file(photo)
        return found.step

    return change_job(request, number, stage, form, event)


@router.post("/jobs/{number}/{stage}/photo/delete")
def delete(request: Request, number: int, stage: str, form: Form) -> Response:
    """Delete a photo; what was read from it and taken stays in the job."""
    stage = _stage(stage)
    store = bench_of(request).store
    asked = asked_of(stage, form.fields)
    remove_file(photo_of(store, job_of(store, number), form["name"]))
    forget_read()
    if form["name"] in asked.photos:
        asked = asked.without_photo(asked.photos.index(form["name"]))
    return RedirectResponse(_address(number, stage, asked), 303)


def photo_of(store: Store, job: KeptJob, name: str) -> KeptFile:
    """Return a photo of a job by its invented name; raises as `handed_in_file` does."""
    return handed_in_file(store, job, name, PHOTO)


def _cleaned(store: Store, job: KeptJob, files: tuple[KeptFile, ...]) -> list[str]:
    """Put a copy without metadata in place of every photo; what is no photo is removed, and said."""
    made: list[KeptFile] = []
    try:
        for kept in files:
            content = without_metadata(kept.path.read_bytes(), kept.called)
            partial = begin_file(store, job.uid, len(content))
            with told(partial.parent):
                partial.write_bytes(content)
            made.append(
                keep_file(
                    partial, ending="jpg", called=kept.called, purpose=PHOTO.purpose, media_type="image/jpeg"
                )
            )
    except BaseException:
        for kept in made:
            remove_file(kept)
        raise
    finally:
        for kept in files:
            remove_file(kept)
    return [kept.name for kept in made]


def _stage(stage: str) -> str:
    if stage not in WHATS:
        raise NotThereError(f"photos are read at the stages {' and '.join(WHATS)}, not at '{stage[:40]}'")
    return stage


def _asked(stage: str, fields: Mapping[str, str]) -> tuple[Asked, str]:
    """Return what is asked; where a part can't be read, the rest, and why."""
    try:
        return asked_of(stage, fields), ""
    except InputError as error:
        what = fields.get("what", "")
        return Asked(
            what if what in WHATS[stage] else WHATS[stage][0], photo_names(fields)[:MOST_PHOTOS]
        ), str(error)


def _with_line(asked: Asked, fields: Mapping[str, str]) -> Asked:
    place = _place(fields["photo"], asked)
    number = fields.get("line", "")
    line = int(number) if number.isascii() and number.isdigit() else len(asked.lines_on(place))
    if "remove" in fields:
        return asked.without_line(place, line)
    return asked.with_line(place, line, line_of(fields))


def _also(asked: Asked, photo: KeptFile) -> Asked:
    """Return the same with a photo more; lean and rake are read from one photo at a time."""
    if asked.what == "yaw":
        return replace(asked, photos=(*asked.photos, photo.name))
    return replace(asked, photos=(photo.name,), lines=())


def _place(text: str, asked: Asked) -> int:
    if not text.isascii() or not text.isdigit() or int(text[:3]) >= len(asked.photos):
        raise InputError(f"there is no photo '{text[:20]}' on this page")
    return int(text)


def _address(number: int, stage: str, asked: Asked) -> str:
    return f"/jobs/{number}/{stage}/photo?{urlencode(asked.query())}"


def _told_beside(found: Finding) -> tuple[str, ...]:
    """Return what already stands beside a photo."""
    return tuple(photo.problem for photo in found.photos if photo.problem)


def _said(asked: Asked, found: Finding) -> str:
    """Return what was read in one sentence; empty where nothing was."""
    reading = found.reading
    if reading is None:
        return ""
    low, high = reading.interval()
    sure = f"95 % sure between {low:+.2f} and {high:+.2f}°".replace("-", "−")
    if asked.what == "yaw":
        null = next((photo.null for photo in found.photos if photo.null), "")
        return f"At the {null} point the front {_way(reading)}; {sure}."
    if asked.what == "lean":
        way = "clockwise" if reading.value > 0 else "counter-clockwise"
        return f"The body leans {abs(reading.value):.2f}° {way} seen from the front; {sure}."
    sure = f"95 % sure between {low:.1f} and {high:.1f}°"
    return f"The stylus rake angle is {reading.value:.1f}° (90° is upright); {sure}."


def _way(reading: Reading) -> str:
    if abs(reading.value) < 0.005:
        return "is square"
    return f"points {'in (clockwise)' if reading.value > 0 else 'out (counter-clockwise)'} by {abs(reading.value):.2f}°"
