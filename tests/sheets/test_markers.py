"""The marks of the sheets: an outside library reads the codes, and what is printed is where the data has it."""

import cv2
import numpy as np
import pytest

from groovewright.geometry import alignment_for_nulls
from groovewright.quantities import CannotBeDoneError
from groovewright.sheets import A4, LETTER, SheetLabel, arc_sheet, png_bytes, two_point_sheet
from groovewright.sheets.identity import SheetIdentity, identity_of, identity_words
from groovewright.sheets.markers import (
    CODES,
    FLAG_CODES,
    FLAG_WIDTH_MM,
    FLANGE_CODES,
    FLANGE_DEPTH_MM,
    PANEL_CODE,
    PANEL_HEIGHT_MM,
    flag_marker_corners,
    flag_saddles,
    grid_saddles,
    marker_corners,
)

SCALE = 12.0
LABEL = SheetLabel("Fernhill F9", "Löfgren A", "", "A. Sample")


@pytest.fixture(scope="module", params=[(two_point_sheet, A4), (arc_sheet, LETTER)], ids=["two-point", "arc"])
def printed(request):
    make, paper = request.param
    drawing = make(alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=LABEL, paper=paper)
    content = np.frombuffer(png_bytes(drawing, dots_per_inch=25.4 * SCALE), dtype=np.uint8)
    return drawing, cv2.imdecode(content, cv2.IMREAD_GRAYSCALE)


@pytest.fixture(scope="module")
def frames(printed, read_svg):
    """For each null, what takes a point of the grid's frame to pixels of the print."""
    from groovewright.sheets import svg_text

    svg = read_svg(svg_text(printed[0]))
    found = {}
    for null in ("inner", "outer"):
        centre = svg.centre(f"null-{null}")
        out = (centre - svg.centre("spindle")) / np.hypot(*(centre - svg.centre("spindle")))
        front = np.array([-out[1], out[0]])
        found[null] = lambda p, c=centre, o=out, f=front: SCALE * (c + p[0] * o + p[1] * f) - 0.5
    return found


def test_the_codes_are_those_of_the_published_dictionary():
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for code, word in enumerate(CODES):
        bits = cv2.aruco.Dictionary_getBitsFromByteList(dictionary.bytesList[code : code + 1], 4).ravel()
        assert [word >> (15 - k) & 1 for k in range(16)] == bits.tolist()


def test_an_outside_library_reads_every_marker_where_the_data_has_it(printed, frames):
    _, pixels = printed
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, codes, _ = detector.detectMarkers(pixels)
    seen = {int(code): c.reshape(4, 2) for code, c in zip(codes.ravel(), corners, strict=True)}
    assert set(seen) == {*range(5), *range(10, 15), *range(20, 25), *range(30, 35), *FLAG_CODES}
    for code, found in seen.items():
        if code not in FLAG_CODES:
            null, flat = marker_corners(code)
            # the library rounds a marker's corners to whole pixels, a twelfth of a millimetre here
            assert found == pytest.approx(np.array([frames[null](p) for p in flat]), abs=2.0)


def test_every_saddle_corner_is_printed_where_the_data_has_it_and_in_its_colours(printed, frames):
    _, pixels = printed
    for null in ("inner", "outer"):
        at = frames[null]
        full = [s for s in grid_saddles() if abs(abs(s.at[0]) - 12.5) > 0.1]
        assert len(full) == 8 + 2 * 23
        for saddle in full:
            for sx, sy in ((-1, -1), (1, 1), (1, -1), (-1, 1)):
                x, y = np.rint(at((saddle.at[0] + 0.3 * sx, saddle.at[1] + 0.3 * sy))).astype(int)
                black = (sx == sy) == saddle.black_first
                assert (pixels[y, x] < 60) == black, (null, saddle, sx, sy)


def test_the_flag_is_printed_as_the_data_has_it(printed):
    drawing, pixels = printed
    left, top = drawing.facts["flag_x_mm"], drawing.facts["flag_y_mm"]
    middle, fold = left + FLAG_WIDTH_MM / 2.0, top + FLANGE_DEPTH_MM
    for saddle in flag_saddles():
        down = -1.0 if saddle.on_flange else 1.0
        for sx, sd in ((-1, -1), (1, 1), (1, -1), (-1, 1)):
            x = middle + saddle.at[0] + 0.3 * sx
            y = fold + down * (saddle.at[1] + 0.3 * sd)
            black = (sx == sd) == saddle.black_first
            assert (pixels[round(SCALE * y - 0.5), round(SCALE * x - 0.5)] < 60) == black
    assert PANEL_HEIGHT_MM < FLANGE_DEPTH_MM


def test_a_flag_of_office_paper_weighs_under_a_tenth_of_a_gram():
    from groovewright.sheets.fiducials import FLAG_HEIGHT_MM

    # 80 grams per square metre: ISO 536 grammage of common office paper
    assert FLAG_WIDTH_MM * FLAG_HEIGHT_MM * 1e-6 * 80.0 < 0.1


def test_the_flag_markers_run_round_in_the_order_of_the_flat_strip():
    for code, sign in ((FLANGE_CODES[0], -1.0), (FLANGE_CODES[1], -1.0), (PANEL_CODE, 1.0)):
        _, corners = flag_marker_corners(code)
        flat = np.array([(x, sign * d) for x, d in corners])
        assert flat[0].tolist() == flat.min(axis=0).tolist()
        assert flat[2].tolist() == flat.max(axis=0).tolist()


@pytest.mark.parametrize("kind", ["one-point", "two-point", "arc"])
def test_an_identity_comes_back_from_its_words(kind):
    identity = SheetIdentity(kind, 120.89, None if kind == "one-point" else 66.0)
    assert identity_of(identity_words(identity)) == identity


def test_any_one_or_two_wrong_bits_are_noticed():
    words = identity_words(SheetIdentity("arc", 65.998, 120.891))
    whole = (words[0] << 32) | (words[1] << 16) | words[2]
    for first in range(48):
        for second in range(first, 48):
            wrong = whole ^ (1 << first) ^ ((1 << second) if second != first else 0)
            assert identity_of((wrong >> 32 & 0xFFFF, wrong >> 16 & 0xFFFF, wrong & 0xFFFF)) is None


def test_a_radius_that_no_record_has_is_not_coded():
    with pytest.raises(CannotBeDoneError, match="400 mm can't be coded"):
        identity_words(SheetIdentity("arc", 400.0, None))
