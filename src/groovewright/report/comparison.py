"""As found and as left, side by side: one row for each setting, with uncertainty and verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from groovewright.job import JobState, Looked, Plan
from groovewright.quantities import Reading
from groovewright.report.words import signed, with_minus

UNITS = {
    "deg": "°", "mm": " mm", "gf": " gf", "mN": " mN", "g": " g", "pF": " pF", "ohm": " Ω", "hz": " Hz",
    "db": " dB", "percent": " %", "rpm": " rpm", "um_per_mN": " µm/mN", "mV": " mV", "mH": " mH", "h": " h",
}  # fmt: skip
"""The last part of a field's name, and how it is written behind the number."""

NAMES = {
    "force": "Tracking force",
    "antiskating": "Anti-skating",
    "overhang": "Overhang",
    "azimuth": "Azimuth",
    "arm_height": "Arm height",
    "yaw_outer": "Yaw at the outer point",
    "yaw_inner": "Yaw at the inner point",
    "rake": "Stylus rake angle",
    "resonance_vertical": "Resonance with the arm",
    "deviation_20_20k": "Response, 20 Hz to 20 kHz",
}
"""Names on paper that differ from the field's own words."""

SIGNED = ("yaw_outer", "yaw_inner", "azimuth", "rake")
"""Settings whose sign is written even where it is plus."""

SETTINGS = (
    "force_gf", "antiskating", "yaw_outer_deg", "yaw_inner_deg", "overhang_mm", "arm_height", "rake_deg",
    "azimuth_deg", "resonance_vertical_hz", "deviation_20_20k_db",
)  # fmt: skip
"""What is compared, in the order of the table: keys of what was found and of the stages' values."""

LEFT_KEYS = {"antiskating": "antiskating_setting"}
"""Where a stage's key for a setting as left differs from the one as found."""


@dataclass(frozen=True)
class Setting:
    """One row: what was found, what was left, what that is worth. Empty text: not known."""

    name: str
    found: str
    left: str
    verdict: str


def left_values(planned: Plan) -> dict[str, Any]:
    """Return the values of all stages together."""
    left: dict[str, Any] = {}
    for report in planned.stages:
        left.update(report.values)
    return left


def comparison(state: JobState, planned: Plan) -> tuple[Setting, ...]:
    """Return the rows: every setting that was found, and every one that a stage knows as left."""
    left = left_values(planned)
    found = found_settings(state)
    rows = []
    for key in (*SETTINGS, *(key for key in found if key not in SETTINGS)):
        before, after = found.get(key, ""), _left_text(LEFT_KEYS.get(key, key), left)
        if before or after:
            rows.append(Setting(setting_name(key), before, after, verdict_of(key, left, state)))
    return tuple(rows)


def found_settings(state: JobState) -> dict[str, str]:
    """Return what was found, by key: what was noted as it came in, else the first look over the sheet."""
    result: dict[str, str] = {}
    if state.found is not None:
        values = {field.name: getattr(state.found, field.name) for field in fields(state.found)}
        for key, value in values.items():
            base, _ = split_unit(key)
            if not base.endswith("_sd") and value not in (None, "") and key != "notes":
                result[key] = (
                    number_text(key, value, _sd_for(key, values)) if _is_number(value) else str(value)
                )
    first = next((step for step in state.squaring if isinstance(step, Looked)), None)
    if first is not None and "yaw_outer_deg" not in result and "yaw_inner_deg" not in result:
        sd = state.aim.reading_sd_deg if first.reading_sd_deg is None else first.reading_sd_deg
        for key, said in (("yaw_outer_deg", first.outer), ("yaw_inner_deg", first.inner)):
            if said is not None:
                result[key] = f"{said_text(said, sd)} first look"
    return result


def _sd_for(key: str, values: Mapping[str, Any]) -> object:
    """Return the uncertainty of a setting: its own, or the one that it shares (yaw_sd_deg for both yaws)."""
    base, unit = split_unit(key)
    return values.get(f"{base}_sd_{unit}", values.get(f"{base.split('_')[0]}_sd_{unit}"))


def said_text(said: float | str, sd_deg: float) -> str:
    """Return a yaw as it was read: a number with its uncertainty, or the word."""
    if isinstance(said, str):
        return said.replace("-", " ").replace("_", " ")
    return f"{signed(said)}°\u00a0±\u00a0{sd_deg:.2f}"


def split_unit(key: str) -> tuple[str, str]:
    """Return a field's name without its unit, and the unit; empty where it has none."""
    for unit in sorted(UNITS, key=len, reverse=True):
        if key.endswith(f"_{unit}"):
            return key[: -len(unit) - 1], unit
    return key, ""


def setting_name(key: str) -> str:
    """Return how a setting is called on paper."""
    base, _ = split_unit(key)
    words = base.replace("_", " ")
    return NAMES.get(base, words[:1].upper() + words[1:])


def number_text(key: str, value: float, sd: object = None) -> str:
    """Return a number with its unit, and its standard uncertainty where there is one."""
    base, unit = split_unit(key)
    decimals = _decimals(value, sd)
    number = signed(value, decimals) if base in SIGNED else f"{value:.{decimals}f}"
    text = f"{number}{UNITS.get(unit, '')}"
    if isinstance(sd, int | float) and not isinstance(sd, bool) and math.isfinite(sd):
        text += f" ± {sd:.{decimals}f}"
    return with_minus(text).replace(" ", "\u00a0")


def _decimals(value: float, sd: object) -> int:
    """Return the decimals that the uncertainty bears out: two of its digits below 30, one from there on."""
    if isinstance(sd, int | float) and 0.0 < sd < math.inf:
        exponent = math.floor(math.log10(sd))
        digits = 1 if sd / 10.0**exponent >= 2.95 else 2
        return max(0, min(3, digits - 1 - exponent))
    return 0 if abs(value) >= 1000.0 else 2


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def left_reading(key: str, left: Mapping[str, Any]) -> Reading | None:
    """Return a setting as left with its uncertainty; None where a stage does not know both."""
    base, unit = split_unit(key)
    value, sd = left.get(key), left.get(f"{base}_sd_{unit}")
    if not (_is_number(value) and _is_number(sd)):
        return None
    return Reading(float(str(value)), float(str(sd)))


def _left_text(key: str, left: Mapping[str, Any]) -> str:
    value = left.get(key)
    if not _is_number(value):
        return "" if value is None or isinstance(value, float) else str(value)
    base, unit = split_unit(key)
    return number_text(key, float(str(value)), left.get(f"{base}_sd_{unit}"))


def verdict_of(key: str, left: Mapping[str, Any], state: JobState) -> str:
    """Return how sure it is that a setting is within what is asked, or what its stage says of it."""
    base, _ = split_unit(key)
    reading = left_reading(key, left)
    if base in ("yaw_outer", "yaw_inner") and reading is not None:
        tolerance = state.aim.tolerance_deg
        return f"within {tolerance:g}°: {percent(reading.probability_between(-tolerance, tolerance))}"
    if base == "force" and reading is not None:
        return _force_verdict(reading, state)
    if base == "antiskating":
        wanted = left_reading("antiskating_mN", left)
        return "" if wanted is None else f"wanted: {number_text('antiskating_mN', wanted.value, wanted.sd)}"
    if base == "resonance_vertical":
        chance = left.get("probability_in_window")
        return f"in 8 to 12 Hz: {percent(chance)}" if isinstance(chance, float) else ""
    said = left.get("load_verdict" if base == "deviation_20_20k" else f"{base}_verdict")
    return said.replace("-", " ") if isinstance(said, str) and reading is not None else ""


def _force_verdict(force: Reading, state: JobState) -> str:
    cartridge = state.cartridge_in
    if cartridge is None or cartridge.force_min_gf is None or cartridge.force_max_gf is None:
        return ""
    low, high = cartridge.force_min_gf, cartridge.force_max_gf
    return f"in {low:g} to {high:g} gf: {percent(force.probability_between(low, high))}"


def percent(probability: float) -> str:
    """Return a probability that never claims to be certain."""
    if probability > 0.995:
        return "over 99 %"
    return "under 1 %" if probability < 0.005 else f"{100.0 * probability:.0f} %"
