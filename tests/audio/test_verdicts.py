import re

import pytest

from groovewright.audio import TOLERANCES, Listening, Measure, State, next_move, verdicts
from groovewright.audio.identity import CANNOT_TELL, CORRECT, SWAPPED, Identity
from groovewright.audio.verdicts import WORDS
from groovewright.quantities import Reading


def judged(leads=CORRECT, polarity=CORRECT, **readings):
    measures = {key: Measure(key, Reading(*pair), ("band",)) for key, pair in readings.items()}
    listening = Listening(None, Identity(leads, polarity, "why", "why"), measures, {}, ())
    return {verdict.key: verdict for verdict in verdicts(listening)}


def test_every_word_has_a_tolerance_and_the_other_way_round():
    assert set(WORDS) == set(TOLERANCES)


@pytest.mark.parametrize(
    ("value", "state"), [(0.1, State.RIGHT), (-0.3, State.RIGHT), (0.8, State.LOOK), (-1.6, State.WRONG)]
)
def test_lean_is_judged_by_its_tolerance(value, state):
    assert judged(azimuth_deg=(value, 0.02))["azimuth_deg"].state is state


def test_the_probability_is_that_of_the_normal_distribution():
    """At the limit exactly half; one standard uncertainty inside 84.1 % (tables of the normal distribution)."""
    assert judged(azimuth_deg=(0.5, 0.01))["azimuth_deg"].probability == pytest.approx(0.5, abs=1e-6)
    assert judged(azimuth_deg=(0.4, 0.1))["azimuth_deg"].probability == pytest.approx(0.841, abs=0.001)


def test_a_lean_is_told_with_the_way_to_turn():
    verdict = judged(azimuth_deg=(1.5, 0.01))["azimuth_deg"]
    assert "clockwise" in verdict.text
    assert "counter-clockwise" in verdict.move
    verdict = judged(azimuth_deg=(-1.5, 0.01))["azimuth_deg"]
    assert "counter-clockwise" in verdict.text
    assert re.search(r"degrees clockwise", verdict.move)


def test_leads_come_before_everything_and_cannot_tell_is_no_move():
    found = judged(leads=SWAPPED, azimuth_deg=(3.0, 0.01))
    assert "exchange the pairs" in next_move(tuple(found.values()))
    found = judged(leads=CANNOT_TELL, azimuth_deg=(3.0, 0.01))
    assert found["leads"].state is State.UNKNOWN
    assert "Turn the cartridge" in next_move(tuple(found.values()))


def test_when_all_is_right_there_is_nothing_to_do():
    found = judged(azimuth_deg=(0.1, 0.01), speed_error_percent=(0.01, 0.001))
    assert next_move(tuple(found.values())) == "Nothing: keep this recording with the job."


def test_an_interval_too_small_to_print_is_left_out():
    assert "0.10 degrees" in judged(azimuth_deg=(0.1, 0.0001))["azimuth_deg"].text
    assert "0.10 ± 0.04 degrees" in judged(azimuth_deg=(0.1, 0.02))["azimuth_deg"].text
