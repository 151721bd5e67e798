import itertools

import numpy as np
import pytest

from groovewright.audio import Band, Channel, Kind
from groovewright.audio.identity import CANNOT_TELL, CORRECT, REVERSED, SWAPPED, identify
from groovewright.audio.tone_track import ToneData


def tone(start_s, end_s, channel):
    name = f"{channel.value} at {start_s:g} s"
    return Band(name, Kind.TONE, start_s, end_s, channel, frequency_hz=1000.0, level_cm_per_s=5.0)


def heard(left, right):
    averages = np.tile(np.array([[[left, right]]], dtype=complex), (8, 1, 1))
    nothing = np.zeros(0)
    return ToneData(
        1000.0, 1000.0, 750.0, 0.0, nothing.astype(np.complex64), nothing.astype(bool), ((1, 0),), averages
    )


MOTIONS = {
    Channel.LEFT: (1.0, 0.0),
    Channel.RIGHT: (0.0, 1.0),
    Channel.LATERAL: (0.7071, 0.7071),
    Channel.VERTICAL: (0.7071, -0.7071),
}


def side(channels, *, swapped=False, signs=(1, 1), gains=(1.0, 1.0), crosstalk=0.05):
    out = []
    for number, channel in enumerate(channels):
        left, right = MOTIONS[channel]
        wires = [
            signs[0] * gains[0] * (left + crosstalk * right),
            signs[1] * gains[1] * (right - crosstalk * left),
        ]
        if swapped:
            wires.reverse()
        out.append((tone(10.0 * number, 10.0 * number + 8, channel), heard(*wires)))
    return out


ALL = tuple(MOTIONS)


@pytest.mark.parametrize(
    ("swapped", "left", "right"), list(itertools.product([False, True], [1, -1], [1, -1]))
)
@pytest.mark.parametrize("balance", [0.7, 1.0, 1.4])
def test_leads_and_polarity_are_right_in_every_case(swapped, left, right, balance):
    found = identify(side(ALL, swapped=swapped, signs=(left, right), gains=(balance, 1.0)))
    assert found.leads == (SWAPPED if swapped else CORRECT)
    assert found.polarity == (REVERSED if left * right < 0 else CORRECT)


@pytest.mark.parametrize("channels", [c for n in range(1, 5) for c in itertools.combinations(ALL, n)])
@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("sign", [1, -1])
def test_with_any_choice_of_bands_the_answer_is_right_or_cannot_tell(channels, swapped, sign):
    found = identify(side(channels, swapped=swapped, signs=(sign, 1)))
    assert found.leads in (SWAPPED if swapped else CORRECT, CANNOT_TELL)
    assert found.polarity in (REVERSED if sign < 0 else CORRECT, CANNOT_TELL)
    if {Channel.LEFT, Channel.RIGHT} <= set(channels):
        assert found.leads != CANNOT_TELL
    if {Channel.LATERAL, Channel.VERTICAL} & set(channels):
        assert found.polarity != CANNOT_TELL


@pytest.mark.parametrize("dead", [(0.001, 1.0), (1.0, 0.001)])
@pytest.mark.parametrize(
    "channels", [ALL, (Channel.LEFT, Channel.RIGHT), (Channel.LEFT, Channel.LATERAL), (Channel.RIGHT,)]
)
def test_a_dead_channel_is_never_taken_for_exchanged_leads(dead, channels):
    found = identify(side(channels, gains=dead))
    assert found.leads != SWAPPED
    assert found.polarity in (CORRECT, CANNOT_TELL)


def test_a_mono_switch_and_no_tones_give_cannot_tell():
    both = [(tone(0.0, 8.0, Channel.LEFT), heard(0.5, 0.5))]
    assert identify(both).leads == CANNOT_TELL
    assert (identify([]).leads, identify([]).polarity) == (CANNOT_TELL, CANNOT_TELL)


def test_a_quarter_turn_between_columns_and_bands_that_disagree_give_cannot_tell():
    turned = [(tone(0.0, 8.0, Channel.LATERAL), heard(0.5, 0.5j))]
    assert identify(turned).polarity == CANNOT_TELL
    against = [*side((Channel.LATERAL,)), *side((Channel.LATERAL,), signs=(1, -1))]
    against[1] = (tone(50.0, 58.0, Channel.LATERAL), against[1][1])
    assert identify(against).polarity == CANNOT_TELL


def test_what_to_exchange_is_told_by_colour_and_never_which_coil():
    found = identify(side(ALL, swapped=True, signs=(1, -1)))
    leads, coil = found.re_plug
    for colour in ("white", "blue", "red", "green"):
        assert colour in leads
        assert colour in coil
    assert "either pair" in coil
    assert identify(side(ALL)).re_plug == ()
