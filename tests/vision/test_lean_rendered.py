"""Azimuth and rake from rendered photographs in perspective: the solid, its reflection, and a truth from outside."""

import numpy as np
import pytest

from groovewright.simulate.photo_mirror import azimuth_scene, rake_scene
from groovewright.vision import MarkedLine, Photo, rake_from_lean, read_lean


def reading_of(scene, random):
    lines = [
        MarkedLine(tuple(a.tolist()), tuple(b.tolist()))
        for a, b in (marked + random.normal(0.0, 1.0, (2, 2)) for marked in scene.marked())
    ]
    return read_lean(Photo(scene.taken()), *lines, scene.looking_down_deg)


@pytest.mark.parametrize("make", [azimuth_scene, rake_scene], ids=["azimuth", "rake"])
def test_the_stated_interval_holds_in_perspective(make):
    z = []
    for seed in range(8):
        random = np.random.default_rng(seed)
        scene = make(random)
        reading = reading_of(scene, random)
        assert abs(reading.lean.value - scene.lean_deg) < 0.3
        z.append((reading.lean.value - scene.lean_deg) / reading.lean.sd)
    # of eight intervals of 95 %, six or fewer hold in one run of 170 (binomial)
    assert np.sum(np.abs(z) < 1.96) >= 7


def test_a_stylus_that_leans_to_the_front_has_a_rake_above_90():
    random = np.random.default_rng(3)
    scene = rake_scene(random)
    rake = rake_from_lean(reading_of(scene, random), front_is_right=True)
    assert rake.value == pytest.approx(90.0 + scene.lean_deg, abs=0.3)
