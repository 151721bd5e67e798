"""The face of the cartridge's body as a photograph may show it, without a flag.

A body is a box that stands a few millimetres above the sheet, high enough to have uprights; the headshell is
too flat for that. Its face lies between two silhouettes: on the side that the camera doesn't see, the upright
corner; on the side that it sees, the lower edge of that side, behind the upright corner. Between them run the
face's lower and upper edge, and no line of the sheet shows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose
from groovewright.vision.front_plane import (
    Facing,
    FrontPlane,
    Segment,
    draw_plane,
    level_edges,
    upright_steps,
    uprights,
)
from groovewright.vision.load import Photo

WIDTHS_MM = (9.0, 26.0)
HEIGHTS_MM = (4.5, 17.0)
"""How wide and how high a face may show on its plane."""
LARGEST_YAW_DEG, YAW_STEP_DEG = 8.0, 0.4
LARGEST_LEAN_DEG, LEAN_STEP_DEG = 14.0, 0.5
NOSE_MM = 6.0
"""A cut corner begins so far above where a sharp one would be."""
USUAL_HEIGHT_MM = 7.0
"""So much of the uprights belongs to the front face for certain, where its upper edge isn't seen."""
SHORTEST_UPRIGHT_MM, SHORTEST_LEVEL_MM = 3.0, 3.0
UPRIGHT_LEAN, ALONG_LEAN = 0.042, 0.06
"""How far the slope on the plane of an upright, or of an edge along the other side, is from what is expected."""
TELLING_LEAN, UNSEEN_LEAN, MIXED = 0.06, 0.008, 0.1
"""Slopes of an edge along the side, outwards: from the first on it is told from an upright by its slope; up to
the second it makes no difference, or isn't seen; between them it may be mixed with the upright by a share."""
LEAN_SCATTER, LEVEL_SCATTER = 0.025, 0.05
"""Deviations of slopes that speak against a face as much as 1 mm of an edge speaks for it."""
MIDDLE_MM = 5.0
"""A level edge covers half of what lies so far to both sides of the null."""
CANDIDATES, BANDS = 30, 12
LEAST_COVERED = 0.4
HIGHEST_FOOT_MM = 11.0
INSIDE_MM = 0.9
SHEET_SHARE = 0.08
"""Heavy lines are darker than the paper beside them by at least so much, where they show."""


@dataclass(frozen=True)
class Side:
    """A silhouette of the face: its segment, what it is ('upright' or 'along'), and how much it may be the other.

    `doubt` is the difference of the two directions on the plane, where both may be; `off` how far the slope
    is from the one expected of a level body; `seen` whether the camera sees the body's side behind it.
    """

    segment: Segment
    kind: str
    doubt: float
    off: float
    seen: bool


@dataclass(frozen=True)
class Face:
    """A face as it may lie on the plane: sides, one or two level edges, its heights, and how much speaks for it.

    `inner` are uprights between its sides.
    """

    left: Side
    right: Side
    levels: tuple[Segment, ...]
    low_mm: float
    high_mm: float
    worth: float
    inner: tuple[Segment, ...] = ()


@dataclass(frozen=True)
class Scene:
    """A plane, the camera, the steps across the plane, and every level segment found."""

    plane: FrontPlane
    pose: CameraPose
    steps: FloatArray
    level: tuple[Segment, ...]


def scene_of(photo: Photo, pose: CameraPose, facing: Facing, marked: Sequence[Segment] = ()) -> Scene:
    """Return the level segments that a photograph shows on a plane, and those that a person marked."""
    plane = draw_plane(photo, pose, facing)
    yaws = np.radians(np.arange(-LARGEST_YAW_DEG, LARGEST_YAW_DEG + 1e-6, YAW_STEP_DEG))
    found = level_edges(plane, -np.tan(yaws) * plane.pitch_mm, SHORTEST_LEVEL_MM)
    return Scene(
        plane,
        pose,
        upright_steps(plane),
        (*marked, *[edge for edge in found if _before_the_null(edge)][:CANDIDATES]),
    )


def _before_the_null(edge: Segment) -> bool:
    """Return whether a level edge may be of a body that stands over the null."""
    left, right = edge.ends[:, 0]
    return bool(right - left < WIDTHS_MM[1] and min(right, MIDDLE_MM) - max(left, -MIDDLE_MM) > MIDDLE_MM)


def faces(scene: Scene) -> list[Face]:
    """Return what may be the body's face, the best first."""
    leans = np.tan(np.radians(np.arange(-LARGEST_LEAN_DEG, LARGEST_LEAN_DEG + 1e-6, LEAN_STEP_DEG)))
    found = []
    for band in _bands(scene.level):
        sides = uprights(scene.plane, scene.steps, leans, (band.low_mm, band.high_mm), SHORTEST_UPRIGHT_MM)
        for left in sides[:CANDIDATES]:
            for right in sides[:CANDIDATES]:
                face = _face_between(scene, band, left, right)
                if face is not None:
                    found.append(replace(face, inner=_inner(face, sides)))
    best = sorted(found, key=lambda face: -face.worth)
    return [face for face in best if not _sheet_inside(scene.plane, face)]


def _inner(face: Face, uprights: Sequence[Segment]) -> tuple[Segment, ...]:
    """Return the uprights between a face's sides that are nearly as high as the face."""
    out = []
    for segment in uprights:
        a, b = (place_at(side.segment, float(segment.ends[0, 1])) for side in (face.left, face.right))
        high = segment.ends[1, 1] - segment.ends[0, 1] > 0.6 * (face.high_mm - face.low_mm)
        if high and a + 0.7 < segment.ends[0, 0] < b - 0.7 and abs(_slope(segment)) < UPRIGHT_LEAN:
            out.append(segment)
    return tuple(out)


@dataclass(frozen=True)
class Band:
    """The heights between which a face may lie, and its level edges."""

    low_mm: float
    high_mm: float
    levels: tuple[Segment, ...]


def _bands(level: Sequence[Segment]) -> list[Band]:
    """Return the bands of heights that level edges suggest, those with most to speak for them first."""
    heights = [float(edge.ends[:, 1].mean()) for edge in level]
    found = []
    for low, below in zip(heights, level, strict=True):
        if low < HIGHEST_FOOT_MM:
            found.append((below.worth, Band(low, low + USUAL_HEIGHT_MM, (below,))))
        for high, above in zip(heights, level, strict=True):
            overlap = min(below.ends[1, 0], above.ends[1, 0]) - max(below.ends[0, 0], above.ends[0, 0])
            parallel = abs(_rise(above) - _rise(below)) < 0.1
            if HEIGHTS_MM[0] < high - low < HEIGHTS_MM[1] and parallel and overlap > SHORTEST_LEVEL_MM:
                found.append((below.worth + above.worth, Band(low, high, (below, above))))
    return [band for _, band in sorted(found, key=lambda pair: -pair[0])[:BANDS]]


def _sheet_inside(plane: FrontPlane, face: Face) -> bool:
    """Return whether the sheet's lines show between the edges: what lies there is no body."""
    slack = INSIDE_MM + 0.25 * max(abs(float(np.diff(edge.ends[:, 1])[0])) for edge in face.levels)
    lowest, highest = face.low_mm + slack, face.high_mm - slack
    for row in range(2):
        low, high = (lowest + (row + k) * 0.5 * (highest - lowest) for k in (0, 1))
        if high - low < 0.3:
            continue
        left = max(place_at(face.left.segment, h) for h in (low, high)) + INSIDE_MM
        right = min(place_at(face.right.segment, h) for h in (low, high)) - INSIDE_MM
        part = (right - left) / 3.0
        # beside the foot of a cut corner the sheet shows
        for column in (1,) if row == 0 else (0, 1, 2):
            if plane.sheet_shows(left + column * part, left + (column + 1) * part, low, high) > SHEET_SHARE:
                return True
    return False


def _slope(upright: Segment) -> float:
    (x0, h0), (x1, h1) = upright.ends
    return float((x1 - x0) / max(h1 - h0, 1e-6))


def place_at(upright: Segment, height: float) -> float:
    """Return where across the plane a segment, drawn on, passes a height."""
    return float(upright.ends[0, 0] + _slope(upright) * (height - upright.ends[0, 1]))


def _rise(level: Segment) -> float:
    (x0, h0), (x1, h1) = level.ends
    return float((h1 - h0) / max(x1 - x0, 1e-6))


def _eye(scene: Scene) -> FloatArray:
    """Return the camera's place across, out of and up the plane, from the null. [shape=(3,)]"""
    x, y, z = scene.pose.position()
    c, s = (f(math.radians(scene.plane.facing.turn_deg)) for f in (math.cos, math.sin))
    return np.array([c * x + s * y, -s * x + c * y, -z])


def _side(scene: Scene, segment: Segment, rise: float, outer: float) -> Side | None:
    """Return what a silhouette is; None where it is neither upright nor an edge along the body's side.

    `outer` is -1 on the left, +1 on the right. A line that runs backwards with the yaw w is drawn on the plane
    with the slope that the point of sight gives it.
    """
    eye = _eye(scene)
    yaw = -math.atan(rise / scene.plane.pitch_mm)
    a, h = segment.ends.mean(axis=0)
    ahead = eye[1] - scene.plane.facing.plane_mm
    # back by 1: across by tan w, and on towards the point below the camera at infinity
    across, up = math.tan(yaw) * ahead + (eye[0] - a), eye[2] - h
    along = across / up
    slope, beyond = _slope(segment), outer * along
    if beyond > UNSEEN_LEAN and abs(slope - along) < ALONG_LEAN:
        # the camera sees the side: its lower edge hides the upright corner, unless it is far off
        kind = "along" if beyond < TELLING_LEAN or abs(slope - along) < abs(slope) else "upright"
        off = slope - along if kind == "along" else slope
        return Side(segment, kind, UNSEEN_LEAN + MIXED * beyond if beyond < TELLING_LEAN else 0.0, off, True)
    if abs(slope) >= UPRIGHT_LEAN:
        return None
    return Side(
        segment, "upright", UNSEEN_LEAN if abs(along) < UNSEEN_LEAN else 0.0, slope, beyond > UNSEEN_LEAN
    )


def _face_between(scene: Scene, band: Band, left: Segment, right: Segment) -> Face | None:
    """Return the face between two sides; None where they can't be those of one."""
    apart = right.ends[:, 0] - left.ends[:, 0]
    if not (WIDTHS_MM[0] < apart.mean() < WIDTHS_MM[1] and apart.min() > 0.5 * WIDTHS_MM[0]):
        return None
    if max(left.ends[0, 1], right.ends[0, 1]) > band.low_mm + NOSE_MM:
        return None
    a, b = (_side(scene, s, _rise(band.levels[0]), outer) for s, outer in ((left, -1.0), (right, 1.0)))
    if a is None or b is None or "upright" not in (a.kind, b.kind):
        return None
    worth = _between(a, b)
    for edge in band.levels:
        height = float(edge.ends[:, 1].mean())
        covered, share = _covered(edge, left, right, height)
        if share < LEAST_COVERED:
            return None
        worth += covered
    if len(band.levels) > 1:
        worth -= ((_rise(band.levels[1]) - _rise(band.levels[0])) / LEVEL_SCATTER) ** 2
    # a level edge inside is the face's own upper edge
    for edge in scene.level:
        height = float(edge.ends[:, 1].mean())
        if band.low_mm + HEIGHTS_MM[0] - 1.0 < height < band.high_mm - 1.5:
            covered, share = _covered(edge, left, right, height)
            worth -= 2.0 * max(0.0, covered) * (share >= LEAST_COVERED)
    return Face(a, b, band.levels, band.low_mm, band.high_mm, worth)


def _covered(level: Segment, left: Segment, right: Segment, height: float) -> tuple[float, float]:
    """Return what a level edge is worth between two sides, and the share of their distance that it covers."""
    x0, x1 = place_at(left, height), place_at(right, height)
    length = float(level.ends[1, 0] - level.ends[0, 0])
    covered = min(x1, level.ends[1, 0]) - max(x0, level.ends[0, 0])
    return level.worth * (covered - 0.7 * (length - covered)) / length, covered / max(1e-6, x1 - x0)


def _between(left: Side, right: Side) -> float:
    """Return what two sides are worth; unexpected slopes speak against them."""
    total = left.segment.worth + right.segment.worth
    total -= sum((side.off / LEAN_SCATTER) ** 2 for side in (left, right))
    if left.kind == right.kind:
        total -= ((left.off - right.off) / LEAN_SCATTER) ** 2
    return total
