"""Bars and speeds against arithmetic by hand: bars = 60 x flashes in a second / rpm."""

import numpy as np
import pytest

from groovewright.quantities import InputError
from groovewright.sheets import (
    A4,
    LETTER,
    flashes_for_mains,
    pdf_bytes,
    stroboscope_rings,
    stroboscope_sheet,
    svg_text,
)

# flashes in a second, speed, bars, rpm at which they stand still; by hand: 6000/180, 6000/133, 6000/77;
# 7200/216, 7200/160, 7200/92 (78.26 rpm is 3600/46, common practice)
BY_HAND = [
    (100.0, "33", 180, 33.333333),
    (100.0, "45", 133, 45.112782),
    (100.0, "78", 77, 77.922078),
    (120.0, "33", 216, 33.333333),
    (120.0, "45", 160, 45.0),
    (120.0, "78", 92, 78.260870),
    (300.0, "33", 540, 33.333333),
]


@pytest.mark.parametrize(("flash_hz", "speed", "bars", "exact_rpm"), BY_HAND)
def test_bars_and_exact_speed_agree_with_arithmetic_by_hand(flash_hz, speed, bars, exact_rpm):
    ring = {ring.name: ring for ring in stroboscope_rings(flash_hz)}[speed]
    assert ring.bars == bars
    assert ring.exact_rpm == pytest.approx(exact_rpm, abs=1e-6)


def test_a_platter_at_the_exact_speed_moves_by_whole_bars_from_flash_to_flash():
    for flash_hz in np.linspace(50.0, 390.0, 18):
        for ring in stroboscope_rings(flash_hz):
            bars_per_flash = ring.exact_rpm / 60.0 * ring.bars / flash_hz
            assert bars_per_flash == pytest.approx(1.0, abs=1e-12)
            assert abs(ring.off_percent) <= 50.0 / ring.bars * 1.02


def test_how_far_the_still_speed_is_off_is_told_in_percent():
    rings = stroboscope_rings(100.0)
    # 45.112782 / 45 - 1 and 77.922078 / 78.26 - 1, by hand
    assert [round(ring.off_percent, 3) for ring in rings] == [0.0, 0.251, -0.432]


def test_a_mains_lamp_flashes_twice_in_a_cycle():
    assert (flashes_for_mains(50.0), flashes_for_mains(60.0)) == (100.0, 120.0)


@pytest.mark.parametrize(("value", "words"), [
    (0.0, "allowed is 20"),
    (-100.0, "allowed is 20"),
    (float("nan"), "not a finite number"),
    (3000.0, "allowed is 20"),
    (500.0, "would need 900 bars and can carry 720; the fastest that works is 400"),
])  # fmt: skip
def test_flashes_that_make_no_ring_are_refused_in_words(value, words):
    with pytest.raises(InputError, match=words):
        stroboscope_rings(value)


def test_a_speed_that_no_platter_has_is_refused():
    with pytest.raises(InputError, match="speed is 0 rpm"):
        stroboscope_rings(100.0, {"still": 0.0})


@pytest.mark.parametrize(("paper", "flash_hz"), [(A4, 100.0), (LETTER, 120.0)], ids=["a4", "letter"])
def test_the_print_shows_as_many_bars_as_the_ring_should_have(paper, flash_hz, read_svg, print_pdf):
    """Counted as edges along a circle through each ring, in the rendered page."""
    drawing = stroboscope_sheet(flash_hz=flash_hz, paper=paper)
    svg, page = read_svg(svg_text(drawing)), print_pdf(pdf_bytes(drawing), paper.width_mm, paper.height_mm)
    centre, radius = svg.centre("spindle"), drawing.facts["radius_mm"]
    angle = np.linspace(0.0, 2.0 * np.pi, 40000, endpoint=False)
    counts = []
    for part in (0.90, 0.665, 0.43):
        x, y = centre[0] + part * radius * np.cos(angle), centre[1] + part * radius * np.sin(angle)
        rows, columns = page.pixels.shape
        dark = (
            page.pixels[(y / page.height_mm * rows).astype(int), (x / page.width_mm * columns).astype(int)]
            < 128
        )
        counts.append(int((dark & ~np.roll(dark, 1)).sum()))
        assert dark.mean() == pytest.approx(0.5, abs=0.02)
    assert counts == [bars for flashes, _, bars, _ in BY_HAND if flashes == flash_hz]


def test_the_sheet_states_the_speed_at_which_a_ring_really_stands_still():
    texts = " ".join(box.text for box in stroboscope_sheet(flash_hz=100.0).texts)
    for words in (
        "still at 45.113",
        "+0.25 %",
        "−0.43 %",
        "exact",
        "180 bars",
        "photosensitive epilepsy",
        "LED",
    ):
        assert words in texts


def test_a_ring_that_is_exact_makes_no_fuss():
    texts = " ".join(box.text for box in stroboscope_sheet(flash_hz=120.0).texts)
    assert "still at 45" not in texts


def test_only_a_lamp_with_the_flashes_of_a_mains_is_called_a_mains_lamp():
    for flash_hz, named in ((100.0, True), (120.0, True), (300.0, False)):
        texts = " ".join(box.text for box in stroboscope_sheet(flash_hz=flash_hz).texts)
        assert ("a mains lamp at" in texts) == named
