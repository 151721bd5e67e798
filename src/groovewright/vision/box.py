"""The attitude of a box from edges that a photograph shows of it.

A line of the picture and the camera's centre span a plane with the normal n, in which the edge with the
direction d lies: n . d = 0. The edges of a box have three directions at right angles, given by yaw, pitch and
roll. Level edges of the front give the yaw mixed with the roll, those of the sides the yaw mixed with the
pitch; uprights give roll and pitch. Least squares over all of them, with what is usual of pitch and roll, with
the camera's uncertainty, and with a draft of the faces that leans left and right uprights towards one another.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import SIZE, CameraPose, rays
from groovewright.vision.edge import Edge
from groovewright.vision.solve import jacobian

LEVEL_SD_DEG = 0.485
"""Bodies are level within a degree; this covers with 95 % what an even spread of one degree does."""
DRAFT_SD_DEG = 0.15
"""How far left and right faces may lean towards one another (moulded bodies; common practice)."""
UNSAID = 1.15
"""What edges don't say of themselves (cut corners, lines of the sheet beside them) widens what is stated."""
TURN = 0.01
"""Radians by which an edge is turned to see what that does."""
_BOX = 4


@dataclass(frozen=True)
class SightPlane:
    """The plane that an edge in the picture spans with the camera's centre.

    `normal` [shape=(3,)]; `turned` is the normal once the edge is turned by `TURN` in the picture; `by_camera`
    [shape=(3, 11)] how the normal moves with the camera's values; `turn_sd` the edge's own uncertainty, radians.
    """

    normal: FloatArray
    turned: FloatArray
    by_camera: FloatArray
    turn_sd: float


@dataclass(frozen=True)
class BoxEdge:
    """An edge of the box in the picture: 'across' (the front), 'along' (a side) or 'upright'.

    `draft` is +1 for an upright that a draft leans to the right going up, seen along the way `across` of its
    face, -1 for one that it leans to the left, 0 for the others; `turn_deg` turns its face from the front;
    `doubt` is how far, in radians of its own turn, it may be another edge nearly behind it; `firm` edges are
    the body's if any are, and are not left out.
    """

    edge: Edge
    plane: SightPlane
    kind: str
    draft: float = 0.0
    turn_deg: float = 0.0
    doubt: float = 0.0
    firm: bool = False


def sight_plane(edge: Edge, pose: CameraPose) -> SightPlane:
    """Return the plane of an edge and the camera's centre."""
    ends = edge.ends()
    way = ends[1] - ends[0]
    aside = 0.5 * TURN * np.array([-way[1], way[0]])

    def normal(values: FloatArray) -> FloatArray:
        a, b = rays(values, ends)
        return np.cross(a, b)

    a, b = rays(pose.values, ends + np.array([-aside, aside]))
    by_camera = jacobian(normal, pose.values, np.full(SIZE, 1e-4))
    return SightPlane(normal(pose.values), np.cross(a, b), by_camera, edge.turn_sd)


@dataclass(frozen=True)
class BoxFit:
    """Yaw, pitch, roll and draft in degrees with their covariance, without and with what is usual of them.

    `misfit` [shape=(n,)] are the edges' residuals in standard deviations; `cost` is the sum of squares that was made
    least, what is usual included.
    """

    values: FloatArray
    covariance: FloatArray
    misfit: FloatArray
    cost: float

    @property
    def unusual(self) -> float:
        """How far pitch, roll or draft is from level, in standard deviations of what is usual."""
        usual = (LEVEL_SD_DEG, LEVEL_SD_DEG, DRAFT_SD_DEG)
        return float(np.max(np.abs(self.values[1:]) / usual))

    @property
    def yaw_deg(self) -> float:
        """The yaw."""
        return float(self.values[0])

    @property
    def sd_deg(self) -> float:
        """The yaw's standard deviation."""
        return math.sqrt(float(self.covariance[0, 0]))


def attitude(yaw: float, pitch: float, roll: float) -> FloatArray:
    """Return the box's axes in the grid's frame, z down, as columns: outward, front, up. [shape=(3, 3)]"""
    c, s = np.cos([roll, pitch, yaw]), np.sin([roll, pitch, yaw])
    lean = np.array([[c[0], 0.0, s[0]], [0.0, 1.0, 0.0], [-s[0], 0.0, c[0]]])
    lift = np.array([[1.0, 0.0, 0.0], [0.0, c[1], -s[1]], [0.0, s[1], c[1]]])
    turn = np.array([[c[2], -s[2], 0.0], [s[2], c[2], 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(np.diag([1.0, 1.0, -1.0]) @ turn @ lift @ lean)


def _directions(edges: Sequence[BoxEdge], box: FloatArray) -> FloatArray:
    """Return each edge's direction; `box` holds yaw, pitch, roll and draft in radians. [shape=(n, 3)]"""
    across, along, up = attitude(*box[:3]).T
    out = []
    for edge in edges:
        if edge.kind == "upright":
            turn = math.radians(edge.turn_deg)
            side = math.cos(turn) * across + math.sin(turn) * along
            out.append(up + edge.draft * math.tan(box[3]) * side)
        else:
            out.append(across if edge.kind == "across" else along)
    return np.array(out)


def fit_box(
    edges: Sequence[BoxEdge], pose: CameraPose, start_yaw_deg: float = 0.0, widen: float = 1.0
) -> BoxFit:
    """Return the attitude that fits the edges best (Gauss and Newton); `widen` is a factor to their uncertainties."""
    normal, turned = (
        np.array([getattr(edge.plane, name) for edge in edges]) for name in ("normal", "turned")
    )
    by_camera = np.array([edge.plane.by_camera for edge in edges])
    sd = widen * UNSAID * np.array([math.hypot(edge.plane.turn_sd, edge.doubt) for edge in edges])

    def residuals(values: FloatArray) -> FloatArray:
        """In radians of each edge's turn in the picture, in standard deviations."""
        directions = _directions(edges, values[:_BOX])
        at = (normal * directions).sum(axis=1)
        per_turn = ((turned * directions).sum(axis=1) - at) / TURN
        moved = (by_camera * directions[:, :, None]).sum(axis=1) @ values[_BOX:]
        return np.asarray((at + moved) / per_turn / sd)

    def slopes_at(values: FloatArray) -> FloatArray:
        directions = _directions(edges, values[:_BOX])
        at = (normal * directions).sum(axis=1)
        per_turn = ((turned * directions).sum(axis=1) - at) / TURN
        by_pose = (by_camera * directions[:, :, None]).sum(axis=1) / (per_turn * sd)[:, None]
        by_box = jacobian(
            lambda box: residuals(np.concatenate([box, values[_BOX:]])), values[:_BOX], np.full(_BOX, 1e-5)
        )
        return np.hstack([by_box, by_pose])

    values = np.concatenate([[math.radians(start_yaw_deg)], np.zeros(_BOX - 1 + SIZE)])
    level, draft = math.radians(LEVEL_SD_DEG), math.radians(DRAFT_SD_DEG)
    known = np.zeros((len(values), len(values)))
    known[1, 1] = known[2, 2] = 1.0 / level**2
    known[3, 3] = 1.0 / draft**2
    known[_BOX:, _BOX:] = np.linalg.pinv(pose.covariance, hermitian=True)
    covariance: FloatArray = np.zeros_like(known)
    for _ in range(4):
        slopes = slopes_at(values)
        covariance = np.asarray(np.linalg.pinv(slopes.T @ slopes + known, hermitian=True), dtype=float)
        move = covariance @ (slopes.T @ residuals(values) + known @ values * (np.arange(len(values)) > 0))
        values = values - move
        if np.abs(move[:_BOX]).max() < 1e-4:
            break
    misfit, away = residuals(values), values * (np.arange(len(values)) > 0)
    cost = float(misfit @ misfit + away @ known @ away)
    box = covariance[:_BOX, :_BOX] * math.degrees(1.0) ** 2
    return BoxFit(np.degrees(values[:_BOX]), box, misfit, cost)
