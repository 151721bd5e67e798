"""The level stage in one go, and where its numbers come from."""

import numpy as np
import pytest

from groovewright.geometry import align
from groovewright.mechanics.height import advise_height
from groovewright.mechanics.levelling import radii_for_table_mm, study_level, study_skating
from groovewright.mechanics.skating import Step
from groovewright.mechanics.why import level_whys
from groovewright.quantities import LP, NAMED_RANGES, InputError

DEMO = align("lofgren-a", 222.0, LP)


def test_the_table_holds_both_ends_and_both_nulls():
    radii = radii_for_table_mm(DEMO, LP)
    assert radii[0] == pytest.approx(60.325)
    assert radii[-1] == pytest.approx(146.05)
    for null in (65.998, 120.891):  # Lofgren A, 60.325 to 146.05 mm, commonly quoted
        assert np.abs(radii - null).min() < 0.01
    assert (np.diff(radii) > 0.0).all()


def test_antiskating_uncertainty_is_that_of_uniform_friction():
    study = study_skating(alignment=DEMO, grooves=LP, force_gf=1.8)
    rng = np.random.default_rng(4)
    draws = rng.uniform(0.25, 0.4, 200_000)
    best = np.mean(
        [
            1.8
            * 9.80665
            * (r**2 + DEMO.effective_length_mm**2 - 222.0**2)
            / (2 * r * DEMO.effective_length_mm)
            for r in np.linspace(60.325, 146.05, 5001)
        ]
    )
    assert study.antiskating_mN == pytest.approx(float(draws.mean() * best), rel=2e-3)
    assert study.antiskating_sd_mN == pytest.approx(float(draws.std() * best), rel=5e-3)


def test_skating_at_both_ends_and_in_the_middle_of_the_friction_is_in_proportion():
    study = study_skating(alignment=DEMO, grooves=LP, force_gf=1.8)
    np.testing.assert_allclose(study.high_mN / study.low_mN, 0.4 / 0.25)
    np.testing.assert_allclose(study.middle_mN, 0.5 * (study.low_mN + study.high_mN))
    assert study.antiskating_span_mN[1] / study.antiskating_span_mN[0] == pytest.approx(0.4 / 0.25)


def test_a_small_record_needs_its_own_setting():
    lp = study_skating(alignment=DEMO, grooves=LP, force_gf=1.8)
    single = study_skating(alignment=DEMO, grooves=NAMED_RANGES["17cm"], force_gf=1.8)
    assert single.antiskating_mN != pytest.approx(lp.antiskating_mN, abs=0.01)


def test_each_known_number_has_its_why_and_unknown_ones_have_none():
    height = advise_height(effective_length_mm=DEMO.effective_length_mm, rake_deg=-1.0)
    full = study_level(
        alignment=DEMO, grooves=LP, force_gf=1.8, height=height, steps=(Step("1", 2.0), Step("2", 2.5))
    )
    assert {why.number for why in level_whys(full)} == {"skating_mN", "antiskating_mN", "height_change_mm"}
    assert "nearest step is 1" in full.skating_verdict.sentence
    bare = study_level(
        alignment=DEMO,
        grooves=LP,
        force_gf=None,
        height=advise_height(effective_length_mm=DEMO.effective_length_mm, rake_deg=None),
    )
    assert level_whys(bare) == []


def test_a_force_in_millinewton_is_recognised():
    with pytest.raises(InputError, match="in mN"):
        study_skating(alignment=DEMO, grooves=LP, force_gf=17.7)
