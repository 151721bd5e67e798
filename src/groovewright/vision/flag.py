"""The flag: a folded strip flush on the cartridge's front or side face, found and measured in a photograph.

Unknown are the fold's middle, the yaw of the panel, its pitch, its lean in the plane of the face, and the
fold's angle; they are fitted to the flag's saddle corners together with the camera, whose corners on the
sheet enter the same least squares. So what the camera does not know goes into the flag's uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import (
    FLAG_CELL_MM,
    NULL_NAMES,
    flag_marker_corners,
    flag_saddles,
)
from groovewright.vision.camera import SIZE, on_plane, project
from groovewright.vision.load import Photo
from groovewright.vision.marks import Code, Target, find_codes, first_map, measure_saddles, sample
from groovewright.vision.sheet_view import NOISE_FLOOR_PX, SheetView
from groovewright.vision.solve import Solution, fit

_SADDLES = flag_saddles()
_ON_FLANGE = np.array([s.on_flange for s in _SADDLES])
_AT = np.array([s.at for s in _SADDLES])
_BLACK_FIRST = np.array([s.black_first for s in _SADDLES])

PITCH_SD = math.radians(2.0)
LEAN_SD = math.radians(2.0)
FOLD_SD = math.radians(12.0)
"""How a strip is put on by hand: the face's pitch, the strip's lean on it, and its fold about a right angle."""
USUAL_HEIGHT_MM = 6.0
HEIGHT_SD_MM = 8.0
_USUAL = np.array([0.0, 0.0, -USUAL_HEIGHT_MM, 0.0, 0.0, 0.0, math.pi / 2.0])
FARTHEST_MM = 45.0
"""A flag in use is this near the null; the one still printed on the sheet is not."""
FROM_ABOVE_MM, FROM_ABOVE_FRONT_MM, FROM_ABOVE_PX_PER_MM = 28.0, 6.0, 10.0
"""The view from above that is searched once more: half its side, its middle before the null, its scale."""
SLACKS = (0.5, 0.3)
"""How far a corner may lie from where it is expected, in sides of a square: at first, and once fitted."""
FEWEST_CORNERS = 6
MISSING_CORNER = 0.2
"""What hides or spoils a corner spoils its neighbours too: the uncertainty grows by this share for each."""
_FREEDOM = 5.0
_SMALL_CELL_PX = 7.0
"""Squares this small in the picture are measured with twice the noise: their neighbours come into the window."""


@dataclass(frozen=True)
class FlagView:
    """The flag in a photograph: its yaw against the null's front or side, and how it was known."""

    yaw_deg: float
    sd_deg: float
    on_side: bool
    corners: int
    height_mm: float
    pixels: FloatArray
    residual_px: float
    lean_deg: float
    fold_deg: float
    outline_px: FloatArray


def flag_points(flag: FloatArray, on_flange: np.ndarray, at: FloatArray) -> FloatArray:
    """Return places of the flag in the grid's frame (z down). [shape=(n, 3)]

    `flag` holds the fold's middle (x, y, z), yaw, pitch, lean and fold angle, in mm and radians.
    """
    yaw, pitch, lean, fold = flag[3:7]
    turn = np.array(
        [[math.cos(yaw), -math.sin(yaw), 0.0], [math.sin(yaw), math.cos(yaw), 0.0], [0.0, 0.0, 1.0]]
    )
    lift = np.array(
        [[1.0, 0.0, 0.0], [0.0, math.cos(pitch), math.sin(pitch)], [0.0, -math.sin(pitch), math.cos(pitch)]]
    )
    attitude = turn @ lift
    # seen from the front the printed x runs to the left, which is inward
    along = attitude @ np.array([-math.cos(lean), 0.0, math.sin(lean)])
    up = attitude @ np.array([-math.sin(lean), 0.0, -math.cos(lean)])
    ahead = attitude @ np.array([0.0, 1.0, 0.0])
    away = np.where(on_flange[:, None], math.sin(fold) * ahead + math.cos(fold) * up, up)
    return np.asarray(flag[:3] + at[:, :1] * along + at[:, 1:] * away)


def see_flag(photo: Photo, codes: Sequence[Code], view: SheetView) -> FlagView | None:
    """Return the flag as the photograph shows it at this grid; None where it isn't there or can't be measured."""
    start = _first_guess(codes, view)
    if start is None:
        return None
    flag = start
    seen, good, cell = np.zeros((0, 2)), np.zeros(0, dtype=bool), np.zeros(0)
    solution: Solution | None = None
    for slack in SLACKS:
        seen, good, cell = measure_saddles(photo.gray, view.pose.values, _flag_target(flag), slack)
        if good.sum() < FEWEST_CORNERS:
            return None
        alone = _alone(flag, seen[good], _ON_FLANGE[good], _AT[good], view, NOISE_FLOOR_PX, FOLD_SD)
        flag = alone.values
        blur = 1.0 + (_SMALL_CELL_PX / cell[good]) ** 3
        away = project(view.pose.values, flag_points(flag, _ON_FLANGE[good], _AT[good])) - seen[good]
        # a median over few corners, of which the fit has taken some freedom, comes out too small
        shrunk = math.sqrt(2.0 * good.sum() / max(2.0, 2.0 * good.sum() - _FREEDOM))
        noise = max(view.noise_px, shrunk * float(np.median(np.hypot(*away.T) / blur)) / 1.1774)
        trust = view.noise_px / noise / blur
        if slack == SLACKS[-1]:
            solution = _joint_fit(view, flag, seen, good, trust)
            flag = solution.values[SIZE:]
    if solution is None:
        return None
    kept = solution.kept[len(view.places) :]
    if kept.sum() < FEWEST_CORNERS or not _plausible(flag):
        return None
    away = project(solution.values, flag_points(flag, _ON_FLANGE[good], _AT[good])) - seen[good]
    yaw = math.degrees(flag[3])
    quarter = round(yaw / 90.0)
    rim = np.array([[-10.0, 12.0], [10.0, 12.0], [10.0, 0.0], [10.0, 9.0], [-10.0, 9.0], [-10.0, 0.0]])
    outline = flag_points(flag, np.array([True, True, True, False, False, False]), rim)
    return FlagView(
        yaw - 90.0 * quarter,
        math.degrees(math.sqrt(float(solution.covariance[SIZE + 3, SIZE + 3])))
        * (1.0 + MISSING_CORNER * (len(_AT) - int(kept.sum()))),
        quarter % 2 != 0,
        int(kept.sum()),
        -float(flag[2]),
        seen[good][kept],
        float(np.sqrt((away[kept] ** 2).sum(axis=1).mean())),
        math.degrees(flag[5]),
        math.degrees(flag[6]),
        project(solution.values, outline),
    )


def _flag_target(flag: FloatArray) -> Target:
    places = flag_points(flag, _ON_FLANGE, _AT)
    step = FLAG_CELL_MM * np.ones(len(_AT))
    side_x = flag_points(flag, _ON_FLANGE, _AT + np.column_stack([step, 0.0 * step])) - places
    side_y = flag_points(flag, _ON_FLANGE, _AT + np.column_stack([0.0 * step, step])) - places
    return Target(places, side_x, side_y, _BLACK_FIRST)


def _joint_fit(
    view: SheetView, flag: FloatArray, seen: FloatArray, good: np.ndarray, trust: FloatArray
) -> Solution:
    """Return camera and flag fitted together to the corners of both."""
    pixels = np.vstack([view.pixels, seen[good]])
    weight = np.concatenate([np.ones(len(view.pixels)), trust])[:, None]

    def residuals(values: FloatArray) -> FloatArray:
        on_flag = flag_points(values[SIZE:], _ON_FLANGE[good], _AT[good])
        drawn = project(values[:SIZE], np.vstack([view.places, on_flag]))
        return np.asarray((drawn - pixels) * weight)

    sd = np.array([np.inf, np.inf, HEIGHT_SD_MM, np.inf, PITCH_SD, LEAN_SD, FOLD_SD])
    return fit(
        residuals,
        np.concatenate([view.pose.values, flag]),
        np.concatenate([view.prior[0], _USUAL]),
        np.concatenate([view.prior[1], sd]),
        noise_floor=NOISE_FLOOR_PX,
        noise_start=max(0.3, view.noise_px),
    )


def _plausible(flag: FloatArray) -> bool:
    return bool(
        abs(flag[4]) < math.radians(12.0) and abs(flag[5]) < math.radians(12.0) and -35.0 < flag[2] < 1.0
    )


def _first_guess(codes: Sequence[Code], view: SheetView) -> FloatArray | None:
    """Return fold and yaw from a marker of the flag near the null, taken to be at the usual height."""
    options = []
    for code in codes:
        where = flag_marker_corners(code.code)
        if where is None:
            continue
        away = float(
            np.hypot(
                *on_plane(view.pose.values, code.corners.mean(axis=0, keepdims=True), USUAL_HEIGHT_MM)[0]
            )
        )
        if away < FARTHEST_MM:
            options.append((not where[0], away, code, where))
    if not options:
        return None
    _, _, code, where = min(options, key=lambda option: option[:2])
    return _guess_from(code, where, view)


def nulls_with_flag(codes: Sequence[Code]) -> list[str]:
    """Return the nulls near which a marker of the flag lies, by the markers of their grids alone."""
    found = []
    for null in NULL_NAMES:
        first = first_map(codes, null)
        if first is None:
            continue
        back = np.linalg.inv(first.homography)
        for code in codes:
            if flag_marker_corners(code.code) is not None:
                x, y, w = back @ np.append(code.corners.mean(axis=0), 1.0)
                if abs(w) > 1e-12 and math.hypot(x / w, y / w) < FARTHEST_MM - 10.0:
                    found.append(null)
                    break
    return found


def codes_from_above(photo: Photo, view: SheetView) -> list[Code]:
    """Return the markers found in a view from straight above, drawn at the height where a flag usually is."""
    ticks = np.arange(-FROM_ABOVE_MM, FROM_ABOVE_MM, 1.0 / FROM_ABOVE_PX_PER_MM)
    x, y = np.meshgrid(ticks, ticks + FROM_ABOVE_FRONT_MM)
    places = np.column_stack([x.ravel(), y.ravel(), np.full(x.size, -USUAL_HEIGHT_MM)])
    levels = sample(photo.gray, project(view.pose.values, places)).reshape(x.shape)
    found = find_codes(np.asarray(np.rint(levels), dtype=np.uint8))
    return [
        Code(
            code.code,
            project(
                view.pose.values,
                np.column_stack(
                    [
                        code.corners / FROM_ABOVE_PX_PER_MM
                        + np.array([-FROM_ABOVE_MM, FROM_ABOVE_FRONT_MM - FROM_ABOVE_MM]),
                        np.full(4, -USUAL_HEIGHT_MM),
                    ]
                ),
            ),
        )
        for code in found
    ]


def _guess_from(
    code: Code, where: tuple[bool, tuple[tuple[float, float], ...]], view: SheetView
) -> FloatArray:
    on_flange, corners = where
    at = np.array(corners)
    flag = _USUAL.copy()
    flat = on_plane(view.pose.values, code.corners, USUAL_HEIGHT_MM)
    along = (flat[1] - flat[0]) + (flat[2] - flat[3])
    flag[3] = math.atan2(along[1], along[0]) + math.pi
    flag[3] = (flag[3] + math.pi) % (2.0 * math.pi) - math.pi
    at_flag = flag_points(flag, np.full(4, on_flange), at)
    if on_flange:
        flag[:2] += flat.mean(axis=0) - at_flag[:, :2].mean(axis=0)
        return _refined(flag, code, at, True, view)
    middle = on_plane(
        view.pose.values, code.corners.mean(axis=0, keepdims=True), -float(at_flag[:, 2].mean())
    )
    flag[:2] += middle[0] - at_flag[:, :2].mean(axis=0)
    return _refined(flag, code, at, False, view)


def _refined(flag: FloatArray, code: Code, at: FloatArray, on_flange: bool, view: SheetView) -> FloatArray:
    """Return the guess fitted to the marker's own four corners, with what is usual for the rest."""
    found = _alone(flag, code.corners, np.full(4, on_flange), at, view, 0.5, 0.3 * FOLD_SD).values
    return found if _plausible(found) else flag


def _alone(
    flag: FloatArray,
    pixels: FloatArray,
    on_flange: np.ndarray,
    at: FloatArray,
    view: SheetView,
    noise_floor: float,
    fold_sd: float,
) -> Solution:
    """Return the flag fitted to points of its own, the camera taken as known."""
    return fit(
        lambda values: project(view.pose.values, flag_points(values, on_flange, at)) - pixels,
        flag,
        _USUAL,
        np.array([np.inf, np.inf, HEIGHT_SD_MM, np.inf, PITCH_SD, LEAN_SD, fold_sd]),
        noise_floor=noise_floor,
        noise_start=3.0,
    )
