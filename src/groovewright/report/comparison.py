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
    "tracking_force": "Tracking force",
    "antiskating": "Antiskating",
    "overhang": "Overhang",
    "azimuth": "Azimuth",
    "height": "Arm height",
    "arm_height": "Arm height",
    "yaw_outer": "Yaw at the outer point",
    "yaw_inner": "Yaw at the inner point",
    "rake": "Stylus rake angle",
    "resonance": "Resonance of arm and cartridge",
    "load": "Load",
}
"""Names on paper that differ from the field's own words."""

SIGNED = ("yaw_outer", "yaw_inner", "azimuth", "height", "arm_height")
"""Settings whose sign is written even where it is plus."""

SETTINGS = (
    "yaw_outer_deg", "yaw_inner_deg", "force_gf", "tracking_force_gf", "antiskating_mN", "overhang_mm",
    "azimuth_deg", "height_mm", "arm_height_mm", "rake_deg", "resonance_hz", "channel_balance_db",
    "crosstalk_left_db", "crosstalk_right_db", "speed_error_percent", "load_ohm", "load_pF",
)  # fmt: skip
"""What is shown as left wherever a stage knows it, in the order of the table."""


@dataclass(frozen=True)
class Setting:
    """One row: what was found, what was left, what that is worth. Empty text: not known."""

    name: str
    found: str
    left: str
    verdict: str


def comparison(state: JobState, planned: Plan) -> tuple[Setting, ...]:
    """Return the rows: every setting that was found, and every one that a stage knows as left."""
    left: dict[str, Any] = {}
    for report in planned.stages:
        left.update(report.values)
    found = found_settings(state)
    keys = [key for key in SETTINGS if key in found or _is_number(left.get(key))]
    keys += [key for key in found if key not in keys]
    rows = []
    for key in keys:
        left_text = _left_text(key, left)
        found_text = found[key]
        if found_text or left_text:
            rows.append(Setting(setting_name(key), found_text, left_text, verdict_of(key, left, state)))
    return tuple(rows)


def found_settings(state: JobState) -> dict[str, str]:
    """Return what was found, by field: the record of the intake, and the first look over the sheet."""
    result: dict[str, str] = _Missing()
    record = getattr(state, "found", None)
    if record is not None:
        values = {field.name: getattr(record, field.name) for field in fields(record)}
        for key, value in values.items():
            base, unit = split_unit(key)
            if base.endswith("_sd") or value is None or value == "":
                continue
            sd = values.get(f"{base}_sd_{unit}")
            result[key] = number_text(key, value, sd) if _is_number(value) else str(value)
    first = next((step for step in state.squaring if isinstance(step, Looked)), None)
    if first is not None:
        sd = state.aim.reading_sd_deg if first.reading_sd_deg is None else first.reading_sd_deg
        for key, said in (("yaw_outer_deg", first.outer), ("yaw_inner_deg", first.inner)):
            if key not in result and said is not None:
                result[key] = f"{said_text(said, sd)} first look"
    return result


class _Missing(dict[str, str]):
    """What was not found reads as nothing."""

    def __missing__(self, key: str) -> str:
        return ""


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
    if isinstance(sd, int | float) and 0.0 < sd < math.inf:
        return max(0, min(3, 1 - math.floor(math.log10(sd))))
    return 0 if abs(value) >= 1000.0 else 2


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def left_reading(key: str, left: Mapping[str, Any]) -> Reading | None:
    """Return a setting as left with its uncertainty; None where a stage does not know both."""
    base, unit = split_unit(key)
    value, sd = left.get(key), left.get(f"{base}_sd_{unit}")
    if isinstance(value, Reading):
        return value
    if not (_is_number(value) and _is_number(sd)):
        return None
    return Reading(float(str(value)), float(str(sd)))


def _left_text(key: str, left: Mapping[str, Any]) -> str:
    value = left.get(key)
    if isinstance(value, Reading):
        return number_text(key, value.value, value.sd)
    if not _is_number(value):
        return "" if value is None or isinstance(value, float) else str(value)
    base, unit = split_unit(key)
    return number_text(key, float(str(value)), left.get(f"{base}_sd_{unit}"))


def verdict_of(key: str, left: Mapping[str, Any], state: JobState) -> str:
    """Return how sure it is that a setting is within what is asked; what a stage says of it comes first."""
    base, _ = split_unit(key)
    said = left.get(f"{base}_verdict")
    if isinstance(said, str):
        return said
    reading = left_reading(key, left)
    if reading is None:
        return ""
    if base in ("yaw_outer", "yaw_inner"):
        tolerance = state.aim.tolerance_deg
        chance = reading.probability_between(-tolerance, tolerance)
        return f"within {tolerance:g}°: {percent(chance)}"
    cartridge = state.cartridge_in
    if base in ("force", "tracking_force") and cartridge is not None:
        low, high = cartridge.force_min_gf, cartridge.force_max_gf
        if low is not None and high is not None:
            return f"in {low:g} to {high:g} gf: {percent(reading.probability_between(low, high))}"
    return ""


def percent(probability: float) -> str:
    """Return a probability that never claims to be certain."""
    if probability > 0.995:
        return "over 99 %"
    return "under 1 %" if probability < 0.005 else f"{100.0 * probability:.0f} %"
