"""The mechanical match: verdicts, advice, and units that can't be right."""

import pytest

from groovewright.mechanics.compliance import AT_10_HZ, AT_100_HZ, UNKNOWN
from groovewright.mechanics.match import Masses, match_mechanics
from groovewright.quantities import InputError

FERNHILL = Masses(arm_g=11.0, cartridge_g=6.5, fastener_g=1.0)


def test_the_demo_arm_and_cartridge_suit_each_other():
    match = match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_100_HZ)
    # 18.5 g and 10 x sqrt(3) um/mN in the textbook formula 1 / (2 pi sqrt(M C)): 8.89 Hz
    assert match.vertical.median == pytest.approx(8.891, abs=0.005)
    assert match.verdict.code == "suits"
    assert match.probability_in_window == pytest.approx(match.verdict.probability)


def test_lateral_stands_in_from_vertical_with_a_wider_spread_and_says_so():
    match = match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_100_HZ)
    assert match.lateral_from_vertical
    assert match.lateral.log_sd > match.vertical.log_sd


def test_a_lateral_compliance_of_its_own_gives_a_resonance_of_its_own():
    match = match_mechanics(
        FERNHILL, compliance_um_per_mN=12.0, basis=AT_10_HZ, compliance_lateral_um_per_mN=18.0
    )
    assert not match.lateral_from_vertical
    assert match.lateral.median / match.vertical.median == pytest.approx((12.0 / 18.0) ** 0.5)


def test_an_unknown_way_of_measuring_widens_the_interval_instead_of_inventing_a_number():
    known = match_mechanics(FERNHILL, compliance_um_per_mN=14.0, basis=AT_10_HZ)
    open_question = match_mechanics(FERNHILL, compliance_um_per_mN=14.0, basis=UNKNOWN)
    assert open_question.vertical.log_sd > 2.0 * known.vertical.log_sd
    assert open_question.verdict.code == "borderline"


def test_too_high_a_resonance_asks_for_mass_that_brings_it_into_the_window():
    match = match_mechanics(
        Masses(arm_g=6.0, cartridge_g=5.0, fastener_g=0.5), compliance_um_per_mN=12.0, basis=AT_10_HZ
    )
    assert match.verdict.code == "too-high"
    assert match.change_to_window_g > 0.0
    after = match_mechanics(
        Masses(arm_g=6.0, cartridge_g=5.0, fastener_g=0.5, added_effective_g=match.change_to_window_g),
        compliance_um_per_mN=12.0,
        basis=AT_10_HZ,
    )
    assert after.vertical.median == pytest.approx(12.0, abs=1e-6)


def test_too_low_a_resonance_says_how_much_lighter_screws_can_and_cannot_do():
    match = match_mechanics(
        Masses(arm_g=22.0, cartridge_g=9.0, fastener_g=1.5), compliance_um_per_mN=30.0, basis=AT_10_HZ
    )
    assert match.verdict.code == "too-low"
    assert "lighter screws save 1.1 g" in match.verdict.sentence


def test_a_typed_loss_factor_gives_its_q_and_a_missing_one_says_assumed():
    typed = match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_100_HZ, loss_factor=0.25)
    assert typed.quality.median == pytest.approx(4.0)
    assert not typed.loss_assumed
    assumed = match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_100_HZ)
    assert assumed.loss_assumed
    assert assumed.quality.interval()[1] / assumed.quality.interval()[0] > 3.0


def test_the_warp_response_stays_small_at_half_a_hertz_and_grows_towards_the_resonance():
    match = match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_100_HZ)
    gains = [gain for _, gain in match.warp_response]
    assert gains == sorted(gains)
    assert gains[0] == pytest.approx((0.5 / match.vertical.median) ** 2, rel=0.02)


@pytest.mark.parametrize(
    ("compliance", "guess"),
    [(10e-6, "10 um/mN"), (0.014, "14 um/mN"), (14000.0, "14 um/mN")],
)
def test_compliance_in_another_unit_is_recognised_and_named(compliance, guess):
    with pytest.raises(InputError, match="compliance") as caught:
        match_mechanics(FERNHILL, compliance_um_per_mN=compliance, basis=AT_10_HZ)
    assert f"That would be {guess}" in str(caught.value)


def test_a_cartridge_mass_in_kilograms_is_recognised_and_named():
    with pytest.raises(InputError, match="kilograms"):
        Masses(arm_g=11.0, cartridge_g=0.0065)


def test_a_reversed_window_is_refused_with_the_one_that_works():
    with pytest.raises(InputError, match="try 8:12"):
        match_mechanics(FERNHILL, compliance_um_per_mN=10.0, basis=AT_10_HZ, window_hz=(12.0, 8.0))
