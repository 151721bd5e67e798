"""What the tone bands say together: wires, balance, lean, speed, distortion."""

from __future__ import annotations

import math
from dataclasses import replace

from groovewright.audio.bands import Band, Channel, Kind
from groovewright.audio.crosstalk import Separation, lean_from_lateral_and_vertical, separation
from groovewright.audio.detect import NOMINAL_HZ
from groovewright.audio.distortion import (
    DEAD,
    Harmonics,
    Ladder,
    Mixing,
    harmonics_of,
    joined,
    ladder_of,
    lateral_velocity,
    mixing_of,
    tracking_error_from,
)
from groovewright.audio.flutter import Flutter, flutter_of
from groovewright.audio.identity import CANNOT_TELL, REVERSED, Identity, identify, loudness
from groovewright.audio.measures import STEREO_KEYS, Sheet
from groovewright.audio.speed import Deviation, Turning, deviation_of, turning_of
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import Reading

UNKNOWN_LEAN_DB = 0.3
"""Spread of a balance that is read from a lateral tone alone: a lean of one degree makes 0.3 dB."""


def unswapped(tone: ToneData) -> ToneData:
    """Return the tone with its columns exchanged."""
    return replace(tone, averages=tone.averages[:, :, ::-1])


def wires_of(sheet: Sheet, tones: list[tuple[Band, ToneData]]) -> Identity:
    """Enter leads and polarity."""
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


def _comparable(left: Band, right: Band) -> bool:
    """Return whether both levels are known, or neither is; and not further apart than a factor of 4."""
    a, b = left.level_cm_per_s, right.level_cm_per_s
    return a is b is None or (a is not None and b is not None and 0.25 <= a / b <= 4.0)


def _of_channel(tones: list[tuple[Band, ToneData]], channel: Channel) -> list[tuple[Band, ToneData]]:
    return [entry for entry in tones if entry[0].channel is channel]


def separations_of(
    sheet: Sheet, tones: list[tuple[Band, ToneData]], identity: Identity
) -> tuple[Separation, ...]:
    """Enter balance, crosstalk and lean; return every pair of bands that gives them."""
    found = []
    for left in _of_channel(tones, Channel.LEFT):
        for right in _of_channel(tones, Channel.RIGHT):
            if not _near(left[0].frequency_hz, right[0].frequency_hz) or not _comparable(left[0], right[0]):
                continue
            own = loudness(left[1])[0], loudness(right[1])[1]
            if min(own) <= DEAD * max(own):
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
    single = _of_channel(tones, Channel.LEFT) + _of_channel(tones, Channel.RIGHT)
    if identity.leads == CANNOT_TELL and sheet.heard.bands.listed:
        if single:
            sheet.withhold(STEREO_KEYS[:6], f"which channel is which can't be told: {identity.leads_why}")
            return ()
        sheet.warnings.append(
            "no band is on one channel alone: balance and azimuth are as if leads were right"
        )
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


def _put_separation(sheet: Sheet, best: Separation, identity: Identity) -> None:
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


def _put_from_lateral(sheet: Sheet, tones: list[tuple[Band, ToneData]]) -> None:
    lateral, vertical = _of_channel(tones, Channel.LATERAL), _of_channel(tones, Channel.VERTICAL)
    for first in lateral:
        for second in vertical:
            alive = all(loudness(tone).min() > DEAD * loudness(tone).max() for _, tone in (first, second))
            if alive and _near(first[0].frequency_hz, second[0].frequency_hz):
                azimuth, balance = lean_from_lateral_and_vertical(first[1], second[1])
                bands = (first[0].name, second[0].name)
                sheet.put("azimuth_deg", azimuth, bands, "as if all crosstalk came from lean")
                sheet.put("balance_db", balance, bands, "as if all crosstalk came from lean")
                return
    if lateral:
        band, tone = lateral[0]
        loud = loudness(tone)
        if loud.min() > DEAD * loud.max():
            level = 20.0 * math.log10(float(loud[0] / loud[1]))
            sheet.put("balance_db", Reading(level, UNKNOWN_LEAN_DB), (band.name,), "a lean may hide in it")


def speeds_of(
    sheet: Sheet, tones: list[tuple[Band, ToneData]]
) -> tuple[dict[str, Turning], dict[str, Deviation], dict[str, Flutter]]:
    """Enter speed, flutter and off-centre distance; return them for every tone of 250 Hz or more."""
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
        turning = turnings[band.name]
        flutter = flutter_of(deviation, turns_per_s=turning.turns_per_s, steady_hz=turning.steady_hz)
        if flutter is not None:
            flutters[band.name] = flutter
    if not turnings:
        return {}, {}, {}
    by_name = {band.name: band for band, _ in tones}
    _put_flutter(sheet, flutters, by_name)
    _put_off_centre(sheet, turnings, by_name)
    listed = sheet.heard.bands.listed
    sure = [name for name in turnings if listed or by_name[name].frequency_hz in NOMINAL_HZ]
    if not sure:
        sheet.withhold(
            ("speed_error_percent",), "the tones found have no usual frequency: list what they should be"
        )
        return turnings, deviations, flutters
    best = min(sure, key=lambda name: turnings[name].speed_error_percent.sd + _unfit(by_name[name]))
    sheet.put("speed_error_percent", turnings[best].speed_error_percent, (best,), "by the recorder's clock")
    error = turnings[best].speed_error_percent.value
    if abs(error) > 6.0:
        sheet.warnings.append(f"speed is off by {error:+.1f} %: is the record meant for another speed?")
    return turnings, deviations, flutters


def _unfit(band: Band) -> float:
    """Return a handicap, in percent, for tones that are low or of unknown frequency."""
    return 0.0 if (band.frequency_hz or 0.0) >= 300.0 else 1.0


def _put_flutter(sheet: Sheet, flutters: dict[str, Flutter], by_name: dict[str, Band]) -> None:
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


def _put_off_centre(sheet: Sheet, turnings: dict[str, Turning], by_name: dict[str, Band]) -> None:
    readings = {}
    for name, turning in turnings.items():
        radius, band = by_name[name].groove_radius_mm, by_name[name]
        if radius is not None and band.duration_s * turning.turns_per_s >= 1.5:
            readings[name] = turning.off_centre_mm(radius)
    if readings:
        best = min(readings, key=lambda name: readings[name].sd)
        sheet.put("eccentricity_mm", readings[best], (best,))


def harmonics_by_band(sheet: Sheet, tones: list[tuple[Band, ToneData]]) -> dict[str, Harmonics]:
    """Enter the harmonics of the band that shows them best; return every band's."""
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
    error = tracking_error_of(band, harmonics, sheet.heard.bands.speed_rpm)
    if error is not None:
        sheet.put("tracking_error_deg", error, (best,), "size only: the side can't be told from a recording")
    return found


def tracking_error_of(band: Band, harmonics: Harmonics, speed_rpm: float) -> Reading | None:
    """Return the tracking error that explains a second harmonic, where level and radius are listed."""
    velocity = lateral_velocity(band)
    if velocity is None or band.groove_radius_mm is None or 2 not in harmonics.by_order_percent:
        return None
    return tracking_error_from(harmonics.by_order_percent[2], velocity, speed_rpm, band.groove_radius_mm)


def _is_mid(band: Band) -> bool:
    return 200.0 <= (band.frequency_hz or 0.0) <= 4000.0


def mixings_of(sheet: Sheet, tones: list[tuple[Band, ToneData]]) -> dict[str, Mixing]:
    """Enter the mixing products; return those of every two-tone band."""
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


def ladders_of(sheet: Sheet, tones: list[tuple[Band, ToneData]]) -> tuple[Ladder, ...]:
    """Return the ladders that three or more bands of one frequency and channel make."""
    groups: dict[tuple[float, Channel], list[tuple[Band, ToneData]]] = {}
    for band, tone in tones:
        groups.setdefault((band.frequency_hz or 0.0, band.channel), []).append((band, tone))
    found = [ladder_of(rungs, sheet.heard.bands.replay) for rungs in groups.values()]
    ladders = [ladder for ladder in found if ladder is not None]
    for left in [ladder for ladder in ladders if ladder.channel is Channel.LEFT]:
        for right in [ladder for ladder in ladders if ladder.channel is Channel.RIGHT]:
            if (left.frequency_hz, left.levels_cm_per_s) == (right.frequency_hz, right.levels_cm_per_s):
                ladders = [ladder for ladder in ladders if ladder not in (left, right)]
                ladders.append(joined(left, right))
    return tuple(ladders)
