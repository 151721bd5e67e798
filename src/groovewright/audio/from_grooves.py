"""What sweeps, noise and silent grooves say: resonance, response, rumble, hum."""

from __future__ import annotations

import math

import numpy as np

from groovewright.audio.bands import Band, BandList, Channel, Kind, Replay
from groovewright.audio.crosstalk import at_steady_speed
from groovewright.audio.equaliser import gain_between
from groovewright.audio.gather import BandData
from groovewright.audio.identity import loudness
from groovewright.audio.measures import Sheet
from groovewright.audio.motions import Wires
from groovewright.audio.noise import Hum, Noise, hum_of, noise_of
from groovewright.audio.resonance import LOWEST_HZ, Resonance, from_sweep, slower
from groovewright.audio.resonance_noise import from_noise, seconds_wanted
from groovewright.audio.response import UNKNOWN_PACE, Response, response_of
from groovewright.audio.speed import Deviation, Turning, without_lines
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import FloatArray, Reading

NOISE_UNDER_HZ = 200.0
"""Under a tone of at least this frequency the groove's own low noise can be read too."""
USUAL_RADIUS_MM = 100.0
"""Of a band whose radius is not listed: the middle of a side."""
RINGS_S, LATE_S = 1.0, 0.3
"""Left out at either end of such noise: the arm's ringing has a time constant of Q / (pi f), 0.2 s as a rule."""


def resonances_of(sheet: Sheet, data: tuple[BandData, ...], wires: Wires) -> dict[str, Resonance]:
    """Enter the resonances; return all that were found, by motion and band.

    Each low sweep gives its own; the noise of all silent grooves, and under all tones, gives one together.
    """
    found: dict[str, Resonance] = {}
    replay, turns_per_s = sheet.heard.bands.replay, sheet.heard.bands.speed_rpm / 60.0
    for place, motion in enumerate(("lateral", "vertical")):
        for entry in data:
            if not entry.band.is_low_sweep or entry.band.channel.value not in (motion, "left", "right"):
                continue
            series, rate_hz = _motion(entry, wires, place)
            one = from_sweep(series, rate_hz, entry.band.law, replay, _ends(entry.band), turns_per_s)
            if one is not None:
                found[f"{motion}: {entry.band.name}"] = one
        quiet = [entry for entry in data if entry.low is not None and _has_noise(entry.band)]
        noisy = [_settled(*_motion(entry, wires, place)) for entry in quiet]
        pooled = from_noise([series for series, _ in noisy], noisy[0][1], replay) if noisy else None
        names = tuple(entry.band.name for entry in quiet)
        label = names[0] if len(names) == 1 else f"noise of {len(names)} bands"
        if pooled is not None:
            found[f"{motion}: {label}"] = pooled
        fitting = [name for name in found if name.startswith(f"{motion}: ")]
        if fitting:
            best = min(fitting, key=lambda name: found[name].frequency_hz.sd)
            from_bands = names if found[best] is pooled else (best.split(": ", 1)[1],)
            heard_s = sum(series.size for series, _ in noisy) / noisy[0][1] if noisy else 0.0
            note = _wish(found[best], heard_s) if found[best] is pooled else ""
            sheet.put(f"resonance_{motion}_hz", found[best].frequency_hz, from_bands)
            sheet.put(f"resonance_{motion}_q", found[best].q, from_bands, note)
    return found


def _motion(entry: BandData, wires: Wires, place: int) -> tuple[FloatArray, float]:
    low = np.zeros((2, 0)) if entry.low is None else np.asarray(entry.low, dtype=np.float64)
    return slower(wires.motions(low)[place], entry.low_rate_hz)


def _settled(series: FloatArray, rate_hz: float) -> tuple[FloatArray, float]:
    """Return a series less its ends: where a band begins or stops the arm rings, and lists are rarely exact."""
    first, last = (round(part * rate_hz) for part in (RINGS_S, LATE_S))
    return series[first : max(first, series.size - last)], rate_hz


def _has_noise(band: Band) -> bool:
    return band.kind is Kind.SILENCE or (
        band.kind is Kind.TONE and (band.frequency_hz or 0.0) >= NOISE_UNDER_HZ
    )


def _wish(resonance: Resonance, heard_s: float) -> str:
    """Return how much silent groove would give Q to 10 %, where what was heard is too little."""
    wanted = seconds_wanted(resonance, heard_s)
    if wanted <= heard_s:
        return ""
    half = 100.0 * 1.96 * resonance.q.sd / resonance.q.value
    return f"from noise, to {half:.0f} %: record {10.0 * math.ceil(wanted / 10.0):.0f} s of silent groove for 10 %"


def pilot_resonances(
    sheet: Sheet, deviations: dict[str, Deviation], turnings: dict[str, Turning]
) -> dict[str, Resonance]:
    """Enter the resonance that shows in the speed of tones, where the stylus swings along the groove.

    Warps and rumble shake the arm; through the tracking angle and the pull of the groove the stylus moves along
    the groove too, and modulates the tone. Which resonance that is, lateral or vertical, depends on how the
    cartridge hangs, so that it has a key of its own.
    """
    found = {}
    for name, deviation in deviations.items():
        series, rate_hz = slower(deviation.percent, deviation.rate_hz)
        turning = turnings[name]
        series = without_lines(series, rate_hz, turning.steady_hz)
        lines = tuple(hz for hz, _ in turning.lines if hz > LOWEST_HZ)
        resonance = from_noise([series], rate_hz, Replay.NONE, lines_hz=lines)
        if resonance is not None:
            found[f"pilot: {name}"] = resonance
    if found:
        best = min(found, key=lambda name: found[name].frequency_hz.sd)
        band = best.split(": ", 1)[1]
        note = _wish(found[best], deviations[band].duration_s)
        sheet.put("resonance_pilot_hz", found[best].frequency_hz, (band,))
        sheet.put("resonance_pilot_q", found[best].q, (band,), note.replace("silent groove", "tone"))
    return found


def _ends(band: Band) -> tuple[float, float]:
    return float(band.sweep_start_hz or 4.0), float(band.sweep_end_hz or 25.0)


def responses_of(sheet: Sheet, data: tuple[BandData, ...], swapped: bool) -> dict[str, Response]:
    """Enter the largest deviations; return the response of every sweep and noise band."""
    found = {}
    for entry in data:
        if entry.band.kind in (Kind.SWEEP, Kind.NOISE) and not entry.band.is_low_sweep:
            pace = _pace_of(sheet, entry.band)
            response = response_of(entry, sheet.heard.bands.replay, swapped=swapped, pace=pace)
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


def _pace_of(sheet: Sheet, band: Band) -> Reading:
    """Return speed over nominal as tones told it, with the rms of its swing at the band's radius."""
    speed, off_centre = (
        sheet.measures[key].value if key in sheet.measures else None
        for key in ("speed_error_percent", "eccentricity_mm")
    )
    if not isinstance(speed, Reading) or not isinstance(off_centre, Reading):
        return UNKNOWN_PACE
    swing = off_centre.value / (band.groove_radius_mm or USUAL_RADIUS_MM) * math.sqrt(0.5)
    return Reading(1.0 + speed.value / 100.0, swing)


def reference_rms(bands: BandList, tones: list[tuple[Band, ToneData]]) -> tuple[float, str]:
    """Return the rms, full scale, of a lateral 1 kHz tone at the reference velocity, and where it comes from.

    From the tone nearest to 1 kHz whose level is listed, by the equaliser's curve; a tone at full scale
    otherwise.
    """
    known = [
        (band, tone) for band, tone in tones if band.level_cm_per_s and band.channel is not Channel.UNKNOWN
    ]
    if not known:
        return math.sqrt(0.5), "full scale"
    nearest = min(abs(math.log((band.frequency_hz or 1.0) / 1000.0)) for band, _ in known)
    near = [
        entry for entry in known if abs(math.log((entry[0].frequency_hz or 1.0) / 1000.0)) < nearest + 0.03
    ]
    both = [entry for entry in near if entry[0].channel in (Channel.LATERAL, Channel.VERTICAL)]
    # a tone on one wall shows one channel's gain: then the left and the right one count together
    used = both[:1] or [
        next(entry for entry in near if entry[0].channel is channel)
        for channel in (Channel.LEFT, Channel.RIGHT)
        if any(entry[0].channel is channel for entry in near)
    ]
    squares = []
    for band, tone in used:
        loud = loudness(tone) / _faster(tone, bands.replay)
        square = float(np.mean(loud**2)) if both else 0.5 * float(loud.max()) ** 2
        gain = abs(complex(gain_between(band.frequency_hz or 1000.0, bands.replay)))
        squares.append(square / (float(band.level_cm_per_s or 1.0) * gain) ** 2)
    per_velocity = math.sqrt(sum(squares) / len(squares))
    names = " and ".join(band.name for band, _ in used)
    source = f"{bands.reference_cm_per_s:g} cm/s lateral peak at 1 kHz, from {names}"
    return per_velocity * bands.reference_cm_per_s * math.sqrt(0.5), source


def _faster(tone: ToneData, replay: Replay) -> float:
    """Return how much louder a tone is than at nominal speed (see `at_steady_speed`)."""
    plain = np.ones(tone.pace.size, dtype=np.complex128)
    return 1.0 / float(np.mean(at_steady_speed(plain, tone, replay).real)) if plain.size else 1.0


def noises_of(
    sheet: Sheet, data: tuple[BandData, ...], tones: list[tuple[Band, ToneData]], swapped: bool
) -> dict[str, Hum]:
    """Enter rumble and noise of the longest silent groove, and hum; return the hum of every silent groove."""
    reference, source = reference_rms(sheet.heard.bands, tones)
    quiet = [entry for entry in data if entry.band.kind is Kind.SILENCE]
    for entry in sorted(quiet, key=lambda entry: -entry.heard_s):
        noise = noise_of(entry, reference)
        if noise is not None:
            _put_noise(sheet, noise, entry.band.name, source)
            break
    hums: dict[str, Hum] = {}
    for entry in quiet:
        low = entry.low
        hum = hum_of(low[::-1] if swapped else low, entry.low_rate_hz, reference) if low is not None else None
        if hum is not None:
            hums[entry.band.name] = hum
    if hums:
        name = max(hums, key=lambda key: max(level.value for level in hums[key].total_db))
        worst = max(hums[name].total_db, key=lambda reading: reading.value)
        sheet.put("hum_db", worst, (name,), f"worse channel, re {source}; {hums[name].likely_cause}")
        sheet.put("hum_frequency_hz", Reading(hums[name].mains_hz, hums[name].mains_sd_hz), (name,))
    return hums


def _put_noise(sheet: Sheet, noise: Noise, name: str, source: str) -> None:
    for key, pair in (
        ("rumble_db", noise.rumble_db),
        ("rumble_weighted_db", noise.rumble_weighted_db),
        ("noise_a_weighted_db", noise.a_weighted_db),
        ("noise_itu_weighted_db", noise.itu_weighted_db),
        ("noise_itu_quasi_peak_db", noise.itu_quasi_peak_db),
    ):
        if pair is not None:
            worst = max(pair, key=lambda reading: reading.value)
            sheet.put(key, worst, (name,), f"worse channel, re {source}")
