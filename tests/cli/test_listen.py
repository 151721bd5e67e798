import json
from pathlib import Path

import pytest

from groovewright.audio import NUMBER_KEYS, WORD_KEYS, Band, BandList, Channel, Kind, band_list_toml
from groovewright.cli import main
from groovewright.cli.listen import CAUTION
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000
DOCS = Path(__file__).parents[2] / "docs" / "listen.md"


def tone(start_s, channel, hz=1000.0):
    return Band(
        f"{channel.value} {hz:g}",
        Kind.TONE,
        start_s,
        start_s + 5.5,
        channel,
        frequency_hz=hz,
        level_cm_per_s=5.0,
        groove_radius_mm=100.0,
    )


BANDS = BandList(
    (tone(0.2, Channel.LEFT), tone(6.0, Channel.RIGHT), tone(12.0, Channel.LATERAL)), name="made"
)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cli")
    flaws = Flaws(azimuth_deg=2.0, leads_swapped=True, right_reversed=True, noise=1e-5)
    write_recording(folder / "a.wav", record(BANDS, flaws, rate_hz=RATE_HZ), rate_hz=RATE_HZ)
    (folder / "a.toml").write_text(band_list_toml(BANDS), encoding="utf-8")
    return folder


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["listen", *map(str, arguments)])
    out = capsys.readouterr()
    return ended.value.code, out.out, out.err


def test_json_holds_every_key_with_its_uncertainty(made, capsys):
    code, out, _ = run(capsys, made / "a.wav", "--bands", made / "a.toml", "--json")
    told = json.loads(out)
    assert code == 0
    for key in NUMBER_KEYS:
        assert key in told
        assert f"{key}_sd" in told
        assert (told[key] is None) == (told[f"{key}_sd"] is None)
        assert (told[key] is None) == (key in told["withheld"])
    assert (told["leads"], told["polarity"]) == ("swapped", "one reversed")
    assert told["azimuth_deg"] == pytest.approx(2.0, abs=0.02)
    assert told["measured_in"]["azimuth_deg"] == ["left 1000", "right 1000"]


def test_the_docs_name_every_key_that_is_printed(made, capsys):
    _, out, _ = run(capsys, made / "a.wav", "--bands", made / "a.toml", "--json")
    text = DOCS.read_text(encoding="utf-8")
    for key in (*NUMBER_KEYS, *WORD_KEYS, *json.loads(out)):
        base = key.removesuffix("_sd")
        assert f"`{base}`" in text, base


def test_the_text_leads_with_the_next_move_and_ends_with_the_caution(made, capsys):
    code, out, _ = run(capsys, made / "a.wav", "--bands", made / "a.toml")
    assert code == 0
    lines = out.splitlines()
    assert lines[2].startswith("Next move: Left and right are exchanged")
    assert CAUTION.split(":")[0] in out
    assert max(len(line) for line in lines) <= 80


def test_drawings_and_numbers_are_written_once_and_not_over_what_exists(made, tmp_path, capsys):
    arguments = (made / "a.wav", "--bands", made / "a.toml", "--out", tmp_path / "o")
    assert run(capsys, *arguments)[0] == 0
    names = {path.name for path in (tmp_path / "o").iterdir()}
    assert {"listen.json", "speed.svg", "turn.svg", "crosstalk.svg"} <= names
    assert (tmp_path / "o" / "turn.svg").read_text(encoding="utf-8").startswith("<?xml")
    code, _, err = run(capsys, *arguments)
    assert (code, "--force" in err) == (2, True)


def test_found_bands_are_saved_as_a_list_that_can_be_used(made, tmp_path, capsys):
    assert run(capsys, made / "a.wav", "--save-bands", tmp_path / "found.toml")[0] == 0
    code, out, _ = run(capsys, made / "a.wav", "--bands", tmp_path / "found.toml", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["bands_from"] == "list"
    assert len(told["bands"]) == 3


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("none.wav",), "does not exist"),
        (("a.toml",), "can't be read as sound"),
        (("a.wav", "--bands", "none.toml"), "does not exist"),
        (("a.wav", "--equaliser", "loud"), "loud"),
    ],
)
def test_bad_input_ends_with_2_and_one_clear_sentence(made, capsys, monkeypatch, arguments, words):
    monkeypatch.chdir(made)
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert "Traceback" not in err
