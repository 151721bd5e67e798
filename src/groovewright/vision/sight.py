"""One line seen in one photograph, as what it says of the cartridge's yaw, and several fused into one.

A line in the picture is a plane through the camera, with the normal n. The line's direction in space lies in
that plane. If it is level its yaw follows at once; if it slopes by the angle s upwards to the front (or to the
outer side), the yaw that a level line would have is off by

    error = slope s x lever,  lever = n_h / |n_xy|

where the lever is the tangent of the angle by which the camera looks at the line from its side. The slope is
not seen in one photograph; what is usual for it enters the uncertainty. Lines that share a slope and are
seen with different levers show it: then the effect cancels, which is why two sides are photographed.

A flag stays as it was folded and put on from one photograph to the next: what one of them doesn't show, such as a
fold off its line where the panel is hidden, another one may.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray, Reading
from groovewright.vision.box import LEVEL_SD_DEG, BoxFit
from groovewright.vision.camera import SIZE, CameraPose, rays
from groovewright.vision.edge import Edge
from groovewright.vision.flag import FlagView
from groovewright.vision.flag_shape import BY_HAND_SD
from groovewright.vision.solve import jacobian

SLOPES = {
    "side": (0.0, 0.5), "front": (0.0, 0.5), "cantilever": (20.0, 3.0), "flag": (0.0, 0.0), "body": (0.0, 0.0),
}  # fmt: skip
"""For each kind of line its usual slope and standard deviation, in degrees, rising to the front or outward.

Bodies are level within a degree; an even spread of one degree covers with 95 % what a normal one of 0.485
does. A cantilever rises to the back by some 20 degrees (IEC 60098:2020, 6.1 has the vertical tracking angle
at 20 +5/-0 deg), which here is a slope of -20.
"""


USUAL_SD = {
    **{kind: sd for kind, (_, sd) in SLOPES.items()},
    **{f"{face} {name}": sd for face in ("front", "side") for name, sd in BY_HAND_SD.items()},
}
"""For each unknown beside the yaw its usual standard deviation, from zero; degrees, and mm of a shift.

Named are kinds of lines by their slopes, and what a hand does to a flag by the face that it is on.
"""
LEAST_SAID = 1e-3
"""What is known to a thousand degrees only is nothing."""


BODY_FACTOR = 1.2
"""A body errs by so much more than its edges tell, for some are others (measured on 61 photographs, docs/vision.md)."""


@dataclass(frozen=True)
class Said:
    """One thing said of several unknowns together: the sum of shares x unknowns, with a standard deviation of 1."""

    shares: tuple[tuple[str, float], ...]
    total: float


@dataclass(frozen=True)
class Sight:
    """What one line says: the yaw if its slope were the usual one, its uncertainty, and the lever of the slope.

    A body or a flag says something of its yaw and other unknowns together, in `said`.
    """

    kind: str
    yaw_deg: float
    sd_deg: float
    lever: float
    said: tuple[Said, ...] = ()

    @property
    def slope_sd_deg(self) -> float:
        """What is not known of the line's slope."""
        return SLOPES[self.kind][1]


def sight_of_edge(pose: CameraPose, edge: Edge, kind: str) -> Sight:
    """Return what an edge says of the yaw: of the cartridge's side, front or cantilever."""
    slope = -SLOPES[kind][0] if kind == "cantilever" else SLOPES[kind][0]
    yaw = _yaw_of(pose.values, edge.points, kind, slope)
    steps = np.full(SIZE, 1e-4)
    slopes = jacobian(
        lambda values: np.array([_yaw_of(values, edge.points, kind, slope)]), pose.values, steps
    )[0]
    from_camera = float(slopes @ pose.covariance @ slopes)
    ends = edge.ends()
    # a turn in the picture is a turn of the yaw by a factor that the view gives
    middle, way = ends.mean(axis=0), ends[1] - ends[0]
    half = 0.5 * np.hypot(*way)
    normal = np.array([-way[1], way[0]]) / (2.0 * half)
    turned = np.array([middle - 0.5 * way - 0.01 * half * normal, middle + 0.5 * way + 0.01 * half * normal])
    factor = (_yaw_of(pose.values, turned, kind, slope) - _yaw_of(pose.values, ends, kind, slope)) / 0.01
    sd = math.sqrt(from_camera + (factor * edge.turn_sd) ** 2)
    lever = (
        _yaw_of(pose.values, ends, kind, slope + 0.1) - _yaw_of(pose.values, ends, kind, slope - 0.1)
    ) / 0.2
    return Sight(kind, yaw, sd, lever)


def sight_of_box(box: BoxFit) -> Sight:
    """Return what a body says, without what is usual of its slopes: that enters once, when sights are fused."""
    # roll lowers the outer side: the front's slope outwards is its opposite
    sign = np.array([1.0, 1.0, -1.0])
    known = np.asarray(np.linalg.inv(box.covariance[:3, :3]) * np.outer(sign, sign), dtype=float)
    said = _said_beside(("side", "front"), sign * box.values[:3], known, np.full(2, LEVEL_SD_DEG))
    return Sight("body", box.yaw_deg, BODY_FACTOR * box.sd_deg, 0.0, _less_sure(said, BODY_FACTOR))


def sight_of_flag(flag: FlagView) -> Sight:
    """Return what a flag says, without what is usual of how it was folded and put on."""
    face = "side" if flag.on_side else "front"
    names = tuple(f"{face} {name}" for name in BY_HAND_SD)
    usual = np.array(list(BY_HAND_SD.values()))
    said = _said_beside(names, flag.by_hand, np.asarray(np.linalg.inv(flag.covariance), dtype=float), usual)
    return Sight("flag", flag.yaw_deg, flag.sd_deg, 0.0, said)


def _less_sure(said: tuple[Said, ...], factor: float) -> tuple[Said, ...]:
    return tuple(
        Said(tuple((name, share / factor) for name, share in one.shares), one.total / factor) for one in said
    )


def _said_beside(
    names: tuple[str, ...], values: FloatArray, known: FloatArray, usual_sd: FloatArray
) -> tuple[Said, ...]:
    """Return what is said of the yaw and the named unknowns, of which `known` holds what is usual too.

    `values` begin with the yaw, [shape=(n + 1,)]; `known` is their inverse covariance, `usual_sd` [shape=(n,)].
    """
    size, ways = np.linalg.eigh(known - np.diag([0.0, *usual_sd**-2.0]))
    right = ways.T @ known @ values
    return tuple(
        Said(tuple(zip(("yaw", *names), (root * way).tolist(), strict=True)), float(total) / root)
        for root, way, total in zip(np.sqrt(np.maximum(size, 0.0)).tolist(), ways.T, right, strict=True)
        if root > LEAST_SAID
    )


def nearest_kind(pose: CameraPose, edge: Edge) -> str:
    """Return whether an edge runs along the cartridge ('side') or across it ('front')."""
    return "side" if abs(_yaw_of(pose.values, edge.points, "side", 0.0)) <= 45.0 else "front"


def _yaw_of(values: FloatArray, points: FloatArray, kind: str, slope_deg: float) -> float:
    """Return the yaw of the body in degrees, -90 to 90, if the line rises to the front by the slope."""
    looks = rays(values, points)
    nx, ny, nz = np.linalg.eigh(looks.T @ looks)[1][:, 0]
    # a direction (cos s sin a, cos s cos a, -sin s) in the plane; z is down
    size = math.hypot(nx, ny)
    reach = nz * math.tan(math.radians(slope_deg)) / max(size, 1e-9)
    if abs(reach) >= 1.0:
        return math.nan
    base = math.atan2(ny, nx)
    best = math.inf
    for azimuth in (base + math.acos(reach), base - math.acos(reach)):
        # azimuth of the direction from x towards y; the front is at 90 degrees, outward at 0
        away = math.degrees(azimuth) - (0.0 if kind == "front" else 90.0)
        away = (away + 180.0) % 360.0 - 180.0
        if abs(away) < abs(best):
            best = away
    return best


@dataclass(frozen=True)
class FusedYaw:
    """The yaw from everything that was seen of one state, and how far the sights agree (1 is as expected)."""

    yaw: Reading
    misfit: float


def fuse(sights: Sequence[Sight]) -> FusedYaw:
    """Return the yaw by generalised least squares (GUM, JCGM 100:2008, 5.2 and F.1.2: correlated inputs).

    Unknown are the yaw, one slope for each kind of line that was seen, and what a hand did to a flag; all but the
    yaw have their usual values as prior observations.
    """
    said = [one for sight in sights for one in sight.said or (_said_by_line(sight),)]
    names = sorted({name for one in said for name, _ in one.shares if name != "yaw"})
    shares = [dict(one.shares) for one in said]
    seen = np.array([[each.get(name, 0.0) for name in ("yaw", *names)] for each in shares])
    usual = np.column_stack([np.zeros(len(names)), np.diag([1.0 / max(USUAL_SD[n], 1e-6) for n in names])])
    design = np.vstack([seen, usual])
    right = np.concatenate([[one.total for one in said], np.zeros(len(names))])
    solution = np.linalg.lstsq(design, right, rcond=None)[0]
    covariance = np.linalg.inv(design.T @ design)
    # every unknown but the yaw has an observation of its own
    spare = len(said) - 1 if len(sights) > 1 else 0
    misfit = math.sqrt(float(((design @ solution - right) ** 2).sum()) / spare) if spare > 0 else 1.0
    # widened only where chance alone would not scatter them so (chi-square at 95 %)
    widened = misfit if misfit > _usual_misfit(spare) else 1.0
    sd = math.sqrt(float(covariance[0, 0])) * widened
    return FusedYaw(Reading(float(solution[0]), sd), misfit)


def _said_by_line(sight: Sight) -> Said:
    weight = 1.0 / max(sight.sd_deg, 1e-4)
    return Said((("yaw", weight), (sight.kind, -weight * sight.lever)), weight * sight.yaw_deg)


def _usual_misfit(spare: int) -> float:
    """Return what the misfit of so many spare readings stays below in 95 % of cases.

    The square root of chi-square over its degrees of freedom, after E. B. Wilson and M. M. Hilferty, "The
    distribution of chi-square", 1931.
    """
    share = 2.0 / (9.0 * max(1, spare))
    return float((1.0 - share + 1.645 * math.sqrt(share)) ** 1.5)
