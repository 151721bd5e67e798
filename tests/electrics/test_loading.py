"""The best of the loads that are offered."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from groovewright.electrics.chain import Chain
from groovewright.electrics.loading import (
    IN_DOUBT,
    OUTSIDE,
    WITHIN,
    advise,
    probability_within,
    recommend,
    show_ohm,
    unknown,
    verdict,
)
from groovewright.quantities import InputError, Reading

OHM, PF = [33000.0, 47000.0, 68000.0], [50.0, 100.0, 150.0, 220.0]
MAGNET = Chain(Reading(800, 40), Reading(500, 25))


def departure_by_plain_loop(load_ohm: float, load_pF: float, cable_pF: float = 0.0) -> float:
    """The largest departure of 500 mH and 800 ohm by a sweep in plain complex numbers."""

    def level(hz: float) -> float:
        s = 2j * np.pi * hz
        return 20.0 * np.log10(
            abs(1 / (1 + (800 + s * 0.5) * (1 / load_ohm + s * (load_pF + cable_pF) * 1e-12)))
        )

    return max(abs(level(hz) - level(1000.0)) for hz in np.geomspace(20, 20000, 3000))


def test_the_best_and_the_runner_up_are_those_of_a_plain_search() -> None:
    order = sorted(itertools.product(OHM, PF), key=lambda pair: departure_by_plain_loop(*pair))
    found = recommend(MAGNET, OHM, PF)
    assert found.runner_up is not None
    assert (found.best.load_ohm, found.best.load_pF) == order[0]
    assert (found.runner_up.load_ohm, found.runner_up.load_pF) == order[1]
    assert found.best.deviation_db.value == pytest.approx(departure_by_plain_loop(*order[0]), abs=0.001)


def test_cable_capacitance_comes_on_top_of_the_setting() -> None:
    cabled = Chain(Reading(800, 40), Reading(500, 25), cable_pF=Reading(150, 15))
    found = recommend(cabled, [47000.0], [50.0]).best.deviation_db.value
    assert found == pytest.approx(departure_by_plain_loop(47000.0, 50.0, 150.0), abs=0.001)


def test_an_unsure_cable_makes_the_deviation_unsure() -> None:
    def spread(cable_sd_pF: float) -> float:
        chain = Chain(Reading(800, 8), Reading(500, 5), cable_pF=Reading(150, cable_sd_pF))
        return recommend(chain, [47000.0], [100.0]).best.deviation_db.sd

    assert spread(40.0) > 1.5 * spread(5.0)


def test_probability_of_being_the_best_is_high_for_unlike_loads_and_half_for_equal_ones() -> None:
    sure = recommend(MAGNET, [47000.0], [50.0, 600.0])
    assert sure.probability_best is not None
    assert sure.probability_best > 0.999
    tie = recommend(MAGNET, [47000.0], [200.0, 200.0])
    assert tie.probability_best == 0.5


def test_a_single_offer_has_no_runner_up() -> None:
    found = recommend(MAGNET, [47000.0], [200.0])
    assert found.runner_up is None
    assert found.probability_best is None
    assert advise(found, found.best) == "no other load was compared"


def test_nothing_offered_is_an_error_that_says_so() -> None:
    with pytest.raises(InputError, match="no load is offered"):
        recommend(MAGNET, [], PF)


def test_advice_names_the_runner_up_and_says_when_it_can_not_be_told_apart() -> None:
    close = recommend(MAGNET, OHM, PF)
    assert "may be no better than 68 kΩ with 100 pF" in advise(close, close.best)
    clear = recommend(MAGNET, [47000.0], [50.0, 600.0])
    assert advise(clear, clear.best).startswith(
        "this is the flattest of what is offered, next comes 47 kΩ with 600"
    )


@pytest.mark.parametrize(("probability", "word"), [(0.96, WITHIN), (0.5, IN_DOUBT), (0.03, OUTSIDE)])
def test_a_verdict_is_only_given_when_it_is_95_percent_sure(probability: float, word: str) -> None:
    assert verdict(probability) == word


def test_probability_within_is_the_share_of_draws() -> None:
    assert probability_within(np.array([0.5, 1.5, 2.5, 3.5]), 2.0) == 0.5


def test_what_is_missing_is_named() -> None:
    assert unknown("the inductance") == "unknown, needs the inductance"


@pytest.mark.parametrize(("ohm", "text"), [(47000, "47 kΩ"), (100, "100 Ω"), (1500, "1.5 kΩ")])
def test_a_resistance_is_shown_as_on_the_switch(ohm: float, text: str) -> None:
    assert show_ohm(ohm) == text
