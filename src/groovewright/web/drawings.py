"""The one drawing of each stage, from the state and what the stage found."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from groovewright.electrics import SWEEP_HZ, Chain, Load, curve_db, nominal
from groovewright.geometry import Alignment
from groovewright.job import JobState, StageReport
from groovewright.job.aim import aimed_alignment
from groovewright.job.recording import last_heard, verdicts_of
from groovewright.quantities import BenchError, Reading
from groovewright.report.balance import balance_view
from groovewright.report.comparison import left_reading
from groovewright.report.pins import pins_view
from groovewright.report.plan_of_job import plan_of_job
from groovewright.report.point_view import point_view
from groovewright.sheets.drawing import Drawing
from groovewright.web.level_view import lean_view, skating_view
from groovewright.web.listen_strip import chain_view
from groovewright.web.listen_view import heard_drawings
from groovewright.web.match_view import Curve, resonance_view, response_view


@dataclass(frozen=True)
class Shown:
    """A drawing on the page, and whether it is a detail that stands beside another."""

    drawing: Drawing
    detail: bool = False


def stage_drawings(state: JobState, report: StageReport) -> tuple[Shown, ...]:
    """Return what a stage shows; empty where too little is known to draw it."""
    draw = DRAWINGS.get(report.stage)
    if draw is None:
        return ()
    try:
        return draw(state, report.values)
    except BenchError:  # the stage's sentence already says what is wrong
        return ()


def two_null_aim(state: JobState) -> Alignment | None:
    """Return the alignment aimed at, where it has two nulls that can be drawn."""
    aim = aimed_alignment(state.arm, state.aim) if state.arm else None
    if aim is None or not (math.isfinite(aim.null_inner_mm) and math.isfinite(aim.null_outer_mm)):
        return None
    return aim


def _plan(state: JobState, values: Mapping[str, Any]) -> tuple[Shown, ...]:
    drawing = plan_of_job(state, values)
    return () if drawing is None else (Shown(drawing),)


def _square(state: JobState, values: Mapping[str, Any]) -> tuple[Shown, ...]:
    aim = two_null_aim(state)
    outer, inner = left_reading("yaw_outer_deg", values), left_reading("yaw_inner_deg", values)
    if aim is None or outer is None or inner is None:
        return _plan(state, values)
    points = (("outer", outer, aim.null_outer_mm), ("inner", inner, aim.null_inner_mm))
    return (
        *_plan(state, values),
        *(
            Shown(
                point_view(f"{name} point", yaw_deg=seen.value, yaw_sd_deg=seen.sd, radius_mm=radius),
                detail=True,
            )
            for name, seen, radius in points
        ),
    )


def _match(state: JobState, values: Mapping[str, Any]) -> tuple[Shown, ...]:
    shown = []
    vertical, lateral = (values.get(f"resonance_{way}_hz") for way in ("vertical", "lateral"))
    if isinstance(vertical, float) and isinstance(lateral, float):
        named = (("vertical", vertical), ("lateral", lateral))
        estimates = [
            (name, hertz, float(values[f"resonance_{name}_sd_hz"]) / hertz)
            for name, hertz in named
            if hertz > 0.0
        ]
        shown.append(Shown(resonance_view(estimates)))
    response = _response(state, values)
    return (*shown, Shown(response)) if response else tuple(shown)


def _response(state: JobState, values: Mapping[str, Any]) -> Drawing | None:
    cartridge, load = state.cartridge_in, values.get("load_ohm")
    if (
        cartridge is None
        or load is None
        or cartridge.inductance_mH is None
        or cartridge.resistance_ohm is None
    ):
        return None
    cable = (state.phono.cable_pF or 0.0) if state.phono else 0.0
    loss = cartridge.iron_loss_ohm
    chain = nominal(
        Chain(
            resistance_ohm=Reading(cartridge.resistance_ohm, 0.0),
            inductance_mH=Reading(cartridge.inductance_mH, 0.0),
            cable_pF=Reading(cable, 0.0),
            iron_loss_ohm=None if loss is None else Reading(loss, 0.0),
        )
    )

    def curve(what: str, ohm: float, picofarad: float) -> Curve:
        level = curve_db(chain, Load(ohm, picofarad)).reshape(-1)
        name = f"{what} {ohm / 1000:g} kΩ, {picofarad:g} pF"
        return Curve(name, [float(hertz) for hertz in SWEEP_HZ], [float(decibels) for decibels in level])

    used, best = ((values["load_ohm"], values["load_pF"]), (values["best_load_ohm"], values["best_load_pF"]))
    return response_view(curve("load", *used), None if used == best else curve("flattest", *best))


def _weigh(state: JobState, values: Mapping[str, Any]) -> tuple[Shown, ...]:
    force = left_reading("force_gf", values)
    if force is None and state.found is not None and state.found.force_gf is not None:
        force = Reading(state.found.force_gf, state.found.force_sd_gf)
    into = state.cartridge_in
    low, high = (into.force_min_gf, into.force_max_gf) if into else (None, None)
    target = values.get("target_force_gf")
    if force is None:
        if not isinstance(target, float):
            return ()
        wanted = balance_view(
            force_gf=target, force_sd_gf=0.0, force_min_gf=low, force_max_gf=high, measured=False
        )
        return (Shown(wanted),)
    return (
        Shown(
            balance_view(
                force_gf=force.value,
                force_sd_gf=force.sd,
                target_gf=target if isinstance(target, float) else None,
                force_min_gf=low,
                force_max_gf=high,
            )
        ),
    )


def _level(_state: JobState, values: Mapping[str, Any]) -> tuple[Shown, ...]:
    shown = []
    wanted = left_reading("antiskating_mN", values)
    if wanted is not None and values.get("skating_mN"):
        setting = str(values.get("antiskating_setting", ""))
        shown.append(
            Shown(
                skating_view(values["skating_mN"], wanted_mN=wanted.value, sd_mN=wanted.sd, setting=setting)
            )
        )
    lean = left_reading("azimuth_deg", values)
    if lean is not None:
        side = bool(values.get("azimuth_side_known"))
        shown.append(Shown(lean_view(lean_deg=lean.value, sd_deg=lean.sd, side_known=side)))
    return tuple(shown)


def _mount(_state: JobState, _values: Mapping[str, Any]) -> tuple[Shown, ...]:
    return (Shown(pins_view()),)


def _listen(state: JobState, _values: Mapping[str, Any]) -> tuple[Shown, ...]:
    """Return the drawing that the finding to be looked at next is about; how to record, where none was heard."""
    heard = last_heard(state)
    drawn = heard_drawings(heard, verdicts_of(heard)) if heard else ()
    return (Shown(drawn[0] if drawn else chain_view()),)


DRAWINGS: dict[str, Callable[[JobState, Mapping[str, Any]], tuple[Shown, ...]]] = {
    "intake": _plan,
    "match": _match,
    "mount": _mount,
    "weigh": _weigh,
    "square": _square,
    "level": _level,
    "listen": _listen,
    "handover": _square,
}
