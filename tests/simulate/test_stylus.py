import math

import numpy as np
import pytest

from groovewright.simulate.groove import sine_wall, traced
from groovewright.simulate.stylus import followed, tracing_radius_um


def test_a_sphere_given_by_its_level_section_traces_with_its_own_radius():
    """A sphere touches walls at 45 degrees where its level section has R cos 45 (geometry)."""
    assert tracing_radius_um(18.0, 18.0 * math.cos(math.pi / 4)) == pytest.approx(18.0)
    assert tracing_radius_um(18.0, None) == 18.0
    assert tracing_radius_um(18.0, 6.0) == pytest.approx(8.485, abs=1e-3)


def test_a_sharper_edge_traces_with_less_second_harmonic_in_proportion():
    """Second harmonic of a vertical tone in proportion to the radius (Pierce and Hunt 1938)."""
    times = np.arange(48_000) / 48_000.0

    def second(radius):
        wall = traced(sine_wall(3000.0, 30.0), 300.0, radius, 1.0)
        spectrum = np.abs(np.fft.rfft(wall(times)[1]))
        return spectrum[6000] / spectrum[3000]

    ratio = second(tracing_radius_um(18.0, 6.0)) / second(tracing_radius_um(18.0, None))
    assert ratio == pytest.approx(6.0 * math.sqrt(2.0) / 18.0, rel=0.02)


def test_a_stylus_that_follows_is_left_alone_and_one_that_cannot_keeps_to_its_limit():
    times = np.arange(9600) / 48_000.0
    groove = 100.0 * np.sin(2 * np.pi * 300.0 * times)
    assert followed(groove, 100.1) is groove
    stylus = followed(groove, 80.0)
    assert np.abs(stylus).max() == pytest.approx(80.0)
    np.testing.assert_array_equal(stylus[: np.argmax(groove > 80.0)], groove[: np.argmax(groove > 80.0)])


def test_after_a_loud_passage_the_stylus_recovers_with_no_distance_lost():
    times = np.arange(48_000) / 48_000.0
    groove = np.where(times < 0.3, 100.0, 40.0) * np.sin(2 * np.pi * 300.0 * times)
    stylus = followed(groove, 70.0)
    behind = np.cumsum(groove - stylus)
    assert np.abs(behind[times < 0.3]).max() > 100.0
    np.testing.assert_allclose(stylus[times > 0.31], groove[times > 0.31], atol=1e-9)
    np.testing.assert_allclose(behind[times > 0.31], 0.0, atol=1e-6)
