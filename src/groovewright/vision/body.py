"""The yaw of the cartridge's body without a flag: a face is found, its edges are measured, a box is fitted.

Faces that may be the body's are tried in the order of what speaks for them. What is read must not hang on which
of them is the right one: where a second face that is nearly as likely gives another yaw, none is given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.box import BoxEdge, BoxFit, attitude, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, project, rays
from groovewright.vision.edge import Edge
from groovewright.vision.edge_fit import FittedEdge, fit_edge, search, strip_along
from groovewright.vision.face import Face, find_faces
from groovewright.vision.front_plane import PLANE_MM, FrontPlane, draw_plane, to_grid
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo

LEAST_FRONT_DEG = 12.0
"""From less far before the cartridge its front face is too flat in the picture."""
LEAST_WORTH_MM = 8.0
FACES, RIVAL_SHARE = 3, 0.8
DISAGREE, DISAGREE_DEG = 2.5, 0.3
"""So far apart, in standard deviations and degrees, two faces say something different."""
USUAL_STRAIN = 1.5
END_PX, NEAR_PX = 1.0, 1.6
REACH_MM, REACH_PX = 0.4, (2.0, 4.5)
NOSES_MM = (0.3, 1.3, 2.8)
SIDE_MM, TOP_MM = (11.0, 6.0), (7.0, 4.0, 2.2)
SKIP_MM, SHORTEST_MM = 0.7, 3.0
GOOD_SHARE, LONG_SHARE, CLEAN_MISFIT, WORST_MISFIT, WORST_NOISE_PX = 0.6, 0.85, 0.08, 0.3, 0.5
LOST_WORTH_MM = 2.0
KINDS = ("across", "along", "upright")
FEWEST_EDGES, OUTLIER = 3, 3.0
UPPER_DOUBT = 0.003
SHADOW = 12.0


@dataclass(frozen=True)
class BodyView:
    """The body in a photograph: the box that was fitted, the edges that it was fitted to, and what spoke for it."""

    fit: BoxFit
    edges: tuple[BoxEdge, ...]
    worth: float


@dataclass(frozen=True)
class Corners:
    """The four corners of a face in the picture: lower left and right, upper left and right. [shapes (2,)]"""

    low: tuple[FloatArray, FloatArray]
    high: tuple[FloatArray, FloatArray]


def _pixels(pose: CameraPose, places: FloatArray) -> FloatArray:
    return project(pose.values, to_grid(places[:, 0], places[:, 1]))


def _trimmed(ends: FloatArray, by_px: float) -> FloatArray:
    way = ends[1] - ends[0]
    length = float(np.hypot(*way))
    return ends + np.array([[1.0], [-1.0]]) * way / max(length, 1e-9) * min(by_px, 0.3 * length)


def measured(
    photo: Photo, pose: CameraPose, shown: GridPrint, choices: Sequence[FloatArray], reach_px: float
) -> FittedEdge | None:
    """Return the edge along one of some lines, the one that tells its direction best; None where there is none."""
    found = []
    for ends in choices:
        strip = strip_along(photo, pose, shown, ends, reach_px)
        line = None if strip is None else search(strip, reach_px, reach_px)
        fitted = None if strip is None or line is None else fit_edge(strip, line)
        if (
            fitted is not None
            and fitted.edge.share > GOOD_SHARE
            and fitted.misfit < WORST_MISFIT
            and fitted.edge.noise_px < WORST_NOISE_PX
            and fitted.shadow < SHADOW
        ):
            found.append(fitted)
            if fitted.edge.share > LONG_SHARE and fitted.misfit < CLEAN_MISFIT:
                break
    return min(found, key=lambda fitted: fitted.edge.turn_sd, default=None)


def _crossing(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return where two lines, each given by two points, cross."""
    way, beside = one[1] - one[0], other[1] - other[0]
    matrix = np.column_stack([way, -beside])
    if abs(np.linalg.det(matrix)) < 1e-6:
        return np.asarray(one[0])
    return np.asarray(one[0] + np.linalg.solve(matrix, other[0] - one[0])[0] * way)


def _rough(
    photo: Photo, pose: CameraPose, shown: GridPrint, plane: FrontPlane, face: Face, per_mm: float
) -> tuple[Corners, BoxFit | None]:
    """Return the corners of a face as its four outer edges give them, and the box that they give."""
    slope = -face.rise * plane.pitch_mm
    reach = float(np.clip(REACH_MM * per_mm, *REACH_PX))
    lines, edges = {}, []
    sides = (("left", face.left_mm, 0, 1.0), ("right", face.right_mm, 1, -1.0))
    for name, height in (("low", face.low_mm), ("high", face.high_mm)):
        ends = _pixels(pose, np.array([[at, height + slope * at] for _, at, _, _ in sides]))
        found = measured(photo, pose, shown, [_trimmed(ends, trim * per_mm) for trim in NOSES_MM[:2]], reach)
        lines[name] = ends if found is None else found.edge.ends()
        if found is not None:
            edges.append(BoxEdge(found.edge, sight_plane(found.edge, pose), "across"))
    for name, at, k, draft in sides:
        low, high = (h + slope * at for h in (face.low_mm, face.high_mm))
        ends = _pixels(pose, np.array([[at, low], [at + face.leans[k] * (high - low), high]]))
        found = measured(photo, pose, shown, [_trimmed(ends, trim * per_mm) for trim in NOSES_MM[:2]], reach)
        lines[name] = ends if found is None else found.edge.ends()
        if found is not None:
            kind = "along" if face.along[k] else "upright"
            edges.append(
                BoxEdge(found.edge, sight_plane(found.edge, pose), kind, 0.0 if face.along[k] else draft)
            )
    fit = chosen_fit(edges, pose, face.yaw_deg)[0] if len(edges) >= FEWEST_EDGES else None
    low_corners = (_crossing(lines["low"], lines["left"]), _crossing(lines["low"], lines["right"]))
    high_corners = []
    for k, name in enumerate(("left", "right")):
        side = lines[name]
        if face.along[k]:
            corner = low_corners[k]
            side = np.array([corner, corner + way_in_picture(pose, corner, fit, face, "upright")])
        high_corners.append(_crossing(lines["high"], side))
    return Corners(low_corners, (high_corners[0], high_corners[1])), fit


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


def _all_edges(
    photo: Photo, pose: CameraPose, shown: GridPrint, face: Face, corners: Corners, fit: BoxFit | None, per_mm: float
) -> list[BoxEdge]:
    """Return every edge of a box with these corners that the picture shows."""
    found = []

    def add(lines: Sequence[FloatArray], kind: str, draft: float = 0.0, doubt: float = 0.0) -> None:
        seen = measured(photo, pose, shown, lines, NEAR_PX)
        if seen is not None:
            found.append(BoxEdge(seen.edge, sight_plane(seen.edge, pose), kind, draft, doubt=doubt))

    for ends, doubt in ((corners.low, 0.0), (corners.high, UPPER_DOUBT)):
        add([_trimmed(np.array(ends), trim * per_mm + END_PX) for trim in NOSES_MM], "across", 0.0, doubt)
    for k, draft in enumerate((1.0, -1.0)):
        low, high = corners.low[k], corners.high[k]
        up = way_in_picture(pose, low, fit, face, "upright")
        tall = float((high - low) @ up / max(1e-9, float(up @ up)))
        if tall > SHORTEST_MM:
            add(
                [_trimmed(np.array([low, low + tall * up]), trim * per_mm + END_PX) for trim in NOSES_MM[:2]],
                "upright", draft,
            )  # fmt: skip
        for corner, lengths in ((low, SIDE_MM if face.along[k] else ()), (high, TOP_MM)):
            back = way_in_picture(pose, corner, fit, face, "along")
            add(
                [np.array([corner + at * back for at in (SKIP_MM, SKIP_MM + far)]) for far in lengths],
                "along",
            )  # fmt: skip
    return found


def chosen_fit(edges: Sequence[BoxEdge], pose: CameraPose, yaw_deg: float) -> tuple[BoxFit, list[BoxEdge]]:
    """Return the fit without the edges that contradict the others or what is usual of a body."""
    chosen = list(edges)
    fit = fit_box(chosen, pose, yaw_deg)
    while len(chosen) > 1:
        if np.abs(fit.misfit).max() < OUTLIER and fit.unusual < OUTLIER:
            break
        loose = [k for k, edge in enumerate(chosen) if not edge.firm]
        if not loose:
            break
        options = [(fit_box([*chosen[:k], *chosen[k + 1 :]], pose, yaw_deg), k) for k in loose]
        better, k = min(options, key=lambda option: option[0].cost)
        if fit.cost - better.cost < 0.5 * OUTLIER**2:
            break
        fit = better
        del chosen[k]
    return fit, chosen


def fitted_face(
    photo: Photo, pose: CameraPose, shown: GridPrint, plane: FrontPlane, face: Face, marked: Sequence[BoxEdge] = ()
) -> BodyView | None:
    """Return the box that the edges of a face give, without those that contradict the others."""
    ends = _pixels(pose, np.array([[-5.0, face.low_mm], [5.0, face.low_mm]]))
    per_mm = float(np.hypot(*(ends[1] - ends[0]))) / 10.0
    corners, rough = _rough(photo, pose, shown, plane, face, per_mm)
    edges = [*marked, *_all_edges(photo, pose, shown, face, corners, rough, per_mm)]
    if len(edges) < FEWEST_EDGES + len(marked):
        return None
    fit, chosen = chosen_fit(edges, pose, face.yaw_deg)
    if len(chosen) < FEWEST_EDGES:
        return None
    strain = fit.cost / max(1, len(chosen) - 1)
    if strain > USUAL_STRAIN:
        fit = fit_box(chosen, pose, face.yaw_deg, math.sqrt(strain))
    return BodyView(fit, tuple(chosen), face.worth - LOST_WORTH_MM * (len(edges) - len(chosen)))


def see_body(
    photo: Photo, pose: CameraPose, shown: GridPrint, marked: Sequence[BoxEdge] = ()
) -> tuple[BodyView | None, str]:
    """Return the body as the photograph shows it and '', or None and why it can't be read.

    `marked` are edges that a person pointed out, as exactly as a hand can.
    """
    front_deg = pose.tilt_deg()[1]
    if front_deg < LEAST_FRONT_DEG:
        return None, (
            f"its front face doesn't show: the phone looks down {max(0.0, front_deg):.0f} degrees from upright, "
            "seen from the front; hold it 20 to 30 degrees down the front"
        )
    plane = draw_plane(photo, pose, shown)
    lower = next((_on_plane(edge.edge, pose) for edge in marked if edge.kind == "across"), None)
    found = find_faces(plane, lower)
    if not found or found[0].worth < LEAST_WORTH_MM:
        return None, (
            "its edges can't be told from the sheet, the shadows and the headshell; go nearer, turn the lamp so that "
            "the front face is lit differently from the sheet, and hold still"
        )
    views: list[BodyView] = []
    for face in found[:FACES]:
        if face.worth < RIVAL_SHARE * found[0].worth:
            break
        view = fitted_face(photo, pose, shown, plane, face, marked)
        if view is not None:
            views.append(view)
    if not views:
        return None, "its edges are too short or too blurred to be measured; go nearer and hold still"
    first = views[0]
    for other in views[1:]:
        apart = abs(other.fit.yaw_deg - first.fit.yaw_deg)
        if apart > max(DISAGREE_DEG, DISAGREE * math.hypot(first.fit.sd_deg, other.fit.sd_deg)):
            return None, (
                f"two sets of edges may be its front face, and they differ by {apart:.1f} degrees; change the light, "
                "or take another photo from 20 to 30 degrees down the front"
            )
    return first, ""


def _on_plane(edge: Edge, pose: CameraPose) -> FloatArray:
    """Return the ends of an edge across the front as places across and heights of the plane. [shape=(2, 2)]"""
    centre, ways = pose.position(), rays(pose.values, edge.ends())
    places = centre + ((PLANE_MM - centre[1]) / ways[:, 1])[:, None] * ways
    ends = np.column_stack([places[:, 0], -places[:, 2]])
    return np.asarray(ends[np.argsort(ends[:, 0])])
