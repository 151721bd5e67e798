"""Files that belong to a job: recordings and photographs, in a folder beside the record.

A file lies under an invented name in its job's folder, and beside it in `NAME.json` how the person's device
called it, which is only ever shown. Nothing in the record depends on a file: what it proved is an event.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.store.opening import Store
from groovewright.store.place import default_place

KEPT_DAYS = 30
"""How long a file is kept after it was last used; what it proved stays in the job."""

SPARE_BYTES = 300_000_000
"""What has to stay free on the disk, so that a file never takes the room that the record needs."""

UNFINISHED = ".part"
UNFINISHED_S = 6 * 3600.0
DAY_S = 86_400.0
NAME = re.compile(r"[0-9a-f]{32}\.[a-z0-9]{2,5}")
UID = re.compile(r"[0-9a-f]{32}")
LONGEST_CALLED = 120


@dataclass(frozen=True)
class KeptFile:
    """A file of a job.

    Parameters
    ----------
    name : str
        Invented: 32 hexadecimal digits and the ending of its kind.
    called : str
        As the person's device called it. To be shown, never to be used as a path.
    purpose : str
        What it was handed in as, such as 'recording'.
    media_type : str
        Judged from the content.
    used : float
        When it was handed in or last used, in seconds since 1970.
    notes : mapping
        What was noted about it since, such as a recording's band list.
    """

    name: str
    path: Path
    called: str
    purpose: str
    media_type: str
    size_bytes: int
    used: float
    notes: Mapping[str, str] = field(default_factory=dict)


def files_folder(store: Store) -> Path:
    """Return the folder of all files: beside the record, or the user's own where a server keeps the record."""
    record = store.file or Path(default_place())
    return record.with_name(f"{record.stem}.files")


def begin_file(store: Store, uid: str, expected_bytes: int = 0) -> Path:
    """Make an empty file in a job's folder, to be filled and then given to `keep_file`.

    Raises
    ------
    CannotBeDoneError
        The folder can't be written to, or the disk has too little room.
    """
    folder = _folder_of(store, uid)
    with told(folder):
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        check_room(folder, expected_bytes)
        partial = folder / f"{secrets.token_hex(16)}{UNFINISHED}"
        partial.touch(mode=0o600, exist_ok=False)
    return partial


def check_room(folder: Path, expected_bytes: int) -> None:
    """Make sure that a file fits on the disk.

    Raises
    ------
    CannotBeDoneError
        It doesn't.
    """
    free = shutil.disk_usage(folder).free - SPARE_BYTES
    if expected_bytes > free:
        raise CannotBeDoneError(
            f"the file needs {megabytes(expected_bytes)} and the disk of the bench has {megabytes(max(0, free))} "
            "to spare: nothing was kept. Delete what is not needed any more, then send it again"
        )


def keep_file(partial: Path, *, ending: str, called: str, purpose: str, media_type: str) -> KeptFile:
    """Give a filled file its name for good; it is on disk when this returns.

    Raises
    ------
    CannotBeDoneError
        The disk does not take it; what was there of it is removed.
    """
    path = partial.with_suffix(f".{ending}")
    facts = {"called": _line(called), "purpose": purpose, "media_type": media_type}
    try:
        with told(partial.parent):
            _write_facts(path, facts)
            with partial.open("rb") as stream:
                os.fsync(stream.fileno())
            partial.rename(path)
    except BaseException:
        partial.unlink(missing_ok=True)
        _facts_of(path).unlink(missing_ok=True)
        raise
    return _kept(path)


def kept_files(store: Store, uid: str, purpose: str) -> tuple[KeptFile, ...]:
    """Return the files of a job that were handed in for a purpose, the last used first."""
    folder = _folder_of(store, uid)
    if not folder.is_dir():
        return ()
    found = []
    for path in folder.iterdir():
        if NAME.fullmatch(path.name) and path.suffix != ".json":
            try:
                found.append(_kept(path))
            except (OSError, ValueError, KeyError):  # removed meanwhile, or never finished
                continue
    wanted = (kept for kept in found if kept.purpose == purpose)
    return tuple(sorted(wanted, key=lambda kept: (-kept.used, kept.name)))


def kept_file(store: Store, uid: str, name: str) -> KeptFile:
    """Return a file of a job by its invented name.

    Raises
    ------
    InputError
        The job has none of that name.
    """
    if NAME.fullmatch(name) and not name.endswith(".json"):
        try:
            return _kept(_folder_of(store, uid) / name)
        except (OSError, ValueError, KeyError):
            pass
    raise InputError(f"the job has no file '{name[:50]}'; it may have been deleted")


def note_file(kept: KeptFile, **notes: str) -> KeptFile:
    """Note something about a file, in place of what was noted under the same name; return it as it is now."""
    with told(kept.path.parent):
        facts = json.loads(_facts_of(kept.path).read_text("utf-8"))
        facts["notes"] = {**facts.get("notes", {}), **notes}
        _write_facts(kept.path, facts)
        return _kept(kept.path)


def use_file(kept: KeptFile) -> None:
    """Note that a file was used, so that it is kept for longer."""
    with told(kept.path.parent):
        os.utime(kept.path)


def remove_file(kept: KeptFile) -> None:
    """Delete a file."""
    with told(kept.path.parent):
        kept.path.unlink(missing_ok=True)
        _facts_of(kept.path).unlink(missing_ok=True)


def remove_files_of(store: Store, uids: Iterable[str]) -> None:
    """Delete all files of some jobs.

    Raises
    ------
    CannotBeDoneError
        One can't be deleted.
    """
    for uid in uids:
        folder = _folder_of(store, uid)
        if folder.is_dir():
            with told(folder):
                shutil.rmtree(folder)


def tidy_files(store: Store, now: float) -> int:
    """Delete what was cut off and what nobody used for `KEPT_DAYS`; return how many files that were.

    What can't be deleted stays for the next time.
    """
    folder = files_folder(store)
    if not folder.is_dir():
        return 0
    old = [path for path in folder.glob("*/*") if UID.fullmatch(path.parent.name) and _is_old(path, now)]
    gone = 0
    for path in old:
        try:
            path.unlink(missing_ok=True)
            if path.suffix != ".json":
                _facts_of(path).unlink(missing_ok=True)
                gone += 1
        except OSError:
            continue
    return gone


def _is_old(path: Path, now: float) -> bool:
    try:
        age_s = now - path.stat().st_mtime
        if path.suffix == UNFINISHED:
            return age_s > UNFINISHED_S
        if path.suffix == ".json":  # goes with its file; left over only where that never came to be
            alone = not any(other.suffix != ".json" for other in path.parent.glob(f"{path.stem}.*"))
            return alone and age_s > UNFINISHED_S
        return bool(NAME.fullmatch(path.name)) and age_s > KEPT_DAYS * DAY_S
    except OSError:
        return False


def megabytes(size_bytes: int) -> str:
    """Return a size for people."""
    return f"{size_bytes / 1e9:.1f} GB" if size_bytes >= 1e9 else f"{max(1, round(size_bytes / 1e6))} MB"


def _folder_of(store: Store, uid: str) -> Path:
    if not UID.fullmatch(uid):
        raise InputError(f"'{uid[:40]}' is not a job's own name of 32 hexadecimal digits")
    return files_folder(store) / uid


def _facts_of(path: Path) -> Path:
    return path.with_suffix(".json")


def _write_facts(path: Path, facts: Mapping[str, object]) -> None:
    """Write the facts of a file, whole or not at all."""
    new = path.with_name(f"{secrets.token_hex(16)}{UNFINISHED}")
    try:
        new.touch(mode=0o600)
        new.write_text(json.dumps(facts), "utf-8")
        new.replace(_facts_of(path))
    finally:
        new.unlink(missing_ok=True)


def _kept(path: Path) -> KeptFile:
    facts = json.loads(_facts_of(path).read_text("utf-8"))
    seen = path.stat()
    return KeptFile(
        path.name,
        path,
        str(facts["called"]),
        str(facts["purpose"]),
        str(facts["media_type"]),
        seen.st_size,
        seen.st_mtime,
        {str(key): str(text) for key, text in facts.get("notes", {}).items()},
    )


def _line(called: str) -> str:
    """Return the last part of a name, on one line, without what can't be printed."""
    last = re.split(r"[/\\]", called)[-1]
    return "".join(c if c.isprintable() else " " for c in last).strip()[-LONGEST_CALLED:] or "unnamed"


@contextmanager
def told(folder: Path) -> Iterator[None]:
    """Turn what the disk says into a sentence."""
    try:
        yield
    except OSError as error:
        what = error.strerror or type(error).__name__
        raise CannotBeDoneError(
            f"the folder for files, {folder}, can't be used: {what}. Make room or make it writable; the record "
            "itself is not touched"
        ) from None
