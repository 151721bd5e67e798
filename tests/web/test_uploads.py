"""Files that a browser hands in: only of the right kind, only whole, never active, gone with the customer."""

from __future__ import annotations

import asyncio
import io
import os
import shutil
import time
from collections import namedtuple
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_under_test import PHONE, token_in

from groovewright.quantities import InputError
from groovewright.store import read_job
from groovewright.store.files import (
    KEPT_DAYS,
    SPARE_BYTES,
    UNFINISHED_S,
    files_folder,
    kept_file,
    kept_files,
    tidy_files,
)
from groovewright.web import make_app, upload_kinds
from groovewright.web.upload_kinds import PHOTO, RECORDING, photo_content, recording_content

EICAR_LIKE = b"<script>alert(1)</script>" * 40


def sound(container: str = "WAV", seconds: float = 0.5) -> bytes:
    tone = 0.1 * np.sin(2.0 * np.pi * 1000.0 * np.arange(int(48_000 * seconds)) / 48_000.0)
    content = io.BytesIO()
    soundfile.write(content, np.column_stack([tone, tone]), 48_000, "PCM_16", format=container)
    return content.getvalue()


def send(client, content: bytes, called: str = "side-a.wav", *, token: str | None = None, job: int = 1):
    if token is None:
        token = token_in(client.get("/new").text)
    return client.post(
        f"/jobs/{job}/upload/recording",
        data={"token": token},
        files={"file": (called, content)},
        follow_redirects=False,
    )


def recordings(store, job: int = 1):
    return kept_files(store, read_job(store, job).uid, "recording")


def everything(store) -> list[Path]:
    return [path for path in files_folder(store).rglob("*") if path.is_file()]


@pytest.mark.parametrize(("container", "ending"), [("WAV", "wav"), ("FLAC", "flac"), ("AIFF", "aiff"),
                                                   ("RF64", "wav"), ("W64", "w64")])  # fmt: skip
def test_a_recording_is_kept_as_it_came_under_an_invented_name(local, store, container, ending):
    content = sound(container)
    answer = send(local.client(), content, "../../Side A <b>.html")
    assert answer.status_code == 303
    (kept,) = recordings(store)
    assert kept.path.read_bytes() == content
    assert kept.name.endswith(f".{ending}")
    assert "Side" not in kept.name
    assert kept.called == "Side A <b>.html"
    assert kept.path.parent.parent == files_folder(store) == store.file.with_name("records.files")
    assert (kept.path.stat().st_mode & 0o077, kept.path.parent.stat().st_mode & 0o077) == (0, 0)
    assert soundfile.info(str(kept.path)).frames == 24_000


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (EICAR_LIKE, "no sound file"),
        (b"ID3\x04" + bytes(4000), "MP3, which is lossy"),
        (b"\xff\xfb\x90\x64" + bytes(4000), "MP3, which is lossy"),
        (b"OggS" + bytes(4000), "Ogg, which is lossy"),
        (bytes(4) + b"ftypM4A " + bytes(4000), "M4A, which is lossy"),
        (b"RIFF\x00\x00\x00\x00WEBP" + bytes(100), "no sound file"),
        (b"MZ" + bytes(100), "no sound file"),
        (b"R", "no sound file"),
        (b"", "is empty"),
    ],
)
def test_a_file_of_another_kind_is_refused_whatever_its_name(local, store, content, why):
    answer = send(local.client(), content, "honest.wav")
    assert answer.status_code == 422
    assert why in answer.text
    assert everything(store) == []


def test_photographs_are_judged_by_their_first_bytes():
    assert photo_content(b"\xff\xd8\xff\xe0" + bytes(60)).media_type == "image/jpeg"
    assert photo_content(b"\x89PNG\r\n\x1a\n" + bytes(60)).ending == "png"
    assert photo_content(b"\x00\x00\x00\x18ftypheic" + bytes(60)).ending == "heic"
    for wrong in (b"<svg xmlns=", b"GIF89a", b"RIFF\x00\x00\x00\x00WEBP", b"\x00\x00\x00\x18ftypisom", b""):
        with pytest.raises(InputError, match="JPEG, PNG and HEIC"):
            photo_content(wrong)
    with pytest.raises(InputError, match="WAV, FLAC and AIFF"):
        recording_content(b"\x89PNG\r\n\x1a\n")


def test_limits_belong_to_the_address(local):
    assert upload_kinds.largest_upload("/jobs/12/upload/recording") == RECORDING.largest_body > 4_000_000_000
    assert upload_kinds.largest_upload("/jobs/12/upload/photo") == PHOTO.largest_body
    for path in ("/jobs/1/upload/other", "/jobs/1/upload/photo/more", "/x/jobs/1/upload/photo", "/new/file"):
        assert upload_kinds.largest_upload(path) is None
    refused = local.client().post(
        "/jobs/1/upload/recording", content=b"", headers={"content-length": "9000000000"}
    )
    assert refused.status_code == 413
    assert local.client().post("/jobs/1/tick", content=bytes(400_000)).status_code == 413


def test_a_file_that_is_too_large_leaves_nothing(local, store, monkeypatch):
    small = upload_kinds.UploadKind("recording", 20_000, 1, recording_content)
    monkeypatch.setattr("groovewright.web.listen_files.RECORDING", small)
    answer = send(local.client(), sound())
    assert answer.status_code == 422
    assert "larger than the 1 MB" in answer.text
    assert everything(store) == []


def test_more_files_than_asked_for_are_refused_and_none_is_kept(local, store):
    client = local.client()
    answer = client.post(
        "/jobs/1/upload/recording",
        data={"token": token_in(client.get("/new").text)},
        files=[("file", ("a.wav", sound())), ("file", ("b.wav", sound()))],
    )
    assert answer.status_code == 422
    assert "at most 1" in answer.text
    assert everything(store) == []


def test_without_the_session_s_token_nothing_is_written(local, store):
    client = local.client()
    client.get("/new")
    for token in ("", "0" * 64):
        assert send(client, sound(), token=token).status_code == 403
    body = (
        b'--x\r\ncontent-disposition: form-data; name="file"; filename="a.wav"\r\n\r\n' + sound()
        + b'\r\n--x\r\ncontent-disposition: form-data; name="token"\r\n\r\n'
        + token_in(client.get("/new").text).encode() + b"\r\n--x--\r\n"
    )  # fmt: skip
    late = client.post(
        "/jobs/1/upload/recording", content=body, headers={"content-type": "multipart/form-data; boundary=x"}
    )
    assert late.status_code == 403, "the token has to stand before the file"
    foreign = client.post(
        "/jobs/1/upload/recording", files={"file": sound()}, headers={"origin": "http://elsewhere.example"}
    )
    assert foreign.status_code == 403
    assert everything(store) == []


def test_an_unpaired_device_hands_nothing_in(lan, store):
    answer = lan.client(PHONE, "192.0.2.1").post("/jobs/1/upload/recording", files={"file": sound()})
    assert answer.status_code == 401
    assert everything(store) == []


@pytest.mark.parametrize("kind", ["text/plain", "multipart/form-data", "multipart/mixed; boundary=x", ""])
def test_what_is_no_form_with_files_is_refused(local, store, kind):
    answer = local.client().post(
        "/jobs/1/upload/recording", content=b"token=1", headers={"content-type": kind}
    )
    assert answer.status_code == 422
    assert everything(store) == []


def form_head(token: str) -> bytes:
    return (
        f'--x\r\ncontent-disposition: form-data; name="token"\r\n\r\n{token}\r\n'
        '--x\r\ncontent-disposition: form-data; name="file"; filename="a.wav"\r\n\r\n'
    ).encode()


def test_a_form_that_ends_before_its_end_leaves_nothing(local, store):
    client = local.client()
    body = form_head(token_in(client.get("/new").text)) + sound()
    answer = client.post(
        "/jobs/1/upload/recording", content=body, headers={"content-type": "multipart/form-data; boundary=x"}
    )
    assert answer.status_code == 422
    assert "cut off" in answer.text
    assert everything(store) == []


def test_a_browser_that_goes_away_leaves_nothing(local, store):
    client = local.client()
    token = token_in(client.get("/new").text)
    messages = [
        {"type": "http.request", "body": form_head(token) + sound(seconds=30.0), "more_body": True},
        {"type": "http.disconnect"},
    ]
    partial = []

    async def receive():
        partial.append(len(everything(store)))
        return messages.pop(0)

    async def send_on(_message):
        return None

    scope = {
        "type": "http", "method": "POST", "path": "/jobs/1/upload/recording", "query_string": b"",
        "http_version": "1.1", "scheme": "http", "client": ("127.0.0.1", 5), "server": ("127.0.0.1", 80),
        "headers": [
            (b"host", b"127.0.0.1"), (b"content-type", b"multipart/form-data; boundary=x"),
            (b"content-length", b"50000000"), (b"cookie", f"bench={client.cookies['bench']}".encode()),
        ],
    }  # fmt: skip
    # In a thread of its own: the browser that other tests drive leaves an event loop running in this one.
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, make_app(local.bench)(scope, receive, send_on)).result(timeout=60.0)
    assert partial == [0, 1], "half of the file was on disk when the sender went away"
    assert everything(store) == []


def test_a_full_disk_is_said_before_and_while_a_file_comes_in(local, store, monkeypatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(1, 1, SPARE_BYTES + 1000))
    answer = send(local.client(), sound())
    assert answer.status_code == 422
    assert "has 1 MB to spare" in answer.text
    assert everything(store) == []
    monkeypatch.undo()

    def full(*_given):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    answer = send(local.client(), sound())
    assert answer.status_code == 422
    assert "No space left" in answer.text
    assert everything(store) == []


def test_a_full_disk_in_the_middle_leaves_nothing(local, store):
    """`/dev/full` is a disk that takes nothing (Linux)."""
    if not Path("/dev/full").exists():
        pytest.skip("needs /dev/full")
    folder = files_folder(store) / read_job(store, 1).uid
    folder.mkdir(parents=True)
    real = Path.open

    def on_full_disk(path, mode="r", *args, **more):
        return real(Path("/dev/full") if path.suffix == ".part" else path, mode, *args, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "open", on_full_disk)
        answer = send(local.client(), sound(seconds=8.0))
    assert answer.status_code == 422
    assert "No space left" in answer.text
    assert everything(store) == []


def test_what_was_handed_in_is_given_back_as_nothing_active(local, store):
    client = local.client()
    content = sound()[:44] + EICAR_LIKE
    send(client, content, "page.html")
    (kept,) = recordings(store)
    answer = client.get(f"/jobs/1/recordings/{kept.name}/file")
    assert answer.content == content
    assert answer.headers["content-type"] == "audio/wav"
    assert answer.headers["content-disposition"] == 'attachment; filename="recording.wav"'
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == "sandbox; default-src 'none'"
    part = client.get(f"/jobs/1/recordings/{kept.name}/file", headers={"range": "bytes=4-11"})
    assert (part.status_code, part.content) == (206, content[4:12])


def test_no_address_reaches_out_of_the_folder(local, store, tmp_path):
    client = local.client()
    send(client, sound())
    (kept,) = recordings(store)
    other = kept.name.replace(kept.name[0], "0" if kept.name[0] != "0" else "1", 1)
    for name in (
        other,
        f"{kept.path.stem}.json",
        "%2e%2e%2frecords.sqlite3",
    ):
        assert client.get(f"/jobs/1/recordings/{name}/file").status_code == 404, name
    assert client.get(f"/jobs/2/recordings/{kept.name}/file").status_code == 404
    for name in ("../../records.sqlite3", str(store.file), "", "\x00.wav"):
        with pytest.raises(InputError):
            kept_file(store, read_job(store, 1).uid, name)


def test_a_recording_can_be_deleted(local, store):
    client = local.client()
    send(client, sound())
    (kept,) = recordings(store)
    token = token_in(client.get("/new").text)
    assert client.post(f"/jobs/1/recordings/{kept.name}/delete", data={"token": "0"}).status_code == 403
    client.post(f"/jobs/1/recordings/{kept.name}/delete", data={"token": token}, follow_redirects=False)
    assert everything(store) == []


def test_the_customer_s_recordings_go_with_the_customer(local, store):
    client = local.client()
    send(client, sound())
    assert everything(store)
    token = token_in(client.get("/new").text)
    done = client.post("/forget", data={"token": token, "customer": "A. Sample", "again": "A. Sample"})
    assert done.status_code == 200
    assert everything(store) == []


def test_old_and_cut_off_files_are_tidied_up(local, store):
    client = local.client()
    send(client, sound())
    send(client, sound("FLAC"))
    new, old = recordings(store)
    cut_off = new.path.with_name("0" * 32 + ".part")
    cut_off.write_bytes(b"x")
    now = time.time()
    os.utime(cut_off, (now, now - UNFINISHED_S - 5.0))
    os.utime(old.path, (now, now - (KEPT_DAYS - 1) * 86_400.0))
    assert tidy_files(store, now) == 1
    assert not cut_off.exists()
    assert {kept.name for kept in recordings(store)} == {new.name, old.name}
    assert tidy_files(store, now + 2 * 86_400.0) == 1
    assert [kept.name for kept in recordings(store)] == [new.name]
    assert tidy_files(store, now + 2 * KEPT_DAYS * 86_400.0) == 1
    assert everything(store) == []
