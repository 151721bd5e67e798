"""How `groovewright load` shows its findings: as text, and as one JSON object."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

import click

from groovewright.cli.output import print_json, print_table
from groovewright.electrics import (
    SWEEP_HZ,
    Budget,
    Chain,
    Choice,
    Study,
    curve_db,
    nominal,
    show_setting,
    unknown,
)
from groovewright.electrics.cautions import CIRCUIT_ONLY, cautions
from groovewright.quantities import FloatArray, Reading

BUDGET_NAMES = {
    "sensitivity_mV_s_per_cm": ("output for 1 cm/s", "mV"),
    "gain_needed_db": ("gain needed at 1 kHz", "dB"),
    "overload_margin_db": ("overload margin, loudest grooves", "dB"),
    "signal_to_noise_db": ("signal to noise", "dB"),
    "signal_to_noise_amended_db": ("  with the IEC amendment", "dB"),
    "signal_to_noise_a_db": ("  A-weighted", "dB"),
    "signal_to_noise_amended_a_db": ("  both", "dB"),
    "signal_to_hum_db": ("signal to hum", "dB"),
    "signal_to_hum_amended_db": ("  with the IEC amendment", "dB"),
    "signal_to_hum_a_db": ("  A-weighted", "dB"),
}
EMPTY_KEYS = ("response_db", "peak_db", "peak_hz", "deviation_20_20k_db", "best_load", "runner_up")


def print_unknown(missing: Sequence[str], options: Mapping[str, Any]) -> None:
    """Print the verdict 'unknown, needs X', as text or JSON."""
    verdict = unknown(*missing)
    if options["as_json"]:
        print_json({"verdict": verdict, **dict.fromkeys(EMPTY_KEYS), "cautions": cautions(options["kind"])})
        return
    click.echo(click.wrap_text(f"{verdict[0].upper()}{verdict[1:]}.", 79))
    _print_list("Caution", cautions(options["kind"]))


def print_text(
    found: Study, budget: Budget | None, options: Mapping[str, Any], assumed: Sequence[str]
) -> None:
    """Print one sentence, then the numbers, then what was assumed and the cautions."""
    click.echo(click.wrap_text(found.sentence, 79) + "\n")
    rows = [
        ("load", f"{show_setting(found.setting)}{_cable(options)}"),
        ("departure from flat", _show(found.setting.deviation_db, "dB")),
        (f"within {found.tolerance_db:g} dB", f"probability {_share(found.probability_within)}"),
        ("peak", _peak(found)),
    ]
    if found.resonance_hz is not None:
        rows.append(("resonance of L with C", _show_hz(found.resonance_hz)))
    if found.q is not None:
        rows.append(("Q of the loaded circuit", _show(found.q, "")))
    rows += [(f"at {_hertz(hz)}", f"{_at(found, hz):+z.2f} dB") for hz in (20.0, 10000.0, 15000.0, 20000.0)]
    if found.recommendation.runner_up is not None:
        rows.append(("flattest offered", _choice(found.recommendation.best)))
        rows.append(("runner-up", _choice(found.recommendation.runner_up)))
    print_table(rows)
    if budget is not None:
        click.echo("\nLevels, for the reference velocity at 1 kHz")
        print_table(_budget_rows(budget))
    _print_list("Assumed", [*assumed, CIRCUIT_ONLY])
    _print_list("Caution", cautions(options["kind"]))


def as_json(
    found: Study, budget: Budget | None, chain: Chain, options: Mapping[str, Any], assumed: Sequence[str]
) -> dict[str, Any]:
    """Return everything as one object, units in its keys; an absent peak is null."""
    recommendation = found.recommendation
    return {
        "verdict": found.verdict,
        "sentence": found.sentence,
        "load_ohm": found.setting.load_ohm,
        "load_pF": found.setting.load_pF,
        "cable_pF": options["cable_pF"],
        "deviation_20_20k_db": found.setting.deviation_db.value,
        "deviation_20_20k_sd_db": found.setting.deviation_db.sd,
        "rms_deviation_20_20k_db": found.setting.rms_deviation_db,
        "tolerance_db": found.tolerance_db,
        "probability_within": found.probability_within,
        **_pair("peak_hz", found.peak_hz),
        **_pair("peak_db", found.peak_db),
        "probability_of_peak": found.probability_of_peak,
        **_pair("resonance_hz", found.resonance_hz),
        **_pair("q", found.q),
        "best_load": _choice_json(recommendation.best, chain),
        "runner_up": None
        if recommendation.runner_up is None
        else _choice_json(recommendation.runner_up, chain),
        "probability_best": recommendation.probability_best,
        "response_db": _points(found.response_db),
        "phase_deg": _points(found.phase_deg),
        "levels": None if budget is None else _budget_json(budget),
        "assumed": [*assumed, CIRCUIT_ONLY],
        "cautions": cautions(options["kind"]),
    }


def _show(reading: Reading, unit: str) -> str:
    low, high = reading.interval()
    return f"{reading.value:.2f} {unit}".rstrip() + f" (95 %: {low:.2f} to {high:.2f})"


def _show_hz(reading: Reading) -> str:
    step, unit = (
        (1e6, "MHz") if reading.value >= 1e6 else (1e3, "kHz") if reading.value >= 1e3 else (1.0, "Hz")
    )
    return _show(Reading(reading.value / step, reading.sd / step), unit)


def _peak(found: Study) -> str:
    if found.peak_hz is None or found.peak_db is None:
        return "none: the response only falls"
    text = f"{_show(found.peak_db, 'dB')} at {_show_hz(found.peak_hz)}"
    return text + ("; far above what is heard" if found.peak_hz.value > 50000.0 else "")


def _cable(options: Mapping[str, Any]) -> str:
    return f", and {options['cable_pF']:g} pF of cable" if options["cable_pF"] else ""


def _hertz(hz: float) -> str:
    return f"{hz / 1000:g} kHz" if hz >= 1000.0 else f"{hz:g} Hz"


def _at(found: Study, hz: float) -> float:
    return float(found.response_db[abs(found.frequency_hz - hz).argmin()])


def _choice(choice: Choice) -> str:
    return f"{show_setting(choice)}: {_show(choice.deviation_db, 'dB')}, rms {choice.rms_deviation_db:.2f} dB"


def _choice_json(choice: Choice, chain: Chain) -> dict[str, Any]:
    paper = nominal(chain)
    return {
        "load_ohm": choice.load_ohm,
        "load_pF": choice.load_pF,
        "deviation_20_20k_db": choice.deviation_db.value,
        "deviation_20_20k_sd_db": choice.deviation_db.sd,
        "rms_deviation_20_20k_db": choice.rms_deviation_db,
        "response_db": _points(curve_db(paper, paper.load(choice.load_ohm, choice.load_pF))[0]),
    }


def _points(values: FloatArray) -> list[list[float]]:
    return [[hz, round(value, 6)] for hz, value in zip(SWEEP_HZ.tolist(), values.tolist(), strict=True)]


def _pair(key: str, reading: Reading | None) -> dict[str, float | None]:
    """Return the value under its key and its standard uncertainty beside it, the unit last."""
    name, _, unit = key.rpartition("_")
    sd_key = f"{name}_sd_{unit}" if name else f"{key}_sd"
    return {key: None, sd_key: None} if reading is None else {key: reading.value, sd_key: reading.sd}


def _budget_rows(budget: Budget) -> list[tuple[str, str]]:
    rows = []
    for key, (name, unit) in BUDGET_NAMES.items():
        reading = getattr(budget, key)
        if reading is not None:
            at = f", at {_hertz(budget.overload_at_hz or 0.0)}" if key == "overload_margin_db" else ""
            rows.append((name, _show(reading, unit) + at))
    if budget.overload_margin_db is None:
        rows.append(("overload margin", f"{unknown('the overload of the input (--overload-mV)')}"))
    if budget.signal_to_hum_db is None:
        rows.append(("hum", unknown("a measurement at the input (--hum HZ:UV)")))
    return rows


def _budget_json(budget: Budget) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for entry in dataclasses.fields(budget):
        value = getattr(budget, entry.name)
        if entry.name == "signal":
            continue
        if entry.name == "overload_at_hz":
            values[entry.name] = value
        elif entry.name == "sensitivity_mV_s_per_cm":
            values |= {entry.name: value.value, "sensitivity_sd_mV_s_per_cm": value.sd}
        else:
            values |= _pair(entry.name, value)
    return values


def _print_list(title: str, lines: Sequence[str]) -> None:
    click.echo(f"\n{title}")
    for line in lines:
        click.echo(click.wrap_text(line, 79, "  - ", "    "))


def _share(probability: float) -> str:
    """Return a share of draws as words that claim no more than the number of draws can show."""
    if probability > 0.99:
        return "over 99 %"
    return "under 1 %" if probability < 0.01 else f"{100.0 * probability:.0f} %"
