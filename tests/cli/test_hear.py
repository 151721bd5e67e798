import json

import numpy as np
import pytest
import soundfile

from groovewright.cli import main


@pytest.fixture
def clean(tmp_path):
    t = np.arange(48_000 * 4) / 48_000
    soundfile.write(tmp_path / "clean.wav", np.stack([0.2 * np.sin(2 * np.pi * 440 * t)] * 2, axis=1), 48_000)
    return tmp_path / "clean.wav"


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["hear", *map(str, arguments)])
    out = capsys.readouterr()
    return ended.value.code, out.out, out.err


def test_an_overhang_error_is_written_and_told(clean, tmp_path, capsys):
    out = tmp_path / "o.wav"
    code, text, _ = run(capsys, clean, "--overhang-error", 3, "--seconds", 2, "--out", out, "--json")
    told = json.loads(text)
    assert code == 0
    assert told["tracking_error_deg"] == pytest.approx(-2.69, abs=0.02)
    info = soundfile.info(out)
    assert (info.samplerate, info.channels, info.frames, info.subtype) == (48_000, 2, 96_000, "PCM_24")
    assert told["peak_full_scale"] <= 0.8901


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--azimuth", 90), "azimuth"),
        (("--overhang-error", 300), "overhang error"),
        (("--from", 50), "behind its end"),
        (("--radius", 5), "groove radius"),
        (("--seconds", 0.2), "length"),
        (("--from", -1), "start"),
    ],
)
def test_bad_values_are_named(clean, tmp_path, capsys, arguments, words):
    code, _, err = run(capsys, clean, *arguments, "--out", tmp_path / "o.wav")
    assert code == 2
    assert words in err
    assert not (tmp_path / "o.wav").exists()


def test_an_existing_file_is_left_alone(clean, capsys):
    before = clean.read_bytes()
    code, _, err = run(capsys, clean, "--azimuth", 2, "--out", clean)
    assert (code, "--force" in err) == (2, True)
    assert clean.read_bytes() == before


def test_without_a_length_the_whole_file_is_played_and_nothing_else_is_left_behind(clean, tmp_path, capsys):
    t = np.arange(48_000 * 125) / 48_000
    quiet = 0.2 * np.sin(2 * np.pi * 440 * t).astype(np.float32)
    long = tmp_path / "long.wav"
    soundfile.write(long, np.stack([quiet, quiet], axis=1), 48_000)
    folder = tmp_path / "out"
    folder.mkdir()
    code, text, _ = run(capsys, long, "--azimuth", 3, "--from", 1, "--out", folder / "o.wav", "--json")
    assert code == 0
    assert json.loads(text)["duration_s"] == pytest.approx(124.0)
    assert [path.name for path in folder.iterdir()] == ["o.wav"]
    heard, _ = soundfile.read(folder / "o.wav", start=120 * 48_000, frames=48_000)
    assert 0.01 < np.sqrt(np.mean(heard**2)) <= 0.2 * np.sqrt(0.5) * 1.001


def test_a_damaged_file_is_played_up_to_the_damage_and_told(clean, tmp_path, capsys):
    cut = tmp_path / "cut.flac"
    twice = np.concatenate([soundfile.read(clean)[0]] * 2)
    soundfile.write(cut, twice, 48_000, format="FLAC", subtype="PCM_24")
    whole = cut.read_bytes()
    cut.write_bytes(whole[: len(whole) // 2])
    code, _, err = run(capsys, cut, "--azimuth", 3, "--out", tmp_path / "o.wav")
    assert code == 0
    assert "what came before is played" in " ".join(err.split())
    assert 0 < soundfile.info(tmp_path / "o.wav").frames < 8 * 48_000


def test_silence_leaves_no_file(tmp_path, capsys):
    soundfile.write(tmp_path / "silence.wav", np.zeros((48_000, 2)), 48_000)
    code, _, err = run(capsys, tmp_path / "silence.wav", "--out", tmp_path / "o.wav")
    assert (code, "silent" in err) == (2, True)
    assert [path.name for path in tmp_path.iterdir()] == ["silence.wav"]
