"""The edges of a body that is looked at from above: the front's level edge from corner to corner, and its sides.

Where a front edge was found only about, its middle is measured first; from there it is followed to both sides as far as
it shows, and measured over all of that. The two sides start at the ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.beside import CLEAR_BLURS, CLEAR_PX, PrintShare, print_beside, sheet_farther
from groovewright.vision.body_edges import (
    CLEAN_MISFIT,
    LONG_SHARE,
    NEAR_PX,
    REACH_MM,
    REACH_PX,
    SHADOW,
    SKIP_MM,
    WRONG,
    measured,
    trimmed,
)
from groovewright.vision.box import BoxEdge, sight_plane
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.edge_fit import FittedEdge
from groovewright.vision.edge_model import BOTH_SHEET
from groovewright.vision.front_line import LEVEL_MM, FrontLine
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.headshell import headshell_behind, square_sides
from groovewright.vision.load import Photo
from groovewright.vision.strip import TICK_PX, Strip, strip_along

MIDDLE_MM = (0.3, 1.3, 2.8)
"""What is left out at the ends of a front edge before its corners are known."""
FOLLOWED_MM, SMOOTHED_PX, HELD = 4.0, 5, 0.5
"""How far a front edge is followed beyond its measured middle, over how many pixels its step is averaged, and which
share of the middle's step it keeps there."""
BAND_PX = 2.0
SHORTEST_MM, LONGEST_MM = 6.5, 26.0
"""What goes on for less is hardly a front, and for more none: bodies are 14 to 20 mm wide (common practice)."""
SIDES_MM, BESIDE_MM = (6.0, 3.5, 2.0), (-0.8, 3.2)
"""How far back a side is looked at, as far as the headshell lets it show, and where beside the corner, which may be
cut."""
BEFORE_MM, BEHIND_MM, CLOSE_MM = 1.2, (2.5, 9.0), 0.6
"""How far before a front edge the sheet has to show, and how far behind it nothing of it may: back to the null and
beyond, at least and at most; and not close to it either, or it is a line of the sheet a little before the front."""
FACE_MM, FARTHER_MM, FARTHER_SHARE = 14.0, (0.0, 2.0, 4.0), 0.7
"""How high a front face is at most, how far before it the sheet has to show where something flat lies between, and over
which middle share of the front, or half of that: at its ends the sheet shows beside a body."""
UPRIGHT_MM, LEAST_UPRIGHT_MM, PITCH_DEG = (4.0, 15.0), 1.5, 1.0
"""Between which heights an upright edge may lie, and how far it has to reach beside a front's edge, in mm, to be left
out."""
LESS_MISFIT = 0.5
"""What was measured over the whole edge takes the place of its middle where it tells the direction better, leaves less
than this share of its misfit, or shows that it is doubtful."""
END_BLURS, END_PX = 2.0, 1.5
"""An edge isn't measured nearer to its ends than so many standard deviations of the blur and pixels."""


@dataclass(frozen=True)
class FrontSeen:
    """A front's level edge and what shows of its two sides, the front first.

    `outline`: it is the body's outline, or its front's upper edge with the face before it. `foremost`: the sheet shows
    right before it. `clean`: it was measured over nearly all of it, and little is left over. `before_headshell`: an
    edge of a headshell shows behind it. `alone`: none does and the sides don't tell, so that it may be the headshell's.
    """

    edges: list[BoxEdge]
    outline: bool
    foremost: bool
    clean: bool
    before_headshell: bool
    alone: bool


def front_edges(
    photo: Photo, pose: CameraPose, shown: GridPrint, line: FrontLine, ends: FloatArray
) -> FrontSeen | None:
    """Return the front's edge near its ends in the picture; None where it can't be measured. [shape=(2, 2)]"""
    per_mm = float(np.hypot(*(ends[1] - ends[0]))) / (line.right_mm - line.left_mm)
    reach = float(np.clip(REACH_MM * per_mm, *REACH_PX))
    front = measured(photo, pose, shown, [trimmed(ends, trim * per_mm) for trim in MIDDLE_MM], reach)
    if front is None:
        return None
    run = followed(photo, pose, shown, front, FOLLOWED_MM * per_mm)
    if run is None:
        return None
    ahead = project(pose.values, line.places(np.zeros(1), np.array([line.ahead_mm + 1.0])))[0]
    level = without_uprights(pose, run, ahead, CLEAR_BLURS * shown.blur_px + BAND_PX)
    whole = measured(photo, pose, shown, [trimmed(level, END_BLURS * shown.blur_px + END_PX)], NEAR_PX)
    if whole is not None and (
        whole.edge.turn_sd < front.edge.turn_sd
        or whole.misfit < LESS_MISFIT * front.misfit
        or whole.doubt_px > front.doubt_px
        or level is not run
    ):
        front = whole
    if level is run:
        # along the better direction its corners are told better, and whether it is a tool's that lies along a front
        whole_run = followed(photo, pose, shown, front, _beyond(front, LONGEST_MM * per_mm, shown.blur_px))
        run = run if whole_run is None else whole_run
    length_mm = float(np.hypot(*(run[1] - run[0]))) / per_mm
    if length_mm > LONGEST_MM:
        return None
    before, behind, close = _beside(photo, pose, shown, front, ahead, line.ahead_mm)
    if behind.sheet or close.sheet:
        return None
    shell = headshell_behind(photo, pose, shown, run, ahead)
    # without either it is no outline, and has no sides
    sides = sides_behind(photo, pose, shown, run) if before.sheet or shell else []
    square = square_sides(pose, run, sides)
    upper = (
        not before.sheet
        and shell
        and ((square and not before.covered) or _sheet_before_face(photo, pose, shown, front, ahead))
    )
    outline = before.sheet or upper
    # right beside it the sheet shows on both sides: it may be a shadow's rim before the front
    rim = front.sides == BOTH_SHEET and front.shadow > SHADOW
    hidden = length_mm < SHORTEST_MM or rim or not outline
    wrong = "hidden" if hidden else "outline" if behind.covered and before.sheet else "free"
    wrong = "covered" if before.covered and not upper else wrong
    edge = BoxEdge(front.edge, sight_plane(front.edge, pose), "across", wrong=WRONG[wrong])
    alone = before.sheet and not shell and not square
    clean = front.edge.share > LONG_SHARE and front.misfit < CLEAN_MISFIT
    return FrontSeen([edge, *sides], outline, before.sheet, clean, outline and shell, alone)


def _beyond(front: FittedEdge, longest_px: float, blur_px: float) -> float:
    """Return how far an edge has to be followed beyond its ends to tell whether it is longer than a front's."""
    length = float(np.hypot(*np.diff(front.edge.ends(), axis=0)[0]))
    return 0.5 * (longest_px - length) + END_BLURS * blur_px + END_PX + 2.0 * SMOOTHED_PX


def _sheet_before_face(
    photo: Photo, pose: CameraPose, shown: GridPrint, front: FittedEdge, ahead: FloatArray
) -> bool:
    """Return whether the sheet shows where the front's face ends below its upper edge, or a little farther ahead.

    `ahead` is a pixel before the edge. [shape=(2,)]
    """
    a, b = front.edge.ends()
    _, normal, up = _axes(pose, np.array([a, b]), ahead)
    face = max(0.0, -float(up @ normal)) * FACE_MM / (UPRIGHT_MM[1] - UPRIGHT_MM[0])
    near = CLEAR_BLURS * shown.blur_px + CLEAR_PX + face
    per_mm, half = pose.px_per_mm(), 0.5 * FARTHER_SHARE
    low, middle, high = ((1.0 - at) * a + at * b for at in (0.5 - half, 0.5, 0.5 + half))
    parts = [((low, middle), 0.0), ((middle, high), 0.0), *(((low, high), far) for far in FARTHER_MM)]
    return any(
        sheet_farther(photo, pose, shown, np.array(part), (near + far * per_mm) * normal, BEFORE_MM)
        for part, far in parts
    )


def _axes(pose: CameraPose, run: FloatArray, ahead: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the unit direction of a front's edge in the picture, the one before it, and how an upright there shows.

    `run` are its ends, `ahead` a pixel before it. [shapes (2, 2), (2,)]
    """
    way = (run[1] - run[0]) / max(1e-9, float(np.hypot(*(run[1] - run[0]))))
    normal = np.array([-way[1], way[0]])
    normal = normal if float((ahead - run[0]) @ normal) > 0.0 else -normal
    middle = on_plane(pose.values, run, LEVEL_MM).mean(axis=0)
    up = np.diff(project(pose.values, np.array([[*middle, -height] for height in UPRIGHT_MM])), axis=0)[0]
    return way, normal, up


def without_uprights(pose: CameraPose, run: FloatArray, ahead: FloatArray, near_px: float) -> FloatArray:
    """Return a front's edge without the ends at which an upright edge goes on in nearly the same direction.

    Seen from aside the front's upper edge lies beside its lower one, and the upright between them makes the two look
    like one longer edge. Which of the two is foremost tells at which end; where pitch decides it, either.

    `run` are its ends, `ahead` a pixel before it; what goes off by more than `near_px` isn't followed anyway.
    [shapes (2, 2), (2,)]
    """
    way, normal, up = _axes(pose, run, ahead)
    per_mm = pose.px_per_mm()
    along, forward = float(up @ way), float(up @ normal)
    if abs(along) < LEAST_UPRIGHT_MM * per_mm or abs(forward) > near_px:
        return run
    pitched = math.radians(PITCH_DEG) * (UPRIGHT_MM[1] - UPRIGHT_MM[0]) * per_mm
    ends = np.array(run)
    # the lower edge is followed upwards, the upper one downwards
    if forward < pitched:
        ends[1 if along > 0.0 else 0] -= along * way
    if forward > -pitched:
        ends[0 if along > 0.0 else 1] += along * way
    return ends


def sides_behind(photo: Photo, pose: CameraPose, shown: GridPrint, corners: FloatArray) -> list[BoxEdge]:
    """Return the edges along the body that start near the ends of its front's edge in the picture. [shape=(2, 2)]"""
    places = on_plane(pose.values, corners, LEVEL_MM)
    left, right = places[np.argsort(places[:, 0])]
    across = (right - left) / max(1e-9, float(np.hypot(*(right - left))))
    back = np.array([across[1], -across[0]])
    found = []
    for corner, outward in ((left, -across), (right, across)):
        lines = []
        for far in SIDES_MM:
            middle = corner + 0.5 * (BESIDE_MM[0] + BESIDE_MM[1]) * outward
            ends = _level(pose, np.array([middle + at * back for at in (SKIP_MM, SKIP_MM + far)]))
            beside = _level(pose, np.array([middle, middle + 0.5 * (BESIDE_MM[1] - BESIDE_MM[0]) * outward]))
            reach = float(np.hypot(*(beside[1] - beside[0])))
            strip = strip_along(photo, pose, shown, ends, reach)
            if strip is None:
                continue
            off = strongest(strip, reach)
            lines.append(ends + off * strip.normal)
        side = measured(photo, pose, shown, lines, NEAR_PX) if lines else None
        if side is not None:
            found.append(BoxEdge(side.edge, sight_plane(side.edge, pose), "along", wrong=WRONG["top"]))
    return found


def strongest(strip: Strip, reach_px: float) -> float:
    """Return how far beside a strip's line an edge that runs along it changes the light most.

    Lines of the sheet are divided out where they show, as an edge shows with and without.
    """
    width = max(1.0, strip.blur_px) / TICK_PX
    ticks = np.arange(-np.ceil(3.0 * width), np.ceil(3.0 * width) + 1.0)
    kernel = ticks * np.exp(-0.5 * (ticks / width) ** 2)
    changes = []
    for light in (strip.light, strip.light / strip.shown):
        profile = np.pad(light.mean(axis=0), len(ticks) // 2, mode="edge")
        changes.append(np.abs(np.convolve(profile, kernel, mode="valid")))
    both = np.where(np.abs(strip.across) <= reach_px, np.minimum(*changes), -1.0)
    return float(strip.across[int(np.argmax(both))])


def _level(pose: CameraPose, places: FloatArray) -> FloatArray:
    """Return the pixels of places on the level plane. [shape=(n, 2)]"""
    return np.asarray(project(pose.values, np.column_stack([places, np.full(len(places), -LEVEL_MM)])))


def _beside(
    photo: Photo, pose: CameraPose, shown: GridPrint, front: FittedEdge, ahead: FloatArray, ahead_mm: float
) -> list[PrintShare]:
    """Return how the sheet's print shows before a front edge, behind it, and close behind it. [shape=(2,)]"""
    a, b = front.edge.ends()
    way = 1.0 if float(np.array([a[1] - b[1], b[0] - a[0]]) @ (ahead - a)) > 0.0 else -1.0
    behind_mm = float(np.clip(ahead_mm + BEHIND_MM[0], *BEHIND_MM))
    return print_beside(photo, pose, shown, front.edge, (way * BEFORE_MM, -way * behind_mm, -way * CLOSE_MM))


def followed(
    photo: Photo, pose: CameraPose, shown: GridPrint, front: FittedEdge, far_px: float
) -> FloatArray | None:
    """Return the ends up to which an edge goes on beyond what was measured of it, its blurred ends included.

    [shape=(2, 2)]
    """
    a, b = front.edge.ends()
    along = (b - a) / max(1e-9, float(np.hypot(*(b - a))))
    strip = strip_along(photo, pose, shown, np.array([a - far_px * along, b + far_px * along]), BAND_PX)
    if strip is None:
        return None
    near = 1.2 * strip.blur_px + 0.5
    lights = []
    for side, what in zip((-1.0, 1.0), front.sides, strict=True):
        band = (side * strip.across > near) & (side * strip.across < near + BAND_PX)
        light = strip.light / strip.shown if what == "sheet" else strip.light
        lights.append(light[:, band].mean(axis=1))
    step = lights[1] - lights[0]
    middle = (strip.stations > far_px) & (strip.stations < strip.stations[-1] - far_px)
    usual = float(np.median(step[middle]))
    if not middle.any() or usual == 0.0:
        return None
    kernel = np.ones(SMOOTHED_PX) / SMOOTHED_PX
    smooth = np.convolve(np.pad(step, SMOOTHED_PX // 2, mode="edge"), kernel, mode="valid") / usual
    within = np.flatnonzero(middle & (np.abs(smooth) > HELD))
    if front.edge.share < LONG_SHARE or not len(within):
        within = np.flatnonzero(middle)[[middle.sum() // 2]]
    # where a shadow begins the step may change its sign
    low, high = (
        k + way * int(np.argmin(np.append(smooth[k::way] * np.sign(smooth[k]) > HELD, False)))
        for k, way in ((int(within[0]), -1), (int(within[-1]), 1))
    )
    first, last = strip.stations[low + 1], strip.stations[high - 1]
    return None if last <= first else np.array([strip.start + first * along, strip.start + last * along])
