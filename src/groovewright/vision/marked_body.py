"""The body in a photograph on which a person marked the edge of its front, corner to corner.

The mark tells where to look: the edge is measured from there as a front's edge that was found is. What is read without
the mark counts in its place where it lies on the mark and is known much better.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.body import (
    LEAST_FRONT_DEG,
    BodyView,
    fitted_line,
    front_deep_mm,
    see_body,
    see_body_in_colour,
)
from groovewright.vision.box import BoxEdge, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.edge import Edge
from groovewright.vision.edge_fit import HAND_PX, SAME_PX, marked_edge, raw_edge
from groovewright.vision.front_line import LEVEL_MM, FrontLine
from groovewright.vision.grid_print import GridPrint
from groovewright.vision.load import Photo

AWAY_PX, TURNED_PX = 6.0, 7.5
"""How far an edge may lie beside a mark's middle, and how much farther from one of its ends than from the other.

A hand errs at each end by 1.5 to 2 px (standard deviation), of which three add up so between the ends; and behind what
was marked, by what of the front's height is seen from the front, it may be the other level edge of the same front that
shows. Headshells lie farther behind.
"""
APART_PX = 4.0
"""Farther apart than this two edges are measured from different pixels."""
BETTER = 1.5
"""What was measured on the mark stands unless something else nearly there is known so much better: choosing what is
known best each time would choose the too confident ones. Where both are the same edge there is nothing to choose."""
ALONE_WRONG = 0.2
"""The chance that an edge on a mark isn't the front's where nothing tells it from the headshell's (our own choice: of
eight in 220 rendered photographs three were the headshell's, or hidden under it in part)."""


def see_marked_body(
    photo: Photo, pose: CameraPose, shown: GridPrint, marked: Sequence[BoxEdge]
) -> tuple[BodyView | None, str]:
    """Return the body and '', or None and why none is read on what a person marked.

    `marked` are the marked edges, as exactly as a hand can; of them the first one across is the front's.
    """
    mark = next((edge.edge for edge in marked if edge.kind == "across"), None)
    if mark is None:
        return see_body(photo, pose, shown, marked)
    ahead = _ahead(pose, line_of_mark(pose, mark))
    behind_mm = front_deep_mm(min(pose.tilt_deg()[1], LEAST_FRONT_DEG))

    def on_mark(view: BodyView | None) -> bool:
        return view is not None and any(
            lies_on(front.edge, mark, ahead, behind_mm) for front in _fronts(view)
        )

    views = []
    for moved in (False, True):
        start = _within_reach(photo, pose, shown, mark) if moved else mark
        aided, _ = fitted_line(photo, pose, shown, line_of_mark(pose, start), marked)
        if on_mark(aided):
            views.append(aided)
            break
    unaided, why = see_body_in_colour(photo, pose, shown)
    views.append(unaided)
    if pose.tilt_deg()[1] >= LEAST_FRONT_DEG or not any(on_mark(view) for view in views):
        views.append(see_body(photo, pose, shown, marked)[0])
    near = [pointed_at(view, pose) for view in views if view is not None and on_mark(view)]
    if not near:
        return None, why
    return told_by_all(near, marked, pose), ""


def told_by_all(views: Sequence[BodyView], marked: Sequence[BoxEdge], pose: CameraPose) -> BodyView:
    """Return what some bodies on a mark tell, of which the first was measured from it.

    Where another's front is the same edge, the better measurement counts; where it is another edge of the same front,
    both are fitted together, if that tells more: where they contradict each other the marked one stands.
    """
    first = best = views[0]
    for view in views[1:]:
        apart = [np.abs(_beside(one.edge, other.edge)) for one in _fronts(first) for other in _fronts(view)]
        if any(away.max() < SAME_PX for away in apart):
            told, factor = view, 1.0
        elif all(away.min() > APART_PX for away in apart):
            told, factor = _together(first, view, marked, pose), 1.0
        else:
            told, factor = view, BETTER
        if factor * told.fit.sd_deg < best.fit.sd_deg:
            best = told
    return best


def _together(view: BodyView, other: BodyView, marked: Sequence[BoxEdge], pose: CameraPose) -> BodyView:
    """Return the box that the edges of the better known body and the other's front give."""
    better, worse = sorted((view, other), key=lambda one: one.fit.sd_deg)
    own = (edge for edge in better.edges if edge.edge.floor_px < HAND_PX)
    edges = (*marked, *own, *_fronts(worse))
    return replace(view, fit=fit_box(edges, pose, better.fit.yaw_deg), edges=edges)


def _fronts(view: BodyView) -> list[BoxEdge]:
    return [edge for edge in view.edges if _is_front(edge)]


def _beside(edge: Edge, other: Edge) -> FloatArray:
    """Return how far beside the longer of two edges the ends of the shorter one lie. [shape=(2,)]"""
    short, long = sorted((edge, other), key=lambda one: float(np.hypot(*np.diff(one.ends(), axis=0)[0])))
    return _aside(long, short.ends())


def _aside(edge: Edge, places: FloatArray) -> FloatArray:
    """Return how far beside an edge's line some places in the picture lie. [shape=(n, 2) to (n,)]"""
    start, end = edge.ends()
    way = end - start
    normal = np.array([-way[1], way[0]]) / max(1e-9, float(np.hypot(*way)))
    return np.asarray((places - start) @ normal)


def _within_reach(photo: Photo, pose: CameraPose, shown: GridPrint, mark: Edge) -> Edge:
    """Return the clearest edge beside a mark, as long as that, or the mark where there is none."""
    ends = mark.ends()
    edge = marked_edge(photo, pose, shown, (ends[0, 0], ends[0, 1]), (ends[1, 0], ends[1, 1]))
    start, end = edge.ends()
    way = (end - start) / max(1e-9, float(np.hypot(*(end - start))))
    return raw_edge(start + ((ends - start) @ way)[:, None] * way)


def line_of_mark(pose: CameraPose, mark: Edge) -> FrontLine:
    """Return a marked front as a line on the level plane from which its edge is measured."""
    places = on_plane(pose.values, mark.ends(), LEVEL_MM)
    left, right = places[np.argsort(places[:, 0])]
    yaw = math.atan2(right[1] - left[1], right[0] - left[0])
    across, ahead = np.array([math.cos(yaw), math.sin(yaw)]), np.array([-math.sin(yaw), math.cos(yaw)])
    return FrontLine(
        math.degrees(yaw),
        float(left @ ahead),
        float(left @ across),
        float(right @ across),
        worth=0.0,
    )


def _ahead(pose: CameraPose, line: FrontLine) -> FloatArray:
    """Return one millimetre to the front in the picture, at a line. [shape=(2,)]"""
    middle = np.full(2, 0.5 * (line.left_mm + line.right_mm))
    back, front = project(pose.values, line.places(middle, line.ahead_mm + np.array([-0.5, 0.5])))
    return np.asarray(front - back)


def lies_on(edge: Edge, mark: Edge, ahead: FloatArray, behind_mm: float) -> bool:
    """Return whether an edge lies where a hand may have marked it, or behind it where the front's other edge may show.

    `ahead` [shape=(2,)] is a millimetre to the front in the picture.
    """
    before = edge.points.mean(axis=0) + ahead
    away = -_aside(edge, mark.ends()) * math.copysign(1.0, float(_aside(edge, before[None])[0]))
    behind = AWAY_PX + behind_mm * float(np.hypot(*ahead))
    return -behind < float(away.mean()) < AWAY_PX and abs(float(away[1] - away[0])) < TURNED_PX


def _is_front(edge: BoxEdge) -> bool:
    """Return whether an edge runs across the body and was measured, not marked."""
    return edge.kind == "across" and edge.edge.floor_px < HAND_PX


def pointed_at(view: BodyView, pose: CameraPose) -> BodyView:
    """Return a body whose front a person pointed at; it is doubted where nothing tells it from the headshell's."""
    edges = tuple(_front_pointed_at(edge, pose, alone=view.alone) for edge in view.edges)
    return replace(view, fit=fit_box(edges, pose, view.fit.yaw_deg), edges=edges)


def _front_pointed_at(edge: BoxEdge, pose: CameraPose, *, alone: bool) -> BoxEdge:
    if not _is_front(edge):
        return edge
    found = edge.edge.as_pointed_at()
    wrong = max(edge.wrong, ALONE_WRONG) if alone else edge.wrong
    return replace(edge, edge=found, plane=sight_plane(found, pose), wrong=wrong)
