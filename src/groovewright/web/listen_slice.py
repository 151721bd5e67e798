"""One stretch of a recording as a sound that a browser plays: 16 bits, short, and never loud."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from pathlib import Path

import numpy as np
from starlette.responses import Response

from groovewright.audio import Band, Kind, open_recording
from groovewright.quantities import FloatArray, InputError

LONGEST_S = 20.0
FADE_S = 0.05
QUIET_DB, USUAL_DB = -26.0, -14.0
"""Highest peak that is played, in dB of full scale: at first, and when asked for. Chosen low for hearing's and
loudspeakers' sake; nothing is ever made louder than it was recorded."""

LOW_HZ = 40.0
"""Bands that hold anything below this are marked: headphones off (common practice)."""

SECONDS = re.compile(r"\d{1,6}(\.\d{1,6})?")


def seconds_in(text: str, what: str) -> float:
    """Return a time that came in an address.

    Raises
    ------
    InputError
        It is no time.
    """
    if not SECONDS.fullmatch(text):
        raise InputError(f"{what} is '{text[:20]}'; allowed are seconds from the start, such as 12.5")
    return float(text)


@lru_cache(maxsize=3)
def slice_of(
    path: Path,
    written_ns: int,  # noqa: ARG001  part of what the result is kept under
    start_s: float,
    end_s: float,
    peak_db: float,
) -> bytes:
    """Return a stretch of a recording as a WAV file of 16 bits, at most `LONGEST_S` long, faded in and out.

    Parameters
    ----------
    written_ns : int
        When the file was written: a file that changed is read again.
    peak_db : float
        The highest peak that is allowed, dB of full scale.

    Raises
    ------
    InputError
        There is no sound at that time, or the file can't be read.
    """
    import soundfile

    recording = open_recording(path)
    first = round(start_s * recording.rate_hz)
    wanted = round(min(end_s - start_s, LONGEST_S) * recording.rate_hz)
    try:
        with soundfile.SoundFile(path) as sound:
            if not 0 <= first < sound.frames or wanted <= 0:
                raise InputError(f"the recording has no sound from {start_s:g} to {end_s:g} s")
            sound.seek(first)
            samples = sound.read(wanted, dtype="float64", always_2d=True)
    except (soundfile.LibsndfileError, RuntimeError, OSError) as error:
        raise InputError(f"this part of the recording can't be played: {error}") from None
    content = io.BytesIO()
    soundfile.write(
        content, made_safe(samples, recording.rate_hz, peak_db), recording.rate_hz, "PCM_16", format="WAV"
    )
    return content.getvalue()


def made_safe(samples: FloatArray, rate_hz: int, peak_db: float) -> FloatArray:
    """Return sound without offset, its peak no higher than asked for, faded in and out. [shape=(n, channels)]"""
    clean = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
    clean = clean - clean.mean(axis=0) if len(clean) else clean
    peak = float(np.abs(clean).max(initial=0.0))
    gain = min(1.0, 10.0 ** (peak_db / 20.0) / peak) if peak > 0.0 else 1.0
    fade = min(len(clean) // 2, round(FADE_S * rate_hz))
    shape = np.ones(len(clean))
    if fade:
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
        shape[:fade], shape[-fade:] = ramp, ramp[::-1]
    return np.asarray(gain * clean * shape[:, np.newaxis])


def goes_low(band: Band) -> bool:
    """Return whether a band can drive a loudspeaker or headphones with what is below `LOW_HZ`."""
    ends = (band.frequency_hz, band.second_frequency_hz, band.sweep_start_hz, band.sweep_end_hz)
    if any(end is not None and end < LOW_HZ for end in ends):
        return True
    return band.kind in (Kind.OTHER, Kind.SWEEP) and all(end is None for end in ends)


ONE_RANGE = re.compile(r"bytes=(\d{0,12})-(\d{0,12})")


def sound_response(content: bytes, asked: str | None) -> Response:
    """Return a sound, or the part of it that a player asks for (RFC 9110, 14.2: one range of bytes)."""
    size = len(content)
    headers = {
        "accept-ranges": "bytes",
        "content-disposition": 'attachment; filename="band.wav"',
        "content-security-policy": "sandbox; default-src 'none'",
    }
    found = ONE_RANGE.fullmatch(asked or "")
    if found is None or not (found[1] or found[2]):
        return Response(content, media_type="audio/wav", headers=headers)
    if found[1]:
        first, last = int(found[1]), min(int(found[2] or size - 1), size - 1)
    else:  # so many bytes from the end
        first, last = max(0, size - int(found[2])), size - 1
    if first >= size or first > last:
        return Response(status_code=416, headers={"content-range": f"bytes */{size}"})
    headers["content-range"] = f"bytes {first}-{last}/{size}"
    return Response(content[first : last + 1], 206, headers, "audio/wav")
