"""What is wrong with the recording itself, and which measures that spoils."""

from __future__ import annotations

from itertools import pairwise

from groovewright.audio.bands import Channel, Kind
from groovewright.audio.faults import LOW_PEAK_DB, OFFSET, lossy_edge_hz
from groovewright.audio.gather import BandData
from groovewright.audio.holes import LEAST_SHARE
from groovewright.audio.measures import CLIP_PROOF, NUMBER_KEYS, SHAPE_KEYS, STEREO_KEYS, Sheet

LOSSY_SPOILS = (
    "response_left_db",
    "response_right_db",
    "noise_a_weighted_db",
    "noise_itu_weighted_db",
    "noise_itu_quasi_peak_db",
)

OVERLAP_S = 0.6
"""Edges may be off by 0.3 s each; bands that share more than both are listed wrongly."""
SILENT_PEAK_DB = -120.0
"""Below the last bit of 16 and nearly that of 24: nothing came in."""


def note_faults(sheet: Sheet, data: tuple[BandData, ...]) -> None:
    """Warn of everything that is wrong with the recording, and withhold what it spoils."""
    heard = sheet.heard
    tally, recording = heard.tally, heard.recording
    if heard.problem:
        sheet.warnings.append(
            f"the file could not be read to its end: {heard.problem}; what came before is kept"
        )
    if recording.promised_frames:
        promised = recording.promised_frames / recording.rate_hz
        sheet.warnings.append(
            f"the header promises {promised:.1f} s but the file holds {recording.duration_s:.1f} s: "
            "it was cut off"
        )
    if heard.not_finite:
        sheet.warnings.append(
            f"{heard.not_finite} samples are not numbers, or far too large to be sound, and were taken as silence"
        )
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
            f"nothing is left above {edge / 1000.0:.1f} kHz, as after lossy coding: response and noise are "
            "withheld"
        )
    holes = max((entry.holes for entry in data), default=0.0)
    if holes > LEAST_SHARE:
        sheet.warnings.append(
            f"the spectrum has holes ({100.0 * holes:.1f} % of the time something between 7 and 15 kHz is empty), "
            "as after lossy coding: response and noise are withheld"
        )
    if edge is not None or holes > LEAST_SHARE:
        sheet.withhold(LOSSY_SPOILS, "lossy coding")
    for note in heard.bands.notes:
        sheet.warnings.append(note)


def _level_faults(sheet: Sheet) -> None:
    tally = sheet.heard.tally
    if tally.frames and tally.peak_db < SILENT_PEAK_DB:
        sheet.warnings.append(
            "the recording is silent: is the right input chosen, the phono stage on and the stylus down?"
        )
        sheet.withhold(NUMBER_KEYS, "the recording is silent")
    elif tally.frames and tally.peak_db < LOW_PEAK_DB:
        text = f"the recording peaks at {tally.peak_db:.0f} dB of full scale: too low; turn the recorder up"
        sheet.warnings.append(text)
        if sheet.heard.recording.encoding == "PCM_16":
            sheet.withhold(SHAPE_KEYS, "too low a level for 16 bits")
    if tally.flat_samples and not tally.clipped_samples:
        sheet.warnings.append(
            f"tops are flat below full scale ({tally.flat_samples} samples): something before the recorder "
            "clips, or the stylus stops following"
        )
    if tally.clipped_samples:
        sheet.warnings.append(
            f"{tally.clipped_samples} samples are clipped: turn the recorder down and record again"
        )


def _place_faults(sheet: Sheet, data: tuple[BandData, ...]) -> None:
    """Warn of bands that the file does not reach, of those that lie over one another, and of a file without any."""
    heard, bands = sheet.heard, sheet.heard.bands.bands
    lasts_s = heard.tally.frames / heard.recording.rate_hz
    told = heard.bands.listed or heard.tally.peak_db < SILENT_PEAK_DB
    if not told and not any(entry.tone or entry.band.kind is Kind.SWEEP for entry in data):
        sheet.warnings.append(
            "no steady tone and no sweep was found, as in music or noise: what is measured needs a record of test tones"
        )
    present = {entry.band.name for entry in data}
    for band in bands:
        if band.name not in present:
            sheet.warnings.append(
                f"band '{band.name}' ({band.start_s:.1f} to {band.end_s:.1f} s) lies behind the end of the file, "
                f"at {lasts_s:.1f} s"
            )
    if bands and not present:
        sheet.warnings.append("no band of the list lies in the file: is it the list of another recording?")
    ordered = sorted(bands, key=lambda band: band.start_s)
    for before, after in pairwise(ordered):
        shared_s = min(before.end_s, after.end_s) - after.start_s
        if shared_s > OVERLAP_S:
            sheet.warnings.append(
                f"bands '{before.name}' and '{after.name}' lie over one another for {shared_s:.1f} s; "
                "is the list right?"
            )


def _band_faults(sheet: Sheet, data: tuple[BandData, ...]) -> None:
    _place_faults(sheet, data)
    for entry in data:
        band = entry.band
        if not entry.whole:
            sheet.warnings.append(
                f"band '{band.name}' is cut short: {entry.heard_s:.1f} of {band.duration_s:.1f} s (partial)"
            )
        if band.kind in (Kind.TONE, Kind.TWO_TONES) and entry.tone is None:
            hz = float(band.frequency_hz or 0.0)
            unit = f" If it is in kHz, write frequency_hz = {1000.0 * hz:g}." if hz < 20.0 else ""
            sheet.warnings.append(f"band '{band.name}': no tone near {hz:g} Hz; is the list right?{unit}")
        if band.is_low_sweep and band.channel is Channel.UNKNOWN:
            sheet.warnings.append(f"band '{band.name}': name its channel to have a resonance read from it")
        if entry.tone is not None and len(entry.tone.averages) < 3:
            sheet.warnings.append(f"band '{band.name}' is too short to be measured: 2 s is the least")
        if band.kind is Kind.SWEEP and not band.is_low_sweep and entry.sweep is None:
            sheet.warnings.append(f"band '{band.name}': no sweep found; is the list right?")
        if sheet.heard.tally.clipped_within(band.start_s, band.end_s):
            spoilt = [
                key
                for key, measure in sheet.measures.items()
                if key not in CLIP_PROOF and band.name in measure.bands
            ]
            sheet.withhold(spoilt, f"band '{band.name}' is clipped in the recorder")
