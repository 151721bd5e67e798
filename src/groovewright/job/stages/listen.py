"""Listen: what a recording of test tones proves, and which stage puts right what it shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from groovewright.audio import State, Verdict, next_move
from groovewright.job.heard import ListenClosed, Listened
from groovewright.job.heard_words import NAMES, finding_text
from groovewright.job.loading import load_curve_db
from groovewright.job.recording import (
    heard_as_found,
    ladders_of,
    last_heard,
    readings_of,
    responses_of,
    verdicts_of,
)
from groovewright.job.stage import StageReport
from groovewright.job.stages.match import resonance_of
from groovewright.job.state import JobState
from groovewright.mechanics.mounts import MOUNTS
from groovewright.quantities import Why

CAUTIONS = (
    "Test tones and sweeps can damage hearing and loudspeakers: start low.",
    "Headphones off for the low-frequency bands.",
    "Amplifier muted or off before a lead is touched; mains parts only by a qualified person.",
)

PUT_RIGHT_AT = {
    "leads": "mount",
    "polarity": "mount",
    "azimuth_deg": "level",
    "crosstalk_l_to_r_db": "level",
    "crosstalk_r_to_l_db": "level",
    "tracking_ability": "level",
    "tracking_error_deg": "square",
    "thd_percent": "weigh",
    "resonance_lateral_hz": "match",
    "resonance_vertical_hz": "match",
    "response_left_db": "match",
    "response_right_db": "match",
    "hum_db": "mount",
}
"""The stage at which a finding is put right; what is missing here is the player's or the record's."""

HOLDS_UP = ("leads", "polarity", "azimuth_deg", "speed_error_percent", "tracking_error_deg")
"""Findings that a person at the bench can put right: the stage stays open while one is outside its tolerance."""

LEAST_SHARE = 0.02
"""Change of anti-skating, as a share of the tracking force, that is worth a move."""

RESPONSE_HZ = (30.0, 18_000.0)

NOTHING_HEARD = (
    "Play a record of test tones, record it, and have it read: groovewright listen FILE --bands LIST --job JOB. "
    "Without a test record, say so: the job can be finished without this proof."
)


def listen(state: JobState) -> StageReport:
    """Return what the newest recording proves, or what to do to get one."""
    if state.cartridge_in is None:
        return StageReport("listen", "waiting", "Waits for the cartridge that goes in (see intake).")
    heard, found_rows = last_heard(state), _as_found_rows(state)
    last = state.listening[-1] if state.listening else None
    closed = last.why if isinstance(last, ListenClosed) else None
    if heard is None:
        values: dict[str, Any] = {"proved": False, "closed": closed}
        if closed is not None:
            return StageReport(
                "listen", "done", f"Not proved by a recording: {closed}.", found_rows, values=values
            )
        return StageReport("listen", "open", NOTHING_HEARD, found_rows, CAUTIONS, values=values)
    found = verdicts_of(heard)
    holding = _holding(state, heard, found)
    strays = against_load(state, heard)
    sentence, is_open = _sentence(state, heard, found, holding, closed)
    return StageReport(
        "listen",
        "open" if is_open else "done",
        sentence,
        (*_rows(state, heard, strays), *found_rows),
        CAUTIONS if is_open else (),
        _warnings(heard, found, holding),
        _whys(heard),
        _values(state, heard, found, strays) | {"closed": closed},
    )


def _holding(state: JobState, heard: Listened, found: Sequence[Verdict]) -> tuple[Verdict, ...]:
    """Return the findings outside their tolerance that can be put right here, in their order."""
    can_lean = state.arm is None or MOUNTS[state.arm.headshell].can_lean
    can_slide = state.arm is None or MOUNTS[state.arm.headshell].can_slide
    fixed = {"azimuth_deg": not can_lean, "tracking_error_deg": not can_slide}
    shares = iter([ladder.side_force_share or 0.0 for ladder in ladders_of(heard)])
    holding = []
    for verdict in found:
        share = next(shares) if verdict.key == "tracking_ability" else 0.0
        settable = verdict.key in HOLDS_UP and not fixed.get(verdict.key, False)
        if (
            verdict.state in (State.WRONG, State.LOOK)
            and verdict.move
            and (settable or abs(share) >= LEAST_SHARE)
        ):
            holding.append(verdict)
    return tuple(holding)


def _sentence(
    state: JobState,
    heard: Listened,
    found: tuple[Verdict, ...],
    holding: tuple[Verdict, ...],
    closed: str | None,
) -> tuple[str, bool]:
    """Return the sentence, and whether there is something to do."""
    if closed is not None:
        left = f" Left as it is: {' '.join(verdict.text for verdict in holding)}" if holding else ""
        return f"{_proved(heard, found)} No further recording: {closed}.{left}", False
    if all(verdict.state is State.UNKNOWN for verdict in found):
        return next_move(found), True
    if holding:
        move = next_move(holding)
        first = next(verdict for verdict in holding if verdict.move == move)
        stage = PUT_RIGHT_AT.get(first.key)
        return f"{first.text} {move}" + (f" (Stage {stage}.)" if stage else ""), True
    if state.changed_since_heard:
        return (
            f"Something was set after the recording {heard.file}: record again, or say that no further recording "
            "will be made.",
            True,
        )
    return _proved(heard, found), False


def _proved(heard: Listened, found: Sequence[Verdict]) -> str:
    right = [verdict for verdict in found if verdict.state is State.RIGHT]
    outside = [_name(verdict) for verdict in found if verdict.state in (State.LOOK, State.WRONG)]
    unknown = [_name(verdict) for verdict in found if verdict.state is State.UNKNOWN]
    said = f"By the recording {heard.file}, {len(right)} of {len(found)} findings are within their tolerance"
    wires = [_name(verdict) for verdict in right if verdict.key in ("leads", "polarity")]
    said += f", {' and '.join(wires)} among them." if wires else "."
    said += f" Outside: {', '.join(outside)}." if outside else ""
    return said + (f" Can't be told: {', '.join(unknown)}." if unknown else "")


def _name(verdict: Verdict) -> str:
    return NAMES[verdict.key][0] if verdict.key in NAMES else "tracking ability"


def _rows(state: JobState, heard: Listened, strays: Mapping[str, float]) -> tuple[tuple[str, str], ...]:
    predicted = resonance_of(state)
    rows = []
    for key, (name, _) in NAMES.items():
        said = finding_text(heard, key)
        if said is None:
            continue
        for motion in ("vertical", "lateral"):
            if key == f"resonance_{motion}_hz" and predicted is not None:
                estimate = predicted.vertical if motion == "vertical" else predicted.lateral
                low, high = estimate.interval()
                said += f"; predicted {estimate.median:.1f} Hz (95 %: {low:.1f} to {high:.1f})"
        rows.append((name, said))
    rows += [
        (f"against the load, {side}", f"{size:+.1f} dB at most, 30 Hz to 18 kHz")
        for side, size in strays.items()
    ]
    missing = ", ".join(NAMES[key][0] for key, _ in heard.withheld if key in NAMES)
    return (*rows, *((("not measured", missing),) if missing else ()))


def against_load(state: JobState, heard: Listened) -> dict[str, float]:
    """Return how far each channel's response strays from the load model of the match stage, dB, by side.

    The largest of all sweeps and noise bands; empty where the load or the response is not known.
    """
    curve = load_curve_db(state.cartridge_in, state.phono)
    worst: dict[str, float] = {}
    for response in responses_of(heard) if curve is not None else ():
        left = response.against(*curve) if curve is not None else response
        inside = (left.frequency_hz >= RESPONSE_HZ[0]) & (left.frequency_hz <= RESPONSE_HZ[1])
        for side, level in (("left", left.left_db), ("right", left.right_db)):
            if level is not None and inside.any():
                sizes = [float(value) for value in level[inside]]
                worst[side] = max((worst.get(side, 0.0), *sizes), key=abs)
    return worst


def _as_found_rows(state: JobState) -> tuple[tuple[str, str], ...]:
    found = heard_as_found(state)
    if found is None:
        return ()
    shown = ("leads", "polarity", "azimuth_deg", "speed_error_percent", "tracking_error_deg")
    said = [(NAMES[key][0], finding_text(found, key)) for key in shown]
    return (("as found", ", ".join(f"{name} {text}" for name, text in said if text is not None)),)


def _warnings(heard: Listened, found: Sequence[Verdict], holding: Sequence[Verdict]) -> tuple[str, ...]:
    own = (
        [f"{heard.file} was not read to its end: what is said holds for what was read."]
        if not heard.complete
        else []
    )
    if heard.bands_from == "found":
        own.append("The bands were found, not listed: confirm them, then leads and coils can be told.")
    doubtful = [
        f"{verdict.text} {verdict.move}".strip()
        for verdict in found
        if verdict.state in (State.WRONG, State.LOOK) and verdict not in holding
    ]
    return (*own, *heard.warnings, *doubtful)


WHYS = {
    "azimuth_deg": (
        "(atan Re k_RL - atan Re k_LR) / 2, k the crosstalk in size and phase",
        "derived in docs/listen.md; channels by IEC 60098:2020, 6.2",
    ),
    "speed_error_percent": (
        "slope of the tone's phase over its nominal frequency, less one",
        "least squares with one and two cycles per turn (docs/listen.md)",
    ),
    "flutter_weighted_two_sigma_percent": (
        "95 % quantile of the weighted deviation's size",
        "IEC 60386:1972 with amendment 1; AES6-2008",
    ),
    "eccentricity_mm": ("r times the once-per-turn part of the speed", "geometry, docs/listen.md"),
    "resonance_lateral_hz": ("f0 of -u^2 / (1 - u^2 + i u / Q), u = f / f0, fitted", "mass on a spring"),
    "tracking_error_deg": (
        "J_2(2k) / J_1(k) of the second harmonic, k = (V / v) tan e: size only",
        "Baerwald 1941, Bauer 1945; docs/listen.md",
    ),
}


def _whys(heard: Listened) -> tuple[Why, ...]:
    found = []
    for key, (formula, source) in WHYS.items():
        finding = heard.finding(key)
        if finding is not None:
            found.append(Why(key, formula, source, {"bands": ", ".join(finding.bands), "file": heard.file}))
    return tuple(found)


def _values(
    state: JobState, heard: Listened, found: Sequence[Verdict], strays: Mapping[str, float]
) -> dict[str, Any]:
    """Return the same for a program; `heard` has the keys of docs/listen.md."""
    numbers: dict[str, Any] = {finding.key: finding.value for finding in heard.findings if finding.sd is None}
    for key, reading in readings_of(heard).items():
        numbers[key], numbers[f"{key}_sd"] = reading.value, reading.sd
    return {
        "proved": True,
        "file": heard.file,
        "changed_since_heard": state.changed_since_heard,
        "heard": numbers,
        "against_load_db": dict(strays),
        "verdicts": [
            {
                "key": verdict.key,
                "state": verdict.state.value,
                "text": verdict.text,
                "move": verdict.move,
                "probability_right": verdict.probability,
                "stage": PUT_RIGHT_AT.get(verdict.key),
            }
            for verdict in found
        ],
    }
