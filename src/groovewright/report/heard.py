"""What a recording proved, as found and as left, for the handover paper."""

from __future__ import annotations

from dataclasses import dataclass

from groovewright.audio import TOLERANCES, State, Verdict
from groovewright.job import JobState, Plan
from groovewright.job.heard import Listened
from groovewright.job.heard_words import NAMES, finding_text
from groovewright.job.recording import heard_as_found, last_heard, verdicts_of
from groovewright.report.comparison import percent
from groovewright.report.words import with_minus

ON_PAPER = (
    "leads",
    "polarity",
    "azimuth_deg",
    "balance_db",
    "crosstalk_l_to_r_db",
    "crosstalk_r_to_l_db",
    "tracking_error_deg",
    "resonance_lateral_hz",
    "resonance_vertical_hz",
    "speed_error_percent",
    "flutter_weighted_two_sigma_percent",
    "eccentricity_mm",
    "thd_percent",
    "response_left_db",
    "response_right_db",
    "hum_db",
    "rumble_weighted_db",
)
"""The few numbers that the owner gets, in the order of what matters to the set-up."""

TOLD_THERE = frozenset(NAMES[key][0] for key in ON_PAPER if not key.startswith("resonance"))
"""Rows of the stage that the section says already; the resonances keep theirs, with what was predicted."""

WORDS = {
    State.RIGHT: "within tolerance",
    State.LOOK: "worth a look",
    State.WRONG: "outside tolerance",
    State.UNKNOWN: "can't be told",
}


@dataclass(frozen=True)
class HeardRow:
    """One finding; empty text: not recorded, or not measured."""

    name: str
    found: str
    left: str
    verdict: str


@dataclass(frozen=True)
class HeardPart:
    """The section of the paper: a sentence, rows, and from which recordings they come."""

    sentence: str
    rows: tuple[HeardRow, ...]
    source: str
    both: bool


def heard_part(state: JobState, planned: Plan) -> HeardPart | None:
    """Return the section; None where the job has no recording and nothing was said about one."""
    found, left = heard_as_found(state), last_heard(state)
    report = next((report for report in planned.stages if report.stage == "listen"), None)
    if report is None or (found is None and left is None and not state.listening):
        return None
    verdicts = {} if left is None else {verdict.key: verdict for verdict in verdicts_of(left)}
    rows = []
    for key in ON_PAPER:
        before, after = _text(found, key), _text(left, key)
        if before or after:
            name = NAMES[key][0]
            rows.append(HeardRow(name[:1].upper() + name[1:], before, after, _verdict(verdicts.get(key))))
    return HeardPart(
        with_minus(report.sentence), tuple(rows), _source(found, left), found is not None and left is not None
    )


def _text(event: Listened | None, key: str) -> str:
    said = None if event is None else finding_text(event, key)
    return with_minus(said or "").replace(" ", "\u00a0") if key not in ("leads", "polarity") else said or ""


def _verdict(verdict: Verdict | None) -> str:
    if verdict is None:
        return ""
    if verdict.probability is None:
        return WORDS[verdict.state]
    return with_minus(f"{_allowed(verdict.key)}: {percent(verdict.probability)}").replace(" ", "\u00a0")


def _allowed(key: str) -> str:
    """Return a tolerance in words: 'within ±0.5 deg', 'under 1 %', '8 to 12 Hz'."""
    tolerance, unit = TOLERANCES[key], NAMES[key][1]
    if tolerance.low == -tolerance.high:
        return f"within ±{tolerance.high:g} {unit}"
    if tolerance.low in (0.0, LOWEST_DB):
        return f"under {tolerance.high:g} {unit}"
    return f"{tolerance.low:g} to {tolerance.high:g} {unit}"


LOWEST_DB = -200.0
"""Where a tolerance in decibels has no lower end."""


def _source(found: Listened | None, left: Listened | None) -> str:
    said = [
        f"{what}: {event.file}{f', {event.heard_on}' if event.heard_on else ''}, {event.duration_s:.0f} s"
        for what, event in (("As found", found), ("As left", left))
        if event is not None
    ]
    return f"{'; '.join(said)}." if said else ""
