"""The groove and what happens between groove and coil, sample by sample: the forward model's physics.

Axes, seen from the front of the cartridge: x to the outside of the record, y up. The right channel is on the
outer wall, the left on the inner one, and equal signals in phase move the stylus sideways (IEC 60098:2020,
6.2): l = (x + y) / sqrt 2, r = (x - y) / sqrt 2. A cartridge that leans clockwise by a turns its coil axes by
-a in these axes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from groovewright.quantities import FloatArray

WallMotion = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""Displacement (mm) and its first derivative by groove time (mm/s) of one wall, at groove times in s."""


@dataclass(frozen=True)
class Groove:
    """What is cut: the motion of both walls by groove time, and where.

    Parameters
    ----------
    left, right : WallMotion
        Displacement along the wall's own 45 degree direction.
    speed_mm_per_s : float
        Of the groove under the stylus at nominal speed.
    """

    left: WallMotion
    right: WallMotion
    speed_mm_per_s: float


def groove_speed_mm_per_s(speed_rpm: ArrayLike, radius_mm: ArrayLike) -> FloatArray:
    """Return 2 pi n r. [shape=(...)]"""
    turns_per_s = np.asarray(speed_rpm, dtype=float) / 60.0
    return np.asarray(2.0 * np.pi * turns_per_s * np.asarray(radius_mm, dtype=float))


def still(times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return an unmodulated wall."""
    zeros = np.zeros_like(times_s)
    return zeros, zeros


def sine_wall(frequency_hz: float, velocity_mm_per_s: float) -> WallMotion:
    """Return a wall with one tone of the given peak velocity."""
    omega = 2.0 * np.pi * frequency_hz

    def wall(times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        angle = omega * times_s
        return -velocity_mm_per_s / omega * np.cos(angle), velocity_mm_per_s * np.sin(angle)

    return wall


def sum_of(walls: tuple[WallMotion, ...]) -> WallMotion:
    """Return the sum of several motions."""

    def wall(times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        parts = [part(times_s) for part in walls]
        return np.sum([p[0] for p in parts], axis=0), np.sum([p[1] for p in parts], axis=0)

    return wall


def sweep_wall(
    start_hz: float, end_hz: float, duration_s: float, velocity_mm_per_s: Callable[[FloatArray], FloatArray]
) -> WallMotion:
    """Return a wall with an exponential sweep whose peak velocity depends on the frequency.

    The displacement is velocity / (2 pi f), which leaves out terms of the order of the sweep's rate over the
    square of its frequency.
    """
    rate = np.log(end_hz / start_hz) / duration_s

    def wall(times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        inside = np.clip(times_s, 0.0, duration_s)
        frequency = start_hz * np.exp(rate * inside)
        angle = 2.0 * np.pi * start_hz * np.expm1(rate * inside) / rate
        speed = velocity_mm_per_s(frequency) * (times_s == inside)
        return -speed / (2.0 * np.pi * frequency) * np.cos(angle), speed * np.sin(angle)

    return wall


def shifted_times(
    groove: Groove, times_s: FloatArray, *, yaw_deg: float, tilt_deg: float, steps: int = 30
) -> FloatArray:
    """Return the groove time that really lies under a stylus that is turned against the groove. [shape=(n,)]

    A stylus that moves along a line turned by the tracking error e touches the groove x tan(e) ahead, so that
    u = t + (x(u) tan(yaw) + y(u) tan(tilt)) / v: the implicit equation, solved by Newton's rule to rounding
    (derivation in docs/listen.md; the same equation as in Baerwald, J. SMPE 37, 591, 1941). `tilt_deg` is the
    error of the vertical tracking angle, which does for y what the yaw does for x.
    """
    along = np.tan(np.radians(yaw_deg)) / groove.speed_mm_per_s / np.sqrt(2.0)
    upward = np.tan(np.radians(tilt_deg)) / groove.speed_mm_per_s / np.sqrt(2.0)
    if along == 0.0 and upward == 0.0:
        return times_s
    under = times_s.copy()
    moving = np.arange(times_s.size)
    for _ in range(steps):
        here = under[moving]
        left, left_speed = groove.left(here)
        right, right_speed = (left, left_speed) if groove.right is groove.left else groove.right(here)
        miss = here - times_s[moving] - along * (left + right) - upward * (left - right)
        slope = 1.0 - along * (left_speed + right_speed) - upward * (left_speed - right_speed)
        change = miss / slope
        under[moving] -= change
        # an error left by Newton's rule is of the order of the bend times the square of its last step
        moving = moving[np.abs(change) >= 1e-10]
        if not moving.size:
            break
    return under


def traced(wall: WallMotion, speed_mm_per_s: float, radius_um: float, sign: float) -> WallMotion:
    """Return the motion of the middle of a round stylus that rolls along a wall.

    The stylus touches the wall where both have the same slope: at groove time u the touching point gives the
    centre at s = u - sign R sin(slope) / v, raised by sign R (cos(slope) - 1) (parallel curve; Pierce and
    Hunt, J. Acoust. Soc. Am. 10, 14, 1938). `sign` is +1 where positive motion presses the wall towards the
    stylus. Valid while the stylus is rounder than the wall's sharpest bend.
    """
    radius = radius_um / 1000.0
    if radius == 0.0:
        return wall

    def centre(times_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        touch = times_s.copy()
        for _ in range(40):
            slope = np.arctan(wall(touch)[1] / speed_mm_per_s)
            change = times_s + sign * radius * np.sin(slope) / speed_mm_per_s - touch
            touch = touch + change
            if np.max(np.abs(change), initial=0.0) < 1e-12:
                break
        place, speed = wall(touch)
        slope = np.arctan(speed / speed_mm_per_s)
        # parallel curves share their tangents
        return place + sign * radius * (np.cos(slope) - 1.0), speed

    return centre


def output_of(
    groove: Groove, times_s: FloatArray, rates: FloatArray, *, yaw_deg: float, tilt_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Return the velocities of the stylus along both walls' directions, in mm/s. [shape=(n,) each]

    Parameters
    ----------
    times_s : FloatArray
        Groove time at each sample. [shape=(n,)]
    rates : FloatArray
        Its derivative by real time: 1 at nominal speed. [shape=(n,)]
    """
    under = shifted_times(groove, times_s, yaw_deg=yaw_deg, tilt_deg=tilt_deg)
    left = groove.left(under)[1]
    right = left if groove.right is groove.left else groove.right(under)[1]
    along = np.tan(np.radians(yaw_deg)) / groove.speed_mm_per_s / np.sqrt(2.0)
    upward = np.tan(np.radians(tilt_deg)) / groove.speed_mm_per_s / np.sqrt(2.0)
    stretch = rates / (1.0 - along * (left + right) - upward * (left - right))
    return left * stretch, right * stretch


def leant(left: FloatArray, right: FloatArray, azimuth_deg: float) -> tuple[FloatArray, FloatArray]:
    """Return what coils see whose axes are turned with a cartridge that leans clockwise from the front.

    The left axis stands at 45 degrees in (x, y), the right one at -45; both turn by -azimuth.
    """
    x, y = (left + right) / np.sqrt(2.0), (left - right) / np.sqrt(2.0)
    axes = np.radians([45.0 - azimuth_deg, -45.0 - azimuth_deg])
    return x * np.cos(axes[0]) + y * np.sin(axes[0]), x * np.cos(axes[1]) + y * np.sin(axes[1])
