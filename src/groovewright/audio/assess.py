"""From what was heard to what it means: every measure with its band, what is withheld, and why."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from groovewright.audio.bands import Kind
from groovewright.audio.crosstalk import Separation
from groovewright.audio.distortion import (
    Harmonics,
    Ladder,
    Mixing,
)
from groovewright.audio.flutter import Flutter
from groovewright.audio.from_grooves import noises_of, pilot_resonances, resonances_of, responses_of
from groovewright.audio.from_tones import (
    harmonics_by_band,
    ladders_of,
    mixings_of,
    separations_of,
    speeds_of,
    unswapped,
    wires_of,
)
from groovewright.audio.identity import SWAPPED, Identity
from groovewright.audio.listen import Heard
from groovewright.audio.measures import NUMBER_KEYS, WANTED, WORD_KEYS, Measure, Sheet
from groovewright.audio.motions import wires_from
from groovewright.audio.noise import Hum
from groovewright.audio.resonance import Resonance
from groovewright.audio.response import Response
from groovewright.audio.speed import Deviation, Turning
from groovewright.audio.spoilt import note_faults
from groovewright.quantities import Reading


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
    hums: dict[str, Hum] = field(default_factory=dict)
    clicks: int = 0
    clicks_per_minute: Reading = Reading(0.0, 0.0)  # noqa: RUF009


def assess(heard: Heard) -> Listening:
    """Return every measure that the recording allows. Nothing here reads the file."""
    sheet = Sheet(heard)
    data = heard.data
    tones = [(entry.band, entry.tone) for entry in data if entry.tone and len(entry.tone.averages) >= 3]
    singles = [(band, tone) for band, tone in tones if band.kind is Kind.TONE]
    identity = wires_of(sheet, singles)
    swapped = identity.leads == SWAPPED
    right = [(band, unswapped(tone) if swapped else tone) for band, tone in tones]
    single = [(band, tone) for band, tone in right if band.kind is Kind.TONE]
    separations = separations_of(sheet, single, identity)
    wires = wires_from(identity, separations)
    aside = Sheet(heard)
    with ThreadPoolExecutor(max_workers=1, thread_name_prefix="resonances") as pool:
        # about half of all the work: on another core, beside the rest
        swinging = pool.submit(resonances_of, aside, data, wires)
        turnings, deviations, flutters = speeds_of(sheet, single)
        pilots = pilot_resonances(sheet, deviations, turnings)
        harmonics = harmonics_by_band(sheet, single)
        mixings = mixings_of(sheet, right)
        ladders = ladders_of(sheet, single)
        responses = responses_of(sheet, data, swapped)
        hums = noises_of(sheet, data, single, swapped)
        resonances = swinging.result() | pilots
    sheet.take_in(aside)
    clicks = sum(entry.clicks_s.size for entry in data)
    heard_s = sum(entry.heard_s for entry in data)
    per_minute = Reading(
        60.0 * clicks / max(heard_s, 1.0), 60.0 * math.sqrt(clicks + 1.0) / max(heard_s, 1.0)
    )
    sheet.put("clicks_per_minute", per_minute, (entry.band.name for entry in data))
    note_faults(sheet, data)
    for key in NUMBER_KEYS:
        if key not in sheet.measures:
            sheet.withheld.setdefault(key, WANTED.get(key, "no listed band carries what it needs"))
    return Listening(
        heard=heard,
        identity=identity,
        measures={key: sheet.measures[key] for key in (*WORD_KEYS, *NUMBER_KEYS) if key in sheet.measures},
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
        hums=hums,
        clicks=clicks,
        clicks_per_minute=per_minute,
    )
