"""Photographs on the bench page: read, fused, adjusted, taken into the job, and gone when told to."""

from __future__ import annotations

import io
import re
from urllib.parse import parse_qs, urlsplit

import pytest
from bench_under_test import sequence_in, token_in
from PIL import Image

from groovewright.job.events import LeanRead, Looked
from groovewright.store import read_job
from groovewright.store.files import kept_files
from groovewright.store.forget import forget_customer


def send(client, *files, stage="square", **fields):
    token = token_in(client.get("/new").text)
    return client.post(
        "/jobs/1/upload/photo",
        data={"token": token, "stage": stage, **fields},
        files=[("file", (f"photo {k}.jpg", content)) for k, content in enumerate(files)],
        follow_redirects=False,
    )


def page_of(client, *files, **fields):
    answer = send(client, *files, **fields)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"], client.get(answer.headers["location"]).text


def take(client, address, stage="square"):
    text = client.get(address).text
    own = {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}
    sent = {"token": token_in(text), "expected": sequence_in(client.get(f"/jobs/1/{stage}").text), **own}
    return client.post(f"/jobs/1/{stage}/photo/take", data=sent, follow_redirects=False)


def last_event(store):
    return read_job(store, 1).log[-1]


def test_a_photo_with_the_flag_is_read_and_goes_into_the_job_with_its_uncertainty(local, store, photo_files):
    client = local.client()
    address, text = page_of(client, photo_files["left"].read_bytes())
    assert "At the outer point the front points out (counter-clockwise) by 0." in text
    assert take(client, address).headers["location"] == "/jobs/1/square"
    look = last_event(store)
    assert isinstance(look, Looked)
    assert look.outer == pytest.approx(-0.8, abs=0.2)
    assert 0.0 < look.reading_sd_deg < 0.15
    assert look.read_from == "a photo, flag"
    assert "look at the sheet (a photo, flag)" in client.get("/jobs/1/history").text


def test_two_photos_of_one_state_are_fused(local, store, photo_files):
    client = local.client()
    address, _ = page_of(client, photo_files["left"].read_bytes(), photo_files["right"].read_bytes())
    assert take(client, address).status_code == 303
    both = last_event(store)
    assert both.read_from == "2 photos, flag"
    first, _ = address.split("%2C")
    take(client, first)
    single = last_event(store)
    assert 0.0 < both.reading_sd_deg < 1.6 * single.reading_sd_deg
    assert abs(both.outer - single.outer) < 3.0 * (both.reading_sd_deg + single.reading_sd_deg)


def test_without_the_flag_it_asks_and_a_marked_line_is_read(local, photo_files):
    client = local.client()
    address, text = page_of(client, photo_files["bare"].read_bytes())
    assert "Take this reading into the job" not in text
    frame = [int(n) for n in re.search(r'data-frame="([\d,]+)"', text)[1].split(",")]
    assert frame[2] - frame[0] < 2200  # the part with the grid, not the whole photo
    off = client.get(f"{address}&photo=0&kind=side&x1=5&y1=5&x2=5&y2=90")
    assert "mark the cartridge that stands on it" in off.text
    wrong = client.get(f"{address}&photo=0&kind=side&x1=here&y1=5&x2=5&y2=90")
    assert "is not a number of pixels" in wrong.text


def test_nothing_of_place_and_owner_is_kept_and_the_file_is_no_page(local, store, photo_files):
    client = local.client()
    _, text = page_of(client, photo_files["left"].read_bytes())
    (kept,) = kept_files(store, read_job(store, 1).uid, "photo")
    with Image.open(kept.path) as image:
        assert dict(image.getexif()) == {}
        assert image.size == (2200, 1650)
    assert b"Fernhill" not in kept.path.read_bytes()
    source = re.search(r'<img src="([^"]+)"', text)[1].replace("&amp;", "&")
    picture = client.get(source)
    assert picture.headers["content-type"] == "image/png"
    assert "sandbox" in picture.headers["content-security-policy"]
    with Image.open(io.BytesIO(picture.content)) as drawn:
        assert max(drawn.size) == 1600


@pytest.mark.parametrize(("content", "said"), [
    (b"\xff\xd8\xff" + b"no picture" * 50, "not a photo"),
    (b"<svg onload=alert(1)>" * 10, "no photograph that can be measured"),
    (b"", "Choose"),
])  # fmt: skip
def test_what_is_no_photo_is_refused_and_nothing_is_kept(local, store, content, said):
    answer = send(local.client(), content)
    assert answer.status_code == 422
    assert said in answer.text or "empty" in answer.text
    assert kept_files(store, read_job(store, 1).uid, "photo") == ()


def test_a_photo_is_deleted_when_told_and_with_the_customer(local, store, photo_files):
    client = local.client()
    content = photo_files["left"].read_bytes()
    address, text = page_of(client, content)
    name = kept_files(store, read_job(store, 1).uid, "photo")[0].name
    answer = client.post(
        "/jobs/1/square/photo/delete", data={"token": token_in(text), "name": name, "photos": name}
    )
    assert kept_files(store, read_job(store, 1).uid, "photo") == ()
    assert "How to take it" in answer.text
    assert client.get(address).status_code == 404
    page_of(client, content)
    uid = read_job(store, 1).uid
    forget_customer(store, "A. Sample")
    assert kept_files(store, uid, "photo") == ()


def test_lean_is_read_from_an_edge_and_its_reflection(local, store):
    """An edge that leans by 1.5 degrees clockwise and its mirror image, drawn with a soft border."""
    content = io.BytesIO()
    Image.fromarray(leaning(1.5)).save(content, "PNG")
    client = local.client()
    address, text = page_of(client, content.getvalue(), stage="level", what="lean")
    assert "mark two lines" in text.lower()
    at = client.get(f"{address}&photo=0&x1=605&y1=130&x2=597&y2=420", follow_redirects=False).headers[
        "location"
    ]
    assert "mark the second line" in client.get(at).text.lower()
    at = client.get(f"{at}&photo=0&x1=597&y1=480&x2=605&y2=770", follow_redirects=False).headers["location"]
    assert "leans" in client.get(at).text
    assert take(client, at, "level").headers["location"] == "/jobs/1/level"
    lean = last_event(store)
    assert isinstance(lean, LeanRead)
    assert lean.lean_deg == pytest.approx(1.5, abs=3.0 * lean.sd_deg)
    assert lean.read_from == "a photo"
    assert "lean of the body" in client.get("/jobs/1/level").text


def leaning(lean_deg):
    import math

    import numpy as np

    y, x = np.mgrid[0:900, 0:1200].astype(float)
    tangent = math.tan(math.radians(lean_deg))
    border = 600.0 + tangent * np.abs(
        y - 450.0
    )  # the upper end of the body to the right; the mirror's lower one
    gray = 40.0 + 180.0 / (1.0 + np.exp((x - border) / 1.5))
    gray[440:460] = 128.0
    return gray.astype(np.uint8)
