"""`groovewright stroboscope`: the disc, its numbers, its caution."""

import json

import pytest


def test_the_mains_give_bars_and_exact_speeds(run, tmp_path):
    out = tmp_path / "disc.pdf"
    code, text, _ = run("stroboscope", "--mains-hz", 50, "--out", out, "--json")
    values = json.loads(text)
    assert (code, values["flash_hz"], values["paper"]) == (0, 100.0, "A4")
    # by hand: 6000/33.33 = 180, 6000/45 = 133.3, 6000/78.26 = 76.7
    assert [ring["bars"] for ring in values["rings"]] == [180, 133, 77]
    assert [round(ring["exact_rpm"], 3) for ring in values["rings"]] == [33.333, 45.113, 77.922]
    assert out.read_bytes().startswith(b"%PDF")


def test_any_other_lamp_is_given_by_its_flashes(run, tmp_path):
    out = tmp_path / "disc.svg"
    code, text, _ = run("stroboscope", "--flash-hz", 300, "--paper", "letter", "--out", out)
    assert code == 0
    assert "540 bars, still at 33.333 rpm" in text
    assert "photosensitive epilepsy" in text
    assert max(map(len, text.replace(str(out), "").splitlines())) <= 80


@pytest.mark.parametrize(("options", "words"), [
    (("--mains-hz", "50", "--flash-hz", "100"), "name the mains or the flashes"),
    (("--mains-hz", "55"), "'55' is not one of '50', '60'"),
    (("--flash-hz", "5"), "allowed is 20"),
    (("--flash-hz", "900"), "can carry 720"),
])  # fmt: skip
def test_bad_input_gets_one_line_and_writes_nothing(run, tmp_path, options, words):
    code, text, errors = run("stroboscope", *options, "--out", tmp_path / "disc.pdf")
    assert (code, text) == (2, "")
    assert words in errors
    assert errors.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
