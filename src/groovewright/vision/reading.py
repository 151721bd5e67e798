"""What a photograph says of the cartridge's yaw: the flag, the body, or lines that a person marked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from groovewright.quantities import CannotBeDoneError, FloatArray, InputError, Reading
from groovewright.sheets.identity import SheetIdentity
from groovewright.sheets.markers import NULL_NAMES
from groovewright.vision.body import BodyView, see_body_in_colour
from groovewright.vision.box import BoxEdge, BoxFit, fit_box, sight_plane
from groovewright.vision.camera import CameraPose, on_plane
from groovewright.vision.edge import Edge, refine_line
from groovewright.vision.edge_fit import HAND_PX, marked_edge, raw_edge
from groovewright.vision.flag import FARTHEST_MM, FlagView, codes_from_above, nulls_with_flag, see_flag
from groovewright.vision.front_line import LEVEL_MM
from groovewright.vision.grid_print import GridPrint, ladder_of, see_print, stands_here
from groovewright.vision.load import Photo
from groovewright.vision.marked_body import see_marked_body
from groovewright.vision.marks import Code, find_codes, find_codes_with_patience
from groovewright.vision.nothing_seen import cut_off, explain_nothing_found
from groovewright.vision.paper import flattened
from groovewright.vision.photo_warnings import (
    KNOWN_POORLY,
    PANEL_HIDDEN,
    POOR_SD_DEG,
    paper_warnings,
    view_warnings,
)
from groovewright.vision.sheet_view import PLENTY_OF_SADDLES, SheetView, see_grids
from groovewright.vision.sight import (
    SLOPES,
    FusedYaw,
    Sight,
    fuse,
    nearest_kind,
    sight_of_box,
    sight_of_edge,
    sight_of_flag,
)

LARGEST_YAW_DEG = 25.0
"""What is turned farther against the null is not the line that was meant."""
USEFUL_SD_DEG = 0.5
"""What is known less well isn't given; where a person marked the line, it is given with its interval."""
MARK_WRONG = 0.03
"""The chance that the edge beside a marked line isn't the one that was meant, where no body is found about it (of 186
such edges in rendered photographs three were another's)."""
SURE_SHARE = 0.4
"""A grid that is covered behind its null by so much more than the other is the one that a cartridge stands on."""
OCCUPIED_SHARE = 0.5
"""On a grid that is covered by more something stands: a cartridge, or a tool or a hand that is taken for one."""
SURE_SD_DEG, ASIDE_MM = 0.35, 2.5
"""Of what stands on both grids that is the cartridge which alone is read as a body, so well and so near the null."""
BOX_KINDS = {"side": "along", "front": "across"}
WANTED_SD_DEG = 0.06
"""Several photos of the flag known less well than this want another one."""

Point = tuple[float, float]


@dataclass(frozen=True)
class MarkedLine:
    """A line that a person marked: its two ends in pixels of the upright photo, and what it lies on.

    `kind` is 'side', 'front' or 'cantilever'; None: side or front, whichever it runs along.
    """

    start: Point
    end: Point
    kind: str | None = None


@dataclass(frozen=True)
class PhotoReading:
    """What one photograph says, and what it was read from.

    Parameters
    ----------
    yaw : Reading
        Degrees; positive where the front is turned in, towards the spindle.
    null : str
        'inner' or 'outer'.
    method : str
        'flag', 'body', 'marked line', or two of them with 'and' between.
    markers_used, residual_px
        Coded markers that agree, and the root mean square distance of the saddle corners from the fit.
    sights : tuple of Sight
        What goes into a fusion with other photographs of the same state.
    """

    yaw: Reading
    null: str
    method: str
    markers_used: int
    residual_px: float
    warnings: tuple[str, ...]
    identity: SheetIdentity | None
    sights: tuple[Sight, ...]
    view: SheetView
    flag: FlagView | None = None
    edges: tuple[Edge, ...] = field(default=())
    body: BodyView | None = None


def read_photo(photo: Photo, lines: Sequence[MarkedLine] = (), null: str | None = None) -> PhotoReading:
    """Return the yaw that a photograph shows at one null.

    Parameters
    ----------
    lines : sequence of MarkedLine
        Empty: the flag is looked for, and the body where there is none.
    null : str or None
        'inner' or 'outer'; None: the one where the flag or the lines are.

    Raises
    ------
    CannotBeDoneError
        The sheet or the cartridge can't be read in this photograph; the text says why and what would help.
    InputError
        A marked line is not on an edge, or does not run along or across the cartridge.
    """
    views, flags, curls = _seen(photo, one_may_do=null is None and not lines)
    if null is not None:
        views = [view for view in views if view.null == null]
        if not views:
            raise CannotBeDoneError(
                f"the {null} null can't be measured in this photo; the other one can: ask for that, or turn "
                f"the platter to the {null} null and take another"
            )
    body, why = None, ""
    view = _view_meant(views, flags, lines)
    if view is None:
        view, body, why = _standing(photo, views)
    flag = flags[view.null]
    shown = _print_of(photo, view) if lines else None
    marked = [_line_seen(photo, view, shown, line) for line in lines]
    refined = [edge for edge, _ in marked]
    by_hand = _box_edges(view.pose, lines, marked) if flag is None else []
    if flag is None and shown is not None:
        body, why = see_marked_body(photo, view.pose, shown, by_hand)
    sights = [sight for _, sight in marked if flag is not None or sight.kind not in BOX_KINDS]
    if flag is not None:
        sights.insert(0, sight_of_flag(flag))
    if body is not None:
        sights.insert(0, sight_of_box(body.fit))
    elif by_hand:
        sights.insert(0, sight_of_box(_marked_box(view.pose, by_hand, marked)))
    if not sights:
        raise CannotBeDoneError(cut_off(photo, views) or _nothing_to_read(views, why))
    fused = _checked(fuse(sights), view.null, by_hand=bool(marked))
    parts = (("flag", flag is not None), ("body", body is not None), ("marked line", bool(marked)))
    return PhotoReading(
        fused.yaw,
        view.null,
        " and ".join(name for name, there in parts if there),
        view.markers,
        view.residual_px,
        (
            *paper_warnings(photo, view, curls[view.null]),
            *view_warnings(view, flag, body, refined, sights, fused),
        ),
        view.identity,
        tuple(sights),
        view,
        flag,
        tuple(refined),
        body,
    )


def _checked(fused: FusedYaw, null: str, *, by_hand: bool) -> FusedYaw:
    """Return what was read, where it can be of use.

    Raises
    ------
    CannotBeDoneError
        It is turned too far, or known too badly.
    """
    if abs(fused.yaw.value) > LARGEST_YAW_DEG:
        raise CannotBeDoneError(
            f"what was read is turned by {fused.yaw.value:.0f} degrees against the {null} null: the photo "
            "shows no cartridge near square; mark its side and check which null it stands at"
        )
    if fused.yaw.sd > USEFUL_SD_DEG and not by_hand:
        raise CannotBeDoneError(
            f"this photo can only tell the yaw to {fused.yaw.sd:.1f} degrees: what shows of the cartridge is too "
            "small, too blurred or too much alike the sheet; go nearer and hold still, put the flag on, or mark the "
            "edge of its front yourself, corner to corner"
        )
    return fused


def _print_of(photo: Photo, view: SheetView) -> GridPrint:
    return see_print(photo, view.pose, ladder_of(view.places))


def _box_edges(
    pose: CameraPose, lines: Sequence[MarkedLine], marked: Sequence[tuple[Edge, Sight]]
) -> list[BoxEdge]:
    """Return what a person marked of the body as edges of a box, as exactly as a hand can."""
    return [
        BoxEdge(raw, sight_plane(raw, pose), BOX_KINDS[sight.kind])
        for line, (_, sight) in zip(lines, marked, strict=True)
        if sight.kind in BOX_KINDS
        for raw in [raw_edge(np.array([line.start, line.end], dtype=float))]
    ]


def _marked_box(pose: CameraPose, by_hand: Sequence[BoxEdge], marked: Sequence[tuple[Edge, Sight]]) -> BoxFit:
    """Return the box that marked lines alone give: as a hand marked them, and the edges that lie beside them."""
    beside = [
        BoxEdge(edge, sight_plane(edge, pose), BOX_KINDS[sight.kind], wrong=MARK_WRONG)
        for edge, sight in marked
        if sight.kind in BOX_KINDS and edge.floor_px < HAND_PX
    ]
    start = next(sight.yaw_deg for _, sight in marked if sight.kind in BOX_KINDS)
    return fit_box([*by_hand, *beside], pose, start)


def fuse_readings(readings: Sequence[PhotoReading]) -> tuple[Reading, tuple[str, ...]]:
    """Return the yaw from several photographs of one state, and what is to be said about it.

    Raises
    ------
    InputError
        The photographs show different nulls or different sheets.
    """
    nulls = sorted({reading.null for reading in readings})
    if len(nulls) > 1:
        raise InputError(
            f"the photos show different nulls ({' and '.join(nulls)}); read each null's photos by themselves"
        )
    identities = {reading.identity for reading in readings if reading.identity is not None}
    if len(identities) > 1:
        raise InputError("the photos show different sheets; photos of one sheet can be fused")
    fused = fuse([sight for reading in readings for sight in reading.sights])
    warnings = list(dict.fromkeys(text for reading in readings for text in reading.warnings))
    flags = [reading.flag for reading in readings if reading.flag is not None]
    if any(flag.panel_seen for flag in flags):
        # it is the same flag in all of them
        warnings = [text for text in warnings if text != PANEL_HIDDEN]
    if len(readings) > 1 and fused.yaw.sd <= POOR_SD_DEG:
        # what one photo left open the others have told
        warnings = [text for text in warnings if not text.startswith(KNOWN_POORLY)]
    if flags and len(readings) > 1 and fused.yaw.sd > WANTED_SD_DEG:
        warnings.append(
            f"the photos together tell the yaw to {1.96 * fused.yaw.sd:.2f} degree only: take the next one from the "
            "front, 30 degrees from upright, straight before the cartridge and 200 to 300 mm away"
        )
    if fused.misfit > 2.5:
        warnings.append(
            f"the photos disagree by {fused.misfit:.1f} times what they should: was the cartridge, the flag or a "
            "line changed between them?"
        )
    return fused.yaw, tuple(warnings)


@dataclass(frozen=True)
class _Found:
    """The codes that a search found, the grids and the flags measured from them, and the paper's curl at each grid."""

    codes: list[Code]
    views: list[SheetView]
    flags: dict[str, FlagView | None]
    curls: dict[str, float]

    @property
    def clear(self) -> bool:
        """Whether the grid with the flag, or else both grids, show by plenty of corners."""
        plenty = {view.null for view in self.views if len(view.places) >= PLENTY_OF_SADDLES}
        return any(self.flags[null] for null in plenty) or len(plenty) == len(NULL_NAMES)

    @property
    def worth(self) -> tuple[bool, int]:
        """What is to be preferred: a flag that is seen, and then more corners of the sheet."""
        flagged = [view for view in self.views if self.flags[view.null]]
        return bool(flagged), sum(len(view.places) for view in flagged or self.views)


def _searched(photo: Photo, codes: list[Code], *, one_may_do: bool) -> _Found:
    flagged = nulls_with_flag(codes)
    views = see_grids(photo, codes, flagged) if one_may_do and len(flagged) == 1 else []
    flat = [flattened(view) for view in views or see_grids(photo, codes)]
    views, curls = [view for view, _ in flat], {view.null: curl for view, curl in flat}
    return _Found(codes, views, {view.null: see_flag(photo, codes, view) for view in views}, curls)


def _seen(
    photo: Photo, *, one_may_do: bool
) -> tuple[list[SheetView], dict[str, FlagView | None], dict[str, float]]:
    """Return the grids, the flag and the paper's curl at each; searched with patience where that may show more.

    `one_may_do`: where one grid alone has the flag, the other is not measured, which would only take time.
    """
    found = _searched(photo, find_codes(photo.gray), one_may_do=one_may_do)
    if not found.clear:
        patient = _searched(photo, find_codes_with_patience(photo.gray), one_may_do=one_may_do)
        found = max(patient, found, key=lambda one: one.worth)
    if not found.views:
        raise explain_nothing_found(photo, found.codes)
    flags = found.flags
    if not any(flags.values()):
        flags = {view.null: see_flag(photo, codes_from_above(photo, view), view) for view in found.views}
    return found.views, flags, found.curls


def _view_meant(
    views: Sequence[SheetView], flags: dict[str, FlagView | None], lines: Sequence[MarkedLine]
) -> SheetView | None:
    """Return the grid at which the flag or the marked lines are; None where there are neither."""
    flagged = [view for view in views if flags[view.null] is not None]
    if len(flagged) == 1:
        return flagged[0]
    if lines:
        middle = 0.5 * np.array([np.add(lines[0].start, lines[0].end)], dtype=float)
        return min(views, key=lambda view: _away_mm(view, middle))
    if len(flagged) > 1:
        return min(flagged, key=lambda view: _away_mm(view, _flag_middle(flags[view.null])))
    return None


def _standing(photo: Photo, views: Sequence[SheetView]) -> tuple[SheetView, BodyView | None, str]:
    """Return the grid on which a cartridge stands, its body, or why it can't be read.

    An arm that passes over one grid on its way to the other covers that too: where the print doesn't tell them
    apart, the body does.

    Raises
    ------
    CannotBeDoneError
        Something stands on both grids.
    """
    prints = [_print_of(photo, view) for view in views]
    covered = [stands_here(photo, view.pose, shown) for view, shown in zip(views, prints, strict=True)]
    likely = [k for k, share in enumerate(covered) if share > max(covered) - SURE_SHARE]
    occupied = len(covered) > 1 and min(covered) > OCCUPIED_SHARE
    tried = range(len(views)) if occupied else likely
    seen = {k: (views[k], *see_body_in_colour(photo, views[k].pose, prints[k])) for k in tried}
    read = [one for one in seen.values() if one[1] is not None]
    if occupied and not (len(read) == 1 and _over_null(*read[0][:2])):
        raise CannotBeDoneError(
            "something stands on both grids, and it isn't sure on which the cartridge does: clear away what else lies "
            "on the sheet and take another, mark the edge of its front, or name the null that it is at"
        )
    return max(read, key=_worth) if read else seen[int(np.argmax(covered))]


def _over_null(view: SheetView, body: BodyView | None) -> bool:
    """Return whether a body was read well and its front lies evenly about the null, as where the stylus is on it."""
    fronts = [] if body is None else [edge.edge for edge in body.edges if edge.kind == "across"]
    if body is None or not fronts or body.fit.sd_deg > SURE_SD_DEG:
        return False
    return abs(float(on_plane(view.pose.values, fronts[0].ends(), LEVEL_MM)[:, 0].mean())) < ASIDE_MM


def _worth(seen: tuple[SheetView, BodyView | None, str]) -> float:
    return -math.inf if seen[1] is None else seen[1].worth


def _flag_middle(flag: FlagView | None) -> FloatArray:
    assert flag is not None
    return np.asarray(flag.pixels.mean(axis=0, keepdims=True))


def _away_mm(view: SheetView, pixels: FloatArray) -> float:
    return math.hypot(*on_plane(view.pose.values, pixels, 6.0)[0])


def _line_seen(
    photo: Photo, view: SheetView, shown: GridPrint | None, line: MarkedLine
) -> tuple[Edge, Sight]:
    """Return the edge that a marked line lies on, or the line as it was marked, and what it says."""
    if line.kind is not None and line.kind not in SLOPES:
        raise InputError(f"a marked line is on a side, front or cantilever, not on '{line.kind}'")
    if line.kind == "cantilever" or shown is None:
        edge = refine_line(photo, line.start, line.end, view.pose)
    else:
        edge = marked_edge(photo, view.pose, shown, line.start, line.end)
    kind = line.kind or nearest_kind(view.pose, edge)
    sight = sight_of_edge(view.pose, edge, kind)
    if not abs(sight.yaw_deg) <= LARGEST_YAW_DEG:
        raise InputError(
            f"the marked line is turned by {sight.yaw_deg:.0f} degrees against the {view.null} null: mark the "
            f"cartridge's {kind} itself"
        )
    if _away_mm(view, edge.points.mean(axis=0, keepdims=True)) > FARTHEST_MM:
        raise InputError(
            f"the marked line is more than {FARTHEST_MM:g} mm from the {view.null} null; mark the cartridge that "
            "stands on it"
        )
    return edge, sight


def _nothing_to_read(views: Sequence[SheetView], why: str) -> str:
    nulls = " and ".join(sorted((view.null for view in views), key=NULL_NAMES.index))
    return (
        f"the sheet is read (null: {nulls}), but no flag is seen on the cartridge, and of the body {why}. "
        "Or put the flag on, or mark the edge of its front yourself, corner to corner"
    )
