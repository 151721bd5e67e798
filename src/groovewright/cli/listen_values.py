"""A recording's findings as one object for a program: the keys of docs/listen.md."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from groovewright.audio import Band, Listening, Verdict, next_move, tracking_error_of
from groovewright.quantities import Reading


def as_mapping(listening: Listening, found: tuple[Verdict, ...]) -> dict[str, Any]:
    """Return everything as one object: each key with its partner in `_sd`, null where it is withheld."""
    recording, heard = listening.heard.recording, listening.heard
    out: dict[str, Any] = {
        "file": str(recording.path),
        "sample_rate_hz": recording.rate_hz,
        "encoding": recording.encoding,
        "duration_s": heard.tally.frames / recording.rate_hz,
        "complete": not heard.problem and recording.promised_frames is None,
        "bands_from": "list" if heard.bands.listed else "found",
        "next_move": next_move(found),
        "re_plug": list(listening.identity.re_plug),
    }
    out |= _measured(listening, found) | _details(listening)
    return out


def _measured(listening: Listening, found: tuple[Verdict, ...]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, measure in listening.measures.items():
        if isinstance(measure.value, Reading):
            out[key], out[f"{key}_sd"] = measure.value.value, measure.value.sd
        else:
            out[key] = measure.value
    for key in listening.withheld:
        out[key] = out[f"{key}_sd"] = None
    out["measured_in"] = {key: list(measure.bands) for key, measure in listening.measures.items()}
    out["notes"] = {key: measure.note for key, measure in listening.measures.items() if measure.note}
    out["withheld"] = dict(listening.withheld)
    out["warnings"] = list(listening.warnings)
    out["verdicts"] = [
        {
            "key": v.key,
            "state": v.state.value,
            "text": v.text,
            "move": v.move,
            "probability_right": v.probability,
        }
        for v in found
    ]
    return out


def _details(listening: Listening) -> dict[str, Any]:
    out: dict[str, Any] = {}
    out["bands"] = [_band(band) for band in listening.heard.bands.bands]
    out["crosstalk"] = _crosstalk(listening)
    out["harmonics_percent"] = {
        name: {str(order): _pair(size) for order, size in one.by_order_percent.items()}
        for name, one in listening.harmonics.items()
    }
    by_name = {band.name: band for band in listening.heard.bands.bands}
    rpm = listening.heard.bands.speed_rpm
    out["tracking_errors_deg"] = {
        name: _maybe(tracking_error_of(by_name[name], one, rpm)) for name, one in listening.harmonics.items()
    }
    out["resonances"] = {
        name: {"frequency_hz": _pair(one.frequency_hz), "q": _pair(one.q)}
        for name, one in listening.resonances.items()
    }
    out["speeds"] = {name: _speed(listening, name) for name in listening.turnings}
    out["intermodulation"] = {
        name: {f"{m:+d}f1{n:+d}f2": _pair(size) for (m, n), size in one.products_percent.items()}
        for name, one in listening.mixings.items()
    }
    out["tracking_ability"] = [_ladder(ladder) for ladder in listening.ladders]
    out["response"] = {name: _response(one) for name, one in listening.responses.items()}
    out["hum"] = {
        name: {
            "mains_hz": one.mains_hz,
            "lines_db": {str(k): list(v) for k, v in one.lines_db.items()},
            "likely_cause": one.likely_cause,
        }
        for name, one in listening.hums.items()
    }
    return out


def _pair(reading: Reading) -> dict[str, float]:
    return {"value": reading.value, "sd": reading.sd}


def _maybe(reading: Reading | None) -> dict[str, float] | None:
    return None if reading is None else _pair(reading)


def _band(band: Band) -> dict[str, Any]:
    return {
        "name": band.name,
        "kind": band.kind.value,
        "channel": band.channel.value,
        "start_s": band.start_s,
        "end_s": band.end_s,
        "frequency_hz": band.frequency_hz,
        "groove_radius_mm": band.groove_radius_mm,
        "level_cm_per_s": band.level_cm_per_s,
    }


def _crosstalk(listening: Listening) -> list[dict[str, Any]]:
    return [
        {
            "frequency_hz": one.frequency_hz,
            "bands": list(one.bands),
            "balance_db": _pair(one.balance_db),
            "l_to_r_db": _pair(one.left_to_right.level_db),
            "l_to_r_deg": _pair(one.left_to_right.phase_deg),
            "r_to_l_db": _pair(one.right_to_left.level_db),
            "r_to_l_deg": _pair(one.right_to_left.phase_deg),
            "azimuth_deg": _pair(one.azimuth_deg),
            "l_to_r_if_upright_db": one.upright_db[0],
            "r_to_l_if_upright_db": one.upright_db[1],
        }
        for one in listening.separations
    ]


def _speed(listening: Listening, name: str) -> dict[str, Any]:
    turning, flutter = listening.turnings[name], listening.flutters.get(name)
    radius = next(band.groove_radius_mm for band in listening.heard.bands.bands if band.name == name)
    return {
        "speed_error_percent": _pair(turning.speed_error_percent),
        "once_per_turn_percent": _pair(turning.once_per_turn_percent),
        "eccentricity_mm": _maybe(turning.off_centre_mm(radius) if radius else None),
        "weighted_two_sigma_percent": _maybe(flutter.weighted_two_sigma if flutter else None),
        "unweighted_rms_percent": _maybe(flutter.unweighted_rms if flutter else None),
        "steady_lines": [{"frequency_hz": hz, "amplitude_percent": size} for hz, size in turning.lines],
    }


def _ladder(ladder: Any) -> dict[str, Any]:
    return {
        "frequency_hz": ladder.frequency_hz,
        "channel": ladder.channel.value,
        "levels_cm_per_s": list(ladder.levels_cm_per_s),
        "left_percent": [size.value for size in ladder.left_percent],
        "right_percent": [size.value for size in ladder.right_percent],
        "left_breaks_cm_per_s": ladder.left_breaks_cm_per_s,
        "right_breaks_cm_per_s": ladder.right_breaks_cm_per_s,
        "anti_skating_change_of_tracking_force": ladder.side_force_share,
    }


def _response(one: Any) -> Mapping[str, Any]:
    return {
        "frequency_hz": one.frequency_hz,
        "left_db": one.left_db,
        "right_db": one.right_db,
        "crosstalk_db": one.crosstalk_db,
        "crosstalk_deg": one.crosstalk_deg,
    }
