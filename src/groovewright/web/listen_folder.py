"""Recordings in the folder that was named when the bench page was started: listed and picked by name only."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from groovewright.quantities import InputError
from groovewright.store.files import KeptFile, begin_file, keep_file, told
from groovewright.store.opening import Store
from groovewright.web.bench import Bench
from groovewright.web.upload_kinds import FIRST_BYTES, RECORDING, recording_content

ENDINGS = (".wav", ".wave", ".flac", ".aif", ".aiff", ".aifc", ".rf64", ".w64")
MOST_LISTED = 300
LINK = "link"
"""Ending of the small file that stands for a picked recording: it holds the name within the folder."""


@dataclass(frozen=True)
class OnOffer:
    """A recording that can be picked: its name, its size, and when it was last written (UTC)."""

    name: str
    size_bytes: int
    at: str


def checked_folder(folder: Path) -> Path:
    """Return the folder of recordings as an absolute path.

    Raises
    ------
    InputError
        There is none.
    """
    if not folder.is_dir():
        raise InputError(f"--recordings {folder} is not a folder; name the one that your recorder writes to")
    return folder.resolve()


def on_offer(folder: Path | None) -> tuple[OnOffer, ...]:
    """Return the recordings of the folder, the newest first; none where no folder was named."""
    if folder is None:
        return ()
    found = []
    with told(folder):
        for path in folder.iterdir():
            if path.suffix.lower() in ENDINGS and inside(folder, path.name) is not None:
                seen = path.stat()
                at = datetime.fromtimestamp(seen.st_mtime, UTC).isoformat(" ", "minutes")[:16]
                found.append((seen.st_mtime, OnOffer(path.name, seen.st_size, f"{at} UTC")))
    return tuple(offer for _, offer in sorted(found, key=lambda one: (-one[0], one[1].name))[:MOST_LISTED])


def inside(folder: Path, name: str) -> Path | None:
    """Return the file of that name that lies in the folder itself; None for anything else."""
    if not name or name != Path(name).name or "\x00" in name:
        return None
    try:
        path = (folder / name).resolve(strict=True)
    except OSError:
        return None
    return path if path.parent == folder and path.is_file() else None


def pick(bench: Bench, store: Store, uid: str, name: str) -> KeptFile:
    """Take a recording of the folder into a job: nothing is copied, only its name is noted.

    Raises
    ------
    InputError
        There is none of that name, or it is of another kind.
    """
    path = inside(bench.recordings, name) if bench.recordings is not None else None
    if path is None:
        raise InputError(f"there is no recording '{name[:80]}' in the folder; choose one of the list")
    with told(path.parent), path.open("rb") as stream:
        recording_content(stream.read(FIRST_BYTES))
    partial = begin_file(store, uid)
    with told(partial.parent):
        partial.write_text(name, "utf-8")
    return keep_file(
        partial, ending=LINK, called=name, purpose=RECORDING.purpose, media_type="application/octet-stream"
    )


def sound_of(bench: Bench, kept: KeptFile) -> Path:
    """Return the sound file of a recording: handed in, or picked from the folder.

    Raises
    ------
    InputError
        It was picked and is no longer there.
    """
    if kept.path.suffix != f".{LINK}":
        return kept.path
    with told(kept.path.parent):
        name = kept.path.read_text("utf-8")
    path = inside(bench.recordings, name) if bench.recordings is not None else None
    if path is None:
        raise InputError(
            f"{kept.called} is no longer in the folder of recordings; start the page with --recordings and the "
            "folder in which it lies"
        )
    return path
