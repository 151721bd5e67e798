"""Recordings of a job: handed in, given back, deleted."""

from __future__ import annotations

from fastapi import APIRouter, Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response

from groovewright.quantities import InputError
from groovewright.store.files import KeptFile, kept_file, remove_file
from groovewright.store.opening import Store
from groovewright.web.faults import NotThereError
from groovewright.web.render import bench_of
from groovewright.web.requests import filled, job_of
from groovewright.web.upload_kinds import RECORDING
from groovewright.web.uploads import hand_in, inert

router = APIRouter(include_in_schema=False)


@router.post("/jobs/{number}/upload/recording")
async def upload(request: Request, number: int) -> Response:
    """Keep a recording that the browser hands in."""
    job = await run_in_threadpool(job_of, bench_of(request).store, number)
    handed_in = await hand_in(request, RECORDING, job.uid)
    if not handed_in.files:
        raise InputError("Choose a recording first: WAV, FLAC or AIFF")
    return RedirectResponse(f"/jobs/{number}/listen", 303)


@router.get("/jobs/{number}/recordings/{name}")
def give_back(request: Request, number: int, name: str) -> Response:
    """Send a recording as it was handed in."""
    return inert(recording_of(bench_of(request).store, number, name))


@router.post("/jobs/{number}/recordings/{name}/delete", dependencies=[Depends(filled)])
def delete(request: Request, number: int, name: str) -> Response:
    """Delete a recording; what it proved stays in the job."""
    remove_file(recording_of(bench_of(request).store, number, name))
    return RedirectResponse(f"/jobs/{number}/listen", 303)


def recording_of(store: Store, number: int, name: str) -> KeptFile:
    """Return a recording of a job by its invented name.

    Raises
    ------
    NotThereError
        There is none.
    """
    try:
        kept = kept_file(store, job_of(store, number).uid, name)
    except InputError as error:
        raise NotThereError(str(error)) from None
    if kept.purpose != RECORDING.purpose:
        raise NotThereError(f"'{kept.called[:60]}' is no recording")
    return kept
