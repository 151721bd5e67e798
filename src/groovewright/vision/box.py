"""The attitude of a box from edges that a photograph shows of it.

A line of the picture and the camera's centre span a plane with the normal n, in which the edge with the
direction d lies: n . d = 0. The edges of a box have three directions at right angles, given by yaw, pitch and
roll. Level edges of the front give the yaw mixed with the roll, those of the sides the yaw mixed with the
pitch; uprights give roll and pitch. Least squares over all of them, with what is usual of pitch and roll, with
the camera's uncertainty, and with a draft of the faces that leans left and right uprights towards one another.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from groovewright.quantities import FloatArray
from groovewright.vision.camera import SIZE, CameraPose, rays
from groovewright.vision.edge import Edge
from groovewright.vision.solve import jacobian

LEVEL_SD_DEG = 0.485
"""Bodies are level within a degree; this covers with 95 % what an even spread of one degree does."""
DRAFT_SD_DEG = 0.15
"""How far left and right faces may lean towards one another (moulded bodies; common practice)."""
UNSAID = 1.1
"""What edges don't say of themselves (cut corners, lines of the sheet beside them) widens what is stated."""
MOST_DOUBTED = 12
"""So many edges at most may be something else; a body has fewer, but a person may mark any number of lines."""
WRONG_PX = 2.5
"""What isn't the box's but was taken for one of its edges lies off by about so much at its ends."""
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
    `doubt` is how far, in radians of its own turn, it may be another edge nearly behind it; `wrong` is the chance
    that it is no edge of the box at all.
    """

    edge: Edge
    plane: SightPlane
    kind: str
    draft: float = 0.0
    turn_deg: float = 0.0
    doubt: float = 0.0
    wrong: float = 0.0


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
    """Yaw, pitch, roll and draft in degrees with their covariance, what is usual of them included.

    `belief` [shape=(n,)] is the probability of each edge that it is the box's.
    """

    values: FloatArray
    covariance: FloatArray
    belief: FloatArray

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


def fit_box(edges: Sequence[BoxEdge], pose: CameraPose, start_yaw_deg: float = 0.0) -> BoxFit:
    """Return the attitude that the edges give, every choice of which are the box's weighed by its probability.

    An edge that is the box's errs by its own uncertainty, another by `WRONG_PX` at its ends. For each choice the
    attitude is a linear least squares fit (Gauss and Newton), and its probability follows by Bayes's rule from how
    well the edges agree with one another and with what is usual. The mixture of all (A. Gelman et al., "Bayesian
    Data Analysis", 2013, 22) gives the median of the yaw, which an unlikely choice hardly draws aside, and the means
    of the others; their covariance is scaled so that 1.96 standard deviations of the yaw hold 95 % of it.
    """
    normal, turned = (
        np.array([getattr(edge.plane, name) for edge in edges]) for name in ("normal", "turned")
    )
    by_camera = np.array([edge.plane.by_camera for edge in edges])
    sd = UNSAID * np.array([math.hypot(edge.plane.turn_sd, edge.doubt) for edge in edges])
    right, chance = _choices([edge.wrong for edge in edges])
    lengths = np.array([max(1.0, float(np.hypot(*np.diff(edge.edge.ends(), axis=0)[0]))) for edge in edges])
    spread = np.where(right, sd**2, sd**2 + (WRONG_PX / lengths) ** 2)

    def turns(box: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return each edge's residual in radians of its turn in the picture, its directions and their scale."""
        directions = _directions(edges, box)
        at = (normal * directions).sum(axis=1)
        per_turn = ((turned * directions).sum(axis=1) - at) / TURN
        return at / per_turn, directions, per_turn

    box = np.array([math.radians(start_yaw_deg), 0.0, 0.0, 0.0])
    usual = np.radians([math.inf, LEVEL_SD_DEG, LEVEL_SD_DEG, DRAFT_SD_DEG]) ** -2.0
    covariance, belief = np.eye(_BOX), np.ones(len(edges))
    for _ in range(4):
        away, directions, per_turn = turns(box)
        slopes = jacobian(lambda values: turns(values)[0], box, np.full(_BOX, 1e-5))
        by_pose = (by_camera * directions[:, :, None]).sum(axis=1) / per_turn[:, None]
        shared = by_pose @ pose.covariance @ by_pose.T
        mixed = _mixed(away - slopes @ box, slopes, shared[None] + _diagonal(spread), usual, chance)
        moved, covariance = mixed.mean - box, mixed.covariance
        belief = mixed.share @ right
        box = mixed.mean
        if np.abs(moved).max() < 1e-4:
            break
    return BoxFit(np.degrees(box), covariance * math.degrees(1.0) ** 2, belief)


def _choices(wrong: Sequence[float]) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return every choice of which edges are the box's, and the logarithm of its chance. [shapes (m, n), (m,)]

    Of more than MOST_DOUBTED edges the least doubtful ones count as the box's: choices double with each.
    """
    doubted = set(np.argsort(wrong, kind="stable")[-MOST_DOUBTED:].tolist())
    open_to = ((True, False) if share > 0.0 and k in doubted else (True,) for k, share in enumerate(wrong))
    right = np.array(list(itertools.product(*open_to)))
    chance = np.where(right, np.log1p(-np.array(wrong)), np.log(np.maximum(wrong, 1e-12))).sum(axis=1)
    return right, chance


def _diagonal(values: FloatArray) -> FloatArray:
    """Return diagonal matrices. [shape=(m, n) to (m, n, n)]"""
    return np.asarray(values[:, :, None] * np.eye(values.shape[1]))


def _middle(share: FloatArray, at: FloatArray, sd: FloatArray) -> float:
    """Return the median of a mixture of normal distributions."""
    low, high = float(np.min(at - 5.0 * sd)), float(np.max(at + 5.0 * sd))
    for _ in range(50):
        half = 0.5 * (low + high)
        low, high = (half, high) if share @ ndtr((half - at) / sd) < 0.5 else (low, half)
    return 0.5 * (low + high)


def _half_interval(share: FloatArray, apart: FloatArray, sd: FloatArray) -> float:
    """Return half the width of the interval about the mean that holds 95 % of a mixture of normal distributions."""
    low, high = 0.0, float(np.max(np.abs(apart) + 5.0 * sd))
    for _ in range(40):
        half = 0.5 * (low + high)
        inside = share @ (ndtr((half - apart) / sd) - ndtr((-half - apart) / sd))
        low, high = (low, half) if inside > 0.95 else (half, high)
    return high


@dataclass(frozen=True)
class _Mixture:
    mean: FloatArray
    covariance: FloatArray
    share: FloatArray


def _mixed(
    right: FloatArray, slopes: FloatArray, spread: FloatArray, usual: FloatArray, chance: FloatArray
) -> _Mixture:
    """Return the mixture of the fits of right + slopes x = 0 with each of some covariances of the residuals.

    [shapes (n,), (n, 4), (m, n, n), (4,), (m,)]
    """
    weight = np.linalg.inv(spread)
    carried = slopes.T @ weight
    known = carried @ slopes + np.diag(usual)
    covariances = np.linalg.inv(known)
    fits = -(covariances @ (carried @ right)[:, :, None])[:, :, 0]
    left = right + fits @ slopes.T
    cost = np.einsum("mi,mij,mj->m", left, weight, left) + (fits**2) @ usual
    evidence = chance - 0.5 * (cost + np.linalg.slogdet(spread)[1] + np.linalg.slogdet(known)[1])
    share = np.exp(evidence - evidence.max())
    share /= share.sum()
    mean = share @ fits
    sd = np.sqrt(covariances[:, 0, 0])
    mean[0] = _middle(share, fits[:, 0], sd)
    apart = fits - mean
    covariance = np.tensordot(share, covariances, 1) + (apart * share[:, None]).T @ apart
    covariance *= (_half_interval(share, apart[:, 0], sd) / 1.959964) ** 2 / covariance[0, 0]
    return _Mixture(mean, np.asarray(covariance), share)
