"""Who may come in, from which page, under which name, and what a browser is told to refuse."""

from __future__ import annotations

import re

import pytest
from bench_under_test import PHONE, Running, change, token_in
from fastapi.routing import APIRoute

from groovewright.store import Store, read_log
from groovewright.web.app import inner_app
from groovewright.web.guard import LARGEST_BODY
from groovewright.web.pairing import ALL_TRIES, TRIES, TRIES_S, Pairing
from groovewright.web.session import LIFETIME_S

POLICY_PARTS = (
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
)


def routes(running: Running) -> list[APIRoute]:
    found: list[APIRoute] = []

    def collect(entries: object) -> None:
        for entry in entries:  # type: ignore[attr-defined]
            if isinstance(entry, APIRoute):
                found.append(entry)
            elif hasattr(entry, "routes"):
                collect(entry.routes)
            elif hasattr(entry, "original_router"):
                collect(entry.original_router.routes)

    collect(inner_app(running.bench).routes)
    return found


def changing_paths(running: Running) -> list[str]:
    fill = {
        "number": "1",
        "stage": "weigh",
        "section": "deck",
        "kind": "weighed",
        "name": f"{0:032x}.wav",
        "place": "0",
    }
    return [
        re.sub(r"\{(\w+)\}", lambda part: fill[part[1]], route.path)
        for route in routes(running)
        if "POST" in (route.methods or ())
    ]


def test_every_page_carries_the_policy_and_no_script_or_style_of_its_own(local: Running) -> None:
    client = local.client()
    for path in ("/", "/new", "/jobs/1/square", "/jobs/1/handover", "/nothing", "/pair"):
        answer = client.get(path)
        policy = answer.headers["content-security-policy"]
        assert all(part in policy for part in POLICY_PARTS)
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert not re.search(r"<script(?![^>]*\ssrc=)|<style|\sstyle=|\son\w+=|javascript:", answer.text), (
            path
        )
        assert not re.search(r'(?:src|href)="(?:https?:)?//', answer.text), path


def test_nothing_in_the_assets_points_outside(local: Running) -> None:
    client = local.client()
    for name in ("bench.css", "bench.js"):
        text = client.get(f"/static/{name}").text
        assert not re.search(r"https?://|//[a-z0-9.-]+\.[a-z]{2,}/", text)


def test_a_change_without_the_sessions_token_changes_nothing(local: Running, store: Store) -> None:
    before = read_log(store, 1)
    paths = changing_paths(local)
    assert len(paths) >= 14
    client = local.client()
    client.get("/")
    for path in paths:
        api = path.startswith("/api")
        body = (
            {"json": {"events": [{"kind": "undone"}]}}
            if api
            else {"data": {"token": "0" * 64, "expected": "20"}}
        )
        assert client.post(path, **body).status_code == 403, path
    assert read_log(store, 1) == before


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_change_from_another_page_is_refused_even_with_the_token(
    local: Running, store: Store, headers: dict[str, str]
) -> None:
    client = local.client()
    token = token_in(client.get("/jobs/1/weigh").text)
    before = read_log(store, 1)
    answer = client.post(
        "/jobs/1/weigh/undo", data={"token": token, "expected": str(len(before))}, headers=headers
    )
    assert answer.status_code == 403
    assert read_log(store, 1) == before


def test_a_foreign_name_for_this_machine_is_refused(local: Running) -> None:
    assert local.client(host="evil.example").get("/").status_code == 421
    assert local.client(host="localhost").get("/").status_code == 200


def test_the_cookie_is_for_this_page_only(local: Running) -> None:
    cookie = local.client().get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_a_forged_cookie_is_no_session(lan: Running) -> None:
    phone = lan.client(PHONE, "192.0.2.1")
    phone.cookies.set("bench", f"{'a' * 32}.1800000000.1.{'0' * 64}")
    assert phone.get("/", follow_redirects=False).headers["location"] == "/pair"
    phone.cookies.set("bench", "garbage")
    assert phone.get("/", follow_redirects=False).status_code == 303


def test_another_device_sees_nothing_until_it_is_paired(lan: Running, store: Store) -> None:
    phone = lan.client(PHONE, "192.0.2.1")
    for path in ("/", "/jobs/1/weigh", "/jobs/1/handover.pdf", "/devices", "/new"):
        answer = phone.get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/pair"), path
    refused = phone.get("/api/jobs")
    assert (refused.status_code, refused.json()["error"]["code"]) == (401, "not-paired")
    page = phone.get("/pair").text
    code = lan.bench.pairing.code
    assert code not in page
    old = phone.cookies["bench"]
    answer = phone.post("/pair", data={"token": token_in(page), "code": f" {code[:4].lower()} {code[4:]}"})
    assert answer.status_code == 200
    assert phone.cookies["bench"] != old, "pairing begins a new session"
    assert "A. Sample" in phone.get("/").text
    assert lan.bench.pairing.code != code, "a code works once"
    assert phone.get("/devices").status_code == 404, "a paired device can't let others in"
    change(phone, "weigh", "step/weighed", weighed__force_gf="1.8")
    assert len(read_log(store, 1)) > 20 or read_log(store, 1)[-1].force_gf == 1.8
    lan.clock.at += LIFETIME_S
    assert phone.get("/", follow_redirects=False).headers["location"] == "/pair"


def test_the_bench_itself_shows_the_code_and_needs_none(lan: Running) -> None:
    text = lan.client().get("/devices").text
    code = lan.bench.pairing.code
    assert f"{code[:4]} {code[4:]}" in text


def test_guessing_the_code_is_slowed_down(lan: Running) -> None:
    phone = lan.client(PHONE, "192.0.2.1")
    token = token_in(phone.get("/pair").text)
    for _ in range(TRIES):
        assert phone.post("/pair", data={"token": token, "code": "AAAAAAAA"}).status_code == 403
    good = lan.bench.pairing.code
    blocked = phone.post("/pair", data={"token": token, "code": good})
    assert (blocked.status_code, int(blocked.headers["retry-after"])) == (429, TRIES_S)
    other = lan.client(("192.0.2.8", 1), "192.0.2.1")
    assert (
        other.post("/pair", data={"token": token_in(other.get("/pair").text), "code": "BBBB"}).status_code
        == 403
    )
    lan.clock.at += TRIES_S
    assert phone.post("/pair", data={"token": token, "code": good}).status_code == 200


def test_a_code_that_many_guess_at_is_replaced() -> None:
    pairing = Pairing(now=lambda: 0.0)
    first = pairing.code
    for number in range(ALL_TRIES):
        assert not pairing.try_code(f"192.0.2.{number}", "WRONG")
    assert pairing.code != first


def test_the_log_holds_no_code_no_search_and_no_token(lan: Running) -> None:
    phone = lan.client(PHONE, "192.0.2.1")
    page = phone.get("/pair?code=SECRET22").text
    token = token_in(page)
    phone.post("/pair", data={"token": token, "code": lan.bench.pairing.code})
    phone.get("/?q=A.+Sample")
    text = "\n".join(lan.lines)
    assert "GET / 200" in text
    assert not any(word in text for word in ("SECRET22", token, "Sample", phone.cookies["bench"]))
    assert "SECRET" not in repr(lan.bench)
    assert lan.bench.pairing.code not in repr(lan.bench)


def test_what_is_too_large_is_refused(local: Running, store: Store) -> None:
    client = local.client()
    token = token_in(client.get("/jobs/1/weigh").text)
    form = {"token": token, "expected": "20", "weighed.force_gf": "1" * (LARGEST_BODY + 1)}
    assert client.post("/jobs/1/weigh/step/weighed", data=form).status_code == 413

    def parts() -> object:
        for _ in range(40):
            yield b"a" * 10_000

    streamed = client.post(
        "/jobs/1/weigh/step/weighed",
        content=parts(),
        headers={"content-type": "application/x-www-form-urlencoded"},
    )
    assert streamed.status_code == 413
    big = client.post("/new/file", data={"token": token}, files={"file": ("a.toml", b"#" * 1_500_000)})
    assert big.status_code in (400, 413, 422)


def test_a_full_record_says_so_and_nothing_says_saved(local: Running, store: Store, monkeypatch) -> None:
    from sqlalchemy.exc import OperationalError

    from groovewright.store.faults import told_plainly
    from groovewright.web import changes

    def full(*_arguments: object) -> int:
        with told_plainly("records"):
            raise OperationalError("INSERT", {}, Exception("database or disk is full"))
        return 0

    monkeypatch.setattr(changes, "append", full)
    answer = change(local.client(), "weigh", "step/weighed", weighed__force_gf="1.8")
    assert answer.status_code == 503
    assert "the disk is full" in answer.text
    assert "Saved, step" not in answer.text
