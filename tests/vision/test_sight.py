"""The physics of a line that is not level, against vectors worked out by hand, and the fusion that cancels it."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from groovewright.vision.camera import SIZE, CameraPose, project
from groovewright.vision.edge import Edge
from groovewright.vision.flag import BY_HAND_SD
from groovewright.vision.sight import Sight, fuse, sight_of_edge, sight_of_flag


def pose_at(x, y, height):
    """A camera that looks straight down from a place, without a lens's bend."""
    values = np.zeros(SIZE)
    values[0], values[3:5] = math.log(3000.0), (2000.0, 1500.0)
    values[8:11] = -x, -y, height
    return CameraPose(values, np.zeros((SIZE, SIZE)))


def edge_of(pose, start, end):
    ends = np.linspace(np.array(start), np.array(end), 40)
    return Edge(project(pose.values, ends), 0.02, 10.0, 1.0, None)


@pytest.mark.parametrize("aside", [-28.0, -8.0, 0.0, 8.0, 28.0])
def test_one_degree_of_pitch_reads_wrong_by_the_tangent_of_the_side_view(aside):
    height = 300.0
    pose = pose_at((height - 5.0) * math.tan(math.radians(aside)), 0.0, height)
    rise = 10.0 * math.tan(math.radians(1.0))
    # z is down: the front, at y = +10, is higher
    edge = edge_of(pose, (0.0, -10.0, -5.0 + rise), (0.0, 10.0, -5.0 - rise))
    sight = sight_of_edge(pose, edge, "side")
    expected = math.degrees(math.atan(math.tan(math.radians(1.0)) * math.tan(math.radians(aside))))
    assert abs(sight.yaw_deg) == pytest.approx(abs(expected), abs=0.003)
    # what the slope would explain brings the reading back to the true yaw of zero
    assert sight.yaw_deg + sight.lever * 1.0 == pytest.approx(0.0, abs=0.01)
    assert abs(sight.lever) == pytest.approx(abs(math.tan(math.radians(aside))), abs=0.01)


def test_a_level_line_keeps_its_direction_from_anywhere():
    for x, y in ((150.0, 40.0), (-90.0, 160.0), (0.0, 0.0)):
        pose = pose_at(x, y, 260.0)
        turn = math.radians(2.5)
        way = np.array([-math.sin(turn), math.cos(turn), 0.0])
        edge = edge_of(pose, np.array([4.0, 2.0, -9.0]) - 8.0 * way, np.array([4.0, 2.0, -9.0]) + 8.0 * way)
        assert sight_of_edge(pose, edge, "side").yaw_deg == pytest.approx(2.5, abs=1e-4)


def test_a_front_edge_gives_the_yaw_of_the_body_and_not_its_own_direction():
    pose = pose_at(0.0, 30.0, 300.0)
    turn = math.radians(-1.5)
    way = np.array([math.cos(turn), math.sin(turn), 0.0])
    edge = edge_of(pose, np.array([0.0, 3.0, -5.0]) - 8.0 * way, np.array([0.0, 3.0, -5.0]) + 8.0 * way)
    assert sight_of_edge(pose, edge, "front").yaw_deg == pytest.approx(-1.5, abs=1e-4)


def test_opposite_sides_cancel_a_slope_that_neither_can_see():
    truth, pitch = 0.4, 0.9
    sights = [Sight("side", truth - lever * pitch, 0.03, lever) for lever in (0.5, -0.45)]
    alone, both = fuse(sights[:1]).yaw, fuse(sights).yaw
    assert abs(alone.value - truth) > 0.3
    assert both.value == pytest.approx(truth, abs=0.03)
    assert both.sd < 0.2 * alone.sd


def test_fused_intervals_hold_the_truth_95_times_in_100():
    random = np.random.default_rng(7)
    held, count = 0, 4000
    for _ in range(count):
        pitch, truth = random.uniform(-1.0, 1.0), random.uniform(-3.0, 3.0)
        lever = random.uniform(-0.14, 0.14)
        sight = Sight("side", truth - lever * pitch + random.normal(0.0, 0.04), 0.04, lever)
        low, high = fuse([sight]).yaw.interval()
        held += low <= truth <= high
    # one standard error of the count is 0.35 %
    assert 0.93 <= held / count <= 0.97


def flag_seen(yaw_sd, fold_error=0.0):
    """Return what a flag's photo gives where the yaw and the fold's skew are known by their sum only."""
    usual = np.array([1.0, *BY_HAND_SD.values()])
    covariance = np.diag(usual**2)
    skew = 1 + list(BY_HAND_SD).index("skew")
    covariance[0, 0] = yaw_sd**2 + usual[skew] ** 2
    covariance[0, skew] = covariance[skew, 0] = -(usual[skew] ** 2)
    by_hand = np.zeros(len(usual))
    by_hand[0] = 0.7 + fold_error
    return SimpleNamespace(on_side=False, by_hand=by_hand, covariance=covariance,
                           yaw_deg=by_hand[0], sd_deg=math.sqrt(covariance[0, 0]))  # fmt: skip


def test_photos_of_one_flag_cannot_tell_its_skew_by_being_many():
    one = fuse([sight_of_flag(flag_seen(0.02))])
    many = fuse([sight_of_flag(flag_seen(0.02))] * 9)
    assert one.yaw.sd == pytest.approx(BY_HAND_SD["skew"], rel=0.05)
    assert many.yaw.sd == pytest.approx(BY_HAND_SD["skew"], rel=0.01)
    assert many.yaw.value == pytest.approx(0.7)
