"""Balance, crosstalk and the lean that explains it (derivation in docs/listen.md)."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.audio.averages import complex_mean, decibels, magnitude
from groovewright.audio.bands import Band, Replay
from groovewright.audio.equaliser import gain_between
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import Reading


@dataclass(frozen=True)
class Phasor:
    """A complex reading: its value and the standard uncertainties of both parts."""

    value: complex
    real_sd: float
    imag_sd: float

    @property
    def level_db(self) -> Reading:
        """Size in dB, without what noise adds."""
        size = abs(self.value)
        if size == 0.0:
            return Reading(-240.0, 0.0)
        cos, sin = self.value.real / size, self.value.imag / size
        across = math.hypot(self.real_sd * sin, self.imag_sd * cos)
        clean = math.sqrt(max(size**2 - across**2, 1e-24))
        return decibels(Reading(clean, math.hypot(self.real_sd * cos, self.imag_sd * sin)))

    @property
    def phase_deg(self) -> Reading:
        """Phase, from the uncertainty across the phasor; 180 degrees where the size is lost in noise."""
        size = abs(self.value)
        if size == 0.0:
            return Reading(0.0, 180.0)
        across = math.hypot(self.real_sd * self.value.imag, self.imag_sd * self.value.real) / size
        sd = min(180.0, math.degrees(across / size))
        return Reading(math.degrees(cmath.phase(self.value)), sd)

    def times(self, factor: complex) -> Phasor:
        """Return the reading turned and stretched; an exact factor near the real axis keeps the parts."""
        size = abs(factor)
        return Phasor(self.value * factor, self.real_sd * size, self.imag_sd * size)

    def spread_by(self, relative_sd: float) -> Phasor:
        """Return the phasor with the uncertainty of a factor that it was stretched by."""
        real, imag = abs(self.value.real) * relative_sd, abs(self.value.imag) * relative_sd
        return Phasor(self.value, math.hypot(self.real_sd, real), math.hypot(self.imag_sd, imag))


@dataclass(frozen=True)
class Separation:
    """What a left-only and a right-only tone of one frequency say.

    Parameters
    ----------
    balance_db : Reading
        Left minus right, at equal recorded velocity.
    left_to_right, right_to_left : Phasor
        What comes out of the silent channel, relative to what that channel gives for the same velocity of its
        own; phase relative to the wanted channel.
    azimuth_deg : Reading
        The turn that explains the part of opposite sign.
    """

    frequency_hz: float
    balance_db: Reading
    left_to_right: Phasor
    right_to_left: Phasor
    azimuth_deg: Reading
    bands: tuple[str, ...]

    @property
    def upright_db(self) -> tuple[float, float]:
        """Crosstalk left to right and right to left that would be left if the lean were taken out."""
        lean = math.tan(math.radians(self.azimuth_deg.value))
        rest = (abs(self.left_to_right.value + lean), abs(self.right_to_left.value - lean))
        left, right = (20.0 * math.log10(max(size, 1e-6)) for size in rest)
        return left, right


def separation(
    left: tuple[Band, ToneData],
    right: tuple[Band, ToneData],
    *,
    reversed_coil: bool = False,
    between: complex | None = None,
    replay: Replay = Replay.NONE,
) -> Separation:
    """Return balance, crosstalk and lean from a left-only and a right-only band, leads put right.

    Parameters
    ----------
    reversed_coil : bool
        One coil is reversed, which turns the sign of both crosstalks.
    between : complex
        Right over left in a lateral tone of the same frequency: its phase, less what crosstalk explains, is
        the phase between the channels' wires. None where there is no such tone.
    """
    (left_band, left_tone), (right_band, right_tone) = left, right
    in_left, in_right = left_tone.averages[:, 0], right_tone.averages[:, 0]
    own_left = magnitude(at_steady_speed(in_left[:, 0], left_tone, replay))
    own_right = magnitude(at_steady_speed(in_right[:, 1], right_tone, replay))
    levels = 1.0
    if left_band.level_cm_per_s and right_band.level_cm_per_s:
        levels = right_band.level_cm_per_s / left_band.level_cm_per_s
    gain = own_left.value / own_right.value * levels
    spread = math.hypot(own_left.sd / own_left.value, own_right.sd / own_right.value)
    sign = -1.0 if reversed_coil else 1.0
    raw_lr = _ratio(in_left[:, 1], in_left[:, 0]).times(sign * gain)
    raw_rl = _ratio(in_right[:, 0], in_right[:, 1]).times(sign / gain)
    turn = 0.0 if between is None else _wire_phase(raw_lr.value, raw_rl.value, sign * between)
    to_right, to_left = raw_lr.times(cmath.exp(-1j * turn)), raw_rl.times(cmath.exp(1j * turn))
    return Separation(
        frequency_hz=float(left_band.frequency_hz or left_tone.centre_hz),
        balance_db=decibels(Reading(gain, gain * spread)),
        left_to_right=to_right.spread_by(spread),
        right_to_left=to_left.spread_by(spread),
        azimuth_deg=lean_of(to_right, to_left),
        bands=(left_band.name, right_band.name),
    )


def at_steady_speed(
    segments: NDArray[np.complex128], tone: ToneData, replay: Replay
) -> NDArray[np.complex128]:
    """Return amplitudes as they would be at nominal speed. [shape=(segments,)]

    A groove that passes faster gives more in proportion, and the equaliser takes some of it back.
    """
    if tone.pace.size != segments.size:
        return segments
    hz = tone.nominal_hz * tone.pace
    gain = tone.pace * np.abs(gain_between(hz, replay) / gain_between(tone.nominal_hz, replay))
    return np.asarray(segments / gain)


def _ratio(numerator: NDArray[np.complex128], denominator: NDArray[np.complex128]) -> Phasor:
    return Phasor(*complex_mean(numerator / denominator))


def _wire_phase(left_to_right: complex, right_to_left: complex, between: complex) -> float:
    """Return the phase of the right channel's wire against the left's, by a few rounds of substitution."""
    turn = 0.0
    for _ in range(5):
        to_right = left_to_right * cmath.exp(-1j * turn)
        to_left = right_to_left * cmath.exp(1j * turn)
        turn = cmath.phase(between) - cmath.phase((1.0 + to_right) / (1.0 + to_left))
    return turn


def lean_of(left_to_right: Phasor, right_to_left: Phasor) -> Reading:
    """Return the azimuth: a lean a gives -tan(a) from left to right and +tan(a) from right to left.

    What has equal signs, or stands at a quarter turn, is not lean and does not count.
    """
    low, high = left_to_right.value.real, right_to_left.value.real
    angle = 0.5 * (math.atan(high) - math.atan(low))
    sd = 0.5 * math.hypot(right_to_left.real_sd / (1.0 + high**2), left_to_right.real_sd / (1.0 + low**2))
    return Reading(math.degrees(angle), math.degrees(sd))


def lean_from_lateral_and_vertical(lateral: ToneData, vertical: ToneData) -> tuple[Reading, Reading]:
    """Return azimuth in degrees and balance in dB from a lateral and a vertical tone, gains left out.

    Left over right is gL/gR (1 + t)/(1 - t) in the lateral tone and gL/gR (1 - t)/(1 + t) in the vertical
    one, with t = tan(azimuth): the root of their quotient gives t, the root of their product the balance.
    Only for crosstalk of mechanical origin.
    """
    first, second = (_ratio(tone.averages[:, 0, 0], tone.averages[:, 0, 1]) for tone in (lateral, vertical))
    a, b = abs(first.value), abs(second.value)
    spread = math.hypot(first.real_sd / a, second.real_sd / b)
    q = math.sqrt(a / b)
    t = (q - 1.0) / (q + 1.0)
    slope = 2.0 / (q + 1.0) ** 2 / (1.0 + t**2)
    azimuth = Reading(math.degrees(math.atan(t)), math.degrees(slope * q * 0.5 * spread))
    gain = math.sqrt(a * b)
    return azimuth, decibels(Reading(gain, gain * 0.5 * spread))
