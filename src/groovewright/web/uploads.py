"""Files that a browser hands in: streamed to disk, judged by content, never given back as anything active."""

from __future__ import annotations

import time
from collections.abc import AsyncGenerator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, Response

from groovewright.quantities import BenchError, CannotBeDoneError, InputError
from groovewright.store import KeptJob
from groovewright.store.files import (
    SPARE_BYTES,
    KeptFile,
    begin_file,
    check_room,
    keep_file,
    kept_file,
    megabytes,
    remove_file,
    tidy_files,
    told,
)
from groovewright.store.opening import Store
from groovewright.web.faults import NotThereError
from groovewright.web.render import bench_of
from groovewright.web.requests import MOST_FIELDS, Filled, check_token, filled
from groovewright.web.upload_kinds import FIRST_BYTES, Content, UploadKind, too_large

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

LONGEST_FIELD = 20_000
WRITE_BYTES = 1_000_000
DRAINED_BYTES = 200_000_000
"""How much of a refused upload is still read: a browser shows the answer only once all was sent."""
ROOM_EVERY = 64_000_000
"""How often, in bytes, the room on the disk is looked at while a file comes in."""

INERT = {
    "content-security-policy": "sandbox; default-src 'none'",
    "x-content-type-options": "nosniff",
}
"""What a file is sent with, so that a browser runs nothing in it."""

NOT_WHOLE = "the upload was cut off before its end: nothing was kept. Send it again"


@dataclass(frozen=True)
class HandedIn:
    """A form that came with files: what was kept, and its other fields."""

    files: tuple[KeptFile, ...]
    form: Filled


async def hand_in(request: Request, kind: UploadKind, uid: str) -> HandedIn:
    """Keep the files of a form for the job of that own name (`KeptJob.uid`), all or none.

    The form's token has to stand before its files, so that nothing is written for a stranger. A file field
    that was left empty is passed over; `files` may be empty.

    Raises
    ------
    NotAllowedError
        The form does not carry its session's token.
    InputError
        A file is of another kind, too large, there are too many, or the upload was cut off.
    CannotBeDoneError
        The disk is full or can't be written to.
    """
    store = bench_of(request).store
    if request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        return HandedIn((), await filled(request))  # a form whose file field a browser left out
    await run_in_threadpool(tidy_files, store, time.time())
    length = request.headers.get("content-length", "0")
    taking = _Taking(request, store, kind, uid, int(length) if length.isdigit() else 0)
    chunks = request.stream()
    try:
        parser = MultipartParser(_boundary(request), taking.callbacks())
        async for chunk in chunks:
            _parse(parser, chunk)
            await taking.work()
        taking.finish()
    except ClientDisconnect:
        taking.undo()
        raise InputError(NOT_WHOLE) from None
    except BaseException as error:
        taking.undo()
        if isinstance(error, BenchError):
            await _drain(chunks)
        raise
    return HandedIn(tuple(taking.kept), Filled(taking.fields))


def handed_in_file(store: Store, job: KeptJob, name: str, kind: UploadKind) -> KeptFile:
    """Return a file that was handed in for a job, by its invented name.

    Raises
    ------
    NotThereError
        There is none of that kind.
    """
    try:
        kept = kept_file(store, job.uid, name)
    except InputError as error:
        raise NotThereError(str(error)) from None
    if kept.purpose != kind.purpose:
        raise NotThereError(f"'{kept.called[:60]}' is no {kind.purpose}")
    return kept


def inert(kept: KeptFile) -> Response:
    """Return a file as what it was judged to be; a browser saves it or plays it and runs nothing in it."""
    return FileResponse(
        kept.path,
        media_type=kept.media_type,
        filename=f"{kept.purpose}{kept.path.suffix}",
        content_disposition_type="attachment",
        headers=INERT,
    )


def _boundary(request: Request) -> bytes:
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    boundary = options.get(b"boundary", b"")
    if kind != b"multipart/form-data" or not 0 < len(boundary) <= 200:
        raise InputError("a file is sent with a form of the kind multipart/form-data")
    return boundary


def _parse(parser: MultipartParser, chunk: bytes) -> None:
    try:
        parser.write(chunk)
    except FormParserError:
        raise InputError("the form can't be read as one with files: nothing was kept") from None


async def _drain(chunks: AsyncGenerator[bytes, None]) -> None:
    read = 0
    try:
        async for chunk in chunks:
            read += len(chunk)
            if read > DRAINED_BYTES:
                return
    except (
        Exception
    ):  # the sender is gone, or over the limit of the gate: either way there is nothing to read
        return


@dataclass
class _Part:
    """One part of the form while it comes in."""

    name: str = ""
    called: str | None = None
    head: bytearray = field(default_factory=bytearray)
    content: Content | None = None
    partial: Path | None = None
    stream: BinaryIO | None = None
    size: int = 0
    looked_at: int = 0


class _Taking:
    """Takes a form apart while it comes in. The parser's calls are noted, then worked off where waiting is fine."""

    def __init__(self, request: Request, store: Store, kind: UploadKind, uid: str, expected: int) -> None:
        self.request, self.store, self.kind, self.uid, self.expected = request, store, kind, uid, expected
        self.fields: dict[str, str] = {}
        self.kept: list[KeptFile] = []
        self.part = _Part()
        self.header: list[bytes] = [b"", b""]
        self.headers: dict[bytes, bytes] = {}
        self.notes: list[tuple[str, bytes]] = []
        self.files = 0
        self.whole = False

    def callbacks(self) -> MultipartCallbacks:
        """Return what the parser calls."""

        def data(name: str, chunk: bytes, start: int, end: int) -> None:
            self.notes.append((name, chunk[start:end]))

        return {
            "on_header_field": lambda chunk, start, end: data("field", chunk, start, end),
            "on_header_value": lambda chunk, start, end: data("value", chunk, start, end),
            "on_header_end": lambda: self.notes.append(("header", b"")),
            "on_headers_finished": lambda: self.notes.append(("begin", b"")),
            "on_part_data": lambda chunk, start, end: data("data", chunk, start, end),
            "on_part_end": lambda: self.notes.append(("end", b"")),
            "on_end": lambda: self.notes.append(("whole", b"")),
        }

    async def work(self) -> None:
        """Work off what the parser noted."""
        notes, self.notes = self.notes, []
        for what, data in notes:
            if what in ("field", "value"):
                self.header[what == "value"] += data
                if len(self.header[0]) + len(self.header[1]) > LONGEST_FIELD:
                    raise InputError("a heading in the form is too long: nothing was kept")
            elif what == "header":
                self.headers[self.header[0].lower()] = self.header[1]
                self.header = [b"", b""]
            elif what == "begin":
                self._begin()
            elif what == "data":
                await self._data(data)
            elif what == "end":
                await self._end()
            else:
                self.whole = True

    def finish(self) -> None:
        """Make sure that the form came to its end and carried its token."""
        if not self.whole:
            raise InputError(NOT_WHOLE)
        check_token(self.request, self.fields.get("token", ""))

    def undo(self) -> None:
        """Remove whatever was written."""
        self._close()
        if self.part.partial is not None:
            self.part.partial.unlink(missing_ok=True)
        for kept in self.kept:
            remove_file(kept)

    def _begin(self) -> None:
        _, options = parse_options_header(self.headers.get(b"content-disposition", b""))
        self.headers = {}
        called = options.get(b"filename")
        self.part = _Part(_text(options.get(b"name", b"")), None if called is None else _text(called))
        if called is None:
            if len(self.fields) >= MOST_FIELDS:
                raise InputError(f"the form has more than {MOST_FIELDS} fields")
            return
        check_token(self.request, self.fields.get("token", ""))

    async def _data(self, data: bytes) -> None:
        part = self.part
        part.size += len(data)
        part.head += data
        if part.called is None:
            if part.size > LONGEST_FIELD:
                raise InputError(f"the field '{part.name[:40]}' is longer than {LONGEST_FIELD} characters")
            return
        if part.size > self.kind.largest_bytes:
            raise too_large(self.kind)
        if part.content is None and part.size >= FIRST_BYTES:
            self._judge()
        if part.content is not None and len(part.head) >= WRITE_BYTES:
            await run_in_threadpool(self._write)

    async def _end(self) -> None:
        part = self.part
        if part.called is None:
            self.fields[part.name] = part.head.decode("utf-8", "replace")
            return
        if part.size == 0:
            if part.called:
                raise InputError(f"'{part.called[:80]}' is empty (0 bytes); choose it again")
            return
        if part.content is None:
            self._judge()
        await run_in_threadpool(self._keep)

    def _judge(self) -> None:
        """See from its first bytes what a file is, then begin to write it."""
        part = self.part
        self.files += 1
        if self.files > self.kind.most_files:
            raise InputError(f"at most {self.kind.most_files} files can be handed in at once")
        try:
            part.content = self.kind.judged(bytes(part.head[:FIRST_BYTES]))
        except InputError as error:
            raise InputError(f"'{(part.called or 'the file')[:80]}' can't be taken: {error}") from None
        part.partial = begin_file(self.store, self.uid, self.expected)
        part.stream = part.partial.open("wb")

    def _write(self) -> None:
        part = self.part
        if part.stream is None or part.partial is None:
            return
        if part.size - part.looked_at > ROOM_EVERY:
            check_room(part.partial.parent, 0)
            part.looked_at = part.size
        with told(part.partial.parent):
            part.stream.write(part.head)
        part.head.clear()

    def _keep(self) -> None:
        part = self.part
        self._write()
        self._close()
        if part.partial is not None and part.content is not None:
            kept = keep_file(
                part.partial,
                ending=part.content.ending,
                called=part.called or "",
                purpose=self.kind.purpose,
                media_type=part.content.media_type,
            )
            self.kept.append(kept)
            part.partial = None

    def _close(self) -> None:
        stream, self.part.stream = self.part.stream, None
        if stream is None:
            return
        try:
            stream.close()
        except OSError:  # what was still to be written does not fit
            raise CannotBeDoneError(
                f"the disk of the bench is full (it keeps {megabytes(SPARE_BYTES)} free): nothing was kept"
            ) from None


def _text(value: bytes) -> str:
    return value.decode("utf-8", "replace")
