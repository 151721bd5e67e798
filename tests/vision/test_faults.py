"""What goes wrong with a photograph: each fault gives a clear sentence or a reading within its bounds."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from groovewright.quantities import CannotBeDoneError
from groovewright.simulate.photo_scenes import Flag
from groovewright.simulate.photograph import Look
from groovewright.vision import Photo, fuse_readings, read_photo
from groovewright.vision.camera import project
from groovewright.vision.paper import curled, flattened, looks_like_a_screen

from .conftest import CARTRIDGE


def said_or_right(gray):
    """What is said, where the reading isn't within three of its standard deviations."""
    try:
        reading = read_photo(Photo(gray))
    except CannotBeDoneError as error:
        return str(error)
    assert abs(reading.yaw.value - CARTRIDGE.yaw_deg) < 3.0 * reading.yaw.sd
    return ""


@pytest.mark.parametrize("length", [9, 61])
@pytest.mark.parametrize("way", [0.0, 60.0])
def test_motion_blur_is_read_within_its_bounds_or_refused(flagged, length, way):
    kernel = np.zeros((length, length))
    c, s = np.cos(np.radians(way)), np.sin(np.radians(way))
    half = length // 2
    ends = [
        (round(half - half * c), round(half - half * s)),
        (round(half + half * c), round(half + half * s)),
    ]
    cv2.line(kernel, *ends, 1.0)
    said = said_or_right(cv2.filter2D(flagged, -1, kernel / kernel.sum()))
    assert length < 20 or "blurred" in said or "can't be measured" in said


def test_a_photo_three_times_too_bright_is_read_within_its_bounds_or_refused(take):
    said = said_or_right(take(flag=Flag(lean_deg=0.8, fold_deg=94.0), look=Look(exposure=2.5)))
    assert not said or "overexposed" in said or "no flag" in said


def test_paper_s_noise_is_no_screen(flagged):
    assert not looks_like_a_screen(Photo(flagged), read_photo(Photo(flagged)).view)


def test_curled_paper_is_found_and_put_right(flagged):
    view = read_photo(Photo(flagged)).view
    # a roll of paper that rises by 3 mm over 45 mm to front and back, seen by the same camera
    places = curled(view.places, np.array([0.0, 0.0, 3.0 / 45.0**2]))
    noise = np.random.default_rng(4).normal(0.0, 0.05, view.pixels.shape)
    bent = replace(view, pixels=project(view.pose.values, places) + noise)
    mended, curl_mm = flattened(bent)
    assert curl_mm == pytest.approx(3.0, abs=0.5)
    assert mended.pose.position() == pytest.approx(view.pose.position(), abs=3.0)
    flat = replace(view, pixels=project(view.pose.values, view.places) + noise)
    assert flattened(flat) == (flat, 0.0)


def test_a_hidden_panel_is_said_and_the_doubt_about_the_fold_stated(take):
    reading = read_photo(Photo(take(flag=Flag(skew_deg=0.3), front_deg=-15.0)))
    assert any("panel isn't seen" in text for text in reading.warnings)
    assert 0.2 < reading.yaw.sd < 0.4
    assert abs(reading.yaw.value - CARTRIDGE.yaw_deg) < 2.5 * reading.yaw.sd
    assert any("the yaw is known to" in text for text in reading.warnings)
    # what it leaves open a photo from the front tells: nothing of it is said of both
    front = read_photo(Photo(take(flag=Flag(skew_deg=0.3), seed=9)))
    yaw, said = fuse_readings([reading, front])
    assert yaw.sd < 0.1
    assert not any("panel isn't seen" in text or "the yaw is known to" in text for text in said)
    assert any("the yaw is known to" in text for text in fuse_readings([reading])[1])


def test_a_fold_off_its_line_does_not_move_the_reading_seen_from_the_front(take):
    reading = read_photo(Photo(take(flag=Flag(skew_deg=0.6, shift_mm=0.4))))
    assert reading.yaw.value == pytest.approx(CARTRIDGE.yaw_deg, abs=0.12)
    assert abs(reading.yaw.value - CARTRIDGE.yaw_deg) < 3.0 * reading.yaw.sd


@pytest.mark.parametrize("skew", [-0.5, 0.4])
def test_a_panel_seen_nearly_from_its_edge_still_tells_how_the_fold_runs(take, skew):
    reading = read_photo(
        Photo(take(flag=Flag(skew_deg=skew, shift_mm=0.1), front_deg=7.0, sideways_deg=12.0))
    )
    assert reading.flag.fold_seen
    assert reading.yaw.sd < 0.1
    assert abs(reading.yaw.value - CARTRIDGE.yaw_deg) < 3.0 * reading.yaw.sd


def test_a_sheet_printed_too_small_in_all_directions_leaves_the_angle(take):
    # the flag is true to size here: a scale changes no angle of either
    reading = read_photo(Photo(take(flag=Flag(), stretch=(0.96, 0.96))))
    assert reading.yaw.value == pytest.approx(CARTRIDGE.yaw_deg, abs=0.12)
