"""One set of FFT frames serves every measure: narrow streams around a tone, a low-pass stream, power.

Frames of N samples follow each other at 3/4 N. A stream is a few bins of a frame, shaped by a low-pass filter
whose impulse response is no longer than the overlap, and transformed back: overlap-save filtering with
decimation (A. V. Oppenheim and R. W. Schafer, Discrete-Time Signal Processing, "block convolution"), exact
but for the stop band of 100 dB.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray

Spectra = NDArray[np.complex64]
"""Half spectra of frames. [shape=(2 channels, frames, N // 2 + 1)]"""
Stream = NDArray[np.complex64]
"""A band around a centre frequency, moved to 0 Hz: amplitude times exp(i phase). [shape=(2, n)]"""

TRANSITION_BINS = 13
"""Half the transition band of a Kaiser window (beta 10) as long as a quarter of the frame."""


@dataclass(frozen=True)
class FramePlan:
    """How a recording is cut into frames; all counts in samples.

    Parameters
    ----------
    rate_hz : int
    frame : int
        N: about 0.17 s, a power of two.
    """

    rate_hz: int
    frame: int

    @property
    def overlap(self) -> int:
        """What neighbouring frames share, and the length of the longest filter."""
        return self.frame // 4

    @property
    def hop(self) -> int:
        """From one frame's start to the next."""
        return self.frame - self.overlap

    @property
    def bin_hz(self) -> float:
        """Distance of two bins."""
        return self.rate_hz / self.frame

    def stream_rate_hz(self, width: int) -> float:
        """Return the sample rate of a stream that is `width` bins wide."""
        return self.bin_hz * width


def plan_for(rate_hz: int) -> FramePlan:
    """Return the plan for a sample rate: 8192, 16384 or 32768 samples a frame."""
    return FramePlan(rate_hz, 8192 if rate_hz <= 50_000 else 16384 if rate_hz <= 100_000 else 32768)


def spectra_of(columns: NDArray[np.float32], plan: FramePlan) -> Spectra:
    """Return the spectra of all whole frames. [columns: shape=(2, frames * hop + overlap or more)]"""
    from scipy import fft

    windows = np.lib.stride_tricks.sliding_window_view(columns, plan.frame, axis=1)[:, :: plan.hop]
    spectra: Spectra = fft.rfft(windows, axis=-1)
    return spectra


@functools.lru_cache(maxsize=16)
def shape(frame: int, width: int) -> NDArray[np.float32]:
    """Return the filter's gain in `width` bins around its centre, real: no delay. [shape=(width,)]"""
    taps = frame // 4 - 1
    cutoff = (width / 2 - TRANSITION_BINS) * 2.0 / frame
    places = np.arange(taps) - taps // 2
    response = np.sinc(cutoff * places) * np.kaiser(taps, 10.0)
    padded = np.zeros(frame)
    padded[:taps] = response / response.sum()
    centred = np.roll(padded, -(taps // 2))
    gains = np.fft.fft(centred).real
    return np.asarray(np.concatenate([gains[-(width // 2) :], gains[: width // 2]]), dtype=np.float32)


def stream_around(
    spectra: Spectra, plan: FramePlan, *, centre_bin: int, width: int, first_frame: int
) -> Stream:
    """Return the stream around a bin. [shape=(2, frames * width * 3 // 4)]

    Sample m of the result belongs to the time `(first_frame * hop + overlap / 2) / rate + m / stream rate`; a
    cosine of amplitude A at the centre gives A exp(i phase at time 0 of the first frame of all).
    """
    from scipy import fft

    half = width // 2
    bottom, top = max(centre_bin - half, 0), min(centre_bin + half, spectra.shape[2])
    gains = shape(plan.frame, width)
    below, above = gains[bottom - centre_bin + half : half], gains[half : half + top - centre_bin]
    # the centre comes first, what lies below it last, as the transform wants it
    piece = np.zeros((*spectra.shape[:2], width), dtype=np.complex64)
    np.multiply(spectra[:, :, centre_bin:top], above, out=piece[:, :, : above.size])
    np.multiply(spectra[:, :, bottom:centre_bin], below, out=piece[:, :, width - below.size :])
    samples = fft.ifft(piece, axis=-1, overwrite_x=True)[:, :, width // 8 : width - width // 8]
    frames = first_frame + np.arange(spectra.shape[1])
    turns = (centre_bin * frames * plan.hop % plan.frame) / plan.frame
    turned = (
        samples * (np.exp(-2j * np.pi * turns) * (2.0 * width / plan.frame)).astype(np.complex64)[:, None]
    )
    return np.asarray(turned.reshape(2, -1))


def low_stream(spectra: Spectra, plan: FramePlan, *, width: int) -> NDArray[np.float32]:
    """Return everything below about half of `width` bins as a real signal. [shape=(2, frames * width * 3 //
    4)]

    Times are those of `stream_around`.
    """
    from scipy import fft

    half = width // 2
    gains = shape(plan.frame, width)[half:]
    piece = np.zeros((*spectra.shape[:2], half + 1), dtype=np.complex64)
    piece[:, :, :half] = spectra[:, :, :half] * gains
    samples = fft.irfft(piece, n=width, axis=-1)[:, :, width // 8 : width - width // 8]
    return np.asarray(samples.reshape(2, -1) * (width / plan.frame), dtype=np.float32)


def hann(spectra: Spectra) -> Spectra:
    """Return the spectra as if each frame had been under a Hann window: bins mixed -1/4, 1/2, -1/4."""
    quarter = spectra * np.float32(0.25)
    out: Spectra = np.empty_like(quarter)
    steps = quarter[:, :, 1:] - quarter[:, :, :-1]
    np.subtract(steps[:, :, :-1], steps[:, :, 1:], out=out[:, :, 1:-1])
    out[:, :, 0] = quarter[:, :, 0] - steps[:, :, 0]
    out[:, :, -1] = quarter[:, :, -1] + steps[:, :, -1]
    return out


HANN_POWER = 0.375
"""Mean square of the Hann window."""


def power_density(windowed: Spectra, plan: FramePlan) -> FloatArray:
    """Return the one-sided power density, full scale squared per Hz, of Hann frames. [shape=(2, N // 2 +
    1)]
    """
    # real and imaginary parts as neighbouring numbers: one pass over memory as it lies
    parts = np.ascontiguousarray(windowed).view(np.float32)
    squares = np.einsum("cfb,cfb->cb", parts, parts).reshape(2, -1, 2)
    total = squares.sum(axis=2, dtype=np.float64)
    scale = 2.0 / (plan.rate_hz * plan.frame * HANN_POWER * windowed.shape[1])
    return np.asarray(total * scale)
