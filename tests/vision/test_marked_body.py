"""The body where a person marked the edge of its front: photographs of the renderer whose truth is known."""

import math
from dataclasses import replace

import numpy as np
import pytest

from groovewright.simulate.photo_scenes import Cartridge
from groovewright.simulate.photograph import Canvas, Look, turned
from groovewright.vision import MarkedLine, Photo, read_photo
from groovewright.vision.body import BodyView, see_body
from groovewright.vision.box import BoxEdge, fit_box, sight_plane
from groovewright.vision.camera import project
from groovewright.vision.edge_fit import fit_along, raw_edge
from groovewright.vision.front_line import FrontLine
from groovewright.vision.grid_print import ladder_of, see_print
from groovewright.vision.marked_body import (
    ALONE_WRONG,
    BETTER,
    lies_on,
    line_of_mark,
    pointed_at,
    see_marked_body,
    told_by_all,
)
from groovewright.vision.marks import find_codes
from groovewright.vision.sheet_view import see_grids

from .conftest import CAMERA
from .test_body import a_box, a_pose

CARTRIDGE = Cartridge(yaw_deg=1.2, pitch_deg=0.4, roll_deg=-0.5, ahead_mm=4.0, shade=0.12, shell_turn_deg=2.0)
ABOVE = {"distance_mm": 250.0, "front_deg": 4.0}


@pytest.fixture(scope="module")
def above(take):
    """A photograph of a dark body from above, where its front's edge shows on the sheet."""
    return Photo(take(cartridge=CARTRIDGE, **ABOVE))


def corners(ahead_mm=CARTRIDGE.ahead_mm):
    """Return the ends of the front's lower edge in the picture, or of a line beside it."""
    half = CARTRIDGE.width_mm / 2.0 - 0.3
    canvas = Canvas(replace(CAMERA, **ABOVE))
    ends = np.array([[-half, ahead_mm, CARTRIDGE.low_mm], [half, ahead_mm, CARTRIDGE.low_mm]])
    attitude = turned(CARTRIDGE.yaw_deg, CARTRIDGE.pitch_deg, CARTRIDGE.roll_deg)
    return canvas.to_pixels(canvas.to_rays(ends @ attitude.T))


def marked(ends):
    return MarkedLine(*(tuple(map(float, end)) for end in ends), kind="front")


def test_a_marked_front_for_which_nothing_speaks_is_read(above, monkeypatch):
    """In a shadow as dark as the body more may speak against a marked front than for it."""
    view = see_grids(above, find_codes(above.gray))[0]
    shown = see_print(above, view.pose, ladder_of(view.places))
    pose = a_pose(front_deg=4.0)
    edges = tuple(a_box(pose, 1.2, 0.0, 0.0))
    seen = BodyView(fit_box(edges, pose, 0.0), edges, worth=-3.0)
    lines = [FrontLine(1.0, 4.0, -8.0, 8.0, worth=-3.0), FrontLine(3.0, 4.0, -8.0, 8.0, worth=-15.0)]
    monkeypatch.setattr("groovewright.vision.body.find_front_lines", lambda *_: lines)
    monkeypatch.setattr(
        "groovewright.vision.body.fitted_line",
        lambda *args: (replace(seen, worth=args[3].worth), True),
    )
    raw = raw_edge(corners())
    body, _ = see_body(above, view.pose, shown, [BoxEdge(raw, sight_plane(raw, view.pose), "across")])
    assert body is not None
    assert body.worth == -3.0


@pytest.mark.parametrize(
    "error", [(0.0, 0.0), (2.5, -2.5), (-4.0, 2.0), (4.0, 3.5)], ids=["exact", "turned", "more", "beside"]
)
def test_a_mark_as_a_hand_sets_it_makes_a_reading_no_worse(above, error):
    alone = read_photo(above)
    ends = corners() + np.array([[0.0, error[0]], [0.0, error[1]]])
    reading = read_photo(above, [marked(ends)])
    assert reading.method == "body and marked line"
    assert reading.yaw.sd < 1.01 * alone.yaw.sd
    assert abs(reading.yaw.value - CARTRIDGE.yaw_deg) < 2.5 * reading.yaw.sd
    assert reading.yaw.value == pytest.approx(alone.yaw.value, abs=0.1)


def test_a_body_away_from_the_mark_is_not_taken_for_what_was_marked(above):
    view = see_grids(above, find_codes(above.gray))[0]
    shown = see_print(above, view.pose, ladder_of(view.places))
    for ahead, there in ((CARTRIDGE.ahead_mm, True), (CARTRIDGE.ahead_mm + 5.0, False)):
        raw = raw_edge(corners(ahead))
        body, why = see_marked_body(
            above, view.pose, shown, [BoxEdge(raw, sight_plane(raw, view.pose), "across")]
        )
        assert (body is not None, why == "") == (there, there)


@pytest.mark.parametrize(
    ("off", "on"),
    [
        ((3.0, -3.0), True),
        ((5.0, 5.0), True),
        ((7.0, 7.0), False),
        ((-15.0, -14.0), True),
        ((-17.0, -17.0), False),
        ((4.5, -4.5), False),
        ((-40.0, -46.0), False),
    ],
)
def test_an_edge_lies_on_a_mark_within_what_a_hand_errs_or_little_behind(off, on):
    ends = np.array([[300.0, 200.0], [400.0, 230.0]])
    normal = np.array([-30.0, 100.0]) / math.hypot(30.0, 100.0)
    edge = raw_edge(ends + np.array(off)[:, None] * normal)
    assert lies_on(edge, raw_edge(ends), 13.0 * normal, 0.8) == on
    # seen from the other end of the table everything lies the other way about
    turned_about = raw_edge(ends - np.array(off)[:, None] * normal)
    assert lies_on(turned_about, raw_edge(ends[::-1]), -13.0 * normal, 0.8) == on


def test_farther_behind_a_mark_lies_an_edge_that_the_front_s_height_puts_there():
    ends, normal = np.array([[300.0, 200.0], [400.0, 200.0]]), np.array([0.0, 1.0])
    upper = raw_edge(ends - 20.0 * normal)
    assert not lies_on(upper, raw_edge(ends), 13.0 * normal, 0.8)
    assert lies_on(upper, raw_edge(ends), 13.0 * normal, 1.5)


def a_view(pose, *, off_px=0.0, turned_px=0.0, part=1.0, sd_px=0.1):
    """Return a body of which one front's edge shows, moved in the picture, and as well known as is said."""
    ends = a_box(pose, 0.0, 0.0, 0.0)[0].edge.ends()
    way = (ends[1] - ends[0]) / float(np.hypot(*(ends[1] - ends[0])))
    ends = ends.mean(axis=0) + part * (ends - ends.mean(axis=0))
    ends = ends + np.array([[off_px], [off_px + turned_px]]) * np.array([-way[1], way[0]])
    edge = replace(raw_edge(ends), floor_px=sd_px)
    edges = (BoxEdge(edge, sight_plane(edge, pose), "across", wrong=0.02),)
    return BodyView(fit_box(edges, pose), edges, 1.0)


def test_of_one_edge_the_better_measurement_counts():
    pose = a_pose(front_deg=3.0)
    first = a_view(pose)
    for same in ({"off_px": 0.3}, {"turned_px": 0.4}, {"off_px": 0.5, "part": 0.8}):
        better, worse = (a_view(pose, **same, sd_px=sd_px) for sd_px in (0.07, 0.15))
        assert 1.05 * better.fit.sd_deg < first.fit.sd_deg < worse.fit.sd_deg
        assert told_by_all([first, better, worse], [], pose) is better
        assert told_by_all([first, worse], [], pose) is first


def test_of_two_edges_that_may_be_one_the_marked_one_stands_unless_the_other_is_known_much_better():
    pose = a_pose(front_deg=3.0)
    first = a_view(pose)
    for beside in ({"off_px": 1.5}, {"off_px": -2.0, "turned_px": 4.0}):
        better, much_better = (a_view(pose, **beside, sd_px=sd_px) for sd_px in (0.08, 0.03))
        assert better.fit.sd_deg < first.fit.sd_deg < BETTER * better.fit.sd_deg
        assert BETTER * much_better.fit.sd_deg < first.fit.sd_deg
        assert told_by_all([first, better], [], pose) is first
        assert told_by_all([first, much_better], [], pose) is much_better


def test_the_front_s_two_level_edges_tell_together_what_either_tells_less_well():
    pose = a_pose(front_deg=3.0)
    raw = raw_edge(a_box(pose, 0.0, 0.0, 0.0)[0].edge.ends())
    mark = [BoxEdge(raw, sight_plane(raw, pose), "across")]
    first, upper = a_view(pose), a_view(pose, off_px=-8.0, turned_px=0.2)
    both = told_by_all([first, upper], mark, pose)
    assert [edge.edge for edge in both.edges] == [raw, first.edges[0].edge, upper.edges[0].edge]
    assert both.fit.sd_deg < 0.95 * min(first.fit.sd_deg, upper.fit.sd_deg)
    between = sorted((first.fit.yaw_deg, upper.fit.yaw_deg))
    assert between[0] < both.fit.yaw_deg < between[1]


def test_a_mark_becomes_a_line_on_the_level_plane():
    pose = a_pose(front_deg=5.0)
    c, s = math.cos(math.radians(-3.0)), math.sin(math.radians(-3.0))
    places = [[c * x - s * 4.0, s * x + c * 4.0, -9.0] for x in (7.5, -6.5)]
    line = line_of_mark(pose, raw_edge(project(pose.values, np.array(places))))
    assert (line.yaw_deg, line.ahead_mm, line.left_mm, line.right_mm) == pytest.approx(
        (-3.0, 4.0, -6.5, 7.5), abs=1e-3
    )


def test_what_may_be_the_headshell_s_edge_has_an_interval_that_holds_the_mark_too():
    pose = a_pose(front_deg=3.0)
    front = replace(a_box(pose, 0.0, 0.0, 0.0, noise_px=0.05)[0], wrong=0.02)
    beside = raw_edge(a_box(pose, 2.5, 0.0, 0.0)[0].edge.ends())
    edges = (BoxEdge(beside, sight_plane(beside, pose), "across"), front)
    sure = BodyView(fit_box(edges, pose), edges, 1.0)
    assert pointed_at(sure, pose).fit.sd_deg == pytest.approx(sure.fit.sd_deg, rel=1e-6)
    alone = pointed_at(replace(sure, alone=True), pose)
    assert alone.edges[1].wrong == ALONE_WRONG
    assert alone.edges[0].wrong == 0.0
    assert alone.fit.sd_deg > 2.0 * sure.fit.sd_deg
    assert alone.fit.yaw_deg + 1.96 * alone.fit.sd_deg > 0.9


def test_noise_is_told_from_what_runs_along_an_edge_that_was_pointed_at(take):
    light, ends = replace(CARTRIDGE, shade=0.4), corners()
    trimmed = ends + np.array([[0.06], [-0.06]]) * (ends[1] - ends[0])
    fits = []
    for noise in (0.005, 0.05):
        photo = Photo(take(cartridge=light, look=Look(noise=noise), **ABOVE))
        view = next(one for one in see_grids(photo, find_codes(photo.gray)) if one.null == "outer")
        shown = see_print(photo, view.pose, ladder_of(view.places))
        fits.append(fit_along(photo, view.pose, shown, trimmed, 3.0, 2.5))
    quiet, noisy = fits
    assert noisy.misfit > 2.5 * quiet.misfit
    assert noisy.along < 0.4 * noisy.misfit
    found = noisy.edge.as_pointed_at()
    assert found.turn_sd < 0.7 * noisy.edge.turn_sd
    way, true = np.diff(found.ends(), axis=0)[0], ends[1] - ends[0]
    turned_by = math.asin((way[0] * true[1] - way[1] * true[0]) / float(np.hypot(*way) * np.hypot(*true)))
    assert abs(turned_by) < 2.5 * found.turn_sd
