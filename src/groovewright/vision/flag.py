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
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import (
    FLAG_CELL_MM,
    FLAG_WIDTH_MM,
    FLANGE_DEPTH_MM,
    NULL_NAMES,
    PANEL_HEIGHT_MM,
    flag_marker_corners,
    flag_saddles,
)
from groovewright.vision.camera import SIZE, on_plane, project
from groovewright.vision.flag_shape import (
    BY_HAND_SD,
    FOLD_SD,
    USUAL,
    USUAL_HEIGHT_MM,
    USUAL_SD,
    flag_points,
    is_plausible,
)
from groovewright.vision.fold import mended_by_fold
from groovewright.vision.load import Photo
from groovewright.vision.marks import Code, Target, find_codes, first_map, measure_saddles, sample
from groovewright.vision.patches import PIECES, Locate, Measured, measure_pieces
from groovewright.vision.sheet_view import NOISE_FLOOR_PX, SheetView
from groovewright.vision.solve import ROUGHLY, Solution, fit, information_of

_SADDLES = flag_saddles()
_ON_FLANGE = np.array([s.on_flange for s in _SADDLES])
_AT = np.array([s.at for s in _SADDLES])
_BLACK_FIRST = np.array([s.black_first for s in _SADDLES])
_RUNG = np.array([s.rung_mm for s in _SADDLES])

_HALF = FLAG_WIDTH_MM / 2.0
_RIM = np.array([[-_HALF, FLANGE_DEPTH_MM], [_HALF, FLANGE_DEPTH_MM], [_HALF, 0.0],
                 [_HALF, PANEL_HEIGHT_MM], [-_HALF, PANEL_HEIGHT_MM], [-_HALF, 0.0]])  # fmt: skip
_RIM_ON_FLANGE = np.array([True, True, True, False, False, False])

FARTHEST_MM = 45.0
"""A flag in use is this near the null; the one still printed on the sheet is not."""
FROM_ABOVE_MM, FROM_ABOVE_FRONT_MM, FROM_ABOVE_PX_PER_MM = 28.0, 6.0, 10.0
"""The view from above that is searched once more: half its side, its middle before the null, its scale."""
SLACKS = (0.5, 0.3)
"""How far a corner may lie from where it is expected, in sides of a square: at first, and once fitted."""
FEWEST_CORNERS = 6
FEWEST_PIECES = 8
FEWEST_ON_PANEL = 3
FLAT_PANEL_PX = 5.25
"""A panel whose pieces are less than twice so high in the picture is measured as a whole, with the fold."""
ROUNDS = 2
"""How often the pieces are measured, each time from where the last fit has them."""
_FREEDOM = 8.0


@dataclass(frozen=True)
class FlagView:
    """The flag in a photograph: its yaw against the null's front or side, and how it was known.

    `fold_seen`: the panel is measured as a whole, with the fold.
    `by_hand` holds the yaw and what BY_HAND_SD names, less what is usual, with their covariance; degrees and mm.
    [shapes (8,), (8, 8)]
    """

    yaw_deg: float
    sd_deg: float
    on_side: bool
    corners: int
    height_mm: float
    pixels: FloatArray
    residual_px: float
    lean_deg: float
    fold_deg: float
    panel_seen: bool
    fold_seen: bool
    outline_px: FloatArray
    by_hand: FloatArray
    covariance: FloatArray


def see_flag(photo: Photo, codes: Sequence[Code], view: SheetView) -> FlagView | None:
    """Return the flag as the photograph shows it at this grid; None where it isn't there or can't be measured."""
    placed = _placed(photo, codes, view)
    if placed is None:
        return None
    flag, measured = placed
    used, found, folded = _fitted_whole(photo, view, flag, measured)
    on, at, seen = PIECES.on_flange[used], PIECES.at[used], measured.pixels[used]
    values, flag, kept = found.values[:SIZE], found.values[SIZE:], found.kept
    if kept.sum() < FEWEST_PIECES or not is_plausible(flag):
        return None
    away = np.hypot(*(project(values, flag_points(flag, on, at)) - seen).T)
    # a median over few pieces, of which the fit has taken some freedom, comes out too small
    shrunk = 2.0 * kept.sum() / max(2.0, 2.0 * kept.sum() - _FREEDOM)
    covariance = found.covariance[SIZE:, SIZE:]
    if folded is not None:
        flag, covariance = folded
    by_hand, covariance = _by_hand(flag, covariance, shrunk)
    quarter = round(math.degrees(flag[3]) / 90.0)
    outline = flag_points(flag, _RIM_ON_FLANGE, _RIM)
    return FlagView(
        float(by_hand[0]),
        math.sqrt(float(covariance[0, 0])),
        quarter % 2 != 0,
        int(kept.sum()),
        -float(flag[2]),
        seen[kept],
        float(np.sqrt((away[kept] ** 2).mean())),
        math.degrees(flag[5]),
        math.degrees(flag[6]),
        folded is not None or int((~on[kept]).sum()) >= FEWEST_ON_PANEL,
        folded is not None,
        project(values, outline),
        by_hand,
        covariance,
    )


def _placed(photo: Photo, codes: Sequence[Code], view: SheetView) -> tuple[FloatArray, Measured] | None:
    """Return where the flag is about, and its pieces measured from there; None where it isn't there."""
    flag = _first_guess(codes, view)
    if flag is None:
        return None
    for slack in SLACKS:
        seen, good, _ = measure_saddles(photo.gray, view.pose.values, _flag_target(flag), slack)
        if good.sum() < FEWEST_CORNERS:
            break
        flag = _alone(flag, seen[good], _ON_FLANGE[good], _AT[good], view, NOISE_FLOOR_PX, FOLD_SD).values
    values = view.pose.values
    measured = measure_pieces(photo.gray, _located(values, flag))
    for _ in range(ROUNDS - 1):
        if measured is None or measured.good.sum() < FEWEST_PIECES:
            return None
        good, seen = measured.good, measured.pixels[measured.good]
        flag = _alone(
            flag, seen, PIECES.on_flange[good], PIECES.at[good], view, NOISE_FLOOR_PX, FOLD_SD
        ).values
        measured = measure_pieces(photo.gray, _located(values, flag), measured)
    if measured is None or measured.good.sum() < FEWEST_PIECES:
        return None
    return flag, measured


def _fitted_whole(
    photo: Photo, view: SheetView, flag: FloatArray, measured: Measured
) -> tuple[NDArray[np.intp], Solution, tuple[FloatArray, FloatArray] | None]:
    """Return the pieces used, camera and flag fitted to them, and the flag mended by its fold where that was needed."""

    def fitted(used: NDArray[np.intp]) -> Solution:
        pixels, sd = measured.pixels[used], measured.sd_px[used]
        return _joint_fit(view, flag, PIECES.on_flange[used], PIECES.at[used], pixels, sd)

    every = np.flatnonzero(measured.good)
    flange = every[PIECES.on_flange[every]]
    high = float(np.median(measured.half_px[~PIECES.on_flange]))
    if high > FLAT_PANEL_PX or len(flange) < FEWEST_PIECES:
        return every, fitted(every), None
    found = fitted(flange)
    values, placed, known = found.values[:SIZE], found.values[SIZE:], found.covariance[SIZE:, SIZE:]
    folded = mended_by_fold(photo.gray, values, placed, known, measured.blur_px, measured.gain_mm)
    if folded is None and len(flange) < len(every):
        return every, fitted(every), None
    return flange, found, folded


def _by_hand(flag: FloatArray, covariance: FloatArray, shrunk: float) -> tuple[FloatArray, FloatArray]:
    """Return the yaw and how the flag was folded and put on, with covariance, in degrees and mm.

    `shrunk` is by how much the variance of what was measured, but not of what is usual, came out too small.
    """
    unit = np.array([math.degrees(1.0)] * 5 + [1.0] * 3)
    values = (flag - USUAL)[3:] * unit
    values[0] -= 90.0 * round(values[0] / 90.0)
    known = np.linalg.inv(covariance[3:, 3:] * np.outer(unit, unit))
    usual = np.diag([0.0, *np.array(list(BY_HAND_SD.values())) ** -2.0])
    return values, np.linalg.inv((known - usual) / shrunk + usual)


def _located(values: FloatArray, flag: FloatArray) -> Locate:
    """Return what takes printed places of the flag to pixels."""
    return lambda on_flange, at: project(values, flag_points(flag, on_flange, at))


def _flag_target(flag: FloatArray) -> Target:
    places = flag_points(flag, _ON_FLANGE, _AT)
    none = np.zeros(len(_AT))
    side_x = flag_points(flag, _ON_FLANGE, _AT + np.column_stack([none + FLAG_CELL_MM, none])) - places
    side_y = flag_points(flag, _ON_FLANGE, _AT + np.column_stack([none, _RUNG])) - places
    return Target(places, side_x, side_y, _BLACK_FIRST)


def _joint_fit(
    view: SheetView,
    flag: FloatArray,
    on_flange: np.ndarray,
    at: FloatArray,
    seen: FloatArray,
    sd: FloatArray,
) -> Solution:
    """Return camera and flag fitted together to the flag's pieces and to what the sheet says of the camera."""
    information = np.zeros((SIZE + len(USUAL), SIZE + len(USUAL)))
    information[:SIZE, :SIZE] = np.linalg.inv(view.pose.covariance)
    information[SIZE:, SIZE:] = information_of(USUAL_SD)

    def residuals(values: FloatArray) -> FloatArray:
        drawn = project(values[..., :SIZE], flag_points(values[..., SIZE:], on_flange, at))
        return np.asarray((drawn - seen) / sd[:, None])

    return fit(
        residuals,
        np.concatenate([view.pose.values, flag]),
        np.concatenate([view.pose.values, USUAL]),
        information,
        noise_floor=1.0,
        noise_start=2.0,
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
    flag = USUAL.copy()
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
    return found if is_plausible(found) else flag


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
        USUAL,
        information_of(np.concatenate([USUAL_SD[:6], [fold_sd], USUAL_SD[7:]])),
        noise_floor=noise_floor,
        noise_start=3.0,
        settled=ROUGHLY,
    )
