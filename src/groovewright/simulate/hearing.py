"""What a given error does to any clean recording: it is cut into a groove and played back with the error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from groovewright.geometry import alignment_for_nulls, yaw_deg
from groovewright.quantities import RPM_33, FloatArray, InputError, Limits
from groovewright.simulate.curves import equaliser_curve
from groovewright.simulate.groove import groove_speed_mm_per_s, leant

PIVOT_TO_SPINDLE_MM = 222.0
"""Of the demo arm; an overhang error does nearly the same to any 9-inch arm."""
NULLS_MM = (65.998, 120.891)
"""Lofgren A for 60.325 to 146.05 mm (geometry's check values)."""
LOWEST_HZ = 20.0
SAFE_PEAK = 0.89
"""-1 dB of full scale."""

OVERHANG = Limits("overhang error", -30.0, 30.0, "mm")
TRACKING = Limits("tracking error", -30.0, 30.0, "degrees")
AZIMUTH = Limits("azimuth", -45.0, 45.0, "degrees")
SPEED = Limits("speed error", -20.0, 20.0, "%")
OFF_CENTRE = Limits("off-centre distance", 0.0, 10.0, "mm")
PEAK = Limits("peak velocity", 0.1, 50.0, "cm/s")


@dataclass(frozen=True)
class Errors:
    """What is wrong when the recording is played.

    Parameters
    ----------
    radius_mm : float
        Where on the record it is played.
    peak_cm_per_s : float
        Lateral velocity of the loudest moment: 15 is a loud cut (common practice).
    """

    overhang_error_mm: float = 0.0
    tracking_error_deg: float = 0.0
    azimuth_deg: float = 0.0
    speed_error_percent: float = 0.0
    off_centre_mm: float = 0.0
    swap_leads: bool = False
    reverse_coil: bool = False
    radius_mm: float = 65.0
    speed_rpm: float = RPM_33
    peak_cm_per_s: float = 15.0

    @property
    def yaw_deg(self) -> float:
        """Tracking error at the radius: what the overhang error makes on the demo arm, plus the one given."""
        right = alignment_for_nulls(PIVOT_TO_SPINDLE_MM, *NULLS_MM)
        if self.overhang_error_mm == 0.0:
            return self.tracking_error_deg
        length = right.effective_length_mm + self.overhang_error_mm
        found = float(yaw_deg(PIVOT_TO_SPINDLE_MM, length, right.offset_angle_deg, self.radius_mm))
        if not np.isfinite(found):
            raise InputError(
                f"with an overhang error of {self.overhang_error_mm:g} mm the arm can't reach "
                f"{self.radius_mm:g} mm"
            )
        return found + self.tracking_error_deg


def played_with(sound: FloatArray, rate_hz: int, errors: Errors) -> FloatArray:
    """Return the recording as it sounds with the errors, no louder than it was. [shape=(n, 2), full scale]

    The recording is given the recording characteristic, scaled to the peak velocity, and cut; the implicit
    equation of the tracking error, speed and off-centre distance move the moment that lies under the stylus;
    lean, leads and coils mix the channels; the replay equaliser brings it back.

    Raises
    ------
    InputError
        The recording is silent or too short.
    """
    if len(sound) < rate_hz // 10 or not np.any(sound):
        raise InputError("the recording is silent or shorter than 0.1 s; choose a passage with music")
    velocity, place, scale = _cut(sound, rate_hz, errors.peak_cm_per_s)
    moments, rates = _moments(len(sound), rate_hz, place, errors)
    x, y = (_at(motion, moments * rate_hz) * rates for motion in velocity)
    left, right = leant((x + y) / np.sqrt(2.0), (x - y) / np.sqrt(2.0), errors.azimuth_deg)
    if errors.reverse_coil:
        right = -right
    columns = np.stack([right, left] if errors.swap_leads else [left, right])
    heard = _shaped(columns, rate_hz, _equaliser(columns.shape[1], rate_hz)).T / scale
    return _safe(heard, sound)


def _curve_frequencies(count: int, rate_hz: int) -> FloatArray:
    return np.asarray(np.fft.rfftfreq(_padded(count, rate_hz), 1.0 / rate_hz), dtype=np.float64)


def _padded(count: int, rate_hz: int) -> int:
    from scipy import fft

    return int(fft.next_fast_len(count + rate_hz // 2, real=True))


def _equaliser(count: int, rate_hz: int) -> NDArray[np.complex128]:
    return equaliser_curve(_curve_frequencies(count, rate_hz))


def _shaped(rows: FloatArray, rate_hz: int, gain: NDArray[np.complex128]) -> FloatArray:
    from scipy import fft

    size = _padded(rows.shape[1], rate_hz)
    return np.asarray(fft.irfft(fft.rfft(rows, n=size, axis=1) * gain, n=size, axis=1)[:, : rows.shape[1]])


def _cut(sound: FloatArray, rate_hz: int, peak_cm_per_s: float) -> tuple[FloatArray, FloatArray, float]:
    """Return lateral and vertical velocity (mm/s), lateral displacement (mm), and the scale to velocity."""
    hz = _curve_frequencies(len(sound), rate_hz)
    audible = (hz / LOWEST_HZ) ** 2 / (1.0 + (hz / LOWEST_HZ) ** 2)
    rows = _shaped(np.asarray(sound.T, dtype=float), rate_hz, audible / equaliser_curve(hz))
    motion = np.stack([rows[0] + rows[1], rows[0] - rows[1]]) / np.sqrt(2.0)
    scale = 10.0 * peak_cm_per_s / max(float(np.abs(motion[0]).max()), float(np.abs(motion[1]).max()))
    motion *= scale
    inverse = np.zeros(hz.size, dtype=complex)
    inverse[1:] = 1.0 / (2j * np.pi * hz[1:])
    return motion, _shaped(motion[:1], rate_hz, inverse)[0], scale


def _moments(count: int, rate_hz: int, place_mm: FloatArray, errors: Errors) -> tuple[FloatArray, FloatArray]:
    """Return the groove time under the stylus at each sample, and its rate."""
    times = np.arange(count) / rate_hz
    turns = errors.speed_rpm / 60.0
    swing = errors.off_centre_mm / errors.radius_mm
    pace = 1.0 + errors.speed_error_percent / 100.0
    angle = 2.0 * np.pi * turns * pace * times
    nominal = times * pace + swing / (2.0 * np.pi * turns) * np.sin(angle)
    ahead = np.tan(np.radians(errors.yaw_deg)) / float(
        groove_speed_mm_per_s(errors.speed_rpm, errors.radius_mm)
    )
    moments = nominal
    if ahead:
        # the shift is well under a sample of the highest tone: substitution converges like the slope, V / v
        # tan e
        for _ in range(12):
            moments = nominal + ahead * _at(place_mm, moments * rate_hz)
    return moments, np.asarray(np.gradient(moments, 1.0 / rate_hz), dtype=np.float64)


def _at(values: FloatArray, places: FloatArray) -> FloatArray:
    """Return a band-limited signal between its samples, by a spline of fifth order. [shape=(n,)]"""
    from scipy.ndimage import map_coordinates

    return np.asarray(map_coordinates(values, places[None, :], order=5, mode="constant"))


def _safe(heard: FloatArray, original: FloatArray) -> FloatArray:
    """Return the result as loud as the original, and never above -1 dB."""
    loudness = float(np.sqrt(np.mean(heard**2)))
    gain = min(1.0, float(np.sqrt(np.mean(original**2))) / max(loudness, 1e-12))
    peak = float(np.abs(heard).max()) * gain
    return heard * gain * min(1.0, SAFE_PEAK / max(peak, 1e-12))
