"""How the numbers of a recording are called and written, for stages and papers."""

from __future__ import annotations

import math

from groovewright.job.heard import Listened
from groovewright.quantities import Reading

NAMES = {
    "leads": ("leads", ""),
    "polarity": ("coils", ""),
    "azimuth_deg": ("lean", "deg"),
    "balance_db": ("channel balance", "dB"),
    "crosstalk_l_to_r_db": ("crosstalk, L into R", "dB"),
    "crosstalk_r_to_l_db": ("crosstalk, R into L", "dB"),
    "speed_error_percent": ("speed", "%"),
    "flutter_weighted_two_sigma_percent": ("wow and flutter, weighted", "%"),
    "eccentricity_mm": ("record off centre", "mm"),
    "resonance_lateral_hz": ("resonance heard, lateral", "Hz"),
    "resonance_lateral_q": ("Q, lateral", ""),
    "resonance_vertical_hz": ("resonance heard, vertical", "Hz"),
    "resonance_vertical_q": ("Q, vertical", ""),
    "tracking_error_deg": ("tracking error, at most", "deg"),
    "second_harmonic_percent": ("second harmonic", "%"),
    "thd_percent": ("harmonics", "%"),
    "response_left_db": ("response, left, at most", "dB"),
    "response_right_db": ("response, right, at most", "dB"),
    "hum_db": ("hum", "dB"),
    "rumble_weighted_db": ("rumble, weighted", "dB"),
    "noise_a_weighted_db": ("noise, A-weighted", "dB"),
}
"""What stages and papers show of a recording, in order: key, its name and its unit."""

SIGNED = ("azimuth_deg", "balance_db", "speed_error_percent", "response_left_db", "response_right_db")


def number_text(reading: Reading, unit: str, *, signed: bool = False) -> str:
    """Return '9.41 Hz +- 0.02': the standard uncertainty with up to two digits, 1 to 4 places."""
    places = 2
    if reading.sd > 0.0:
        places = max(1, min(4, 1 - math.floor(math.log10(reading.sd))))
    places = min(places, 3)
    sign = "+" if signed else ""
    # a spread that would print as nought is given as the last place
    sd = max(reading.sd, 10.0**-places)
    behind = f" {unit}" if unit else ""
    return f"{reading.value:{sign}.{places}f}{behind} +- {sd:.{places}f}"


def finding_text(event: Listened, key: str) -> str | None:
    """Return a finding as a row says it; None where it was not measured."""
    finding = event.finding(key)
    if finding is None:
        return None
    if finding.sd is None:
        return str(finding.value)
    reading = Reading(float(finding.value), finding.sd)
    return number_text(reading, NAMES[key][1], signed=key in SIGNED)
