"""The listen pages in a browser: handing in, bands as they are found, playing, confirming, entering."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs pytest-playwright")
from bench_under_test import served
from playwright.sync_api import Browser, Page, expect
from recordings_under_test import BANDS, make_recording
from test_browser import AXE, opened, picture

from groovewright.audio import band_list_toml
from groovewright.store import open_store
from groovewright.web import Bench
from groovewright.web.first_job import add_demo_job

AXE_RUN = "axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"


@pytest.fixture(scope="module")
def tones(tmp_path_factory) -> Path:
    return make_recording(tmp_path_factory.mktemp("tones") / "side-a.wav")


@pytest.fixture
def bench(tmp_path: Path, tones: Path) -> Iterator[Bench]:
    store = open_store(str(tmp_path / "records.sqlite3"))
    add_demo_job(store)
    yield Bench(store, recordings=tones.parent)
    store.close()


@pytest.fixture
def place(bench: Bench) -> Iterator[str]:
    with served(bench) as address:
        yield address


def checked(page: Page, size: str, name: str) -> None:
    """Keep a picture; nothing overflows, and axe finds nothing."""
    picture(page, size, name)
    if size == "laptop":  # as slow as it is alike: the narrow and the dark page are looked at
        return
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate(AXE_RUN)["violations"]
    assert [(name, rule["id"], rule["nodes"][0]["html"][:160]) for rule in found] == []


def open_all(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(entry => { entry.open = true })")


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("tablet", "dark"), ("laptop", "light")])
def test_a_recording_goes_from_the_file_into_the_job(
    browser: Browser, bench: Bench, place: str, tones: Path, size: str, scheme: str
) -> None:
    held = [bench.listenings.turns.acquire() for _ in range(2)]  # nobody's turn yet
    context, page, wrong = opened(browser, place, size, color_scheme=scheme)
    shown = size if scheme == "light" else f"{size}-{scheme}"
    page.goto("/jobs/1/listen")
    checked(page, shown, "listen-1-stage")
    page.locator("#upload-file").set_input_files(tones)
    page.get_by_role("button", name="Hand it in and listen").click()
    page.wait_for_url("**/recordings/*")
    expect(page.locator("#say")).to_contain_text("Waits for its turn")
    picture(page, shown, "listen-2-waits")
    for _ in held:
        bench.listenings.turns.release()
    expect(page.locator("#found li").first).to_be_visible(timeout=30_000)
    expect(page.locator(".verdicts")).to_be_visible(timeout=60_000)
    picture(page, shown, "listen-3-found")
    band = page.locator("#found > li").first
    band.locator("summary", has_text="Play").click()
    played = band.locator("audio").evaluate(
        "async it => { it.muted = true; await it.play(); it.pause(); return [it.duration, it.volume] }"
    )
    assert played[0] == pytest.approx(3.5, abs=0.5)
    assert played[1] == 0.5
    open_all(page)
    checked(page, shown, "listen-4-all-open")
    page.locator("#list-of-bands").fill(band_list_toml(BANDS))
    page.get_by_role("button", name="Listen with this list").click()
    expect(page.locator(".verdicts")).to_contain_text("Left is left", timeout=60_000)
    picture(page, shown, "listen-5-proved")
    page.get_by_role("button", name="Enter into the job").click()
    page.wait_for_url("**/jobs/1/listen")
    expect(page.locator("#say")).to_contain_text("leans 1.4")
    expect(page.locator(".recordings")).to_contain_text("in the job since step")
    open_all(page)
    checked(page, shown, "listen-6-entered")
    context.close()
    assert wrong == []


def test_bands_are_added_while_one_plays_and_the_page_waits_with_its_change(
    browser: Browser, bench: Bench, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from groovewright.web import listen_work

    gate, real = threading.Event(), listen_work.hear_recording

    def slow(path, bands, *, found, **more):
        return real(path, bands, found=lambda data: (found(data), gate.wait(30.0)), **more)

    monkeypatch.setattr(listen_work, "hear_recording", slow)
    context, page, wrong = opened(browser, place, "phone")
    page.goto("/jobs/1/listen")
    page.get_by_role("button", name="Listen to it").click()
    expect(page.locator("#found > li")).to_have_count(1, timeout=30_000)
    picture(page, "phone", "listen-7-hearing")
    page.locator("#found summary").first.click()
    page.evaluate(
        "() => { const it = document.querySelector('audio'); it.muted = it.loop = true; return it.play() }"
    )
    gate.set()
    expect(page.get_by_role("link", name="Show what it proves")).to_be_visible(timeout=60_000)
    assert not page.evaluate("document.querySelector('audio').paused"), "the band still plays"
    page.get_by_role("link", name="Show what it proves").click()
    expect(page.locator(".verdicts")).to_be_visible()
    context.close()
    assert wrong == []


def test_what_can_t_be_handed_in_is_said_on_the_spot(browser: Browser, place: str, tmp_path: Path) -> None:
    context, page, wrong = opened(browser, place, "phone")
    page.goto("/jobs/1/listen")
    song = tmp_path / "song.wav"
    song.write_bytes(b"ID3\x04" + bytes(5000))
    page.locator("#upload-file").set_input_files(song)
    page.get_by_role("button", name="Hand it in and listen").click()
    expect(page.locator("#upload-said")).to_contain_text("MP3, which is lossy")
    picture(page, "phone", "listen-8-refused")
    page.evaluate("document.querySelector('[data-upload]').dataset.largest = 100")
    page.get_by_role("button", name="Hand it in and listen").click()
    expect(page.locator("#upload-said")).to_contain_text("larger than what can be handed in")
    context.set_offline(True)
    page.evaluate("document.querySelector('[data-upload]').dataset.largest = 1e9")
    page.get_by_role("button", name="Hand it in and listen").click()
    expect(page.locator("#upload-said")).to_contain_text("does not answer")
    context.close()
    assert [said for said in wrong if "422" not in said and "ERR_INTERNET_DISCONNECTED" not in said] == []


def test_listening_goes_without_javascript(browser: Browser, bench: Bench, place: str, tones: Path) -> None:
    context, page, wrong = opened(browser, place, "phone", java_script_enabled=False)
    page.goto("/jobs/1/listen")
    page.locator("#upload-file").set_input_files(tones)
    page.get_by_role("button", name="Hand it in and listen").click()
    page.wait_for_url("**/recordings/*")
    expect(page.locator(".verdicts")).to_be_visible(timeout=60_000)  # the page looks again by itself
    page.locator("#edit-0 summary").click()
    page.locator("#edit-0 [name='band.channel']").select_option("left")
    page.locator("#edit-0").get_by_role("button", name="Keep this").click()
    page.get_by_role("button", name="Listen again with this list").click()
    expect(page.get_by_role("button", name="Enter into the job")).to_be_visible(timeout=60_000)
    picture(page, "phone", "listen-9-no-script")
    page.get_by_role("button", name="Enter into the job").click()
    page.wait_for_url("**/jobs/1/listen")
    expect(page.locator(".recordings")).to_contain_text("in the job since step")
    context.close()
    assert wrong == []


def test_the_keyboard_alone_hears_and_enters(browser: Browser, place: str) -> None:
    context, page, wrong = opened(browser, place, "laptop")
    page.goto("/jobs/1/listen")

    def to(selector: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
                return
        pytest.fail(f"{selector} can't be reached by keyboard")

    to("#pick-file")
    to("form[action$='/recordings'] button")
    page.keyboard.press("Enter")
    page.wait_for_url("**/recordings/*")
    expect(page.locator(".verdicts")).to_be_visible(timeout=60_000)
    to("form[action$='/enter'] button")
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/1/listen")
    context.close()
    assert wrong == []
