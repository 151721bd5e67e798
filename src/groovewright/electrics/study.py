"""Everything the electrical match of one job asks: response, peak, verdict, the best load, one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.electrics.chain import (
    SWEEP_HZ,
    Chain,
    curve_db,
    draws,
    nominal,
    peak,
    reading_if_any,
    transfer,
)
from groovewright.electrics.circuit import phase_deg, resonance
from groovewright.electrics.loading import (
    TOLERANCE_DB,
    Choice,
    Recommendation,
    advise,
    assess,
    probability_within,
    recommend,
    show_setting,
    verdict,
)
from groovewright.quantities import CannotBeDoneError, FloatArray, Reading

CURVE_DRAWS = 1000


@dataclass(frozen=True)
class Study:
    """What one cartridge does at one setting of the phono stage, and which setting would be best.

    Parameters
    ----------
    setting : Choice
        The load that the study is about.
    frequency_hz, response_db, phase_deg, low_db, high_db : array [each shape=(m,)]
        Level about 1 kHz, phase, and the ends of the level's 95 % interval.
    resonance_hz, q : Reading or None
        Inductance with capacitance alone, and Q of the loaded circuit; None without such a pair or with a
        transformer.
    peak_hz, peak_db : Reading or None
        None where the response only falls.
    probability_of_peak : float
    probability_within : float
        That the departure from flat is within the tolerance.
    tolerance_db : float
    verdict, sentence : str
    recommendation : Recommendation
    """

    setting: Choice
    frequency_hz: FloatArray
    response_db: FloatArray
    phase_deg: FloatArray
    low_db: FloatArray
    high_db: FloatArray
    resonance_hz: Reading | None
    q: Reading | None
    peak_hz: Reading | None
    peak_db: Reading | None
    probability_of_peak: float
    probability_within: float
    tolerance_db: float
    verdict: str
    sentence: str
    recommendation: Recommendation


def study(
    chain: Chain,
    load_ohm: float | None,
    load_pF: float | None,
    offered_ohm: Sequence[float] = (),
    offered_pF: Sequence[float] = (),
    *,
    tolerance_db: float = TOLERANCE_DB,
) -> Study:
    """Return the electrical match of a chain.

    The study is about the load given; without one, about the best of what is offered. A resistance or
    capacitance that isn't offered as a choice is the one that is there.

    Raises
    ------
    CannotBeDoneError
        Neither a load nor a choice of loads is known.
    """
    offered_ohm = offered_ohm or ([] if load_ohm is None else [load_ohm])
    offered_pF = offered_pF or ([] if load_pF is None else [load_pF])
    if not offered_ohm or not offered_pF:
        missing = "resistance" if not offered_ohm else "capacitance"
        raise CannotBeDoneError(f"the load {missing} is not known; give it, or what the phono stage offers")
    recommendation = recommend(chain, offered_ohm, offered_pF)
    if load_ohm is None or load_pF is None:
        load_ohm, load_pF = recommendation.best.load_ohm, recommendation.best.load_pF
    paper, versions = nominal(chain), draws(chain)
    setting, drawn = assess(paper, versions, load_ohm, load_pF)
    load = paper.load(load_ohm, load_pF)
    few = draws(chain, CURVE_DRAWS)
    curves = curve_db(few, few.load(load_ohm, load_pF))
    low, high = np.percentile(curves, [2.5, 97.5], axis=0)
    peak_hz, peak_db = peak(paper, load)
    drawn_hz, drawn_db = peak(versions, versions.load(load_ohm, load_pF))
    share = probability_within(drawn, tolerance_db)
    found_resonance, found_q = _resonance(chain, load_ohm, load_pF)
    return Study(
        setting=setting,
        frequency_hz=SWEEP_HZ,
        response_db=curve_db(paper, load)[0],
        phase_deg=phase_deg(transfer(paper, load, SWEEP_HZ))[0],
        low_db=low,
        high_db=high,
        resonance_hz=found_resonance,
        q=found_q,
        peak_hz=reading_if_any(float(peak_hz[0]), drawn_hz),
        peak_db=reading_if_any(float(peak_db[0]), drawn_db),
        probability_of_peak=float(np.mean(np.isfinite(drawn_hz))),
        probability_within=share,
        tolerance_db=tolerance_db,
        verdict=verdict(share),
        sentence=_sentence(setting, recommendation, share, tolerance_db),
        recommendation=recommendation,
    )


def _resonance(chain: Chain, load_ohm: float, load_pF: float) -> tuple[Reading | None, Reading | None]:
    if chain.step_up is not None:
        return None, None
    paper, versions = nominal(chain), draws(chain)
    found = resonance(paper.coil, paper.load(load_ohm, load_pF))
    drawn = resonance(versions.coil, versions.load(load_ohm, load_pF))
    hz = reading_if_any(float(found.resonance_hz[0]), drawn.resonance_hz)
    return hz, None if hz is None else reading_if_any(float(found.q[0]), drawn.q)


def _sentence(setting: Choice, recommendation: Recommendation, share: float, tolerance_db: float) -> str:
    departure = setting.deviation_db.value
    amount = "less than 0.1" if departure < 0.1 else f"{departure:.1f}"
    departs = (
        f"into {show_setting(setting)} the circuit of this cartridge departs "
        f"{amount} dB from flat between 20 Hz and 20 kHz, {tolerance_db:g} dB allowed"
    )
    return f"{verdict(share).capitalize()}: {departs}; {advise(recommendation, setting)}."
