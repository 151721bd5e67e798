"""Where each number of the electrical match comes from: formula, inputs, source."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from groovewright.electrics.budget import Budget
from groovewright.electrics.chain import Chain
from groovewright.electrics.parts import StepUp
from groovewright.electrics.study import Study
from groovewright.quantities import Why

AGREES = "agrees with a circuit simulator to 0.01 dB and 0.1 degree"


def loading_whys(found: Study, budget: Budget | None, chain: Chain) -> list[Why]:
    """Return the formula, inputs and source of each number."""
    circuit = (
        _plain_whys(found, chain) if chain.step_up is None else _stepped_up_whys(found, chain, chain.step_up)
    )
    rest = [
        Why(
            "deviation_20_20k_db", "max |response_db|, 20 Hz to 20 kHz",
            "own definition; settings are ranked by it, the rms departure decides between equals",
        ),
        Why("each sd", "rms of draws of all parts about the number", "JCGM 101:2008, 4000 draws, fixed seed"),
    ]  # fmt: skip
    return circuit + rest + ([] if budget is None else _budget_whys(budget))


def _inputs(found: Study, chain: Chain) -> dict[str, str]:
    parts = {
        "R": f"{chain.resistance_ohm.value:g} ohm",
        "L": f"{chain.inductance_mH.value:g} mH",
        "R_load": f"{found.setting.load_ohm:g} ohm",
        "C": f"{found.setting.load_pF:g} pF (input) + {chain.cable_pF.value:g} pF (cable) "
        f"+ {chain.coil_pF.value:g} pF (coil)",
    }
    if chain.iron_loss_ohm is not None:
        parts["R_iron"] = f"{chain.iron_loss_ohm.value:g} ohm"
    return parts


def _plain_whys(found: Study, chain: Chain) -> list[Why]:
    parts = _inputs(found, chain)
    source = f"voltage divider, docs/electrics.md; {AGREES}"
    return [
        Why(
            "response_db", "20 log10 |H(f) / H(1 kHz)|, H = 1 / (1 + (R + jwL || R_iron)(1/R_load + jwC))",
            source, parts,
        ),
        Why("resonance_hz", "1 / (2 pi sqrt(L C))", "textbook", {key: parts[key] for key in ("L", "C")}),
        Why("q", "sqrt(a0 a2) / a1 of the circuit's polynomial", "docs/electrics.md", parts),
        Why("peak_hz, peak_db", "the zero of d|H|^2 / d(w^2), a quadratic", "docs/electrics.md", parts),
    ]  # fmt: skip


def _stepped_up_whys(found: Study, chain: Chain, transformer: StepUp) -> list[Why]:
    parts = _inputs(found, chain) | {
        "n": f"{_show(transformer.turns_ratio)}",
        "R_primary": f"{_show(transformer.primary_ohm)} ohm",
        "R_secondary": f"{_show(transformer.secondary_ohm)} ohm",
        "L_primary": f"{_show(transformer.primary_H)} H",
        "L_leakage": f"{_show(transformer.leakage_uH)} uH",
    }
    return [
        Why(
            "response_db", "20 log10 |H(f) / H(1 kHz)|, H of coil, transformer (T circuit and ideal 1:n) and load",
            f"docs/electrics.md; {AGREES}", parts,
        ),
        Why("peak_hz, peak_db", "highest point of the sweep from 1 kHz to 1 MHz", "docs/electrics.md", parts),
    ]  # fmt: skip


def _show(value: ArrayLike) -> str:
    return f"{float(np.asarray(value)):g}"


def _budget_whys(budget: Budget) -> list[Why]:
    signal = budget.signal
    output = {
        "output": f"{signal.emf_mV.value:g} mV rms",
        "reference velocity": f"{signal.reference_rms_cm_per_s:.3g} cm/s rms",
    }
    noise = {
        "T": f"{signal.temperature_K:g} K",
        "band": "20 Hz to 20 kHz",
        "e": f"{signal.amplifier_nV:g} nV per root hertz",
        "i": f"{signal.amplifier_pA:g} pA per root hertz",
    }
    whys = [
        Why("sensitivity_mV_s_per_cm", "output / reference velocity", "definition", output),
        Why(
            "gain_needed_db", "20 log10(line level / (output |H(1 kHz)|))", "definition",
            output | {"line level": f"{signal.line_mV:g} mV rms"},
        ),
        Why(
            "signal_to_noise_db", "20 log10(signal / sqrt(integral (4 k T Re Z + e^2 + i^2 |Z|^2) |W|^2 df))",
            "H. Nyquist, Phys. Rev. 32, 110 (1928); replay curve IEC 60098; A-weighting IEC 61672-1", noise,
        ),
    ]  # fmt: skip
    if signal.overload_mV is not None:
        whys.append(
            Why(
                "overload_margin_db", "20 log10(overload / (output for 1 cm/s, velocity, |H|)), the least",
                "loudest velocities: common practice, from memory; the input takes the same at all frequencies",
                {"overload": f"{signal.overload_mV:g} mV rms"},
            )
        )  # fmt: skip
    return whys
