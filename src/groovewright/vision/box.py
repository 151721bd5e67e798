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
_BOX = 4


@dataclass(frozen=True)
class BoxEdge:
    """An edge of the box in the picture: 'across' (the front), 'along' (a side) or 'upright'.

    `draft` is +1 for an upright that a draft leans to the right going up, seen along the way `across` of its
    face, -1 for one that it leans to the left, 0 for the others; `turn_deg` turns its face from the front;
    `doubt` is how far, in radians of its own turn, it may be another edge nearly behind it.
    """

    edge: Edge
    kind: str
    draft: float = 0.0
    turn_deg: float = 0.0
    doubt: float = 0.0


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
    def yaw_deg(self) -> float:
        """The yaw."""
        return float(self.values[0])

    @property
    def sd_deg(self) -> float:
        """The yaw's standard deviation."""
        return math.sqrt(float(self.covariance[0, 0]))


def _attitude(yaw: float, pitch: float, roll: float) -> FloatArray:
    """Return the box's axes in the grid's frame, z down, as columns: outward, front, up. [shape=(3, 3)]"""
    c, s = np.cos([roll, pitch, yaw]), np.sin([roll, pitch, yaw])
    lean = np.array([[c[0], 0.0, s[0]], [0.0, 1.0, 0.0], [-s[0], 0.0, c[0]]])
    lift = np.array([[1.0, 0.0, 0.0], [0.0, c[1], -s[1]], [0.0, s[1], c[1]]])
    turn = np.array([[c[2], -s[2], 0.0], [s[2], c[2], 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(np.diag([1.0, 1.0, -1.0]) @ turn @ lift @ lean)


def _directions(edges: Sequence[BoxEdge], box: FloatArray) -> FloatArray:
    """Return each edge's direction; `box` holds yaw, pitch, roll and draft in radians. [shape=(n, 3)]"""
    across, along, up = _attitude(*box[:3]).T
    out = []
    for edge in edges:
        if edge.kind == "upright":
            turn = math.radians(edge.turn_deg)
            side = math.cos(turn) * across + math.sin(turn) * along
            out.append(up + edge.draft * math.tan(box[3]) * side)
        else:
            out.append(across if edge.kind == "across" else along)
    return np.array(out)


def fit_box(edges: Sequence[BoxEdge], pose: CameraPose, start_yaw_deg: float = 0.0) -> BoxFit:
    """Return the attitude that fits the edges best (Gauss and Newton)."""
    ends = np.array([edge.edge.ends() for edge in edges])
    way = ends[:, 1] - ends[:, 0]
    aside = np.column_stack([-way[:, 1], way[:, 0]])
    turned = 0.5 * np.stack([-aside, aside], axis=1) * 0.01
    sd = np.array([math.hypot(edge.edge.turn_sd, edge.doubt) for edge in edges])

    def residuals(values: FloatArray) -> FloatArray:
        """In radians of each edge's turn in the picture."""
        camera, directions = values[_BOX:], _directions(edges, values[:_BOX])
        here, there = (np.cross(rays(camera, e[:, 0]), rays(camera, e[:, 1])) for e in (ends, ends + turned))
        at = (here * directions).sum(axis=1)
        return np.asarray(at / (((there * directions).sum(axis=1) - at) / 0.01))

    usual = np.concatenate([[math.radians(start_yaw_deg), 0.0, 0.0, 0.0], pose.values])
    level, draft = math.radians(LEVEL_SD_DEG), math.radians(DRAFT_SD_DEG)
    known = np.zeros((len(usual), len(usual)))
    known[1, 1] = known[2, 2] = 1.0 / level**2
    known[3, 3] = 1.0 / draft**2
    known[_BOX:, _BOX:] = np.linalg.pinv(pose.covariance, hermitian=True)
    values = usual.copy()
    steps = np.concatenate([np.full(_BOX, 1e-5), np.full(SIZE, 1e-4)])
    covariance = np.zeros_like(known)
    for _ in range(6):
        r, slopes = residuals(values) / sd, jacobian(residuals, values, steps) / sd[:, None]
        away = values - usual
        away[0] = 0.0
        covariance = np.linalg.pinv(slopes.T @ slopes + known, hermitian=True)
        move = covariance @ (slopes.T @ r + known @ away)
        values = values - move
        if np.abs(move[:_BOX]).max() < 1e-6:
            break
    box, misfit, away = covariance[:_BOX, :_BOX], residuals(values) / sd, values - usual
    away[0] = 0.0
    cost = float(misfit @ misfit + away @ known @ away)
    return BoxFit(np.degrees(values[:_BOX]), box * math.degrees(1.0) ** 2, misfit, cost)
