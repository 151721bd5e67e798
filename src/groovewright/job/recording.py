"""From what was heard to the event of a job, and from the event back to verdicts, without the file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from groovewright.audio import Band, Channel, Kind, Listening, Verdict, band_list_toml, parse_band_list
from groovewright.audio.crosstalk import Separation
from groovewright.audio.distortion import Ladder
from groovewright.audio.flutter import Flutter
from groovewright.audio.identity import CANNOT_TELL, Identity
from groovewright.audio.resonance import Resonance
from groovewright.audio.response import Response
from groovewright.audio.speed import Deviation, Turning
from groovewright.audio.verdicts import judged
from groovewright.job.heard import MOST_POINTS, CrosstalkHeard, Curve, Finding, LadderHeard, Listened
from groovewright.job.heard_keys import LONGEST_LIST
from groovewright.job.state import JobState
from groovewright.quantities import FloatArray, InputError, Reading

LONGEST_TEXT = 500
"""Characters of one note or warning."""


def listened_from(listening: Listening, *, as_found: bool = False, heard_on: str = "") -> Listened:
    """Return the event that enters a recording's findings into a job.

    Numbers keep seven digits, curves four and at most `MOST_POINTS` points; no sound is kept.
    """
    heard, recording = listening.heard, listening.heard.recording
    listed = band_list_toml(heard.bands)
    return Listened(
        file=recording.path.name[:LONGEST_TEXT],
        as_found=as_found,
        heard_on=heard_on,
        duration_s=_digits(heard.tally.frames / recording.rate_hz),
        sample_rate_hz=float(recording.rate_hz),
        encoding=recording.encoding,
        complete=not heard.problem and recording.promised_frames is None,
        bands_from="list" if heard.bands.listed else "found",
        band_list=listed if len(listed) <= LONGEST_LIST else "",
        findings=tuple(_findings(listening)),
        withheld=tuple((key, why[:LONGEST_TEXT]) for key, why in sorted(listening.withheld.items())),
        warnings=tuple(warning[:LONGEST_TEXT] for warning in listening.warnings),
        crosstalk=tuple(_point(one) for one in listening.separations),
        tracking_ability=tuple(_ladder(one) for one in listening.ladders),
        curves=tuple(_curves(listening)),
    )


def _digits(value: float, digits: int = 7) -> float:
    """Return a number with so many significant digits; plain zero where it is lost."""
    return float(f"{value:.{digits}g}") if math.isfinite(value) else 0.0


def _findings(listening: Listening) -> list[Finding]:
    identity = listening.identity
    found = [
        Finding("leads", identity.leads, None, identity.leads_bands, identity.leads_why[:LONGEST_TEXT]),
        Finding(
            "polarity", identity.polarity, None, identity.polarity_bands, identity.polarity_why[:LONGEST_TEXT]
        ),
    ]
    for key, measure in listening.measures.items():
        if isinstance(measure.value, Reading):
            value, sd = _digits(measure.value.value), _digits(measure.value.sd)
            found.append(Finding(key, value, sd, measure.bands, measure.note[:LONGEST_TEXT]))
    return found


def _point(one: Separation) -> CrosstalkHeard:
    values = {
        "balance_db": one.balance_db,
        "l_to_r_db": one.left_to_right.level_db,
        "l_to_r_deg": one.left_to_right.phase_deg,
        "r_to_l_db": one.right_to_left.level_db,
        "r_to_l_deg": one.right_to_left.phase_deg,
        "azimuth_deg": one.azimuth_deg,
    }
    pairs = {key: _digits(reading.value) for key, reading in values.items()}
    pairs |= {f"{key}_sd": _digits(reading.sd) for key, reading in values.items()}
    upright = [_digits(level) for level in one.upright_db]
    return CrosstalkHeard(
        frequency_hz=_digits(one.frequency_hz),
        l_to_r_if_upright_db=upright[0],
        r_to_l_if_upright_db=upright[1],
        **pairs,
    )


def _ladder(one: Ladder) -> LadderHeard:
    left, right = (
        (tuple(_digits(size.value) for size in sizes), tuple(_digits(size.sd) for size in sizes))
        for sizes in (one.left_percent, one.right_percent)
    )
    return LadderHeard(
        frequency_hz=one.frequency_hz,
        channel=one.channel.value,
        bands=one.bands,
        levels_cm_per_s=one.levels_cm_per_s,
        left_percent=left[0],
        left_percent_sd=left[1],
        right_percent=right[0],
        right_percent_sd=right[1],
        left_breaks_cm_per_s=one.left_breaks_cm_per_s,
        right_breaks_cm_per_s=one.right_breaks_cm_per_s,
        left_clean_cm_per_s=one.left_clean_cm_per_s,
        right_clean_cm_per_s=one.right_clean_cm_per_s,
    )


def _curves(listening: Listening) -> list[Curve]:
    curves = [_response_curve(one) for one in listening.responses.values()]
    curves += [_resonance_curve(name, one) for name, one in listening.resonances.items()]
    for name in _speed_bands(listening):
        if name in listening.turnings:
            percent = over_the_turn(listening.deviations[name], listening.turnings[name], MOST_POINTS)
            degrees = np.arange(MOST_POINTS) * 360.0 / MOST_POINTS
            curves.append(_curve("turn", name, "", {"turn_deg": degrees, "percent": percent}))
        if name in listening.flutters:
            curves.append(_flutter_curve(name, listening.flutters[name]))
    return curves


def _speed_bands(listening: Listening) -> tuple[str, ...]:
    """Return the bands that the numbers about speed came from: only their curves are kept."""
    keys = ("flutter_weighted_two_sigma_percent", "eccentricity_mm", "speed_error_percent")
    named = [listening.measures[key].bands for key in keys if key in listening.measures]
    return tuple(dict.fromkeys(name for bands in named for name in bands if name in listening.deviations))


def _curve(kind: str, band: str, channel: str, series: dict[str, FloatArray]) -> Curve:
    return Curve(
        kind,
        band[:LONGEST_TEXT],
        channel,
        tuple((name, tuple(_digits(float(value), 4) for value in values)) for name, values in series.items()),
    )


def _response_curve(one: Response) -> Curve:
    series = {
        "frequency_hz": one.frequency_hz,
        "left_db": one.left_db,
        "right_db": one.right_db,
        "left_sd_db": one.left_sd_db,
        "right_sd_db": one.right_sd_db,
        "crosstalk_db": one.crosstalk_db,
        "crosstalk_deg": one.crosstalk_deg,
    }
    # neighbours are averaged where there are more points than are kept; a phase is taken from the middle
    size = one.frequency_hz.size
    groups = np.array_split(np.arange(size), min(size, MOST_POINTS))
    thinned = {
        name: np.array(
            [
                values[group[len(group) // 2]] if name.endswith("_deg") else values[group].mean()
                for group in groups
            ]
        )
        for name, values in series.items()
        if values is not None
    }
    return _curve("response", one.band.name, one.band.channel.value, thinned)


def _resonance_curve(name: str, one: Resonance) -> Curve:
    order = np.argsort(one.curve_hz)
    hz, level = one.curve_hz[order], one.curve_db[order] - one.curve_db.max()
    low, high = max(float(hz[0]), 2.0), min(float(hz[-1]), 50.0)
    points = np.geomspace(low, max(high, 1.01 * low), MOST_POINTS)
    return _curve("resonance", name, "", {"frequency_hz": points, "level_db": np.interp(points, hz, level)})


def _flutter_curve(name: str, one: Flutter) -> Curve:
    """Return the spectrum of speed, the largest line of each step: a line keeps its height."""
    inside = (one.spectrum_hz >= 0.2) & (one.spectrum_hz <= 200.0)
    hz, percent = one.spectrum_hz[inside], one.spectrum_percent[inside]
    step = np.floor(np.log(hz / 0.2) / np.log(1001.0) * MOST_POINTS).astype(int)
    highest = [
        group[np.argmax(percent[group])]
        for number in range(MOST_POINTS)
        if (group := np.flatnonzero(step == number)).size
    ]
    return _curve("flutter", name, "", {"frequency_hz": hz[highest], "percent": percent[highest]})


def over_the_turn(deviation: Deviation, turning: Turning, points: int) -> FloatArray:
    """Return speed against its mean over the platter's turn, the mean of all turns, %. [shape=(points,)]"""
    times = deviation.first_s + np.arange(deviation.percent.size) / deviation.rate_hz
    place = np.floor(times * turning.turns_per_s % 1.0 * points).astype(int) % points
    counts = np.maximum(np.bincount(place, minlength=points), 1)
    return np.asarray(np.bincount(place, weights=deviation.percent, minlength=points) / counts)


def last_heard(state: JobState) -> Listened | None:
    """Return the newest recording of the cartridge that goes in; None where there is none."""
    heard = (step for step in reversed(state.listening) if isinstance(step, Listened) and not step.as_found)
    return next(heard, None)


def heard_as_found(state: JobState) -> Listened | None:
    """Return the newest recording that was made before anything was changed; None where there is none."""
    heard = (step for step in reversed(state.listening) if isinstance(step, Listened) and step.as_found)
    return next(heard, None)


def identity_of(event: Listened) -> Identity:
    """Return what the recording said about leads and polarity."""
    leads, polarity = (
        event.finding(key)
        or Finding(key, CANNOT_TELL, None, (), dict(event.withheld).get(key, "not measured"))
        for key in ("leads", "polarity")
    )
    return Identity(
        str(leads.value), str(polarity.value), leads.note, polarity.note, leads.bands, polarity.bands
    )


def readings_of(event: Listened) -> dict[str, Reading]:
    """Return every number with its uncertainty, by its key."""
    return {
        finding.key: Reading(float(finding.value), finding.sd)
        for finding in event.findings
        if finding.sd is not None
    }


def ladders_of(event: Listened) -> tuple[Ladder, ...]:
    """Return the tracking-ability ladders."""
    return tuple(
        Ladder(
            frequency_hz=one.frequency_hz,
            channel=Channel(one.channel),
            bands=one.bands,
            levels_cm_per_s=one.levels_cm_per_s,
            left_percent=_readings(one.left_percent, one.left_percent_sd),
            right_percent=_readings(one.right_percent, one.right_percent_sd),
            left_breaks_cm_per_s=one.left_breaks_cm_per_s,
            right_breaks_cm_per_s=one.right_breaks_cm_per_s,
            left_clean_cm_per_s=one.left_clean_cm_per_s,
            right_clean_cm_per_s=one.right_clean_cm_per_s,
        )
        for one in event.tracking_ability
    )


def _readings(values: Sequence[float], sds: Sequence[float]) -> tuple[Reading, ...]:
    return tuple(Reading(value, sd) for value, sd in zip(values, sds, strict=True))


def verdicts_of(event: Listened) -> tuple[Verdict, ...]:
    """Return what the findings mean, in the order in which they should be put right."""
    return judged(identity_of(event), readings_of(event), ladders_of(event))


def responses_of(event: Listened) -> tuple[Response, ...]:
    """Return the frequency responses as far as they are kept."""
    bands = {band.name: band for band in bands_of(event)}
    found = []
    for curve in event.curves:
        hz = curve.get("frequency_hz")
        if curve.kind != "response" or hz is None:
            continue
        known = {channel.value: channel for channel in Channel}
        band = bands.get(curve.band, Band(curve.band, Kind.SWEEP, 0.0, 0.0))
        found.append(
            Response(
                band=replace(band, channel=known.get(curve.channel, Channel.UNKNOWN)),
                frequency_hz=np.array(hz),
                left_db=_array(curve, "left_db"),
                right_db=_array(curve, "right_db"),
                left_sd_db=_array(curve, "left_sd_db"),
                right_sd_db=_array(curve, "right_sd_db"),
                crosstalk_db=_array(curve, "crosstalk_db"),
                crosstalk_deg=_array(curve, "crosstalk_deg"),
            )
        )
    return tuple(found)


def _array(curve: Curve, name: str) -> FloatArray | None:
    values = curve.get(name)
    return None if values is None else np.array(values)


def bands_of(event: Listened) -> tuple[Band, ...]:
    """Return the bands of the recording; none where the list is not kept or can't be read."""
    try:
        return parse_band_list(event.band_list, where=event.file).bands if event.band_list else ()
    except InputError:
        return ()
