"""Azimuth and rake from an edge and its reflection, in drawings whose angle is known."""

import cv2
import numpy as np
import pytest

from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.vision import MarkedLine, Photo, rake_from_lean, read_lean


def mirrored_post(lean_deg, roll_deg=0.0):
    """A dark post on a bright ground that leans clockwise, its mirror image below, and a line on each."""
    size, big = 800, 4
    picture = np.full((size * big, size * big), 215, dtype=np.uint8)
    lines = []
    for sign in (1.0, -1.0):
        angle = np.radians(roll_deg + sign * lean_deg)
        way = np.array([np.sin(angle), -np.cos(angle)])
        out = sign * np.array([np.sin(np.radians(roll_deg)), -np.cos(np.radians(roll_deg))])
        middle = np.array([400.0, 400.0]) + 160.0 * out
        across = np.array([-way[1], way[0]])
        ends = middle - 120.0 * way, middle + 120.0 * way
        corners = np.array([ends[0], ends[1], ends[1] + 60.0 * across, ends[0] + 60.0 * across])
        cv2.fillPoly(picture, [np.rint(corners * big).astype(np.int32)], 40)
        lines.append(
            MarkedLine(
                tuple(ends[0] + 0.15 * (ends[1] - ends[0]) + 2.0), tuple(ends[1] - 0.15 * (ends[1] - ends[0]))
            )
        )
    small = cv2.resize(picture, (size, size), interpolation=cv2.INTER_AREA)
    return Photo(cv2.GaussianBlur(small, (0, 0), 1.1)), lines


@pytest.mark.parametrize("lean", [-2.0, 0.0, 0.7, 3.0])
@pytest.mark.parametrize("roll", [0.0, 6.0])
def test_half_the_angle_between_edge_and_reflection_is_the_lean_whatever_the_camera_s_roll(lean, roll):
    photo, (line, reflection) = mirrored_post(lean, roll)
    reading = read_lean(photo, line, reflection, 0.0)
    assert reading.lean.value == pytest.approx(lean, abs=0.05)
    assert 0.02 < reading.lean.sd < 0.3


def test_a_camera_that_looks_down_sees_the_lean_enlarged_by_one_over_the_cosine():
    photo, (line, reflection) = mirrored_post(3.0)
    level, down = read_lean(photo, line, reflection, 0.0), read_lean(photo, line, reflection, 30.0)
    # cos 30 degrees = 0.8660
    assert down.lean.value / level.lean.value == pytest.approx(0.8660, abs=1e-4)
    assert down.lean.sd > level.lean.sd


def test_rake_is_90_upright_and_more_where_the_upper_end_leans_to_the_front():
    photo, (line, reflection) = mirrored_post(2.0)
    reading = read_lean(photo, line, reflection, 0.0)
    assert rake_from_lean(reading, front_is_right=True).value == pytest.approx(92.0, abs=0.05)
    assert rake_from_lean(reading, front_is_right=False).value == pytest.approx(88.0, abs=0.05)


def test_two_lines_that_are_no_reflection_and_odd_angles_are_refused():
    photo, (line, _) = mirrored_post(0.0)
    with pytest.raises(InputError, match="looks down"):
        read_lean(photo, line, line, 60.0)
    flat = MarkedLine((405.0, 121.0), (455.0, 121.0))
    with pytest.raises(CannotBeDoneError, match="not an edge and its reflection"):
        read_lean(photo, line, flat, 0.0)
