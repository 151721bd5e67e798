"""From what was heard to the event of a job, and from the event back to verdicts, without the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from groovewright.audio import Band, Channel, Kind, Listening, Verdict, band_list_toml, parse_band_list
from groovewright.audio.crosstalk import Separation
from groovewright.audio.distortion import Ladder
from groovewright.audio.identity import CANNOT_TELL, Identity
from groovewright.audio.response import Response
from groovewright.audio.verdicts import judged
from groovewright.job.heard import CrosstalkHeard, Curve, Finding, LadderHeard, Listened
from groovewright.job.heard_curves import LONGEST_TEXT, curves_of, kept_curves, rounded
from groovewright.job.heard_keys import LONGEST_LIST, MOST_ENTRIES
from groovewright.job.state import JobState
from groovewright.quantities import FloatArray, InputError, Reading


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
        duration_s=rounded(heard.tally.frames / recording.rate_hz),
        sample_rate_hz=float(recording.rate_hz),
        encoding=recording.encoding,
        complete=not heard.problem and recording.promised_frames is None,
        bands_from="list" if heard.bands.listed else "found",
        band_list=listed if len(listed) <= LONGEST_LIST else "",
        findings=tuple(_findings(listening)),
        withheld=tuple((key, why[:LONGEST_TEXT]) for key, why in sorted(listening.withheld.items())),
        warnings=tuple(warning[:LONGEST_TEXT] for warning in listening.warnings[:MOST_ENTRIES]),
        crosstalk=tuple(_point(one) for one in listening.separations[:MOST_ENTRIES]),
        tracking_ability=tuple(_ladder(one) for one in listening.ladders[:MOST_ENTRIES]),
        curves=kept_curves(
            curves_of(listening),
            {name[:LONGEST_TEXT] for measure in listening.measures.values() for name in measure.bands},
        ),
    )


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
            value, sd = rounded(measure.value.value), rounded(measure.value.sd)
            bands = tuple(name[:LONGEST_TEXT] for name in measure.bands[:MOST_ENTRIES])
            found.append(Finding(key, value, sd, bands, measure.note[:LONGEST_TEXT]))
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
    pairs = {key: rounded(reading.value) for key, reading in values.items()}
    pairs |= {f"{key}_sd": rounded(reading.sd) for key, reading in values.items()}
    upright = [rounded(level) for level in one.upright_db]
    return CrosstalkHeard(
        frequency_hz=rounded(one.frequency_hz),
        l_to_r_if_upright_db=upright[0],
        r_to_l_if_upright_db=upright[1],
        **pairs,
    )


def _ladder(one: Ladder) -> LadderHeard:
    left, right = (
        (tuple(rounded(size.value) for size in sizes), tuple(rounded(size.sd) for size in sizes))
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
