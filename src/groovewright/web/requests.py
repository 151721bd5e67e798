"""What the pages read from a request: a job, a form with its token."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from starlette.datastructures import UploadFile
from starlette.requests import Request

from groovewright.quantities import InputError
from groovewright.store import KeptJob, Store, read_job
from groovewright.web.faults import NotAllowedError, NotThereError
from groovewright.web.render import bench_of, session_in
from groovewright.web.session import is_token

MOST_FIELDS = 200
FILE_BYTES = 1_000_000


@dataclass(frozen=True)
class Filled:
    """A form as it came: its fields, and the file that came with it."""

    fields: Mapping[str, str] = field(default_factory=dict)
    file: bytes = b""

    def __getitem__(self, name: str) -> str:
        """Return a field; empty where it is missing."""
        return self.fields.get(name, "")

    @property
    def expected(self) -> int:
        """Return the sequence number of the last event that the page had seen.

        Raises
        ------
        InputError
            It is no number.
        """
        if not self["expected"].isascii() or not self["expected"].isdigit() or len(self["expected"]) > 9:
            raise InputError(
                "the form does not say which state of the job it was filled for; load the page again"
            )
        return int(self["expected"])

    def of(self, group: str) -> dict[str, str]:
        """Return the fields of a section or step, by their keys."""
        return {
            name.partition(".")[2]: value
            for name, value in self.fields.items()
            if name.startswith(f"{group}.")
        }


async def filled(request: Request) -> Filled:
    """Return the form of a change that carries its session's token.

    Raises
    ------
    NotAllowedError
        It doesn't.
    InputError
        It is no form.
    """
    kind = request.headers.get("content-type", "")
    if not kind.startswith(("application/x-www-form-urlencoded", "multipart/form-data")):
        raise InputError("a change is sent as a form")
    fields, content = {}, b""
    async with request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=FILE_BYTES) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                content = await value.read(FILE_BYTES + 1)
            else:
                fields[name] = value
    check_token(request, fields.get("token", ""))
    if len(content) > FILE_BYTES:
        raise InputError(f"the file has more than {FILE_BYTES:,} bytes; that is too large for a job")
    return Filled(fields, content)


def check_token(request: Request, token: str) -> None:
    """Make sure that a change carries its session's token.

    Raises
    ------
    NotAllowedError
        It doesn't.
    """
    if not is_token(token, session_in(request), bench_of(request).secret):
        raise NotAllowedError(
            "This page was opened before the bench page was started again, or by another browser. Nothing was "
            "changed: go back, load the page again, and do it once more."
        )


def job_of(store: Store, number: int) -> KeptJob:
    """Return a job of the record.

    Raises
    ------
    NotThereError
        There is none of that number.
    """
    try:
        return read_job(store, number)
    except InputError as error:
        raise NotThereError(str(error)) from None
