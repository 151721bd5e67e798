"""What the handover paper says, from a job: the same content for PDF and HTML."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from typing import Any

from groovewright.geometry import Alignment
from groovewright.job import JobState, Looked, Plan, StageReport
from groovewright.quantities import BenchError, CannotBeDoneError, Reading
from groovewright.report.balance import balance_view
from groovewright.report.comparison import Setting, comparison, left_reading, left_values, percent, said_text
from groovewright.report.error_chart import NARROW, error_chart
from groovewright.report.heard import TOLD_THERE, HeardPart, heard_part
from groovewright.report.plan_of_job import headshell_of, plan_of_job
from groovewright.report.plan_view import plan_view_for_yaws
from groovewright.report.point_view import point_view
from groovewright.report.words import signed, with_minus
from groovewright.sheets.drawing import Drawing

STATUS = {
    "done": "done",
    "open": "to do",
    "waiting": "waits",
    "unknown": "not known",
    "not-needed": "not needed",
}
"""How the status of a stage is written on paper."""

NAMED_ABOVE = ("intake",)
"""Stages whose rows, once they are done, are what the head of the paper says."""

CHECK_AFTER = "a year from the date above, after 500 hours of play, or when anything was knocked or moved"
"""Common practice of the trade, without a source."""

OWNER_CAUTIONS = (
    "Put the stylus guard on before you touch the cartridge, and lift the arm by its finger lift only.",
    "Mute or switch off the amplifier before a lead is touched.",
    "The makers' own limits for player and cartridge always win over a figure on this paper.",
    "Mains parts of a player are for a qualified person, under local rules.",
)


@dataclass(frozen=True)
class StageOnPaper:
    """One stage on paper."""

    name: str
    status: str
    sentence: str
    rows: tuple[tuple[str, str], ...]
    ticks: tuple[tuple[bool, str], ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Handover:
    """The whole content of a handover paper; `finished` is False for the paper of a job under way."""

    title: str
    shop: str
    owner: str
    date: str
    notes: str
    things: tuple[tuple[str, str], ...]
    finished: bool
    headline: str
    sentence: str
    settings: tuple[Setting, ...]
    heard: HeardPart | None
    parts: tuple[StageOnPaper, ...]
    drawings: Mapping[str, Drawing]
    course: tuple[tuple[str, str, str, str], ...]
    cautions: tuple[str, ...]
    next_check: str
    code_text: str
    whys: tuple[tuple[str, str, str, str], ...]


def handover(state: JobState, planned: Plan, *, next_check: str = "") -> Handover:
    """Return the content of the paper for a job as it stands.

    Parameters
    ----------
    next_check : str
        When the next check is due; what common practice says where it is empty.
    """
    left = left_values(planned)
    settings = comparison(state, planned)
    things = _things(state)
    finished = planned.next_stage == "done"
    return Handover(
        title=state.job.title or "Handover",
        shop=state.job.shop,
        owner=state.job.owner,
        date=state.job.date,
        notes=state.job.notes,
        things=things,
        finished=finished,
        headline=_headline(finished, left, state),
        sentence=_sentence(finished, left, planned),
        settings=settings,
        heard=heard_part(state, planned),
        parts=tuple(
            _part(report)
            for report in planned.stages
            if report.stage not in NAMED_ABOVE or report.status != "done"
        ),
        drawings=_drawings(state, left),
        course=_course(state),
        cautions=OWNER_CAUTIONS,
        next_check=next_check or next_check_text(state.job.date),
        code_text=_code_text(things, settings, left, state),
        whys=tuple(
            (why.number, with_minus(why.formula), with_minus(", ".join(f"{k} = {v}" for k, v in why.inputs.items())),
             why.source)
            for report in planned.stages for why in report.whys
        ),
    )  # fmt: skip


def next_check_text(job_date: str) -> str:
    """Return when the next check is due: a year after a date that can be read (common practice)."""
    day = parsed_date(job_date)
    if day is None:
        return CHECK_AFTER
    try:
        due = day.replace(year=day.year + 1)
    except ValueError:  # 29 February
        due = day.replace(year=day.year + 1, day=28)
    return f"{due.isoformat()}, or earlier: after 500 hours of play, or when anything was knocked or moved"


def parsed_date(text: str) -> date | None:
    """Return the date of a text that starts with YYYY-MM-DD; None for any other."""
    match = re.match(r"\s*(\d{4})-(\d{2})-(\d{2})\b", text)
    if match is None:
        return None
    try:
        day = date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return None
    return day if 1980 <= day.year < 2100 else None


def _things(state: JobState) -> tuple[tuple[str, str], ...]:
    deck, arm, out, into = state.deck, state.arm, state.cartridge_out, state.cartridge_in
    rows = (
        ("Player", deck.name if deck else ""),
        ("Arm", arm.name if arm else ""),
        ("Cartridge", _cartridge(into.name, into.kind, into.stylus) if into else ""),
        ("Taken out", _cartridge(out.name, out.kind, out.stylus) if out else ""),
    )
    return tuple((name, value) for name, value in rows if value)


def _cartridge(name: str, kind: str | None, stylus: str) -> str:
    about = ", ".join(part for part in ((kind or "").replace("-", " "), stylus) if part)
    return f"{name} ({about})" if about and name else name or about


def _headline(finished: bool, left: Mapping[str, Any], state: JobState) -> str:
    if not finished:
        return "Work in progress"
    chance = left.get("probability_within_tolerance")
    if isinstance(chance, float) and left.get("reachable", True):
        return f"Square within {state.aim.tolerance_deg:g}°: {percent(chance)} sure"
    return "All stages gone through"


def _sentence(finished: bool, left: Mapping[str, Any], planned: Plan) -> str:
    if not finished:
        return with_minus(f"Not a final paper. Next, {planned.next_stage}: {planned.next_move}")
    within = left.get("within_at_90_percent_deg")
    if isinstance(within, float):
        return (
            f"At both points of the sheet the cartridge stands within {within:.2f}° of square, 90 % sure: "
            "measured, with the uncertainty of every reading and every move taken into account."
        )
    return "Every stage of the work is done, with the figures below."


def _part(report: StageReport) -> StageOnPaper:
    """Return a stage as it is printed; a list that was ticked off is kept apart from figures."""
    ticks = tuple((name == TICKED, text) for name, text in report.rows if name in (TICKED, UNTICKED))
    rows = tuple((name, with_minus(value)) for name, value in report.rows if name not in (TICKED, UNTICKED))
    if report.stage == "listen":
        rows = tuple(row for row in rows if row[0] not in TOLD_THERE and row[0] != "as found")
    return StageOnPaper(
        report.stage.capitalize(),
        STATUS.get(report.status, report.status),
        with_minus(report.sentence),
        rows,
        ticks,
        tuple(with_minus(warning) for warning in report.warnings),
        report.cautions if report.status == "open" else (),
    )


TICKED, UNTICKED = "[x]", "[ ]"
"""How a stage names the rows of a list that is ticked off."""


def _course(state: JobState) -> tuple[tuple[str, str, str, str], ...]:
    """Return every look and move in order: number, what, outer or slide, inner or turn."""
    rows = []
    for number, step in enumerate(state.squaring, 1):
        if isinstance(step, Looked):
            sd = state.aim.reading_sd_deg if step.reading_sd_deg is None else step.reading_sd_deg
            outer, inner = (
                "not read" if said is None else said_text(said, sd) for said in (step.outer, step.inner)
            )
            what = f"look, read from {step.read_from}" if step.read_from else "look"
            rows.append((str(number), what, f"outer {outer}", f"inner {inner}"))
        elif step.slide_mm == 0.0 and step.turn_deg == 0.0:
            rows.append((str(number), "left as it was", "", ""))
        else:
            rows.append(
                (str(number), "move", f"slide {signed(step.slide_mm)} mm", f"turn {signed(step.turn_deg)}°")
            )
    return tuple(rows)


def aimed_at(left: Mapping[str, Any], state: JobState) -> Alignment | None:
    """Return the alignment that the stages aim at, where it has two nulls."""
    keys = ("aim_effective_length_mm", "aim_offset_angle_deg", "aim_null_inner_mm", "aim_null_outer_mm")
    numbers = [left.get(key) for key in keys]
    distance = state.arm.pivot_to_spindle_mm if state.arm else None
    if distance is None or not all(isinstance(n, float) and math.isfinite(n) for n in numbers):
        return None
    return Alignment(distance, *(float(str(n)) for n in numbers))


def _drawings(state: JobState, left: Mapping[str, Any]) -> dict[str, Drawing]:
    drawings: dict[str, Drawing] = {}
    aim = aimed_at(left, state)
    outer, inner = left_reading("yaw_outer_deg", left), left_reading("yaw_inner_deg", left)
    if aim is not None:
        drawings.update(squaring_drawings(state, aim, outer, inner))
    else:
        with suppress(BenchError):
            plan_ = plan_of_job(state, left)
            drawings.update({} if plan_ is None else {"plan": plan_})
    force = left_reading("force_gf", left)
    if force is not None:
        into, target = state.cartridge_in, left.get("target_force_gf")
        drawings["balance"] = balance_view(
            force_gf=force.value,
            force_sd_gf=force.sd,
            target_gf=target if isinstance(target, float) else None,
            force_min_gf=into.force_min_gf if into else None,
            force_max_gf=into.force_max_gf if into else None,
        )
    return drawings


def squaring_drawings(
    state: JobState, aim: Alignment, outer: Reading | None, inner: Reading | None
) -> dict[str, Drawing]:
    """Return the plan view, and both points and the error over the record where both yaws are known."""
    drawings: dict[str, Drawing] = {}
    shell = headshell_of(state)
    grooves = state.aim.grooves
    with suppress(CannotBeDoneError):
        drawings["plan"] = plan_view_for_yaws(
            aim,
            radius_mm=aim.null_outer_mm,
            yaw_outer_deg=outer.value if outer is not None else 0.0,
            yaw_inner_deg=inner.value if inner is not None else 0.0,
            headshell=shell,
            grooves=grooves,
        )
    if outer is not None and inner is not None:
        for name, reading, radius in (
            ("outer", outer, aim.null_outer_mm),
            ("inner", inner, aim.null_inner_mm),
        ):
            drawings[name] = point_view(
                f"{name} point", yaw_deg=reading.value, yaw_sd_deg=reading.sd, radius_mm=radius
            )
        drawings["error"] = error_chart(aim, grooves, outer, inner)
        drawings["error-narrow"] = error_chart(aim, grooves, outer, inner, width_mm=NARROW)
    return drawings


def _code_text(
    things: Sequence[tuple[str, str]], settings: Sequence[Setting], left: Mapping[str, Any], state: JobState
) -> str:
    """Return the settings as lines of text for the code: short, and whole lines only."""
    lines = ["groovewright settings 1"]
    lines += [f"{name}: {value if len(value) <= 60 else value[:59] + '…'}" for name, value in things]
    lines += [f"Date: {state.job.date[:40]}"] if state.job.date else []
    for name, keys in (
        ("Nulls", ("aim_null_inner_mm", "aim_null_outer_mm")),
        ("Overhang", ("aim_overhang_mm",)),
    ):
        values = [left.get(key) for key in keys]
        if all(isinstance(value, float) and math.isfinite(value) for value in values):
            lines.append(f"{name}: " + ", ".join(f"{value:.2f}" for value in values) + " mm")
    lines += [f"{setting.name}: {setting.left}" for setting in settings if setting.left]
    size, kept = 0, []
    for line in lines:
        size += len(line.encode()) + 1
        if size > LARGEST_CODE_BYTES:
            break
        kept.append(line)
    return "\n".join(kept)


LARGEST_CODE_BYTES = 640
"""What a code of 40 mm can hold so that a telephone still reads it (about half a millimetre a module)."""
