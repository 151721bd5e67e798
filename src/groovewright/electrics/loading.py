"""Which of the loads that a phono stage really offers suits this cartridge best, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.electrics.chain import (
    Chain,
    Draws,
    deviation_db,
    draws,
    nominal,
    reading_of,
    rms_deviation_db,
)
from groovewright.quantities import FloatArray, InputError, Reading

TOLERANCE_DB = 2.0
"""Departure from flat, 20 Hz to 20 kHz, that is let pass unless something else is said (common practice)."""

EQUAL_DB = 0.05
"""Settings closer than this count as equally flat: no ear and no test record tells them apart."""

SURE = 0.95
WITHIN, OUTSIDE, IN_DOUBT = "within tolerance", "outside tolerance", "in doubt"


@dataclass(frozen=True)
class Choice:
    """One setting of the phono stage and what it makes of the cartridge.

    Parameters
    ----------
    load_ohm, load_pF : float
        As set at the input; the cable comes on top.
    deviation_db : Reading
        Largest departure from the level at 1 kHz, 20 Hz to 20 kHz. Settings are ranked by this.
    rms_deviation_db : float
        Root mean square departure with even weight per octave; decides between equals.
    """

    load_ohm: float
    load_pF: float
    deviation_db: Reading
    rms_deviation_db: float


@dataclass(frozen=True)
class Recommendation:
    """The flattest of the offered settings.

    Parameters
    ----------
    best : Choice
    runner_up : Choice or None
        None where only one setting is offered.
    probability_best : float or None
        That the best really is flatter than the runner-up, for what is known of the parts.
    """

    best: Choice
    runner_up: Choice | None
    probability_best: float | None


def recommend(chain: Chain, offered_ohm: Sequence[float], offered_pF: Sequence[float]) -> Recommendation:
    """Return the setting with the least deviation, 20 Hz to 20 kHz, among all pairs that are offered.

    Only the electrical circuit is judged: the stylus's own mechanical resonance is not in it. All settings
    are compared on the same draws of the parts.

    Raises
    ------
    InputError
        Nothing is offered.
    """
    if not (offered_ohm and offered_pF):
        raise InputError(
            "no load is offered to choose from; name at least one resistance and one capacitance"
        )
    paper, versions = nominal(chain), draws(chain)
    settings = [(ohm, pF) for ohm in offered_ohm for pF in offered_pF]
    choices = [assess(paper, versions, ohm, pF) for ohm, pF in settings]
    order = sorted(
        range(len(choices)),
        key=lambda i: (round(choices[i][0].deviation_db.value, 6), choices[i][0].rms_deviation_db),
    )
    best, best_draws = choices[order[0]]
    if len(order) == 1:
        return Recommendation(best, None, None)
    runner_up, runner_up_draws = choices[order[1]]
    better = (best_draws < runner_up_draws) + 0.5 * (best_draws == runner_up_draws)
    return Recommendation(best, runner_up, float(np.mean(better)))


def assess(paper: Draws, versions: Draws, load_ohm: float, load_pF: float) -> tuple[Choice, FloatArray]:
    """Return one setting's figures, and its deviation in every draw. [shape=(n,)]

    `paper` is the chain's `nominal`, `versions` its `draws`.
    """
    load = paper.load(load_ohm, load_pF)
    value = float(deviation_db(paper, load)[0])
    drawn = deviation_db(versions, versions.load(load_ohm, load_pF))
    reading = reading_of(value, drawn)
    return Choice(load_ohm, load_pF, reading, float(rms_deviation_db(paper, load)[0])), drawn


def probability_within(drawn_deviation_db: FloatArray, tolerance_db: float = TOLERANCE_DB) -> float:
    """Return the share of draws that stay within the tolerance."""
    return float(np.mean(drawn_deviation_db <= tolerance_db))


def verdict(probability: float) -> str:
    """Return the verdict for a probability of being within tolerance: sure from 95 % on, either way."""
    if probability >= SURE:
        return WITHIN
    return OUTSIDE if probability <= 1.0 - SURE else IN_DOUBT


def unknown(*needs: str) -> str:
    """Return the verdict where something is missing: 'unknown, needs X'."""
    return f"unknown, needs {' and '.join(needs)}"


def show_ohm(load_ohm: float) -> str:
    """Return a resistance as it stands on the switch: 47 kΩ, 100 Ω."""
    return f"{load_ohm / 1000:g} kΩ" if load_ohm >= 1000 else f"{load_ohm:g} Ω"


def show_setting(choice: Choice) -> str:
    """Return a setting in words: '47 kΩ with 150 pF'."""
    return f"{show_ohm(choice.load_ohm)} with {choice.load_pF:g} pF"


def advise(recommendation: Recommendation, setting: Choice) -> str:
    """Return the plain words that go with a recommendation, where the stage stands at `setting`."""
    best, runner_up = recommendation.best, recommendation.runner_up
    if runner_up is None or recommendation.probability_best is None:
        return "no other load was compared"
    stays = (best.load_ohm, best.load_pF) == (setting.load_ohm, setting.load_pF)
    name = "this" if stays else f"{show_setting(best)} ({best.deviation_db.value:.1f} dB)"
    text = f"{name} is the flattest of what is offered"
    second = f"{show_setting(runner_up)} ({runner_up.deviation_db.value:.1f} dB)"
    if runner_up.deviation_db.value - best.deviation_db.value < EQUAL_DB:
        return f"{text}, and {second} is as good"
    if recommendation.probability_best < SURE:
        return f"{text}, but may be no better than {second} with parts known no closer"
    return f"{text}, next comes {second}"
