"""The edges of a body in the picture, once it is known about where its front face is.

Two passes: the face's four outer edges give its corners and a first box; from the corners every edge that the box must
have is measured near where the box draws it, so that none is taken for another that lies beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.beside import print_beside
from groovewright.vision.box import BoxEdge, BoxFit, attitude, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, project, rays
from groovewright.vision.edge_fit import FittedEdge, fit_along
from groovewright.vision.face import SEEN_LEAN, Face, along_lean
from groovewright.vision.front_plane import PLANE_MM, FrontPlane, to_grid
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo

END_PX, NEAR_PX = 1.0, 1.6
REACH_MM, REACH_PX = 0.4, (2.0, 4.5)
"""How far off an edge may lie: in the second pass, and in the first, in mm and within limits in pixels."""
NOSES_MM = (0.3, 1.3, 2.8)
"""What is left out at the ends of an edge, where corners may be cut."""
SIDE_MM, TOP_MM = (11.0, 6.0), (7.0, 4.0, 2.2)
"""How far edges along the body are followed back, lower and upper ones, as far as the headshell lets them show."""
SKIP_MM, SHORTEST_MM = 0.7, 3.0
GOOD_SHARE, LONG_SHARE, CLEAN_MISFIT, WORST_MISFIT, WORST_NOISE_PX = 0.6, 0.85, 0.08, 0.3, 0.5
FEWEST_EDGES = 3
WRONG = {
    "outline": 0.02,
    "free": 0.05,
    "hidden": 0.12,
    "covered": 0.2,
    "low": 0.04,
    "high": 0.12,
    "upright": 0.4,
    "along": 0.3,
    "top": 0.45,
}
"""The chance that what is measured as an edge of the body is something else."""
LEAST_MIXED, MIXED, APART_LEAN = 0.004, 0.12, 0.08
"""Where a side is seen at a glancing angle its lower edge and the upright lie together: what that may turn, in
radians, at least and as a share of how far they lie apart, up to where they are seen apart."""
SHADOW = 12.0
"""Logarithm of how much likelier it is that the sheet lies on both sides of an edge, from which on it is a shadow's,
where the print beside it doesn't tell."""
KINDS = ("across", "along", "upright")


@dataclass(frozen=True)
class Corners:
    """The four corners of a face in the picture: lower left and right, upper left and right. [shapes (2,)]"""

    low: tuple[FloatArray, FloatArray]
    high: tuple[FloatArray, FloatArray]


def _pixels(pose: CameraPose, places: FloatArray) -> FloatArray:
    return np.asarray(project(pose.values, to_grid(places[:, 0], places[:, 1])))


def trimmed(ends: FloatArray, by_px: float) -> FloatArray:
    """Return a line without so much at both of its ends. [shape=(2, 2)]"""
    way = ends[1] - ends[0]
    length = float(np.hypot(*way))
    return np.asarray(ends + np.array([[1.0], [-1.0]]) * way / max(length, 1e-9) * min(by_px, 0.3 * length))


def measured(
    photo: Photo, pose: CameraPose, shown: GridPrint, choices: Sequence[FloatArray], reach_px: float
) -> FittedEdge | None:
    """Return the edge along one of some lines, the one that tells its direction best; None where there is none."""
    found = []
    for ends in choices:
        fitted = fit_along(photo, pose, shown, ends, reach_px, reach_px)
        if (
            fitted is not None
            and fitted.edge.share > GOOD_SHARE
            and fitted.misfit < WORST_MISFIT
            and fitted.edge.noise_px < WORST_NOISE_PX
            and not _on_sheet(photo, pose, shown, fitted)
        ):
            found.append(fitted)
            if fitted.edge.share > LONG_SHARE and fitted.misfit < CLEAN_MISFIT:
                break
    return min(found, key=lambda fitted: fitted.edge.turn_sd, default=None)


def _on_sheet(photo: Photo, pose: CameraPose, shown: GridPrint, fitted: FittedEdge) -> bool:
    """Return whether the sheet lies on both sides of an edge, as where it is a shadow's."""
    if fitted.shadow < 0.0:
        return False
    shares = print_beside(photo, pose, shown, fitted.edge)
    return not any(share.covered for share in shares) and (
        fitted.shadow > SHADOW or all(share.sheet for share in shares)
    )


def _crossing(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return where two lines, each given by two points, cross."""
    way, beside = one[1] - one[0], other[1] - other[0]
    matrix = np.column_stack([way, -beside])
    if abs(np.linalg.det(matrix)) < 1e-6:
        return np.asarray(one[0])
    return np.asarray(one[0] + np.linalg.solve(matrix, other[0] - one[0])[0] * way)


def corners_of(
    photo: Photo, pose: CameraPose, shown: GridPrint, plane: FrontPlane, face: Face, per_mm: float
) -> tuple[Corners, BoxFit | None]:
    """Return the corners of a face as its four outer edges give them, and the box that they give."""
    slope = -face.rise * plane.pitch_mm
    reach = float(np.clip(REACH_MM * per_mm, *REACH_PX))
    lines, edges = {}, []
    sides = (("left", face.left_mm, 0, 1.0), ("right", face.right_mm, 1, -1.0))
    for name, height in (("low", face.low_mm), ("high", face.high_mm)):
        ends = _pixels(pose, np.array([[at, height + slope * at] for _, at, _, _ in sides]))
        found = measured(photo, pose, shown, [trimmed(ends, trim * per_mm) for trim in NOSES_MM[:2]], reach)
        lines[name] = ends if found is None else found.edge.ends()
        if found is not None:
            edges.append(BoxEdge(found.edge, sight_plane(found.edge, pose), "across", wrong=WRONG[name]))
    for name, at, k, draft in sides:
        low, high = (h + slope * at for h in (face.low_mm, face.high_mm))
        ends = _pixels(pose, np.array([[at, low], [at + face.leans[k] * (high - low), high]]))
        found = measured(photo, pose, shown, [trimmed(ends, trim * per_mm) for trim in NOSES_MM[:2]], reach)
        lines[name] = ends if found is None else found.edge.ends()
        if found is not None:
            kind = "along" if face.along[k] else "upright"
            doubt = _mixed(_beyond(plane, face.yaw_deg, face, k))
            edges.append(
                BoxEdge(
                    found.edge,
                    sight_plane(found.edge, pose),
                    kind,
                    0.0 if face.along[k] else draft,
                    doubt=doubt,
                    wrong=WRONG[kind],
                )
            )
    fit = fit_box(edges, pose, face.yaw_deg) if len(edges) >= FEWEST_EDGES else None
    low_corners = (_crossing(lines["low"], lines["left"]), _crossing(lines["low"], lines["right"]))
    high_corners = []
    for k, name in enumerate(("left", "right")):
        side = lines[name]
        if face.along[k]:
            corner = low_corners[k]
            side = np.array([corner, corner + way_in_picture(pose, corner, fit, face, "upright")])
        high_corners.append(_crossing(lines["high"], side))
    return Corners(low_corners, (high_corners[0], high_corners[1])), fit


def _beyond(plane: FrontPlane, yaw_deg: float, face: Face, side: int) -> float:
    """Return how far outward the lower edge of a side leans on the plane; positive where the camera sees the side."""
    at = (face.left_mm, face.right_mm)[side]
    return (-1.0, 1.0)[side] * along_lean(plane, yaw_deg, at, face.low_mm)


def _mixed(beyond: float) -> float:
    """Return by how much, in radians, a silhouette may be turned by the upright and the side's edge lying together."""
    return max(LEAST_MIXED, MIXED * beyond if beyond < APART_LEAN else 0.0) if beyond > -SEEN_LEAN else 0.0


def way_in_picture(
    pose: CameraPose, pixel: FloatArray, fit: BoxFit | None, face: Face, kind: str
) -> FloatArray:
    """Return the direction in the picture, for 1 mm, of an edge of the box that starts at a pixel of its face."""
    yaw, pitch, roll = (math.radians(face.yaw_deg), 0.0, 0.0) if fit is None else np.radians(fit.values[:3])
    axis = attitude(yaw, pitch, roll)[:, KINDS.index(kind)] * (-1.0 if kind == "along" else 1.0)
    centre = pose.position()
    way = rays(pose.values, pixel[None])[0]
    place = centre + (PLANE_MM - centre[1]) / way[1] * way
    ends = project(pose.values, np.array([place, place + axis]))
    return np.asarray(ends[1] - ends[0])


def edges_of(
    photo: Photo,
    pose: CameraPose,
    shown: GridPrint,
    plane: FrontPlane,
    face: Face,
    corners: Corners,
    fit: BoxFit | None,
    per_mm: float,
) -> list[BoxEdge]:
    """Return every edge of a box with these corners that the picture shows."""
    found: list[BoxEdge] = []

    def add(
        lines: Sequence[FloatArray], kind: str, wrong: str, draft: float = 0.0, doubt: float = 0.0
    ) -> None:
        seen = measured(photo, pose, shown, lines, NEAR_PX)
        if seen is not None:
            plane = sight_plane(seen.edge, pose)
            found.append(BoxEdge(seen.edge, plane, kind, draft, doubt=doubt, wrong=WRONG[wrong]))

    def level(ends: tuple[FloatArray, FloatArray]) -> list[FloatArray]:
        return [trimmed(np.array(ends), trim * per_mm + END_PX) for trim in NOSES_MM]

    add(level(corners.low), "across", "low")
    add(level(corners.high), "across", "high")
    yaw = face.yaw_deg if fit is None else fit.yaw_deg
    for k, draft in enumerate((1.0, -1.0)):
        low, high = corners.low[k], corners.high[k]
        beyond = _beyond(plane, yaw, face, k)
        mixed = _mixed(beyond)
        up = way_in_picture(pose, low, fit, face, "upright")
        tall = float((high - low) @ up / max(1e-9, float(up @ up)))
        if tall > SHORTEST_MM and not SEEN_LEAN < beyond < APART_LEAN:
            lines = [
                trimmed(np.array([low, low + tall * up]), trim * per_mm + END_PX) for trim in NOSES_MM[:2]
            ]
            add(lines, "upright", "upright", draft, mixed if beyond < SEEN_LEAN else 0.0)
        for corner, lengths, wrong, doubt in (
            (low, SIDE_MM if beyond > SEEN_LEAN else (), "along", mixed),
            (high, TOP_MM, "top", 0.0),
        ):
            back = way_in_picture(pose, corner, fit, face, "along")
            add(
                [np.array([corner + at * back for at in (SKIP_MM, SKIP_MM + far)]) for far in lengths],
                "along",
                wrong,
                doubt=doubt,
            )
    return found
