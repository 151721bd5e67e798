"""The stage listen on the page, as a browser without JavaScript sees it."""

from __future__ import annotations

import io
import re
import threading
from dataclasses import replace

import numpy as np
import pytest
import soundfile
from bench_under_test import change, sequence_in, token_in
from recordings_under_test import (
    BANDS,
    SWAPPED,
    TWO_TONES,
    hand_in,
    make_recording,
    press,
    recordings,
    until_heard,
)

from groovewright.audio import State, band_list_toml, parse_band_list
from groovewright.job import fold
from groovewright.job.heard import Listened
from groovewright.quantities import InputError
from groovewright.store import read_job, read_log
from groovewright.store.files import files_folder
from groovewright.web import listen_slice, listen_work
from groovewright.web.listen_bands import checked_list, with_band, without_band
from groovewright.web.listen_folder import checked_folder, inside, on_offer


@pytest.fixture(scope="session")
def tones(tmp_path_factory):
    return make_recording(tmp_path_factory.mktemp("tones") / "made.wav")


@pytest.fixture(scope="session")
def quick(tmp_path_factory):
    """A recording of two tones, where nothing more is needed."""
    return make_recording(tmp_path_factory.mktemp("quick") / "made.wav", bands=TWO_TONES)


@pytest.fixture
def gate(monkeypatch):
    """Listening stops behind its first band until the gate is opened."""
    opened, reached = threading.Event(), threading.Event()
    real = listen_work.hear_recording

    def slow(path, bands, *, found, **more):
        def stopping(data):
            found(data)
            reached.set()
            assert opened.wait(30.0)

        return real(path, bands, found=stopping, **more)

    monkeypatch.setattr(listen_work, "hear_recording", slow)
    yield opened, reached
    opened.set()


def heard_events(store):
    return [event for event in read_log(store, 1) if isinstance(event, Listened)]


def sentence(text: str) -> str:
    return re.search(r'class="sentence"[^>]*>([^<]*)<', text)[1]


def test_a_recording_is_heard_confirmed_and_entered_into_the_job(local, store, tones):
    client, before = local.client(), len(heard_events(store))
    page = hand_in(client, tones, "A. Sample's tones.wav")
    assert until_heard(local.bench, page) == "done"
    text = client.get(page).text
    assert "Leads can&#39;t be told" in text
    assert "The bands were found, not listed" in text
    assert text.count("<audio") == len(BANDS.bands), "every band that was found can be played"
    listed = press(client, page, "list", text=band_list_toml(BANDS))
    assert listed.status_code == 200
    assert until_heard(local.bench, page) == "done"
    text = client.get(page).text
    assert "Left is left and right is right" in text
    assert "left 1 kHz" in text
    assert "Turn the cartridge 1.4 degrees clockwise" in sentence(text)
    assert text.index("leans 1.4") < text.index("Left is left"), "what is wrong stands first"
    answer = press(client, page, "enter", expected=sequence_in(text), as_found="yes", heard_on="2026-03-14")
    assert answer.status_code == 200
    assert answer.url.path == "/jobs/1/listen"
    assert len(heard_events(store)) == before + 1
    event = heard_events(store)[-1]
    assert (event.file, event.as_found, event.heard_on) == ("A. Sample's tones.wav", True, "2026-03-14")
    assert (event.complete, event.bands_from) == (True, "list")
    truth = {
        "azimuth_deg": (-1.4, 0.1),
        "speed_error_percent": (-0.15, 0.002),
        "resonance_lateral_hz": (9.4, 0.19),
    }
    for key, (value, within) in truth.items():
        assert event.finding(key).value == pytest.approx(value, abs=within), key
    assert f"in the job since step {len(read_log(store, 1))}" in client.get("/jobs/1/listen").text


def test_exchanged_leads_are_the_next_move(local, store, tmp_path):
    client = local.client()
    page = hand_in(client, make_recording(tmp_path / "swapped.wav", SWAPPED, TWO_TONES))
    until_heard(local.bench, page)
    press(client, page, "list", text=band_list_toml(TWO_TONES))
    until_heard(local.bench, page)
    text = client.get(page).text
    assert "exchanged" in sentence(text)
    assert "white" in sentence(text), "by the colours of the leads"
    press(client, page, "enter", expected=sequence_in(text))
    assert "exchanged" in sentence(client.get("/jobs/1/listen").text), "the stage says so too"


def test_bands_appear_while_they_are_found_and_listening_can_be_stopped(local, store, quick, gate):
    opened, reached = gate
    client = local.client()
    page = hand_in(client, quick)
    assert reached.wait(30.0)
    text = client.get(page).text
    assert '<noscript><meta http-equiv="refresh" content="4"></noscript>' in text
    assert re.search(r"Listening\. 1 band heard", sentence(text))
    live = client.get(f"{page}/live").text
    assert 'data-at-work="yes"' in live
    assert live.count("<audio") == 1
    assert "<main" not in live
    share = int(re.search(r"<progress[^>]*value=\"(\d+)\"", live)[1])
    assert 0 < share < 100
    assert "being heard" in client.get("/jobs/1/listen").text
    press(client, page, "cancel")
    opened.set()
    assert until_heard(local.bench, page) == "cancelled"
    assert "Stopped before its end" in client.get(page).text
    press(client, page, "start")
    assert until_heard(local.bench, page) == "done"
    assert 'data-at-work=""' in client.get(f"{page}/live").text


def test_several_recordings_are_heard_and_the_third_waits(local, store, quick, gate):
    opened, reached = gate
    client = local.client()
    pages = [hand_in(client, quick, f"side {name}.wav") for name in "abc"]
    assert reached.wait(30.0)
    assert "Waits for its turn" in client.get(pages[2]).text
    opened.set()
    assert [until_heard(local.bench, page) for page in pages] == ["done"] * 3
    text = client.get("/jobs/1/listen").text
    assert [f"side {name}.wav" in text for name in "abc"] == [True] * 3


def test_after_a_restart_the_recording_and_its_list_are_there_and_heard_on_demand(local, store, quick):
    from bench_under_test import running

    page = hand_in(local.client(), quick)
    until_heard(local.bench, page)
    press(local.client(), page, "list", text=band_list_toml(TWO_TONES))
    until_heard(local.bench, page)
    again = running(store)
    client = again.client()
    assert "has not been heard since the bench page was started" in client.get(page).text
    refused = press(client, page, "enter", expected=sequence_in(client.get(page).text))
    assert refused.status_code == 422
    press(client, page, "start")
    assert until_heard(again.bench, page) == "done"
    assert "Left is left" in client.get(page).text


def test_a_file_that_ends_early_keeps_what_was_heard_and_says_so(local, store, quick, tmp_path):
    cut = tmp_path / "cut.wav"
    content = quick.read_bytes()
    cut.write_bytes(content[: len(content) // 2])
    client = local.client()
    page = hand_in(client, cut, "cut.wav")
    assert until_heard(local.bench, page) == "done"
    text = client.get(page).text
    assert "promises" in text or "Not read to its end" in text
    press(client, page, "enter", expected=sequence_in(text))
    assert not heard_events(store)[-1].complete


@pytest.mark.parametrize("tail", [b"", b"\x00" * 100, b"fmt \x10\x00\x00\x00" + b"\xff" * 40])
def test_what_only_begins_like_a_recording_gets_a_clear_answer(local, store, tmp_path, tail):
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"RIFF\xff\xff\x00\x00WAVE" + tail)
    client = local.client()
    page = hand_in(client, broken, "mine.wav")
    assert until_heard(local.bench, page) == "failed"
    said = sentence(client.get(page).text)
    assert said.startswith("It can&#39;t be heard: mine.wav")
    assert str(files_folder(store)) not in said
    assert len(recordings(store)) == 1, "nothing is lost"


def test_a_fault_of_the_program_is_said_and_loses_nothing(local, store, quick, monkeypatch):
    def faulty(_heard):
        raise ZeroDivisionError("made for this test")

    monkeypatch.setattr(listen_work, "assess", faulty)
    client = local.client()
    page = hand_in(client, quick)
    assert until_heard(local.bench, page) == "failed"
    assert "fault of this program (ZeroDivisionError" in client.get(page).text
    assert len(recordings(store)) == 1


def test_one_band_is_corrected_by_its_form(local, store, quick):
    client = local.client()
    page = hand_in(client, quick)
    until_heard(local.bench, page)
    wrong = press(client, page, "band/0", **{"band.frequency_hz": "a lot"})
    assert wrong.status_code == 422
    assert "Frequency: &#39;a lot&#39; is not a number" in wrong.text
    assert press(client, page, "band/99", **{"band.name": "x"}).status_code == 422
    right = press(client, page, "band/0", **{"band.channel": "right", "band.frequency_hz": "1000,5"})
    assert "Listen again with this list" in right.text
    (kept,) = recordings(store)
    listed = parse_band_list(kept.notes["bands"])
    assert (listed.bands[0].channel.value, listed.bands[0].frequency_hz) == ("right", 1000.5)
    before = len(listed.bands)
    press(client, page, "band/1", drop="1")
    assert len(parse_band_list(recordings(store)[0].notes["bands"]).bands) == before - 1
    press(client, page, "start", find="1", replay="none")
    assert until_heard(local.bench, page) == "done"
    assert recordings(store)[0].notes["bands"] == ""
    assert local.bench.listenings.works.popitem()[1].proved.band_list.count('equaliser = "none"') == 1


def test_a_list_comes_as_text_or_file_and_a_wrong_one_is_not_lost(local, store, quick):
    client = local.client()
    page = hand_in(client, quick)
    until_heard(local.bench, page)
    wrong = press(client, page, "list", text="[[band]]\nkind = 'tome'\nstart_s = 0\nend_s = 3")
    assert wrong.status_code == 422
    assert "tone" in wrong.text
    assert "kind = &#39;tome&#39;" in wrong.text, "what was typed stands there again"
    token = token_in(client.get(page).text)
    for content, status in (
        (band_list_toml(TWO_TONES).encode(), 200),
        (b"\xff\xfe\x00", 422),
        (b"x" * 70_000, 422),
    ):
        answer = client.post(
            f"{page}/list", data={"token": token, "text": ""}, files={"file": ("list.toml", content)}
        )
        assert answer.status_code == status
    assert until_heard(local.bench, page) == "done"
    other = hand_in(client, quick, "side-b.wav", list=page.rsplit("/", 1)[1])
    assert until_heard(local.bench, other) == "done"
    assert "left 1 kHz" in client.get(other).text, "the list of another recording serves again"


def test_the_other_bench_is_seen_before_findings_are_entered(local, store, quick):
    client, before = local.client(), len(heard_events(store))
    page = hand_in(client, quick)
    until_heard(local.bench, page)
    stale = sequence_in(client.get(page).text)
    change(client, "weigh", "step/weighed", weighed__force_gf="1.83", weighed__above_record_mm="0")
    answer = press(client, page, "enter", expected=stale)
    assert answer.status_code == 409
    assert "the gauge reads 1.83 gf" in answer.text
    assert len(heard_events(store)) == before
    press(client, page, "enter", expected=sequence_in(answer.text))
    assert len(heard_events(store)) == before + 1
    change(client, "listen", "undo")
    assert len(fold(read_log(store, 1)).listening) == before


def test_a_recording_is_deleted_while_it_is_heard(local, store, quick, gate):
    opened, reached = gate
    client = local.client()
    page = hand_in(client, quick)
    assert reached.wait(30.0)
    press(client, page, "delete")
    opened.set()
    assert client.get(page).status_code == 404
    assert recordings(store) == ()


def sound_in(content: bytes):
    samples, rate_hz = soundfile.read(io.BytesIO(content), always_2d=True)
    return samples, rate_hz


def test_a_band_is_played_quietly_short_and_in_parts(local, store, quick, monkeypatch):
    client = local.client()
    page = hand_in(client, quick)
    address = f"{page}/sound.wav?start=0.700&end=3.700"
    whole = client.get(address)
    assert whole.headers["content-type"] == "audio/wav"
    assert soundfile.info(io.BytesIO(whole.content)).subtype == "PCM_16"
    samples, rate_hz = sound_in(whole.content)
    assert samples.shape == (3 * rate_hz, 2)
    assert np.abs(samples).max() == pytest.approx(10.0 ** (-26.0 / 20.0), rel=0.01)
    spectrum = np.abs(np.fft.rfft(samples[:, 0]))
    assert np.argmax(spectrum) * rate_hz / len(samples) == pytest.approx(998.5, abs=3.0), "1 kHz, 0.15 % slow"
    louder, _ = sound_in(client.get(f"{address}&level=usual").content)
    recorded, _ = soundfile.read(quick, start=round(0.7 * rate_hz), frames=3 * rate_hz)
    assert np.abs(louder).max() == pytest.approx(np.abs(recorded).max(), rel=0.01), (
        "as loud as it is, no louder"
    )
    assert np.abs(recorded).max() < 10.0 ** (-14.0 / 20.0)
    assert len(sound_in(client.get(f"{page}/sound.wav?start=0&end=31").content)[0]) == 7.3 * rate_hz, (
        "to its end"
    )
    for asked, first, last in (("bytes=0-99", 0, 100), ("bytes=1000-", 1000, None), ("bytes=-50", -50, None)):
        part = client.get(address, headers={"range": asked})
        assert part.status_code == 206
        assert part.content == whole.content[first:last]
    assert client.get(address, headers={"range": f"bytes={len(whole.content)}-"}).status_code == 416
    for wrong in (
        "start=-1&end=2",
        "start=a&end=2",
        "start=900&end=901",
        "start=5&end=5",
        "end=3",
        "start=nan&end=3",
    ):
        assert client.get(f"{page}/sound.wav?{wrong}").status_code == 422, wrong
    monkeypatch.setattr(listen_slice, "LONGEST_S", 2.0)
    assert len(sound_in(client.get(f"{page}/sound.wav?start=0&end=30").content)[0]) == 2 * rate_hz


def test_nothing_is_played_louder_than_it_was_recorded():
    quiet = 0.001 * np.ones((4800, 2)) * np.sin(np.arange(4800.0) / 10.0)[:, None]
    quiet -= quiet.mean(axis=0)
    assert np.abs(listen_slice.made_safe(quiet, 48_000, -26.0)).max() <= np.abs(quiet).max()
    loud = listen_slice.made_safe(500.0 * quiet, 48_000, -14.0)
    assert np.abs(loud).max() == pytest.approx(10.0 ** (-14.0 / 20.0), rel=0.001)
    spoilt = np.full((4800, 2), np.nan)
    spoilt[100] = np.inf
    for strange in (
        spoilt,
        np.zeros((4800, 1)),
        np.zeros((0, 2)),
        np.ones((1, 2)),
        40.0 * quiet / 0.001 + 7.0,
    ):
        made = listen_slice.made_safe(strange, 48_000, -26.0)
        assert np.all(np.isfinite(made))
        assert np.abs(made).max(initial=0.0) <= 10.0 ** (-26.0 / 20.0) + 1e-12


def test_low_bands_are_marked(local, store, tones):
    assert [listen_slice.goes_low(band) for band in BANDS.bands] == [False, False, False, False, True]
    client = local.client()
    page = hand_in(client, tones)
    until_heard(local.bench, page)
    text = client.get(page).text
    assert text.count("headphones off, volume down") == 1
    assert "Turn the volume down before you press Play" in text


def test_recordings_of_the_named_folder_are_picked_and_nothing_else(local, store, quick, tmp_path):
    folder, outside = tmp_path / "recorder", tmp_path / "secret.wav"
    folder.mkdir()
    outside.write_bytes(quick.read_bytes())
    (folder / "side-a.wav").write_bytes(quick.read_bytes())
    (folder / "notes.txt").write_text("no recording")
    (folder / "fake.flac").write_text("<script>")
    (folder / "linked.wav").symlink_to(outside)
    (folder / "inner").mkdir()
    (folder / "inner" / "deep.wav").write_bytes(quick.read_bytes())
    local.bench = replace(local.bench, recordings=checked_folder(folder))
    assert {offer.name for offer in on_offer(local.bench.recordings)} == {"side-a.wav", "fake.flac"}
    client = local.client()
    text = client.get("/jobs/1/listen").text
    assert "side-a.wav" in text
    assert "linked.wav" not in text
    token = token_in(text)
    for name in (
        "../secret.wav",
        str(outside),
        "linked.wav",
        "inner/deep.wav",
        "..",
        "",
        "fake.flac",
        "a\x00.wav",
    ):
        answer = client.post("/jobs/1/recordings", data={"token": token, "file": name})
        assert answer.status_code == 422, name
    assert inside(local.bench.recordings, "notes.txt") is not None, "only the ending keeps it off the list"
    answer = client.post(
        "/jobs/1/recordings", data={"token": token, "file": "side-a.wav"}, follow_redirects=False
    )
    page = answer.headers["location"]
    assert until_heard(local.bench, page) == "done"
    assert client.get(f"{page}/sound.wav?start=1&end=2").status_code == 200
    assert client.get(f"{page}/file").status_code == 404, "it was never handed in"
    (folder / "side-a.wav").unlink()
    gone = client.get(f"{page}/sound.wav?start=1&end=2")
    assert gone.status_code == 422
    assert "no longer in the folder" in gone.text
    with pytest.raises(InputError, match="not a folder"):
        checked_folder(outside)


def test_a_band_list_is_changed_without_harm():
    changed = with_band(BANDS, 3, {"groove_radius_mm": "121,5", "name": 'ten"quote'})
    assert (changed.bands[3].groove_radius_mm, changed.bands[3].name) == (121.5, 'ten"quote')
    assert changed.bands[:3] == BANDS.bands[:3]
    for typed in (
        {"start_s": ""},
        {"channel": "middle"},
        {"end_s": "-4"},
        {"frequency_hz": ""},
        {"end_s": "1e99"},
    ):
        with pytest.raises(InputError):
            with_band(BANDS, 0, typed)
    assert len(without_band(BANDS, 0).bands) == len(BANDS.bands) - 1
    with pytest.raises(InputError):
        without_band(replace(BANDS, bands=BANDS.bands[:1]), 0)
    with pytest.raises(InputError, match="allowed are 60000"):
        checked_list("#" * 60_001)


def test_every_drawing_of_what_was_heard_has_words_for_who_can_t_see_it(local, store, tones):
    client = local.client()
    page = hand_in(client, tones)
    until_heard(local.bench, page)
    text = client.get(page).text
    labels = re.findall(r'aria-label="([^"]+)"', text)
    for title in (
        "Azimuth",
        "Crosstalk",
        "Speed over one turn",
        "Resonance of arm",
        "What the speed swings",
        "The recording",
    ):
        assert any(label.startswith(title) for label in labels), title
    assert "0.18 mm off centre" not in text, "a band that was found has no radius, so no distance"


def test_results_are_dropped_when_there_are_many_and_running_work_never_is(monkeypatch):
    monkeypatch.setattr(listen_work, "KEPT_RESULTS", 3)
    listenings = listen_work.Listenings()
    for number in range(5):
        listenings.works[("a", str(number))] = listen_work.Work("x", stage="done" if number else "hears")
    monkeypatch.setattr(listen_work, "_listen", lambda *_given: None)
    listenings.start(("a", "new"), None, "x", None, listen_work.Replay.EQUALISED)
    assert ("a", "0") in listenings.works
    assert ("a", "new") in listenings.works
    assert len(listenings.works) == 3


def test_states_have_a_sign_and_a_word():
    from groovewright.web.listen_page import SIGNS

    assert set(SIGNS) == set(State)
    assert len({sign for sign, _ in SIGNS.values()}) == len(State)


def test_an_unknown_recording_is_not_there(local, store):
    client = local.client()
    uid = read_job(store, 1).uid
    for page in (f"/jobs/1/recordings/{uid}.wav", "/jobs/999/recordings/x.wav", "/jobs/1/recordings/x"):
        for part in ("", "/live", "/file", "/sound.wav?start=0&end=1"):
            assert client.get(page + part).status_code == 404
