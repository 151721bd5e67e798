"""Every kind of bad input that a recording can be: refused in words, or heard as far as it goes and marked."""

import struct

import numpy as np
import pytest
import soundfile

from groovewright.audio import (
    BlockReader,
    assess,
    hear_recording,
    next_move,
    open_recording,
    parse_band_list,
    verdicts,
)
from groovewright.quantities import InputError

RATE_HZ = 48_000
TEXT = """
[[band]]
name = "first"
kind = "tone"
channel = "lateral"
frequency_hz = 1000
start_s = 0
end_s = 5
[[band]]
name = "second"
kind = "tone"
channel = "left"
frequency_hz = 1000
start_s = 6
end_s = 12
"""
LIST = parse_band_list(TEXT)


def tones():
    t = np.arange(12 * RATE_HZ) / RATE_HZ
    sound = 0.2 * np.stack([np.sin(2000 * np.pi * t), 0.9 * np.sin(2000 * np.pi * t)], axis=1)
    return sound + 1e-5 * np.random.default_rng(0).standard_normal(sound.shape)


def written(path, sound=None, **how):
    soundfile.write(path, tones() if sound is None else sound, RATE_HZ, **{"subtype": "PCM_24", **how})
    return path


def truncated(folder):
    path = written(folder / "a.wav")
    path.write_bytes(path.read_bytes()[: 44 + 6 * 8 * RATE_HZ])
    return path


def corrupt(folder):
    path = written(folder / "a.flac")
    content = bytearray(path.read_bytes())
    middle = len(content) * 3 // 4
    content[middle : middle + 3000] = bytes(3000)
    path.write_bytes(bytes(content))
    return path


def empty(folder):
    path = folder / "a.wav"
    path.write_bytes(b"")
    return path


def lying(folder):
    path = written(folder / "a.wav")
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[place : place + 4] = struct.pack("<I", 3_000_000_000)
    path.write_bytes(bytes(content))
    return path


def hundred_channels(folder):
    return written(folder / "a.wav", np.zeros((100, 100)))


def silent(folder):
    return written(folder / "a.wav", np.zeros((12 * RATE_HZ, 2)))


def music(folder):
    """Plucked chords, another one each half second."""
    t = np.arange(12 * RATE_HZ) / RATE_HZ
    root = 220.0 * 2.0 ** (np.array([0, 5, 7, 3, 10, 2])[(2 * t).astype(int) % 6] / 12.0)
    pluck = np.exp(-6.0 * (t % 0.5))
    left = sum(0.1 * pluck * np.sin(2 * np.pi * root * ratio * t) for ratio in (1.0, 1.26, 1.5, 4.0))
    return written(folder / "a.wav", np.stack([left, np.roll(left, 300)], axis=1))


def three_gigabytes(folder):
    """The tones, and nothing up to 3 GB: a sparse file, of which the disk holds a few MB."""
    path = written(folder / "a.wav", np.repeat(tones()[: 6 * RATE_HZ], 4, axis=0), subtype="DOUBLE")
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[24:32] = struct.pack("<II", 192_000, 192_000 * 16)
    content[place : place + 4] = struct.pack("<I", 3_000_000_000)
    path.write_bytes(bytes(content))
    with path.open("r+b") as stream:
        stream.truncate(place + 4 + 3_000_000_000)
    return path


def test_three_gigabytes_are_opened_at_once_and_known_to_their_length(tmp_path):
    recording = open_recording(three_gigabytes(tmp_path))
    assert recording.duration_s == pytest.approx(976.6, abs=0.1)
    reader = BlockReader(recording)
    first = next(reader.blocks(192_000))
    assert np.abs(first).max() == pytest.approx(0.2, abs=0.01)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (empty, "is empty (0 bytes); record it again"),
        (hundred_channels, "has 100 channels; allowed is 2 (or 1, with less to be learned): export the two"),
    ],
)
def test_what_cannot_be_heard_is_refused_with_what_to_do(tmp_path, make, words):
    with pytest.raises(InputError) as refused:
        hear_recording(make(tmp_path), LIST)
    assert str(refused.value).startswith(str(tmp_path / "a.wav"))
    assert words in str(refused.value)


def told(path, bands=LIST):
    listening = assess(hear_recording(path, bands))
    return listening, " / ".join(listening.warnings), next_move(verdicts(listening))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (truncated, "the header promises 12.0 s but the file holds 8.0 s: it was cut off"),
        (truncated, "band 'second' is cut short: 1.9 of 6.0 s (partial)"),
        (corrupt, "the file could not be read to its end: decoding stopped after"),
        (lying, "the header promises 10416.7 s but the file holds 12.0 s"),
    ],
)
def test_what_is_damaged_is_heard_as_far_as_it_goes_and_marked(tmp_path, make, words):
    listening, warnings, _ = told(make(tmp_path))
    assert words in warnings
    assert listening.measures["speed_error_percent"].value.value == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("bands", [LIST, None], ids=["list", "found"])
@pytest.mark.parametrize(
    ("make", "words"),
    [
        (silent, "the recording is silent: is the right input chosen"),
        (
            music,
            "no tone near 1000 Hz; is the list right? / no steady tone and no sweep was found, as in music",
        ),
    ],
)
def test_what_holds_no_tones_proves_nothing_and_says_so(tmp_path, make, words, bands):
    listening, warnings, move = told(make(tmp_path), bands)
    assert any(part in warnings for part in words.split(" / "))
    assert move.startswith("Nothing could be proved: record a test record")
    assert not {"balance_db", "azimuth_deg", "speed_error_percent", "rumble_weighted_db"} & set(
        listening.measures
    )


def test_reading_that_is_interrupted_keeps_what_was_heard(tmp_path, monkeypatch):
    path, read = written(tmp_path / "a.flac"), soundfile.SoundFile.read
    calls = []

    def fails(self, *arguments, **words):
        calls.append(self)
        if len(calls) > 3:
            raise OSError(5, "Input/output error")
        return read(self, *arguments, **words)

    monkeypatch.setattr(soundfile.SoundFile, "read", fails)
    listening, warnings, _ = told(path)
    assert "decoding stopped after 6.00 s: [Errno 5] Input/output error; what came before is kept" in warnings
    assert "band 'second' (6.0 to 12.0 s) lies behind the end of the file, at 6.0 s" in warnings
    assert listening.measures["speed_error_percent"].bands == ("first",)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"start_s = 6": "start_s = 30", "end_s = 12": "end_s = 40"}, "'second' (30.0 to 40.0 s) lies behind"),
        ({"start_s = 0": "start_s = 50", "end_s = 5": "end_s = 60", "start_s = 6": "start_s = 61",
          "end_s = 12": "end_s = 65"}, "is it the list of another recording?"),
        ({"start_s = 6": "start_s = 3"}, "bands 'first' and 'second' lie over one another for 2.0 s"),
        ({"frequency_hz = 1000": "frequency_hz = 1.0"}, "If it is in kHz, write frequency_hz = 1000"),
        ({'kind = "tone"': 'kind = "sweep"', "frequency_hz = 1000": "sweep_start_hz = 20\nsweep_end_hz = 20000"},
         "band 'first': no sweep found; is the list right?"),
    ],
)  # fmt: skip
def test_a_list_that_does_not_fit_is_told(tmp_path, change, words):
    text = TEXT
    for old, new in change.items():
        assert old in text
        text = text.replace(old, new)
    assert words in told(written(tmp_path / "a.wav"), parse_band_list(text))[1]
