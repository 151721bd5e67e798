"""Is the paper flat, and is it paper? What the sheet's corners and its blank places say.

A curled sheet is found by fitting the camera once more together with a height

    h = a x^2 + b x y + c y^2

over its corners; it is put right in the view and said. A print that is stretched in one direction can't be told from a
slightly different view of a true one, nor can a scale that is wrong in all directions alike: nothing in the
picture has a known length. That is what the sheet's two bars are for.
"""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import SIZE, CameraPose, project
from groovewright.vision.load import Photo
from groovewright.vision.sheet_view import NOISE_FLOOR_PX, SheetView
from groovewright.vision.solve import Solution, fit, information_of

CURL_SD = np.full(3, 1e-3)
"""What is usual, in 1/mm: a curl of 1 mm over 30."""
CERTAIN = 4.0
"""A curl that is this many standard deviations from none is there."""
LEAST_CURL_MM = 0.4
REACH_MM = 45.0
"""Half the length of a grid with its strips, over which a curl is stated."""

WINDOW_MM = 11.0
SCREEN_PLACES_MM = ((27.5, 12.0), (27.5, -12.0), (-27.5, 12.0), (-27.5, -12.0))
"""Middles of white paper beside the grids on which nothing is printed."""
SCREEN_PEAK = 90.0
"""Power of a lone peak over the median of its surroundings: noise of as many bins stays below 25."""
LEAST_WINDOW_PX = 40
LEAST_NOISE = 1.0
"""Gray levels: JPEG leaves less on smooth paper, but in few frequencies, which then stand alone."""


def flattened(view: SheetView) -> tuple[SheetView, float]:
    """Return the view with the paper's curl put right, and the curl in mm; the view itself and 0 where it is flat."""
    found = _curl(view)
    curl, sd = found.values[SIZE:], np.sqrt(np.diag(found.covariance)[SIZE:])
    size = float(np.abs(curl * (np.abs(curl) > CERTAIN * sd)).max()) * REACH_MM**2
    if size < LEAST_CURL_MM:
        return view, 0.0
    pose = CameraPose(found.values[:SIZE], found.covariance[:SIZE, :SIZE])
    return replace(view, pose=pose, places=curled(view.places, curl), noise_px=found.noise), size


def curled(places: FloatArray, curl: FloatArray) -> FloatArray:
    """Return places of flat paper on paper that is curled. [shapes (n, 3), (..., 3) to (..., n, 3)]"""
    x, y = places[:, 0], places[:, 1]
    height = curl @ np.stack([x**2, x * y, y**2])
    return np.stack([np.broadcast_to(x, height.shape), np.broadcast_to(y, height.shape), -height], axis=-1)


def _curl(view: SheetView) -> Solution:
    def residuals(values: FloatArray) -> FloatArray:
        return np.asarray(project(values[..., :SIZE], curled(view.places, values[..., SIZE:])) - view.pixels)

    information = np.zeros((SIZE + 3, SIZE + 3))
    information[:SIZE, :SIZE] = information_of(view.prior[1])
    information[SIZE:, SIZE:] = information_of(CURL_SD)
    return fit(
        residuals,
        np.concatenate([view.pose.values, np.zeros(3)]),
        np.concatenate([view.prior[0], np.zeros(3)]),
        information,
        noise_floor=NOISE_FLOOR_PX,
        noise_start=view.noise_px,
    )


def looks_like_a_screen(photo: Photo, view: SheetView) -> bool:
    """Return whether white paper beside the grid shows the regular pattern of a screen's pixels.

    Paper is even but for noise; a screen's pixels, or their moire with the camera's, give lone peaks in the
    spectrum. Multiples of 1/8 along the rows and columns are left out: JPEG's blocks are there.
    """
    peaks = [peak for middle in SCREEN_PLACES_MM if (peak := _lone_peak(photo, view, middle)) > 0.0]
    return len(peaks) >= 2 and float(np.median(peaks)) > SCREEN_PEAK


def _lone_peak(photo: Photo, view: SheetView, middle: tuple[float, float]) -> float:
    """Return the strongest peak in the spectrum of a piece of paper, over the median round it; 0: none."""
    half = WINDOW_MM / 2.0
    corners = np.array([[middle[0] + a * half, middle[1] + b * half, 0.0] for a, b in
                        ((-1, -1), (1, -1), (1, 1), (-1, 1))])  # fmt: skip
    pixels = project(view.pose.values, corners)
    centre = pixels.mean(axis=0)
    # the largest upright square of pixels inside the piece, whichever way it is turned
    sides, out = np.roll(pixels, -1, axis=0) - pixels, centre - pixels
    away = np.abs(sides[:, 0] * out[:, 1] - sides[:, 1] * out[:, 0])
    inner = float((away / np.abs(sides).sum(axis=1)).min())
    low = np.ceil(centre - inner).astype(int)
    size = int(min(2.0 * inner, 128.0))
    if size < LEAST_WINDOW_PX or (low < 0).any() or (low + size > photo.size).any():
        return 0.0
    piece = photo.gray[low[1] : low[1] + size, low[0] : low[0] + size].astype(np.float32)
    level = cv2.GaussianBlur(piece, (0, 0), 6.0)
    if float(level.min()) < 60.0 or float(level.max() - level.min()) > 60.0:
        return 0.0
    window = np.hanning(size)
    power = np.abs(np.fft.rfft2((piece - level) * np.outer(window, window))) ** 2
    down, across = np.abs(np.fft.fftfreq(size))[:, None], np.fft.rfftfreq(size)[None, :]
    step = 2.5 / size
    blocks = (np.abs(8.0 * across - np.round(8.0 * across)) < 8.0 * step) & (down < step)
    blocks |= (np.abs(8.0 * down - np.round(8.0 * down)) < 8.0 * step) & (across < step)
    radius = np.hypot(down, across)
    used = (radius > 0.06) & ~blocks
    # the median of the power of white noise (an exponential law) is ln 2 of its mean
    least = math.log(2.0) * LEAST_NOISE**2 * float((window**2).sum()) ** 2
    best = 0.0
    for ring in np.arange(0.06, 0.5, 0.06):
        here = power[used & (radius >= ring) & (radius < ring + 0.06)]
        if len(here) > 20:
            best = max(best, float(here.max() / max(float(np.median(here)), least)))
    return best
