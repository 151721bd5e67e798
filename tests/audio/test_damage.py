"""Whatever the sound or the damage, the whole way from file to verdicts gives an answer or one clear error."""

import numpy as np
import pytest
import soundfile

from groovewright.audio import assess, hear_recording, next_move, parse_band_list, verdicts
from groovewright.quantities import InputError

RATE_HZ = 48_000
LIST = parse_band_list("""
[[band]]
kind = "tone"
channel = "lateral"
frequency_hz = 1000
level_cm_per_s = 5
groove_radius_mm = 100
start_s = 0
end_s = 4
[[band]]
kind = "silence"
start_s = 4
end_s = 6
[[band]]
kind = "sweep"
sweep_start_hz = 20
sweep_end_hz = 5
channel = "vertical"
start_s = 0
end_s = 6
[[band]]
kind = "two-tones"
frequency_hz = 1000
second_frequency_hz = 4000
channel = "left"
start_s = 0
end_s = 3
[[band]]
kind = "noise"
start_s = 1
end_s = 5
""")


def clean():
    t = np.arange(6 * RATE_HZ) / RATE_HZ
    sound = np.stack([0.2 * np.sin(2 * np.pi * 1000 * t), 0.19 * np.sin(2 * np.pi * 1000 * t)], axis=1)
    sound[4 * RATE_HZ :] *= 1e-3
    return sound + 1e-5 * np.random.default_rng(0).standard_normal(sound.shape)


def noise(size):
    return size * np.random.default_rng(1).standard_normal((6 * RATE_HZ, 2))


SOUNDS = {
    "silence": lambda: np.zeros((6 * RATE_HZ, 2)),
    "noise": lambda: noise(0.1),
    "squares": lambda: np.sign(clean()),
    "a constant": lambda: np.full((6 * RATE_HZ, 2), 0.5),
    "a random walk": lambda: np.cumsum(noise(1e-3), axis=0),
    "one click a second": lambda: np.tile(np.eye(1, RATE_HZ).T, (6, 2)),
    "far too quiet": lambda: clean() * 1e-5,
    "a dead channel": lambda: clean() * [1.0, 0.0],
    "50 ms": lambda: clean()[: RATE_HZ // 20],
    "1 s": lambda: clean()[:RATE_HZ],
    "2 s": lambda: clean()[: 2 * RATE_HZ],
}


def judged(path, bands):
    listening = assess(hear_recording(path, bands))
    assert next_move(verdicts(listening))
    return listening


@pytest.mark.parametrize("name", SOUNDS)
@pytest.mark.parametrize("bands", [LIST, None], ids=["list", "found"])
def test_any_sound_is_judged_and_no_lead_is_blamed(tmp_path, name, bands):
    path = tmp_path / "a.wav"
    soundfile.write(path, np.clip(SOUNDS[name](), -1, 1), RATE_HZ, subtype="PCM_16")
    listening = judged(path, bands)
    assert listening.measures["leads"].value == "can't tell"
    assert listening.measures["polarity"].value in ("can't tell", "correct")


@pytest.mark.parametrize("ending", ["wav", "flac", "aiff"])
def test_any_damage_is_judged_or_refused_in_words(tmp_path, ending):
    random = np.random.default_rng(5)
    path = tmp_path / f"a.{ending}"
    soundfile.write(path, clean(), RATE_HZ, subtype="PCM_16")
    original = path.read_bytes()
    for number in range(12):
        content = bytearray(original)
        for _ in range(int(random.integers(1, 20))):
            reach = len(content) if number % 2 else 80
            content[int(random.integers(0, reach))] = int(random.integers(0, 256))
        if number % 4 == 0:
            content = content[: int(random.integers(100, len(content)))]
        path.write_bytes(bytes(content))
        try:
            judged(path, LIST)
        except InputError as error:
            # judged or refused: both are answers
            refusal = str(error)
            if path.name not in refusal:
                raise
