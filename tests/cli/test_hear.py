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
        (("--seconds", 4000), "length"),
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
