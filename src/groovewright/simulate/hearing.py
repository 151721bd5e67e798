"""What a given error does to any clean recording: it is cut into a groove and played back with the error."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from groovewright.geometry import alignment_for_nulls, yaw_deg
from groovewright.quantities import RPM_33, FloatArray, InputError, Limits
from groovewright.simulate.groove import groove_speed_mm_per_s, leant
from groovewright.simulate.hearing_blocks import Stylus, cut, replayed, under_stylus

PIVOT_TO_SPINDLE_MM = 222.0
"""Of the demo arm; an overhang error does nearly the same to any 9-inch arm."""
NULLS_MM = (65.998, 120.891)
"""Lofgren A for 60.325 to 146.05 mm (geometry's check values)."""
SAFE_PEAK = 0.89
"""-1 dB of full scale."""

OVERHANG = Limits("overhang error", -30.0, 30.0, "mm")
TRACKING = Limits("tracking error", -30.0, 30.0, "degrees")
AZIMUTH = Limits("azimuth", -45.0, 45.0, "degrees")
SPEED = Limits("speed error", -20.0, 20.0, "%")
OFF_CENTRE = Limits("off-centre distance", 0.0, 10.0, "mm")
PEAK = Limits("peak velocity", 0.1, 50.0, "cm/s")

CUT_SHARE = 0.3
"""Of the progress that is told: the first of two walks, which finds how loud the cut is."""


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


Walk = Callable[[], Iterable[FloatArray]]
"""Gives the blocks of a recording from its start, each time anew. [each shape=(n, 2), full scale]"""


@dataclass(frozen=True)
class Played:
    """What is known when a recording was played.

    Parameters
    ----------
    frames : int
    gain : float
        What the blocks that were kept must be multiplied by, to be no louder than the recording was, and to
        peak at -1 dB or less.
    peak : float
        Of the result behind that gain, full scale.
    """

    frames: int
    gain: float
    peak: float


@dataclass(frozen=True)
class _Original:
    """Of the recording as given: samples, sum of squares; and cut unscaled: peak velocity, largest swing."""

    frames: int
    squares: float
    peak: float
    swing: float


def play(
    walk: Walk,
    rate_hz: int,
    errors: Errors,
    keep: Callable[[FloatArray], None],
    *,
    progress: Callable[[float], None] | None = None,
) -> Played:
    """Play a recording with the errors; give each block of the result to `keep`. [each shape=(n, 2)]

    The recording is given the recording characteristic, scaled to the peak velocity, and cut; the implicit
    equation of the tracking error, speed and off-centre distance move the moment that lies under the stylus;
    lean, leads and coils mix the channels; the replay equaliser brings it back. It is walked through twice,
    since the scale depends on its loudest moment; memory does not grow with its length.

    Parameters
    ----------
    progress : callable, optional
        Is told now and then how much is done, 0 to 1; of the first walk only where it ended.

    Raises
    ------
    InputError
        The recording is silent or too short.
    """
    tell = progress or (lambda _share: None)
    original = _original(walk(), rate_hz)
    if original.frames < rate_hz // 10 or not original.squares > 0.0:
        raise InputError("the recording is silent or shorter than 0.1 s; choose a passage with music")
    tell(CUT_SHARE)
    scale = 10.0 * errors.peak_cm_per_s / original.peak
    stylus = Stylus(
        rate_hz=rate_hz,
        frames=original.frames,
        pace=1.0 + errors.speed_error_percent / 100.0,
        turns_per_s=errors.speed_rpm / 60.0,
        swing=errors.off_centre_mm / errors.radius_mm,
        # moments are ahead by so many seconds for a unit of the unscaled groove's displacement
        ahead_s=scale
        * float(np.tan(np.radians(errors.yaw_deg)))
        / float(groove_speed_mm_per_s(errors.speed_rpm, errors.radius_mm)),
        largest=original.swing,
    )
    done, squares, peak = 0, 0.0, 0.0
    columns = (_coils(x, y, errors) for x, y in under_stylus(cut(walk(), rate_hz), stylus))
    for block in replayed(columns, rate_hz):
        keep(block)
        done += len(block)
        squares += float(np.sum(block**2))
        peak = max(peak, float(np.abs(block).max()))
        tell(CUT_SHARE + (1.0 - CUT_SHARE) * done / original.frames)
    gain = min(1.0, float(np.sqrt(original.squares / max(squares, 1e-300))))
    gain = min(gain, SAFE_PEAK / max(peak, 1e-12))
    return Played(done, gain, peak * gain)


def _original(blocks: Iterable[FloatArray], rate_hz: int) -> _Original:
    frames, squares = 0, 0.0

    def counted() -> Iterable[FloatArray]:
        nonlocal frames, squares
        for block in blocks:
            frames += len(block)
            squares += float(np.sum(np.square(block, dtype=np.float64)))
            yield block

    peak = swing = 0.0
    for motion in cut(counted(), rate_hz):
        peak = max(peak, float(np.abs(motion[:2]).max()))
        swing = max(swing, float(np.abs(motion[2]).max()))
    return _Original(frames, squares, peak, swing)


def _coils(lateral: FloatArray, vertical: FloatArray, errors: Errors) -> FloatArray:
    """Return what comes out of the leads, left first. [shape=(n,) to (2, n)]"""
    left, right = leant(
        (lateral + vertical) / np.sqrt(2.0), (lateral - vertical) / np.sqrt(2.0), errors.azimuth_deg
    )
    if errors.reverse_coil:
        right = -right
    return np.stack([right, left] if errors.swap_leads else [left, right])
