"""From what was heard to what it means: every measure with its band, what is withheld, and why."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from groovewright.audio.bands import Band, BandList, Channel, Kind
from groovewright.audio.crosstalk import Separation, lean_from_lateral_and_vertical, separation
from groovewright.audio.distortion import (
    Harmonics,
    Ladder,
    Mixing,
    harmonics_of,
    ladder_of,
    lateral_velocity,
    mixing_of,
    tracking_error_from,
)
from groovewright.audio.equaliser import gain_between
from groovewright.audio.faults import LOW_PEAK_DB, OFFSET, lossy_edge_hz
from groovewright.audio.flutter import Flutter, flutter_of
from groovewright.audio.gather import BandData
from groovewright.audio.identity import CANNOT_TELL, REVERSED, SWAPPED, Identity, identify, loudness
from groovewright.audio.listen import Heard
from groovewright.audio.noise import Hum, Noise, hum_of, noise_of
from groovewright.audio.resonance import Resonance, from_noise, from_sweep, slower
from groovewright.audio.response import Response, response_of
from groovewright.audio.speed import Deviation, Turning, deviation_of, turning_of
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import Reading

UNKNOWN_LEAN_DB = 0.3
"""Spread of a balance that is read from a lateral tone alone: a lean of one degree makes 0.3 dB."""
WORN_GOOD = 0.9
"""Share of a tone that must be clear of clicks before a measure counts as undisturbed."""


@dataclass(frozen=True)
class Measure:
    """One number or word, and the bands that it came from."""

    key: str
    value: Reading | str
    bands: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class Listening:
    """Everything that a recording proved.

    Parameters
    ----------
    measures : dict of key to Measure
        The keys are those of docs/listen.md.
    withheld : dict of key to str
        What could not be measured, and why.
    warnings : tuple of str
    """

    heard: Heard
    identity: Identity
    measures: dict[str, Measure]
    withheld: dict[str, str]
    warnings: tuple[str, ...]
    separations: tuple[Separation, ...] = ()
    turnings: dict[str, Turning] = field(default_factory=dict)
    deviations: dict[str, Deviation] = field(default_factory=dict)
    flutters: dict[str, Flutter] = field(default_factory=dict)
    resonances: dict[str, Resonance] = field(default_factory=dict)
    harmonics: dict[str, Harmonics] = field(default_factory=dict)
    mixings: dict[str, Mixing] = field(default_factory=dict)
    ladders: tuple[Ladder, ...] = ()
    responses: dict[str, Response] = field(default_factory=dict)
    noises: dict[str, Noise] = field(default_factory=dict)
    hums: dict[str, Hum] = field(default_factory=dict)
    clicks: int = 0
    clicks_per_minute: Reading = Reading(0.0, 0.0)  # noqa: RUF009


class _Sheet:
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

    def withhold(self, keys: Iterable[str], why: str) -> None:
        """Take measures out, or say why they never came."""
        for key in keys:
            self.measures.pop(key, None)
            self.withheld.setdefault(key, why)


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


def assess(heard: Heard) -> Listening:
    """Return every measure that the recording allows. Nothing here reads the file."""
    sheet = _Sheet(heard)
    data = heard.data
    tones = [(entry.band, entry.tone) for entry in data if entry.tone and len(entry.tone.averages) >= 3]
    singles = [(band, tone) for band, tone in tones if band.kind is Kind.TONE]
    identity = _identity(sheet, singles)
    swapped = identity.leads == SWAPPED
    right = [(band, _unswapped(tone) if swapped else tone) for band, tone in tones]
    single = [(band, tone) for band, tone in right if band.kind is Kind.TONE]
    separations = _separations(sheet, single, identity)
    turnings, deviations, flutters = _speeds(sheet, single)
    resonances = _resonances(sheet, data)
    harmonics = _harmonics(sheet, single)
    mixings = _mixings(sheet, right)
    ladders = _ladders(sheet, single)
    responses = _responses(sheet, data, swapped)
    noises, hums = _noises(sheet, data, single, swapped)
    clicks = sum(entry.clicks_s.size for entry in data)
    heard_s = sum(entry.heard_s for entry in data)
    per_minute = Reading(
        60.0 * clicks / max(heard_s, 1.0), 60.0 * math.sqrt(clicks + 1.0) / max(heard_s, 1.0)
    )
    sheet.put("clicks_per_minute", per_minute, (entry.band.name for entry in data))
    _faults(sheet, data)
    for key in NUMBER_KEYS:
        if key not in sheet.measures:
            sheet.withheld.setdefault(key, WANTED.get(key, "no listed band carries what it needs"))
    return Listening(
        heard=heard,
        identity=identity,
        measures=sheet.measures,
        withheld=sheet.withheld,
        warnings=tuple(dict.fromkeys(sheet.warnings)),
        separations=separations,
        turnings=turnings,
        deviations=deviations,
        flutters=flutters,
        resonances=resonances,
        harmonics=harmonics,
        mixings=mixings,
        ladders=ladders,
        responses=responses,
        noises=noises,
        hums=hums,
        clicks=clicks,
        clicks_per_minute=per_minute,
    )


WANTED = {
    "azimuth_deg": "needs a left-only and a right-only tone of one frequency, or a lateral and a vertical one",
    "balance_db": "needs a left-only and a right-only tone of one frequency, or a lateral tone",
    "crosstalk_l_to_r_db": "needs a left-only and a right-only tone of one frequency",
    "crosstalk_r_to_l_db": "needs a left-only and a right-only tone of one frequency",
    "speed_error_percent": "needs a tone of known frequency, a few seconds long",
    "flutter_weighted_two_sigma_percent": "needs at least 5 s of a tone of 300 Hz or more",
    "eccentricity_mm": "needs a tone of several turns with its groove_radius_mm",
    "resonance_lateral_hz": "needs a lateral sweep below 100 Hz, or 20 s of silent groove",
    "resonance_vertical_hz": "needs a vertical sweep below 100 Hz, or 20 s of silent groove",
    "tracking_error_deg": "needs a lateral tone with level_cm_per_s and groove_radius_mm",
    "hum_db": "no multiple of 50 or 60 Hz stands out of the noise",
    "rumble_db": "needs a silent groove",
}
"""Why a measure is missing, where nothing more particular is known."""


def _unswapped(tone: ToneData) -> ToneData:
    return replace(tone, averages=tone.averages[:, :, ::-1])


def _identity(sheet: _Sheet, tones: list[tuple[Band, ToneData]]) -> Identity:
    heard = sheet.heard
    if heard.recording.channels == 1 or heard.tally.identical:
        why = "both columns of the file are the same"
        identity = Identity(CANNOT_TELL, CANNOT_TELL, why, why)
    elif not heard.bands.listed:
        why = "the bands were found, not listed: confirm their channels to have this told"
        identity = Identity(CANNOT_TELL, CANNOT_TELL, why, why)
    else:
        identity = identify(tones)
    sheet.put("leads", identity.leads, identity.leads_bands, identity.leads_why)
    sheet.put("polarity", identity.polarity, identity.polarity_bands, identity.polarity_why)
    return identity


def _near(a: float | None, b: float | None) -> bool:
    return a is not None and b is not None and abs(a / b - 1.0) < 0.03


def _of_channel(tones: list[tuple[Band, ToneData]], channel: Channel) -> list[tuple[Band, ToneData]]:
    return [entry for entry in tones if entry[0].channel is channel]


def _separations(
    sheet: _Sheet, tones: list[tuple[Band, ToneData]], identity: Identity
) -> tuple[Separation, ...]:
    found = []
    for left in _of_channel(tones, Channel.LEFT):
        for right in _of_channel(tones, Channel.RIGHT):
            same_level = _near(left[0].level_cm_per_s or 1.0, right[0].level_cm_per_s or 1.0)
            if not _near(left[0].frequency_hz, right[0].frequency_hz) or not same_level:
                continue
            if min(loudness(left[1])[0], loudness(right[1])[1]) <= 0.0:
                continue
            between = _between(tones, left[0].frequency_hz)
            found.append(
                separation(
                    left,
                    right,
                    reversed_coil=identity.polarity == REVERSED,
                    between=between,
                    replay=sheet.heard.bands.replay,
                )
            )
            break
    if identity.leads == CANNOT_TELL and sheet.heard.bands.listed:
        sheet.withhold(STEREO_KEYS[:6], f"which channel is which can't be told: {identity.leads_why}")
        return ()
    if found:
        _put_separation(
            sheet, min(found, key=lambda entry: abs(math.log(entry.frequency_hz / 1000.0))), identity
        )
    else:
        _put_from_lateral(sheet, tones)
    return tuple(found)


def _between(tones: list[tuple[Band, ToneData]], frequency_hz: float | None) -> complex | None:
    for band, tone in _of_channel(tones, Channel.LATERAL):
        if _near(band.frequency_hz, frequency_hz):
            left, right = tone.averages[:, 0].mean(axis=0)
            return complex(right / left) if abs(left) > 0.0 else None
    return None


def _put_separation(sheet: _Sheet, best: Separation, identity: Identity) -> None:
    bands = best.bands
    sheet.put("balance_db", best.balance_db, bands)
    sheet.put("crosstalk_l_to_r_db", best.left_to_right.level_db, bands)
    sheet.put("crosstalk_r_to_l_db", best.right_to_left.level_db, bands)
    sheet.put("crosstalk_l_to_r_deg", best.left_to_right.phase_deg, bands)
    sheet.put("crosstalk_r_to_l_deg", best.right_to_left.phase_deg, bands)
    if identity.polarity == CANNOT_TELL and sheet.heard.bands.listed:
        note = "taken as if no coil were reversed; with one reversed, the lean is to the other side"
        sheet.warnings.append(f"azimuth: polarity can't be told ({identity.polarity_why}), {note}")
        sheet.put("azimuth_deg", best.azimuth_deg, bands, note)
    else:
        sheet.put("azimuth_deg", best.azimuth_deg, bands)


def _put_from_lateral(sheet: _Sheet, tones: list[tuple[Band, ToneData]]) -> None:
    lateral, vertical = _of_channel(tones, Channel.LATERAL), _of_channel(tones, Channel.VERTICAL)
    for first in lateral:
        for second in vertical:
            if _near(first[0].frequency_hz, second[0].frequency_hz):
                azimuth, balance = lean_from_lateral_and_vertical(first[1], second[1])
                bands = (first[0].name, second[0].name)
                sheet.put("azimuth_deg", azimuth, bands, "as if all crosstalk came from lean")
                sheet.put("balance_db", balance, bands, "as if all crosstalk came from lean")
                return
    if lateral:
        band, tone = lateral[0]
        loud = loudness(tone)
        if loud.min() > 0.0:
            level = 20.0 * math.log10(float(loud[0] / loud[1]))
            sheet.put("balance_db", Reading(level, UNKNOWN_LEAN_DB), (band.name,), "a lean may hide in it")


def _speeds(
    sheet: _Sheet, tones: list[tuple[Band, ToneData]]
) -> tuple[dict[str, Turning], dict[str, Deviation], dict[str, Flutter]]:
    turnings, deviations, flutters = {}, {}, {}
    rpm = sheet.heard.bands.speed_rpm
    for band, tone in tones:
        if (band.frequency_hz or 0.0) < 250.0:
            continue
        deviation = deviation_of(tone)
        if deviation is None or deviation.duration_s < 3.0:
            continue
        turnings[band.name] = turning_of(deviation, rpm)
        deviations[band.name] = deviation
        flutter = flutter_of(deviation)
        if flutter is not None:
            flutters[band.name] = flutter
    if not turnings:
        return {}, {}, {}
    by_name = {band.name: band for band, _ in tones}
    best = min(turnings, key=lambda name: turnings[name].speed_error_percent.sd + _unfit(by_name[name]))
    sheet.put("speed_error_percent", turnings[best].speed_error_percent, (best,), "by the recorder's clock")
    _put_flutter(sheet, flutters, by_name)
    _put_off_centre(sheet, turnings, by_name)
    error = turnings[best].speed_error_percent.value
    if abs(error) > 6.0:
        sheet.warnings.append(f"speed is off by {error:+.1f} %: is the record meant for another speed?")
    return turnings, deviations, flutters


def _unfit(band: Band) -> float:
    """Return a handicap, in percent, for tones that are low or of unknown frequency."""
    return 0.0 if (band.frequency_hz or 0.0) >= 300.0 else 1.0


def _put_flutter(sheet: _Sheet, flutters: dict[str, Flutter], by_name: dict[str, Band]) -> None:
    if not flutters:
        return

    def rank(name: str) -> tuple[bool, float]:
        standard = _near(by_name[name].frequency_hz, 3150.0) or _near(by_name[name].frequency_hz, 3000.0)
        return standard, by_name[name].duration_s

    name = max(flutters, key=rank)
    found = flutters[name]
    sheet.put("flutter_weighted_two_sigma_percent", found.weighted_two_sigma, (name,))
    sheet.put("flutter_weighted_quasi_peak_percent", found.weighted_quasi_peak, (name,))
    sheet.put("flutter_weighted_rms_percent", found.weighted_rms, (name,))
    sheet.put("wow_flutter_unweighted_rms_percent", found.unweighted_rms, (name,), "0.2 to 200 Hz")


def _put_off_centre(sheet: _Sheet, turnings: dict[str, Turning], by_name: dict[str, Band]) -> None:
    readings = {}
    for name, turning in turnings.items():
        radius, band = by_name[name].groove_radius_mm, by_name[name]
        if radius is not None and band.duration_s * turning.turns_per_s >= 1.5:
            readings[name] = turning.off_centre_mm(radius)
    if readings:
        best = min(readings, key=lambda name: readings[name].sd)
        sheet.put("eccentricity_mm", readings[best], (best,))


def _resonances(sheet: _Sheet, data: tuple[BandData, ...]) -> dict[str, Resonance]:
    found: dict[str, Resonance] = {}
    replay = sheet.heard.bands.replay
    flip = -1.0 if sheet.measures["polarity"].value == REVERSED else 1.0
    for entry in data:
        if entry.low is None or not entry.band.is_low_sweep and entry.band.kind is not Kind.SILENCE:
            continue
        for motion, sign in (("lateral", flip), ("vertical", -flip)):
            if entry.band.is_low_sweep and entry.band.channel.value not in (motion, "left", "right"):
                continue
            series, rate_hz = slower(
                np.asarray(entry.low[0] + sign * entry.low[1], dtype=np.float64), entry.low_rate_hz
            )
            resonance = (
                from_sweep(series, rate_hz, entry.band.law, replay, _ends(entry.band))
                if entry.band.is_low_sweep
                else from_noise(series, rate_hz, replay)
            )
            if resonance is not None:
                found[f"{motion}: {entry.band.name}"] = resonance
    for motion in ("lateral", "vertical"):
        fitting = {name: one for name, one in found.items() if name.startswith(motion)}
        if fitting:
            best = min(fitting, key=lambda name: fitting[name].frequency_hz.sd)
            bands = (best.split(": ", 1)[1],)
            sheet.put(f"resonance_{motion}_hz", fitting[best].frequency_hz, bands)
            sheet.put(f"resonance_{motion}_q", fitting[best].q, bands)
    return found


def _ends(band: Band) -> tuple[float, float]:
    return float(band.sweep_start_hz or 4.0), float(band.sweep_end_hz or 25.0)


def _harmonics(sheet: _Sheet, tones: list[tuple[Band, ToneData]]) -> dict[str, Harmonics]:
    found: dict[str, Harmonics] = {}
    replay = sheet.heard.bands.replay
    for band, tone in tones:
        harmonics = harmonics_of(band, tone, replay)
        if harmonics is not None:
            found[band.name] = harmonics
    if not found:
        return found
    by_name = {band.name: band for band, _ in tones}

    def rank(name: str) -> tuple[bool, bool, float]:
        band = by_name[name]
        known = band.level_cm_per_s is not None and band.groove_radius_mm is not None
        off = abs(math.log((band.frequency_hz or 1.0) / 1000.0))
        return band.channel is not Channel.VERTICAL, known, -round(off, 1) + 1e-4 * band.duration_s

    lateral = [name for name in found if by_name[name].channel is Channel.LATERAL and _is_mid(by_name[name])]
    best = max(lateral or found, key=rank)
    band, harmonics = by_name[best], found[best]
    sheet.put("thd_percent", harmonics.thd_percent, (best,), "of the groove's velocity, equaliser undone")
    sheet.put(
        "second_harmonic_percent",
        harmonics.by_order_percent[2],
        (best,),
        "of the groove's velocity, equaliser undone",
    )
    if 3 in harmonics.by_order_percent:
        sheet.put("third_harmonic_percent", harmonics.by_order_percent[3], (best,))
        sheet.put("not_from_tracking_percent", harmonics.without_second_percent, (best,))
    velocity = lateral_velocity(band)
    if velocity is not None and band.groove_radius_mm is not None:
        error = tracking_error_from(
            harmonics.by_order_percent[2], velocity, sheet.heard.bands.speed_rpm, band.groove_radius_mm
        )
        sheet.put("tracking_error_deg", error, (best,), "size only: the side can't be told from a recording")
    return found


def _is_mid(band: Band) -> bool:
    return 200.0 <= (band.frequency_hz or 0.0) <= 4000.0


def _mixings(sheet: _Sheet, tones: list[tuple[Band, ToneData]]) -> dict[str, Mixing]:
    found = {}
    for band, tone in tones:
        if band.kind is Kind.TWO_TONES:
            mixing = mixing_of(band, tone, sheet.heard.bands.replay)
            if mixing is not None:
                found[band.name] = mixing
    if found:
        name, mixing = next(iter(found.items()))
        sheet.put("intermodulation_percent", mixing.total_percent, (name,))
        if mixing.difference_percent is not None:
            sheet.put("difference_tone_percent", mixing.difference_percent, (name,))
    return found


def _ladders(sheet: _Sheet, tones: list[tuple[Band, ToneData]]) -> tuple[Ladder, ...]:
    groups: dict[tuple[float, Channel], list[tuple[Band, ToneData]]] = {}
    for band, tone in tones:
        groups.setdefault((band.frequency_hz or 0.0, band.channel), []).append((band, tone))
    ladders = [ladder_of(rungs, sheet.heard.bands.replay) for rungs in groups.values()]
    return tuple(ladder for ladder in ladders if ladder is not None)


def _responses(sheet: _Sheet, data: tuple[BandData, ...], swapped: bool) -> dict[str, Response]:
    found = {}
    for entry in data:
        if entry.band.kind in (Kind.SWEEP, Kind.NOISE) and not entry.band.is_low_sweep:
            response = response_of(entry, sheet.heard.bands.replay, swapped=swapped)
            if response is not None:
                found[entry.band.name] = response
    for side in ("left", "right"):
        for name, response in found.items():
            curve = response.left_db if side == "left" else response.right_db
            sd = response.left_sd_db if side == "left" else response.right_sd_db
            if curve is None or sd is None:
                continue
            inside = (response.frequency_hz >= 30.0) & (response.frequency_hz <= 18_000.0)
            if inside.any():
                worst = int(np.argmax(np.where(inside, np.abs(curve), -1.0)))
                note = (
                    f"largest deviation from flat, 30 Hz to 18 kHz, at {response.frequency_hz[worst]:.0f} Hz"
                )
                sheet.put(
                    f"response_{side}_db", Reading(float(curve[worst]), float(sd[worst])), (name,), note
                )
                break
    return found


def reference_rms(bands: BandList, tones: list[tuple[Band, ToneData]]) -> tuple[float, str]:
    """Return the rms, full scale, of a lateral 1 kHz tone at the reference velocity, and where it comes from.

    From the tone nearest to 1 kHz whose level is listed, by the equaliser's curve; a tone at full scale otherwise.
    """
    known = [
        (band, tone) for band, tone in tones if band.level_cm_per_s and band.channel is not Channel.UNKNOWN
    ]
    if not known:
        return math.sqrt(0.5), "full scale"
    band, tone = min(known, key=lambda entry: abs(math.log((entry[0].frequency_hz or 1.0) / 1000.0)))
    frequency = band.frequency_hz or 1000.0
    loud = loudness(tone)
    if band.channel in (Channel.LATERAL, Channel.VERTICAL):
        amplitude = float(np.sqrt(np.mean(loud**2)))
    else:
        amplitude = float(loud.max()) * math.sqrt(0.5)
    per_velocity = (
        amplitude / float(band.level_cm_per_s or 1.0) / abs(complex(gain_between(frequency, bands.replay)))
    )
    source = f"{bands.reference_cm_per_s:g} cm/s lateral peak at 1 kHz, from {band.name}"
    return per_velocity * bands.reference_cm_per_s * math.sqrt(0.5), source


def _noises(
    sheet: _Sheet, data: tuple[BandData, ...], tones: list[tuple[Band, ToneData]], swapped: bool
) -> tuple[dict[str, Noise], dict[str, Hum]]:
    reference, source = reference_rms(sheet.heard.bands, tones)
    noises: dict[str, Noise] = {}
    hums: dict[str, Hum] = {}
    for entry in data:
        if entry.band.kind is not Kind.SILENCE:
            continue
        noise = noise_of(entry, reference)
        if noise is not None:
            noises[entry.band.name] = noise
        hum = (
            hum_of(entry.low[::-1] if swapped else entry.low, entry.low_rate_hz, reference)
            if entry.low is not None
            else None
        )
        if hum is not None:
            hums[entry.band.name] = hum
    if noises:
        name = max(noises, key=lambda key: next(e.heard_s for e in data if e.band.name == key))
        for key, pair in (
            ("rumble_db", noises[name].rumble_db),
            ("rumble_weighted_db", noises[name].rumble_weighted_db),
            ("noise_a_weighted_db", noises[name].a_weighted_db),
            ("noise_itu_weighted_db", noises[name].itu_weighted_db),
        ):
            sheet.put(
                key, max(pair, key=lambda reading: reading.value), (name,), f"worse channel, re {source}"
            )
    if hums:
        name = max(hums, key=lambda key: max(level.value for level in hums[key].total_db))
        worst = max(hums[name].total_db, key=lambda reading: reading.value)
        sheet.put("hum_db", worst, (name,), f"worse channel, re {source}; {hums[name].likely_cause}")
        sheet.put("hum_frequency_hz", Reading(hums[name].mains_hz, hums[name].mains_sd_hz), (name,))
    return noises, hums


def _faults(sheet: _Sheet, data: tuple[BandData, ...]) -> None:
    heard = sheet.heard
    tally, recording = heard.tally, heard.recording
    if heard.problem:
        sheet.warnings.append(
            f"the file could not be read to its end: {heard.problem}; what came before is kept"
        )
    if recording.promised_frames:
        promised = recording.promised_frames / recording.rate_hz
        sheet.warnings.append(
            f"the header promises {promised:.1f} s but the file holds {recording.duration_s:.1f} s: it was cut off"
        )
    if heard.not_finite:
        sheet.warnings.append(f"{heard.not_finite} samples are not numbers and were taken as silence")
    if recording.channels == 1 or tally.identical:
        what = "the file is mono" if recording.channels == 1 else "both channels of the file are identical"
        sheet.warnings.append(
            f"{what}: what needs two channels is withheld; record in stereo, mono switch off"
        )
        sheet.withhold(STEREO_KEYS, what)
    if max(abs(offset) for offset in tally.offsets) > OFFSET:
        left, right = (f"{100.0 * offset:+.2f} %" for offset in tally.offsets)
        sheet.warnings.append(
            f"direct-current offset of {left} left, {right} right of full scale: it costs headroom"
        )
    _level_faults(sheet)
    _band_faults(sheet, data)
    edge = lossy_edge_hz(data)
    if edge is not None:
        sheet.warnings.append(
            f"nothing is left above {edge / 1000.0:.1f} kHz, as after lossy coding: response and noise are withheld"
        )
        sheet.withhold(
            ("response_left_db", "response_right_db", "noise_a_weighted_db", "noise_itu_weighted_db"),
            "lossy coding",
        )
    for note in heard.bands.notes:
        sheet.warnings.append(note)


def _level_faults(sheet: _Sheet) -> None:
    tally = sheet.heard.tally
    if tally.frames and tally.peak_db < LOW_PEAK_DB:
        text = f"the recording peaks at {tally.peak_db:.0f} dB of full scale: too low; turn the recorder up"
        sheet.warnings.append(text)
        if sheet.heard.recording.encoding == "PCM_16":
            sheet.withhold(SHAPE_KEYS, "too low a level for 16 bits")
    if tally.clipped_samples:
        sheet.warnings.append(
            f"{tally.clipped_samples} samples are clipped: turn the recorder down and record again"
        )


def _band_faults(sheet: _Sheet, data: tuple[BandData, ...]) -> None:
    present = {entry.band.name for entry in data}
    for band in sheet.heard.bands.bands:
        if band.name not in present:
            sheet.warnings.append(f"band '{band.name}' lies behind the end of the file")
    for entry in data:
        band = entry.band
        if not entry.whole and band.name in present:
            sheet.warnings.append(
                f"band '{band.name}' is cut short: {entry.heard_s:.1f} of {band.duration_s:.1f} s (partial)"
            )
        if band.kind in (Kind.TONE, Kind.TWO_TONES) and entry.tone is None:
            sheet.warnings.append(
                f"band '{band.name}': no tone near {band.frequency_hz:g} Hz; is the list right?"
            )
        if band.kind is Kind.SWEEP and not band.is_low_sweep and entry.sweep is None:
            sheet.warnings.append(f"band '{band.name}': no sweep found; is the list right?")
        if sheet.heard.tally.clipped_within(band.start_s, band.end_s):
            spoilt = [
                key
                for key, measure in sheet.measures.items()
                if key not in CLIP_PROOF and band.name in measure.bands
            ]
            sheet.withhold(spoilt, f"band '{band.name}' is clipped in the recorder")
