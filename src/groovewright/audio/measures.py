"""One measure, the sheet on which measures are collected, and every key there is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from groovewright.audio.listen import Heard
from groovewright.quantities import Reading

NUMBER_KEYS = (
    "balance_db",
    "crosstalk_l_to_r_db",
    "crosstalk_r_to_l_db",
    "crosstalk_l_to_r_deg",
    "crosstalk_r_to_l_deg",
    "azimuth_deg",
    "speed_error_percent",
    "flutter_weighted_two_sigma_percent",
    "flutter_weighted_quasi_peak_percent",
    "flutter_weighted_rms_percent",
    "wow_flutter_unweighted_rms_percent",
    "eccentricity_mm",
    "resonance_lateral_hz",
    "resonance_lateral_q",
    "resonance_vertical_hz",
    "resonance_vertical_q",
    "resonance_pilot_hz",
    "resonance_pilot_q",
    "thd_percent",
    "second_harmonic_percent",
    "third_harmonic_percent",
    "tracking_error_deg",
    "not_from_tracking_percent",
    "intermodulation_percent",
    "difference_tone_percent",
    "response_left_db",
    "response_right_db",
    "hum_db",
    "hum_frequency_hz",
    "rumble_db",
    "rumble_weighted_db",
    "noise_a_weighted_db",
    "noise_itu_weighted_db",
    "noise_itu_quasi_peak_db",
    "clicks_per_minute",
)
"""Every key that holds a number; each has a partner with `_sd` at its end."""


WORD_KEYS = ("leads", "polarity")


STEREO_KEYS = (
    "balance_db",
    "crosstalk_l_to_r_db",
    "crosstalk_r_to_l_db",
    "crosstalk_l_to_r_deg",
    "crosstalk_r_to_l_deg",
    "azimuth_deg",
    "resonance_vertical_hz",
    "resonance_vertical_q",
)


SHAPE_KEYS = (
    "thd_percent",
    "second_harmonic_percent",
    "third_harmonic_percent",
    "tracking_error_deg",
    "not_from_tracking_percent",
    "intermodulation_percent",
    "difference_tone_percent",
)


CLIP_PROOF = (
    "leads",
    "polarity",
    "speed_error_percent",
    "flutter_weighted_two_sigma_percent",
    "flutter_weighted_quasi_peak_percent",
    "flutter_weighted_rms_percent",
    "wow_flutter_unweighted_rms_percent",
    "eccentricity_mm",
    "clicks_per_minute",
)
"""What a clipped tone still tells: its zero crossings stay where they are."""


WANTED = {
    "azimuth_deg": "needs a left-only and a right-only tone of one frequency, or a lateral and a vertical",
    "balance_db": "needs a left-only and a right-only tone of one frequency, or a lateral tone",
    "crosstalk_l_to_r_db": "needs a left-only and a right-only tone of one frequency",
    "crosstalk_r_to_l_db": "needs a left-only and a right-only tone of one frequency",
    "speed_error_percent": "needs a tone of known frequency, a few seconds long",
    "flutter_weighted_two_sigma_percent": "needs at least 5 s of a tone of 300 Hz or more",
    "eccentricity_mm": "needs a tone of several turns with its groove_radius_mm",
    "resonance_lateral_hz": "needs a lateral sweep below 100 Hz, or 20 s of silent groove",
    "resonance_vertical_hz": "needs a vertical sweep below 100 Hz, or 20 s of silent groove",
    "resonance_pilot_hz": "needs 20 s of a tone of 250 Hz or more in whose speed a resonance shows",
    "tracking_error_deg": "needs a lateral tone with level_cm_per_s and groove_radius_mm",
    "hum_db": "no multiple of 50 or 60 Hz stands out of the noise",
    "rumble_db": "needs a silent groove",
}
"""Why a measure is missing, where nothing more particular is known."""


@dataclass(frozen=True)
class Measure:
    """One number or word, and the bands that it came from."""

    key: str
    value: Reading | str
    bands: tuple[str, ...]
    note: str = ""


class Sheet:
    """Collects measures while they are made."""

    def __init__(self, heard: Heard) -> None:
        self.heard = heard
        self.measures: dict[str, Measure] = {}
        self.withheld: dict[str, str] = {}
        self.warnings: list[str] = []

    def put(self, key: str, value: Reading | str, bands: Iterable[str], note: str = "") -> None:
        """Enter a measure."""
        self.measures[key] = Measure(key, value, tuple(bands), note)
        self.withheld.pop(key, None)

    def take_in(self, other: Sheet) -> None:
        """Enter what was entered on another sheet meanwhile."""
        for measure in other.measures.values():
            self.put(measure.key, measure.value, measure.bands, measure.note)

    def withhold(self, keys: Iterable[str], why: str) -> None:
        """Take measures out, or say why they never came."""
        for key in keys:
            self.measures.pop(key, None)
            self.withheld.setdefault(key, why)
