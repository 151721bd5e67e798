"""The yaw of the cartridge's body without a flag: a face is found, its edges are measured, a box is fitted.

Faces that may be the body's are tried in the order of what speaks for them. What is read must not hang on which
of them is the right one: where a second face that is nearly as likely gives another yaw, none is given.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray, InputError
from groovewright.vision.box import BoxEdge, BoxFit, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, project, rays
from groovewright.vision.edge import Edge, refine_line
from groovewright.vision.face import Face, Scene, Side, faces, place_at, scene_of
from groovewright.vision.front_plane import Facing, Segment
from groovewright.vision.load import Photo
from groovewright.vision.marks import sample

FRONT = Facing(0.0, 3.0, 15.0)
"""The front face stands some millimetres before the stylus (common practice)."""
LEAST_FRONT_DEG = 16.0
"""From less far before the cartridge its front face is too flat in the picture."""
LEAST_WORTH_MM = 8.0
"""Less of edges than this, in sum, is no face."""
FACES, RIVAL_SHARE = 3, 0.75
"""How many faces are tried, and from which share of the best one's worth on they count."""
DISAGREE = 2.5
"""In standard deviations: so far apart two faces say something different."""
END_PX, CORNER_MM, REACH_PX, REACH_MM, SHORTEST_PX, FEWEST_SHARE = 1.5, 0.4, 3.0, 0.35, 9.0, 0.6
"""How much is left out at an edge's ends, how far from where it was found it may lie, its least length."""
LONGER_MM = (12.0, 8.0, 4.0)
LONG_SHARE, LONG_NOISE_PX = 0.85, 0.25
"""By how much an edge along the body is followed up the plane, as long as it stays one straight edge."""
UPPER_DOUBT = 0.005
"""Radians by which an upper edge may be turned because it is the headshell's, and not so far as to contradict."""
MARKED_WORTH, SAME_PX = 2.0, 3.0
BEHIND_MM = (-5.0, -10.0, -15.0)
"""Heavy lines that a cartridge on the null covers."""
FEWEST_EDGES, OUTLIER = 3, 3.0


@dataclass(frozen=True)
class BodyView:
    """The body in a photograph: the box that was fitted, the edges that it was fitted to, and what spoke for it."""

    fit: BoxFit
    edges: tuple[BoxEdge, ...]
    worth: float


def see_body(photo: Photo, pose: CameraPose, marked: Sequence[BoxEdge] = ()) -> tuple[BodyView | None, str]:
    """Return the body as the photograph shows it and '', or None and why it can't be read.

    `marked` are edges that a person pointed out; a face that contradicts them is left out.
    """
    front_deg = pose.tilt_deg()[1]
    if front_deg < LEAST_FRONT_DEG:
        return None, (
            f"its front face doesn't show: the phone looks down {max(0.0, front_deg):.0f} degrees from upright, "
            "seen from the front; hold it 20 to 30 degrees down the front"
        )
    scene = scene_of(
        photo, pose, FRONT, [_on_plane(edge.edge, pose) for edge in marked if edge.kind == "across"]
    )
    found = faces(scene)
    if not found or found[0].worth < LEAST_WORTH_MM:
        return None, (
            "its edges can't be told from the sheet, the shadows and the headshell; go nearer, turn the lamp so that "
            "the front face is lit differently from the sheet, and hold still"
        )
    views: list[BodyView] = []
    for face in _different(found):
        own = [
            edges
            for edges in box_edges(photo, scene, face)
            if not any(_same(edges[0], edge) for edge in marked)
        ]
        best = best_fit([*own, *((edge,) for edge in marked)], pose)
        if best is not None and all(any(edge is kept for kept in best[1]) for edge in marked):
            views.append(BodyView(best[0], tuple(best[1]), face.worth))
    if not views:
        return None, "its edges are too short or too blurred to be measured; go nearer and hold still"
    first = views[0]
    for other in views[1:]:
        apart = abs(other.fit.yaw_deg - first.fit.yaw_deg)
        if apart > DISAGREE * math.hypot(first.fit.sd_deg, other.fit.sd_deg):
            return None, (
                f"two sets of edges may be its front face, and they differ by {apart:.1f} degrees; change the light, "
                "or take another photo from 20 to 30 degrees down the front"
            )
    return first, ""


def _on_plane(edge: Edge, pose: CameraPose) -> Segment:
    """Return a marked edge across the front as a segment of the plane that is worth more than any other."""
    centre, ways = pose.position(), rays(pose.values, edge.ends())
    places = centre + ((FRONT.plane_mm - centre[1]) / ways[:, 1])[:, None] * ways
    ends = np.column_stack([places[:, 0], -places[:, 2]])
    ends = ends[np.argsort(ends[:, 0])]
    return Segment(ends, 1.0, MARKED_WORTH * float(np.hypot(*(ends[1] - ends[0]))))


def _same(one: BoxEdge, other: BoxEdge) -> bool:
    """Return whether two edges are one and the same line of the picture."""
    (a, b), middle = one.edge.ends(), other.edge.ends().mean(axis=0)
    way = (b - a) / max(1e-9, float(np.hypot(*(b - a))))
    away = middle - a
    return one.kind == other.kind and abs(float(way[0] * away[1] - way[1] * away[0])) < SAME_PX


def sheet_shows(photo: Photo, pose: CameraPose) -> float:
    """Return how much darker the heavy lines behind the null are than the paper beside them, as a share.

    Where a cartridge stands over them there is next to no difference.
    """
    x, y = np.meshgrid(np.arange(-6.0, 6.1, 0.25), BEHIND_MM)
    x = x[:, np.abs((x[0] + 2.5) % 5.0 - 2.5) > 1.0]
    y = y[:, : x.shape[1]]
    levels = [
        sample(
            photo.gray, project(pose.values, np.column_stack([x.ravel(), y.ravel() + off, 0.0 * x.ravel()]))
        )
        for off in (0.0, -1.5, 1.5)
    ]
    return float(1.0 - levels[0].mean() / max(1.0, 0.5 * float(levels[1].mean() + levels[2].mean())))


def _different(found: Sequence[Face]) -> list[Face]:
    """Return the best face, and those with other level edges that are nearly as likely."""
    chosen: list[Face] = []
    for face in found:
        if face.worth < RIVAL_SHARE * found[0].worth or len(chosen) == FACES:
            break
        if all(set(map(id, face.levels)) != set(map(id, other.levels)) for other in chosen):
            chosen.append(face)
    return chosen


def _clipped(segment: Segment, low: float, high: float, axis: int) -> FloatArray:
    """Return a segment's ends, cut to a range across (axis 0) or of heights (axis 1)."""
    a, b = segment.ends
    span = b[axis] - a[axis]
    shares = np.clip([(low - a[axis]) / span, (high - a[axis]) / span], 0.0, 1.0)
    return np.asarray(a + shares[:, None] * (b - a))


def _measured(photo: Photo, pose: CameraPose, facing: Facing, ends: FloatArray) -> Edge | None:
    """Return the edge in the picture that a segment of the plane is; None where it can't be measured."""
    pixels = project(pose.values, facing.to_grid(ends[:, 0], ends[:, 1]))
    way = pixels[1] - pixels[0]
    length = float(np.hypot(*way))
    pixels = pixels + np.array([[1.0], [-1.0]]) * way / max(length, 1e-9) * min(END_PX, 0.1 * length)
    per_mm = length / max(1e-9, float(np.hypot(*(ends[1] - ends[0]))))
    try:
        a, b = ((float(u), float(v)) for u, v in pixels)
        return refine_line(photo, a, b, pose, max(REACH_PX, REACH_MM * per_mm), SHORTEST_PX, FEWEST_SHARE)
    except InputError:
        return None


def box_edges(photo: Photo, scene: Scene, face: Face) -> list[tuple[BoxEdge, ...]]:
    """Return the edges of a face that can be measured in the picture, each as all that it may be."""
    found: list[tuple[BoxEdge, ...]] = []
    facing = scene.plane.facing
    across, along = ("across", "along") if abs(facing.turn_deg) < 45.0 else ("along", "across")
    for side, draft in ((face.left, 1.0), (face.right, -1.0)):
        edge, mixed = _longest(photo, scene, side, face.levels)
        if edge is None:
            continue
        # what stands upright is foreshortened, and turns by more in the picture than on the plane
        doubt = side.doubt * mixed * math.hypot(1.0, scene.plane.pitch_mm)
        plane = sight_plane(edge, scene.pose)
        as_upright = BoxEdge(edge, plane, "upright", draft, facing.turn_deg, doubt)
        as_along = BoxEdge(edge, plane, along, doubt=doubt)
        if side.doubt > 0.0 or not side.seen:
            found.append((as_upright if side.kind == "upright" else as_along,))
        else:
            found.append((as_along, as_upright))
    for level in face.levels:
        height = float(level.ends[:, 1].mean())
        ends = _clipped(
            level, place_at(face.left.segment, height) + 0.4, place_at(face.right.segment, height) - 0.4, 0
        )
        edge = _measured(photo, scene.pose, facing, ends)
        if edge is not None:
            # an upper edge may be the headshell's; nothing but the body lies as low as the lower one
            lower = level is face.levels[0]
            plane = sight_plane(edge, scene.pose)
            found.append((BoxEdge(edge, plane, across, doubt=0.0 if lower else UPPER_DOUBT, firm=lower),))
    for segment in face.inner:
        edge = _measured(photo, scene.pose, facing, segment.ends)
        if edge is not None:
            a, b = (place_at(side.segment, float(segment.ends[0, 1])) for side in (face.left, face.right))
            left = segment.ends[0, 0] - a < b - segment.ends[0, 0]
            plane = sight_plane(edge, scene.pose)
            found.append((BoxEdge(edge, plane, "upright", 1.0 if left else -1.0, facing.turn_deg),))
    return found


def _longest(photo: Photo, scene: Scene, side: Side, levels: Sequence[Segment]) -> tuple[Edge | None, float]:
    """Return a side as an edge in the picture: an upright as it is, an edge along the body as far as it goes.

    The second is the share of it that may be the upright too.
    """
    if side.kind == "along":
        a, b = side.segment.ends
        for more_mm in LONGER_MM:
            edge = _measured(
                photo, scene.pose, scene.plane.facing, np.array([a, b + more_mm * (b - a) / (b - a)[1]])
            )
            if edge is not None and edge.share > LONG_SHARE and edge.noise_px < LONG_NOISE_PX:
                height = float((b - a)[1])
                return edge, (height / (height + more_mm)) ** 2
    ends = side.segment.ends
    if side.kind == "upright":
        # not beyond the corners, where it would be another edge
        middle = float(ends[:, 1].mean())
        heights = [_height_at(level, float(ends[:, 0].mean())) for level in levels]
        low = max((h for h in heights if h < middle), default=-math.inf) + CORNER_MM
        high = min((h for h in heights if h > middle), default=math.inf) - CORNER_MM
        ends = _clipped(side.segment, max(low, ends[0, 1]), min(high, ends[1, 1]), 1)
    return _measured(photo, scene.pose, scene.plane.facing, ends), 1.0


def _height_at(level: Segment, across: float) -> float:
    (x0, h0), (x1, h1) = level.ends
    return float(h0 + (h1 - h0) * (across - x0) / max(x1 - x0, 1e-6))


def best_fit(edges: Sequence[tuple[BoxEdge, ...]], pose: CameraPose) -> tuple[BoxFit, list[BoxEdge]] | None:
    """Return the fit of the likeliest choice of what the edges are, and that choice.

    None where the face's lower edge is not among them.
    """
    fits = []
    for choice in itertools.product(*edges):
        chosen = list(choice)
        if not any(edge.firm for edge in chosen):
            continue
        fit = fit_box(chosen, pose)
        while len(chosen) > FEWEST_EDGES and np.abs(fit.misfit).max() > OUTLIER:
            del chosen[_worst(chosen, fit)]
            fit = fit_box(chosen, pose)
        fits.append((fit.cost + OUTLIER**2 * (len(choice) - len(chosen)), fit, chosen))
    if not fits:
        return None
    _, fit, chosen = min(fits, key=lambda option: option[0])
    return fit, chosen


def _worst(edges: Sequence[BoxEdge], fit: BoxFit) -> int:
    """Return which edge contradicts the others; against a firm one, it is another of the same kind."""
    size = np.abs(fit.misfit)
    first = int(np.argmax(size))
    if not edges[first].firm:
        return first
    loose = [k for k, edge in enumerate(edges) if not edge.firm]
    alike = [k for k in loose if edges[k].kind == edges[first].kind]
    return max(alike or loose or [first], key=lambda k: float(size[k]))
