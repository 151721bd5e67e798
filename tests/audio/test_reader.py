import struct

import numpy as np
import pytest
import soundfile

from groovewright.audio import BlockReader, open_recording
from groovewright.quantities import InputError


def stereo(rows=5000, seed=0):
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (rows, 2))


def read(path, block=1000):
    reader = BlockReader(open_recording(path))
    pieces = list(reader.blocks(block))
    return (np.concatenate(pieces) if pieces else np.zeros((0, 2))), reader


@pytest.mark.parametrize(
    ("ending", "encoding", "step"),
    [
        ("wav", "PCM_16", 2.0**-15),
        ("wav", "PCM_24", 2.0**-23),
        ("wav", "PCM_32", 2.0**-23),
        ("wav", "FLOAT", 2.0**-23),
        ("flac", "PCM_16", 2.0**-15),
        ("flac", "PCM_24", 2.0**-23),
        ("aiff", "PCM_16", 2.0**-15),
        ("aiff", "PCM_24", 2.0**-23),
        ("aiff", "FLOAT", 2.0**-23),
    ],
)
@pytest.mark.parametrize("rate_hz", [44_100, 192_000])
def test_every_container_and_encoding_comes_back_to_one_step(tmp_path, ending, encoding, step, rate_hz):
    path = tmp_path / f"a.{ending}"
    soundfile.write(path, stereo(), rate_hz, subtype=encoding)
    sound, reader = read(path)
    assert open_recording(path).rate_hz == rate_hz
    assert reader.problem == ""
    np.testing.assert_allclose(sound, stereo(), atol=1.01 * step)


def test_a_mono_file_is_read_into_both_columns(tmp_path):
    path = tmp_path / "mono.wav"
    soundfile.write(path, stereo()[:, 0], 48_000)
    sound, _ = read(path)
    assert open_recording(path).channels == 1
    np.testing.assert_array_equal(sound[:, 0], sound[:, 1])


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"this is no sound at all" * 50, "can't be read as sound"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", "can't be read as sound"),
        (b"fLaC" + bytes(200), "can't be read as sound"),
    ],
)
def test_what_is_not_sound_gets_a_clear_answer(tmp_path, content, words):
    path = tmp_path / "bad.wav"
    path.write_bytes(content)
    with pytest.raises(InputError, match=words):
        open_recording(path)


def test_a_missing_file_and_a_folder_get_a_clear_answer(tmp_path):
    with pytest.raises(InputError, match="does not exist"):
        open_recording(tmp_path / "none.wav")
    with pytest.raises(InputError, match="is not a file"):
        open_recording(tmp_path)


def test_a_header_without_sound_gets_a_clear_answer(tmp_path):
    path = tmp_path / "none.wav"
    soundfile.write(path, np.zeros((0, 2)), 48_000)
    with pytest.raises(InputError, match="no sound"):
        open_recording(path)


def test_a_hundred_channels_are_refused_with_what_to_do(tmp_path):
    path = tmp_path / "many.wav"
    soundfile.write(path, np.zeros((100, 100)), 48_000)
    with pytest.raises(InputError, match="100 channels; allowed is 2"):
        open_recording(path)


@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 384_000])
def test_a_sample_rate_out_of_range_is_refused(tmp_path, rate_hz):
    path = tmp_path / "a.wav"
    soundfile.write(path, stereo(), rate_hz)
    with pytest.raises(InputError, match="sample rate"):
        open_recording(path)


def test_lossy_containers_are_refused(tmp_path):
    path = tmp_path / "a.ogg"
    soundfile.write(path, stereo(), 48_000, format="OGG", subtype="VORBIS")
    with pytest.raises(InputError, match="lossy"):
        open_recording(path)


def test_a_truncated_wav_keeps_what_is_there_and_says_what_was_promised(tmp_path):
    path = tmp_path / "cut.wav"
    soundfile.write(path, stereo(), 48_000, subtype="PCM_24")
    whole = path.read_bytes()
    path.write_bytes(whole[: 44 + 6 * 2000])
    sound, _ = read(path)
    assert open_recording(path).promised_frames == 5000
    assert 1900 <= len(sound) <= 2000
    np.testing.assert_allclose(sound, stereo()[: len(sound)], atol=2.0**-22)


def test_a_header_that_lies_about_length_does_not_fool_the_reader(tmp_path):
    path = tmp_path / "liar.wav"
    soundfile.write(path, stereo(), 48_000, subtype="PCM_16")
    content = bytearray(path.read_bytes())
    place = content.index(b"data") + 4
    content[place : place + 4] = struct.pack("<I", 2_000_000_000)
    path.write_bytes(bytes(content))
    sound, _ = read(path)
    assert open_recording(path).promised_frames == 500_000_000
    np.testing.assert_allclose(sound, stereo(), atol=2.0**-14)


def test_a_truncated_flac_keeps_what_could_be_decoded(tmp_path):
    path = tmp_path / "cut.flac"
    soundfile.write(path, stereo(60_000), 48_000, subtype="PCM_24")
    path.write_bytes(path.read_bytes()[:150_000])
    sound, reader = read(path)
    assert 5_000 < len(sound) < 60_000
    assert reader.problem != ""
    np.testing.assert_allclose(sound, stereo(60_000)[: len(sound)], atol=2.0**-22)


def test_samples_that_are_no_numbers_are_counted_and_silenced(tmp_path):
    path = tmp_path / "nan.wav"
    sound = stereo()
    sound[10, 0], sound[20, 1], sound[3000, 1] = np.nan, np.inf, -np.inf
    soundfile.write(path, sound, 48_000, subtype="FLOAT")
    out, reader = read(path)
    assert reader.not_finite == 3
    assert out[10, 0] == out[20, 1] == out[3000, 1] == 0.0


def test_a_sample_far_beyond_full_scale_is_silenced_but_a_loud_one_stays(tmp_path):
    path = tmp_path / "huge.wav"
    sound = stereo()
    sound[10, 0], sound[20, 1], sound[30, 0] = 3e38, -2e4, 5.0
    soundfile.write(path, sound, 48_000, subtype="FLOAT")
    out, reader = read(path)
    assert reader.not_finite == 2
    assert (out[10, 0], out[20, 1], out[30, 0]) == (0.0, 0.0, 5.0)


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("container", ["WAV", "WAVEX", "RF64"])
@pytest.mark.parametrize("cut", [None, 44 + 7001, -1])
def test_samples_of_24_bits_are_those_that_the_decoder_gives(tmp_path, container, channels, cut):
    path = tmp_path / "a.wav"
    sound = np.random.default_rng(1).uniform(-1, 1, (5000, channels))
    sound[:4] = [[-1.0], [1.0 - 2.0**-23], [0.0], [-(2.0**-23)]]
    soundfile.write(path, sound, 48_000, subtype="PCM_24", format=container)
    # chunks before and behind the sound are no sound
    content = path.read_bytes()
    if container == "WAV":
        content = (
            content[:36] + b"note" + struct.pack("<I", 6) + b"abcdef" + content[36:] + b"tail" + bytes(70)
        )
    path.write_bytes(content[:cut])
    decoded = soundfile.read(path, dtype="float32", always_2d=True)[0]
    heard, reader = read(path)
    np.testing.assert_array_equal(heard, np.broadcast_to(decoded, heard.shape))
    assert len(heard) == len(decoded) > 1000
    assert reader.problem == ""
