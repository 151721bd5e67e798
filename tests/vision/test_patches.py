"""The flag's pieces against their print drawn as a picture, and against photographs whose ink has spread."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from groovewright.sheets.markers import (
    FLAG_WIDTH_MM,
    FLANGE_DEPTH_MM,
    PANEL_HEIGHT_MM,
    TAB_HEIGHT_MM,
    flag_boxes,
)
from groovewright.simulate.photo_scenes import Flag, photograph
from groovewright.simulate.photograph import Look
from groovewright.vision import Photo, read_photo
from groovewright.vision.patches import PIECES, printed, spread_ink

from .conftest import CAMERA, CARTRIDGE

PER_MM = 60
BLUR = 0.15
"""Standard deviation, in halves of a piece."""


def drawn():
    """Return the flat strip as a picture, 1 white, from the flange's end on."""
    strip = np.ones(
        (round((FLANGE_DEPTH_MM + PANEL_HEIGHT_MM + TAB_HEIGHT_MM) * PER_MM), round(FLAG_WIDTH_MM * PER_MM))
    )
    for level, boxes in zip((0.0, 1.0), flag_boxes(), strict=True):
        for x0, x1, y0, y1 in boxes:
            a, b = (round((x + FLAG_WIDTH_MM / 2.0) * PER_MM) for x in (x0, x1))
            c, d = (round((y + FLANGE_DEPTH_MM) * PER_MM) for y in (y0, y1))
            strip[c:d, a:b] = level
    return strip


def seen(strip, k, ticks):
    """Return a piece of the picture, blurred, at the places that pieces are compared at."""
    half, away = PIECES.half[k], -1.0 if PIECES.on_flange[k] else 1.0
    x, y = np.meshgrid(PIECES.at[k, 0] + half[0] * ticks, away * (PIECES.at[k, 1] + half[1] * ticks))
    blurred = cv2.GaussianBlur(strip, (0, 0), sigmaX=BLUR * half[0] * PER_MM, sigmaY=BLUR * half[1] * PER_MM)
    columns, rows = (x + FLAG_WIDTH_MM / 2.0) * PER_MM - 0.5, (y + FLANGE_DEPTH_MM) * PER_MM - 0.5
    return cv2.remap(blurred, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR)


@pytest.mark.parametrize("k", [0, 5, 14, 20, 25, 27])
def test_ink_that_spreads_darkens_what_lies_beside_it(k):
    ticks, spread = np.linspace(-1.0, 1.0, 15), BLUR**2 * np.eye(2)[None]
    sharp = drawn()
    # one pixel farther on each side
    grown = cv2.erode(sharp, np.ones((3, 3)))
    level, ink = (draw(ticks, spread, np.array([k]))[0] for draw in (printed, spread_ink))
    np.testing.assert_allclose(level, seen(sharp, k, ticks), atol=0.01)
    np.testing.assert_allclose(ink / PER_MM, seen(grown, k, ticks) - seen(sharp, k, ticks), atol=0.004)


@pytest.mark.parametrize("front_deg", [30.0, 9.0])
def test_a_print_whose_ink_has_spread_is_measured_as_exactly(drawing, printed, front_deg):
    """Left out, the rims of its markers lie off by some hundredths of a pixel, and the yaw is half as certain."""
    flag = Flag(lean_deg=0.6, fold_deg=92.0, skew_deg=0.2, radius_mm=0.2)
    readings = []
    for share in (0.0, 0.7):
        # of 16 pixels a millimetre: 0.044 mm on each side
        ink = printed + np.float32(share) * (cv2.erode(printed, np.ones((3, 3), np.uint8)) - printed)
        picture = photograph(
            drawing=drawing, pixels=ink, null="outer", cartridge=CARTRIDGE, look=Look(),
            camera=replace(CAMERA, front_deg=front_deg), random=np.random.default_rng(1), flag=flag,
        )  # fmt: skip
        readings.append(read_photo(Photo(picture)))
    sharp, spread = readings
    assert spread.yaw.value == pytest.approx(CARTRIDGE.yaw_deg, abs=0.05)
    assert spread.yaw.sd < 1.3 * sharp.yaw.sd
    assert spread.flag.residual_px < 1.5 * sharp.flag.residual_px
