"""Are the leads on the right pins, and is a coil reversed: read from which column speaks, and how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.audio.bands import Band, Channel
from groovewright.audio.tone_track import ToneData
from groovewright.quantities import FloatArray

CORRECT, SWAPPED, REVERSED, CANNOT_TELL = "correct", "swapped", "one reversed", "can't tell"
CLEARLY = 2.0
"""A column speaks for itself when it is at least twice (6 dB) as loud as the other."""
LIKE = 4.0
"""Two bands or columns are alike within this factor (12 dB); beyond, a channel is dead or a list is wrong."""
IN_PHASE_DEG = 60.0

RE_PLUG_LEADS = (
    "Left and right are exchanged. Mute the amplifier, then exchange the pairs: white and blue (left signal "
    "and return) against red and green (right signal and return), at the cartridge's pins or at the plugs."
)
RE_PLUG_COIL = (
    "One of the two coils is reversed; a recording can't tell which. Mute the amplifier, then exchange the "
    "two leads of either pair: white with blue (left), or red with green (right). Not both."
)


@dataclass(frozen=True)
class Identity:
    """What the bands say about the leads.

    Parameters
    ----------
    leads, polarity : str
        One of the words of this file.
    leads_why, polarity_why : str
        From which bands, or why it can't be told.
    leads_bands, polarity_bands : tuple of str
    """

    leads: str
    polarity: str
    leads_why: str
    polarity_why: str
    leads_bands: tuple[str, ...] = ()
    polarity_bands: tuple[str, ...] = ()

    @property
    def re_plug(self) -> tuple[str, ...]:
        """What to do about it, if anything is certain to be wrong."""
        moves = []
        if self.leads == SWAPPED:
            moves.append(RE_PLUG_LEADS)
        if self.polarity == REVERSED:
            moves.append(RE_PLUG_COIL)
        return tuple(moves)


def identify(tones: Sequence[tuple[Band, ToneData]]) -> Identity:
    """Return what can be said about leads and polarity from all tone bands together."""
    leads, leads_why, leads_bands = _leads(tones)
    polarity, polarity_why, polarity_bands = _polarity(tones)
    return Identity(leads, polarity, leads_why, polarity_why, leads_bands, polarity_bands)


def loudness(tone: ToneData) -> FloatArray:
    """Return the tone's amplitude in both columns. [shape=(2,)]"""
    segments = tone.averages[:, 0]
    return np.asarray(np.abs(segments.mean(axis=0))) if len(segments) else np.zeros(2)


def _leads(tones: Sequence[tuple[Band, ToneData]]) -> tuple[str, str, tuple[str, ...]]:
    votes: dict[str, list[tuple[Band, float]]] = {CORRECT: [], SWAPPED: []}
    blurred = []
    for band, tone in tones:
        if band.channel not in (Channel.LEFT, Channel.RIGHT):
            continue
        loud = loudness(tone)
        wanted = 0 if band.channel is Channel.LEFT else 1
        per_level = float(loud.max()) / (band.level_cm_per_s or 1.0)
        if loud[wanted] > CLEARLY * loud[1 - wanted]:
            votes[CORRECT].append((band, per_level))
        elif loud[1 - wanted] > CLEARLY * loud[wanted]:
            votes[SWAPPED].append((band, per_level))
        else:
            blurred.append(band.name)
    return _count(votes, blurred, tones)


def _count(
    votes: dict[str, list[tuple[Band, float]]], blurred: list[str], tones: Sequence[tuple[Band, ToneData]]
) -> tuple[str, str, tuple[str, ...]]:
    everything = votes[CORRECT] + votes[SWAPPED]
    names = tuple(band.name for band, _ in everything)
    if not everything and not blurred:
        return CANNOT_TELL, "no listed band carries a tone on one channel only", ()
    if blurred:
        why = f"both columns are about equally loud in {', '.join(blurred)}: a mono switch, or a wrong list?"
        return CANNOT_TELL, why, ()
    if votes[CORRECT] and votes[SWAPPED]:
        return (
            CANNOT_TELL,
            f"the bands disagree ({', '.join(names)}): a dead channel, or a wrong list?",
            names,
        )
    if not _alike([per_level for _, per_level in everything], tones):
        return (
            CANNOT_TELL,
            "one channel is far weaker than the other: a dead channel, or a wrong list?",
            names,
        )
    verdict = CORRECT if votes[CORRECT] else SWAPPED
    both = {band.channel for band, _ in everything} == {Channel.LEFT, Channel.RIGHT}
    if verdict is SWAPPED and not both and not _stereo_bands(tones):
        return CANNOT_TELL, "the other channel alone is needed too, to rule out a dead channel", names
    return verdict, f"from {', '.join(names)}", names


def _alike(levels: list[float], tones: Sequence[tuple[Band, ToneData]]) -> bool:
    for band, tone in tones:
        if band.channel in (Channel.LATERAL, Channel.VERTICAL) and band.level_cm_per_s:
            loud = loudness(tone)
            if loud.min() * LIKE < loud.max():
                return False
    return max(levels) < LIKE * min(levels)


def _stereo_bands(tones: Sequence[tuple[Band, ToneData]]) -> bool:
    return any(band.channel in (Channel.LATERAL, Channel.VERTICAL) for band, _ in tones)


def _polarity(tones: Sequence[tuple[Band, ToneData]]) -> tuple[str, str, tuple[str, ...]]:
    verdicts: dict[str, str] = {}
    for band, tone in tones:
        if band.channel not in (Channel.LATERAL, Channel.VERTICAL) or not len(tone.averages):
            continue
        verdicts[band.name] = _polarity_of(band, tone)
    if not verdicts:
        return CANNOT_TELL, "no listed band carries a lateral or a vertical tone", ()
    words = set(verdicts.values())
    names = tuple(verdicts)
    if len(words) > 1:
        told = "; ".join(f"{name}: {word}" for name, word in verdicts.items())
        return CANNOT_TELL, f"the bands disagree ({told}): is the list right?", names
    verdict = words.pop()
    if verdict == CANNOT_TELL:
        return verdict, f"the columns of {', '.join(names)} are neither in phase nor out of phase", names
    return verdict, f"from {', '.join(names)}", names


def _polarity_of(band: Band, tone: ToneData) -> str:
    left, right = tone.averages[:, 0].mean(axis=0)
    if min(abs(left), abs(right)) * LIKE < max(abs(left), abs(right)):
        return CANNOT_TELL
    angle = abs(float(np.degrees(np.angle(right * np.conj(left)))))
    if IN_PHASE_DEG <= angle <= 180.0 - IN_PHASE_DEG:
        return CANNOT_TELL
    in_phase = angle < IN_PHASE_DEG
    return CORRECT if in_phase == (band.channel is Channel.LATERAL) else REVERSED
