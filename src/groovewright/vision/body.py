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
from groovewright.vision.body_edges import FEWEST_EDGES, chosen_fit, corners_of, edges_of
from groovewright.vision.box import BoxEdge, BoxFit, fit_box
from groovewright.vision.camera import CameraPose, project, rays
from groovewright.vision.edge import Edge
from groovewright.vision.face import Face, find_faces
from groovewright.vision.front_plane import PLANE_MM, FrontPlane, draw_plane, to_grid
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo

LEAST_FRONT_DEG = 12.0
"""From less far before the cartridge its front face is too flat in the picture."""
LEAST_WORTH_MM, LOST_WORTH_MM = 8.0, 2.0
"""Less of edges than this, in sum, is no face; what an edge that contradicts the others speaks against it."""
FACES, RIVAL_SHARE = 2, 0.8
DISAGREE, DISAGREE_DEG = 2.5, 0.3
"""So far apart, in standard deviations and degrees, two faces say something different."""
USUAL_STRAIN = 1.5
FACE_YAW_DEG = 2.0
"""An edge fit farther than this from the yaw of the face that it started from is of something else."""


@dataclass(frozen=True)
class BodyView:
    """The body in a photograph: the box that was fitted, the edges that it was fitted to, and what spoke for it."""

    fit: BoxFit
    edges: tuple[BoxEdge, ...]
    worth: float


def fitted_face(
    photo: Photo,
    pose: CameraPose,
    shown: GridPrint,
    plane: FrontPlane,
    face: Face,
    marked: Sequence[BoxEdge] = (),
) -> BodyView | None:
    """Return the box that the edges of a face give, without those that contradict the others."""
    ends = project(pose.values, to_grid(np.array([-5.0, 5.0]), np.full(2, face.low_mm)))
    per_mm = float(np.hypot(*(ends[1] - ends[0]))) / 10.0
    corners, rough = corners_of(photo, pose, shown, plane, face, per_mm)
    edges = [*marked, *edges_of(photo, pose, shown, plane, face, corners, rough, per_mm)]
    if len(edges) < FEWEST_EDGES + len(marked):
        return None
    fit, chosen = chosen_fit(edges, pose, face.yaw_deg)
    if len(chosen) < FEWEST_EDGES or abs(fit.yaw_deg - face.yaw_deg) > FACE_YAW_DEG:
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
