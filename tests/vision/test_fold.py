"""A flag folded off its printed line, seen so flat that its panel is a few pixels high, and what lies beside it."""

import math

import numpy as np
import pytest

from groovewright.sheets.markers import LADDER_MIDDLES_MM
from groovewright.simulate.photo_scenes import Cartridge, Flag
from groovewright.simulate.photograph import Look
from groovewright.vision import Photo, read_photo
from groovewright.vision.flag_shape import SKEW_SD
from groovewright.vision.marks import light_of, linear
from groovewright.vision.sheet_view import _GRID, _of_one_grid

from .conftest import numbered

YAW_DEG = 1.3
CARTRIDGE = Cartridge(yaw_deg=YAW_DEG, pitch_deg=0.4, roll_deg=-0.5, high_mm=13.0, shell_turn_deg=2.0)


@pytest.mark.parametrize(
    ("front_deg", "skew_deg", "within_deg"),
    [(5.5, 0.5, 0.12), (5.5, -0.5, 0.12), (9.0, 0.5, 0.06), (9.0, -0.5, 0.06)],
)
def test_a_fold_off_its_line_is_seen_where_the_panel_is_a_few_pixels_high(
    take, front_deg, skew_deg, within_deg
):
    # from the flange alone the yaw would be off by the skew
    flag = Flag(lean_deg=0.8, fold_deg=93.0, skew_deg=skew_deg, shift_mm=0.1, dusk=0.25, aslant=0.1)
    reading = read_photo(Photo(take(cartridge=CARTRIDGE, flag=flag, front_deg=front_deg, seed=5)))
    assert reading.flag.fold_seen
    assert reading.yaw.value == pytest.approx(YAW_DEG, abs=within_deg)
    assert abs(reading.yaw.value - YAW_DEG) < 3.0 * reading.yaw.sd
    assert reading.yaw.sd < 0.5 * math.degrees(SKEW_SD)


@pytest.mark.parametrize(("front_deg", "within_deg"), [(9.0, 0.06), (30.0, 0.05)])
def test_a_round_fold_turns_nothing(take, front_deg, within_deg):
    # each part begins r (1 - pi / 4) away from the crease, and the fold's skew would be taken for more than it is
    flag = Flag(lean_deg=-1.0, skew_deg=-0.5, shift_mm=0.1, radius_mm=0.4)
    reading = read_photo(Photo(take(cartridge=CARTRIDGE, flag=flag, front_deg=front_deg, seed=5)))
    assert reading.yaw.value == pytest.approx(YAW_DEG, abs=within_deg)
    assert abs(reading.yaw.value - YAW_DEG) < 2.0 * reading.yaw.sd


def test_how_round_a_fold_is_is_seen_from_the_front(take):
    flag = Flag(skew_deg=0.3, radius_mm=0.4)
    reading = read_photo(Photo(take(cartridge=CARTRIDGE, flag=flag, front_deg=30.0, seed=5)))
    assert reading.flag.by_hand[-2] == pytest.approx(0.4 * (1.0 - math.pi / 4.0), abs=0.04)


def test_a_shadow_across_the_flange_does_not_turn_the_fold(take):
    """Light from behind and aside: the headshell's shadow ends on the flange, beside the fold."""
    yaws = []
    for shadow in (0.0, 0.5):
        look = Look(light=(0.5, 0.4), shadow=shadow)
        flag = Flag(lean_deg=0.8, skew_deg=0.3)
        reading = read_photo(Photo(take(cartridge=CARTRIDGE, flag=flag, front_deg=9.0, look=look)))
        assert reading.flag.fold_seen
        yaws.append(reading.yaw.value)
    assert yaws[1] == pytest.approx(yaws[0], abs=0.05)


@pytest.mark.parametrize(
    "number",
    [
        pytest.param(9948, id="something like a fold turned by 1.2 degrees was read 1.5 degrees off"),
        pytest.param(10084, id="a fold that is hardly like its drawing was read half a degree off"),
    ],
)
def test_what_is_little_like_a_fold_is_not_read(number, drawing, printed):
    setting = numbered(number, with_flag=True)
    reading = read_photo(Photo(setting.taken(drawing, printed)))
    assert not reading.flag.fold_seen
    assert abs(reading.yaw.value - setting.cartridge.yaw_deg) < 2.0 * reading.yaw.sd
    assert any("panel isn't seen" in text for text in reading.warnings)


def test_seen_from_behind_the_panel_says_nothing_and_the_interval_holds_what_a_hand_folds(take):
    reading = read_photo(Photo(take(cartridge=CARTRIDGE, flag=Flag(skew_deg=0.3), front_deg=-6.0)))
    assert not reading.flag.panel_seen
    assert reading.yaw.sd == pytest.approx(math.degrees(SKEW_SD), rel=0.15)
    assert reading.warnings


def test_a_side_of_a_grid_has_one_ladder_only():
    full, narrow = LADDER_MIDDLES_MM
    x = _GRID.places[:, 0]
    good = np.isclose(x, -full) | np.isclose(x, narrow) | np.isclose(np.abs(x), 11.25)
    # one place where the other ladder would have a corner looks like one
    false = [int(np.flatnonzero(np.isclose(x, side))[4]) for side in (-narrow, full)]
    good[false] = True
    kept = _of_one_grid(good)
    assert not kept[false].any()
    assert kept.sum() == good.sum() - len(false)


def test_whole_gray_levels_have_the_light_of_the_one_display_curve():
    levels = np.arange(256, dtype=np.uint8)
    assert light_of(levels) == pytest.approx(linear(levels.astype(float)) / 255.0, abs=1e-6)
    # IEC 61966-2-1, 5.2: level 188 of 255 stands for half the light
    assert light_of(np.array([188], dtype=np.uint8))[0] == pytest.approx(0.5, abs=0.02)
    assert light_of(levels)[[0, 255]].tolist() == [0.0, 1.0]
