"""The yaw of the cartridge's body without a flag: a face is found, its edges are measured, a box is fitted.

Faces that may be the body's are tried in the order of what speaks for them. What is read must not hang on which
of them is the right one: where a second face that is nearly as likely gives another yaw, none is given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.body_edges import FEWEST_EDGES, LONG_SHARE, WRONG, corners_of, edges_of
from groovewright.vision.box import BoxEdge, BoxFit, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, on_plane, project, rays
from groovewright.vision.colour import telling_colour
from groovewright.vision.edge import Edge
from groovewright.vision.face import LARGEST_YAW_DEG, Face, find_faces
from groovewright.vision.front_edges import PITCH_DEG, UPRIGHT_MM, front_edges
from groovewright.vision.front_line import LEVEL_MM, FrontLine, find_front_lines
from groovewright.vision.front_plane import PLANE_MM, FrontPlane, draw_plane, to_grid
from groovewright.vision.grid_print import GridPrint, see_print
from groovewright.vision.load import Photo

LEAST_FRONT_DEG = 12.0
"""From less far before the cartridge its front face is too flat in the picture."""
LEAST_WORTH_MM, LOST_WORTH_MM = 8.0, 2.0
"""Less of edges than this, in sum, is no face; what an edge that contradicts the others speaks against it."""
LEAST_LINE_WORTH_MM = 0.5
"""The same of a front's edge and what speaks for the sheet before it and for its being covered behind."""
LEAST_BELIEF = 0.1
"""A front's edge that is at right angles to neither of the two sides behind it is another's."""
FACES, RIVAL_SHARE = 2, 0.8
POOR_SD_DEG, LEAST_SHARE, SURE_SHARE = 0.35, 0.25, 0.6
"""What is known worse than this says nothing against what is known better. For what may be a front speaks at least this
share of what does for any other: the edge of a slip before it has less. Once a front is told clearly, nothing with
less than the last share of its worth is looked at."""
DISAGREE, DISAGREE_DEG = 2.5, 0.3
"""So far apart, in standard deviations and degrees, two faces say something different."""
CLEAR_SD_DEG = 0.15
"""What gray tells so well isn't looked for in colour."""
FAR_ASIDE_DEG = 12.0
"""From farther aside a side face shows, and its edges tell as much as the front's: what contradicts counts, but not
against a front that a headshell shows behind."""
COLOUR_PX = 0.25
"""A JPEG keeps colours at half the resolution and more coarsely than gray: each end of an edge errs by so much more
(measured on twelve ray-traced photographs of coloured bodies)."""
FACE_MM, ROUGH_MM = 12.0, 0.7
"""How high a front is, and how roughly it is known how far ahead a line lies."""
ACROSS_MM, OFF_MM = 2.0, max(UPRIGHT_MM[1] - LEVEL_MM, LEVEL_MM - UPRIGHT_MM[0])
"""A front stands across the stylus and so across the null: what reaches less far to one side of it is a slip's edge, or
a tool's (of 260 fronts found in rendered photographs all reached 2.6 mm and more). How far above or below the plane
that it is measured on it may lie, which seen from aside moves it across."""
FACE_YAW_DEG, LINE_YAW_DEG = 3.0, 4.0
"""An edge fit farther than this from the yaw of the face, or of the front edge, that it started from is of something
else, unless it is an outline that is measured cleanly."""


@dataclass(frozen=True)
class BodyView:
    """The body in a photograph: the box that was fitted, the edges that it was fitted to, and what spoke for it.

    `alone`: nothing tells that its front is the body's and not the headshell's, or it lies beside the null. `upper`:
    of its front the upper edge was found, with the face before it.
    """

    fit: BoxFit
    edges: tuple[BoxEdge, ...]
    worth: float
    alone: bool = False
    upper: bool = False


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
    fit = fit_box(edges, pose, face.yaw_deg)
    if fit.belief.sum() < FEWEST_EDGES - 0.5 or abs(fit.yaw_deg - face.yaw_deg) > FACE_YAW_DEG:
        return None
    return BodyView(fit, _believed(edges, fit), face.worth - LOST_WORTH_MM * float((1.0 - fit.belief).sum()))


def fitted_line(
    photo: Photo,
    pose: CameraPose,
    shown: GridPrint,
    line: FrontLine,
    marked: Sequence[BoxEdge] = (),
) -> tuple[BodyView | None, bool]:
    """Return the box that a front edge and what shows of its sides give, and whether the edge is an outline.

    None where there is no such edge.
    """
    at = np.array([line.left_mm, line.right_mm])
    ends = project(pose.values, line.places(at, np.full(2, line.ahead_mm)))
    seen = front_edges(photo, pose, shown, line, ends)
    if seen is None:
        return None, False
    edges, outline = seen.edges, seen.outline
    if seen.foremost and seen.before_headshell and edges[0].edge.share > LONG_SHARE:
        # it shows from end to end, and what lies before and behind tells whose it is: noise says nothing against it
        edges = [as_pointed_at(edges[0], pose), *edges[1:]]
    fit = fit_box([*marked, *edges], pose, line.yaw_deg)
    near = abs(pose.tilt_deg()[0]) < FAR_ASIDE_DEG
    if seen.foremost and (near or (seen.before_headshell and edges[0].wrong <= WRONG["outline"])):
        # the sheet before it tells that it is the front's; what lies beside it and doesn't agree is no side of the body
        beliefs = fit.belief[len(marked) + 1 :]
        agree = [edge for edge, belief in zip(edges[1:], beliefs, strict=True) if belief > 0.5]
        choices = [edges[:1], [edges[0], *agree]] if agree else [edges[:1]]
        fits = [fit_box([*marked, *choice], pose, line.yaw_deg) for choice in choices]
        best = min(range(len(fits)), key=lambda k: fits[k].sd_deg)
        fit, edges = fits[best], choices[best]
    if (
        abs(fit.yaw_deg) > LARGEST_YAW_DEG
        or (abs(fit.yaw_deg - line.yaw_deg) > LINE_YAW_DEG and not (outline and seen.clean))
        or fit.belief[len(marked)] < 0.5
    ):
        return None, False
    sides = fit.belief[len(marked) + 1 :]
    if len(sides) > 1 and sides.max() < LEAST_BELIEF:
        return None, False
    alone = seen.alone or not (marked or _across_null(pose, edges[0].edge))
    upper = outline and not seen.foremost
    return BodyView(fit, _believed([*marked, *edges], fit), line.worth, alone, upper), outline


def _across_null(pose: CameraPose, edge: Edge) -> bool:
    """Return whether an edge across the body reaches to both sides of the null."""
    ends = on_plane(pose.values, edge.ends(), LEVEL_MM)
    along = ends @ ((ends[1] - ends[0]) / max(1e-9, float(np.hypot(*(ends[1] - ends[0])))))
    least = ACROSS_MM - OFF_MM * abs(math.tan(math.radians(pose.tilt_deg()[0])))
    return bool(along[0] < -least and along[1] > least)


def as_pointed_at(edge: BoxEdge, pose: CameraPose) -> BoxEdge:
    """Return an edge of the box as where it is known to be one: noise is told from what pulls at it."""
    found = edge.edge.as_pointed_at()
    return replace(edge, edge=found, plane=sight_plane(found, pose))


def _believed(edges: Sequence[BoxEdge], fit: BoxFit) -> tuple[BoxEdge, ...]:
    return tuple(edge for edge, belief in zip(edges, fit.belief, strict=True) if belief > 0.5)


def see_body(
    photo: Photo, pose: CameraPose, shown: GridPrint, marked: Sequence[BoxEdge] = ()
) -> tuple[BodyView | None, str]:
    """Return the body as the photograph shows it and '', or None and why it can't be read.

    From the front its front face is looked for, from elsewhere, or where no face tells it well, its front's edge. Where
    both do, the better one is taken, and the other has to agree.
    `marked` are edges that a person pointed out, as exactly as a hand can.
    """
    views = _by_face(photo, pose, shown, marked)
    if not views or views[0].fit.sd_deg > POOR_SD_DEG:
        lines = _by_line(photo, pose, shown, marked)
        views = sorted([*views, *lines], key=lambda view: view.fit.sd_deg) if views else lines
    if not views:
        return None, (
            "its edges can't be told from the sheet, the shadows and the headshell; go nearer, turn the lamp so that "
            "the front is lit differently from the sheet, and hold still"
        )
    if views[0].alone and not marked:
        return None, (
            "its foremost edge may be the headshell's own, or that of something before it: look whether the body "
            "stands out before the headshell and nothing lies over its front, and turn the lamp so that one is lit "
            "differently from the other"
        )
    return _agreed(views)


def see_body_in_colour(photo: Photo, pose: CameraPose, shown: GridPrint) -> tuple[BodyView | None, str]:
    """Return the body as `see_body` does, looked for in the most telling colour too where gray doesn't tell it well.

    What gray and colour say has to agree, as what two sets of edges say: a second try makes no false reading likelier.
    """
    gray, why = see_body(photo, pose, shown)
    if gray is not None and gray.fit.sd_deg < CLEAR_SD_DEG:
        return gray, why
    coloured = telling_colour(photo, pose)
    if coloured is None:
        return gray, why
    other, _ = see_body(coloured, pose, see_print(coloured, pose, shown.ladder_mm))
    if other is None:
        return gray, why
    other = _as_colour_tells(other)
    return (other, "") if gray is None else _agreed(sorted((gray, other), key=lambda view: view.fit.sd_deg))


def _as_colour_tells(view: BodyView) -> BodyView:
    """Return a body with what the coarser colours of a file add to its uncertainty."""
    length = max(float(np.hypot(*np.diff(edge.edge.ends(), axis=0)[0])) for edge in view.edges)
    added = math.degrees(math.sqrt(2.0) * COLOUR_PX / length)
    wider = 1.0 + (added / view.fit.sd_deg) ** 2
    return replace(view, fit=replace(view.fit, covariance=wider * view.fit.covariance))


def _agreed(views: Sequence[BodyView]) -> tuple[BodyView | None, str]:
    """Return the first of what may be the body, or none where another contradicts it, and why."""
    first = views[0]
    for other in views[1:]:
        apart = abs(other.fit.yaw_deg - first.fit.yaw_deg)
        if apart > max(DISAGREE_DEG, DISAGREE * math.hypot(first.fit.sd_deg, other.fit.sd_deg)):
            return None, (
                f"two sets of edges may be its front, and they differ by {apart:.1f} degrees; change the light, "
                "or take another photo as the guidance asks"
            )
    return first, ""


def front_deep_mm(front_deg: float) -> float:
    """Return how far behind its lower edge a front's upper one may show, looked at from so far before upright."""
    return FACE_MM * math.tan(math.radians(max(0.0, front_deg + PITCH_DEG)))


def _marked_front(marked: Sequence[BoxEdge]) -> Edge | None:
    return next((edge.edge for edge in marked if edge.kind == "across"), None)


def _by_face(photo: Photo, pose: CameraPose, shown: GridPrint, marked: Sequence[BoxEdge]) -> list[BodyView]:
    """Return what the front faces that may be the body's give; empty where none shows."""
    if pose.tilt_deg()[1] < LEAST_FRONT_DEG:
        return []
    plane, lower = draw_plane(photo, pose, shown), _marked_front(marked)
    faces = find_faces(plane, None if lower is None else _on_plane(lower, pose))
    views = [
        fitted_face(photo, pose, shown, plane, face, marked)
        for face in faces[:FACES]
        if face.worth >= max(LEAST_WORTH_MM, RIVAL_SHARE * faces[0].worth)
    ]
    return [view for view in views if view is not None]


def _by_line(photo: Photo, pose: CameraPose, shown: GridPrint, marked: Sequence[BoxEdge]) -> list[BodyView]:
    """Return what the level edges that may be the front's give: outlines, the best first, or else the others."""
    across = _marked_front(marked)
    middle = None if across is None else on_plane(pose.values, across.ends(), LEVEL_MM).mean(axis=0)
    lines = find_front_lines(photo, pose, shown, middle)
    outlines: list[tuple[float, BodyView]] = []
    others: list[BodyView] = []
    least = LEAST_LINE_WORTH_MM if across is None else -math.inf
    for line in lines:
        if line.worth < least:
            break
        view, outline = fitted_line(photo, pose, shown, line, marked)
        if view is None:
            continue
        if not outline:
            others.append(view)
            continue
        outlines.append((line.ahead_mm, view))
        if across is None and not view.alone and view.fit.sd_deg < CLEAR_SD_DEG:
            least = max(least, SURE_SHARE * line.worth)
    if not outlines:
        # where the sheet doesn't show before it, it may be the headshell's as well
        return others if marked else []
    # what lies farther behind an outline is the headshell's, or the same front's upper edge
    most = max(view.worth for _, view in outlines)
    # where a person marked it, less may speak for a front than against it
    outlines = [found for found in outlines if found[1].worth >= min(most, LEAST_SHARE * most)]
    # before a front's upper edge lies its own lower one; what has a front still farther ahead is the headshell's
    foremost = max((ahead_mm for ahead_mm, view in outlines if not view.alone), default=-math.inf)
    deep = ROUGH_MM + front_deep_mm(pose.tilt_deg()[1])
    outlines = [found for found in outlines if not found[1].upper or foremost - found[0] < deep]
    ahead_mm, best = min(outlines, key=lambda found: (found[1].alone, found[1].fit.sd_deg))
    rivals = (
        view
        for at, view in sorted(outlines, key=lambda found: -found[0])
        if view is not best and at > ahead_mm - ROUGH_MM and view.fit.sd_deg < POOR_SD_DEG
    )
    return [best, *rivals]


def _on_plane(edge: Edge, pose: CameraPose) -> FloatArray:
    """Return the ends of an edge across the front as places across and heights of the plane. [shape=(2, 2)]"""
    centre, ways = pose.position(), rays(pose.values, edge.ends())
    places = centre + ((PLANE_MM - centre[1]) / ways[:, 1])[:, None] * ways
    ends = np.column_stack([places[:, 0], -places[:, 2]])
    return np.asarray(ends[np.argsort(ends[:, 0])])
