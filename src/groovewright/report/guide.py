"""The guide for the owner at home: what to lay out, each step with its drawing, and what to tell the shop."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from groovewright.geometry import Alignment
from groovewright.job import JobState
from groovewright.job.aim import aimed_alignment
from groovewright.job.sheet import job_sheet
from groovewright.mechanics.mounts import FIXED_HEADSHELLS
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.report.answer import sheet_radii_mm
from groovewright.report.balance import balance_view
from groovewright.report.pins import pins_view
from groovewright.report.plan_view import plan_view
from groovewright.report.ways import scale_check, sheet_on_platter, turn_to_square, way_to_slide
from groovewright.sheets import A4, Drawing, Paper, PrintCorrection
from groovewright.sheets.lettering import check_printable

GAUGE_SD_GF = 0.02
"""What a common stylus gauge can tell apart (common practice)."""


@dataclass(frozen=True)
class Step:
    """One step: what to do, the cautions that belong here, and which drawings show it."""

    title: str
    say: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    drawings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Guide:
    """The whole guide. `radii_mm` names the sheet; None where there is nothing to square over one."""

    title: str
    shop: str
    owner: str
    things: tuple[tuple[str, str], ...]
    lay_out: tuple[str, ...]
    steps: tuple[Step, ...]
    drawings: Mapping[str, Drawing]
    points: tuple[str, ...]
    radii_mm: tuple[int, int] | None
    sheet: Drawing | None


def guide(state: JobState, *, paper: Paper = A4, correction: PrintCorrection | None = None) -> Guide:
    """Return the guide for a job, or for just an arm and a cartridge.

    Raises
    ------
    CannotBeDoneError
        The arm's geometry is not known yet, or the sheet doesn't fit on the paper.
    """
    arm = state.arm
    if arm is None:
        raise CannotBeDoneError("a guide needs an arm; describe it in [arm], with pivot_to_spindle_mm")
    aim = aimed_alignment(arm, state.aim)
    squares = aim is not None and arm.headshell not in FIXED_HEADSHELLS
    if aim is None and arm.kind != "parallel" and arm.headshell not in FIXED_HEADSHELLS:
        raise CannotBeDoneError(
            "a guide needs the distance from pivot to spindle; measure it and give pivot_to_spindle_mm in [arm]"
        )
    two = squares and aim is not None and sheet_radii_mm(aim) is not None
    drawings: dict[str, Drawing] = {"pins": pins_view()}
    steps = [_prepare_step(squares), _mount_step(state)]
    force = _force_step(state, drawings)
    steps += [force] if force is not None else []
    if squares and aim is not None:
        steps += _squaring_steps(aim, drawings, two=two)
    steps.append(_last_step(squares))
    if squares:
        drawings["scale"] = scale_check()
    return Guide(
        title=_title(state),
        shop=state.job.shop,
        owner=state.job.owner,
        things=_things(state, aim if squares else None),
        lay_out=_lay_out(state, squares=squares),
        steps=tuple(steps),
        drawings=drawings,
        points=("outer", "inner") if two else ("outer",) if squares else (),
        radii_mm=sheet_radii_mm(aim) if squares and aim is not None else None,
        sheet=job_sheet(printable_state(state), paper, correction) if squares else None,
    )


def printable_state(state: JobState) -> JobState:
    """Return the state without the names that the sheet's lettering has no letters for."""

    def printable(text: str) -> str:
        try:
            return check_printable(text, "name")
        except InputError:
            return ""

    arm = state.arm
    return replace(
        state,
        job=replace(state.job, owner=printable(state.job.owner)),
        arm=None if arm is None else replace(arm, name=printable(arm.name)),
    )


def _title(state: JobState) -> str:
    cartridge = state.cartridge_in.name if state.cartridge_in else ""
    player = (state.deck.name if state.deck else "") or (state.arm.name if state.arm else "")
    what = f"the {cartridge}" if cartridge else "your cartridge"
    title = f"Setting up {what} on the {player}, at home" if player else f"Setting up {what}, at home"
    return re.sub(r" (?=\d{1,3}\b)", "\u00a0", title)


def _things(state: JobState, aim: Alignment | None) -> tuple[tuple[str, str], ...]:
    into = state.cartridge_in
    rows = [
        ("For", state.job.owner),
        ("Player", state.deck.name if state.deck else ""),
        ("Arm", state.arm.name if state.arm else ""),
        ("Cartridge", into.name if into else ""),
    ]
    if aim is not None:
        nulls = [null for null in (aim.null_outer_mm, aim.null_inner_mm) if math.isfinite(null)]
        rows.append(
            ("Square at", " and ".join(f"{null:.1f}" for null in nulls) + " mm from the spindle's middle")
        )
    if into is not None and into.force_min_gf is not None and into.force_max_gf is not None:
        rows.append(("Tracking force", f"{into.force_min_gf:g} to {into.force_max_gf:g} gf, from its maker"))
    return tuple((name, value) for name, value in rows if value)


def _lay_out(state: JobState, *, squares: bool) -> tuple[str, ...]:
    items = [
        "a good lamp that you can move, and reading glasses or a magnifier",
        "a stylus gauge for the tracking force",
        "screwdrivers that fit the two cartridge screws",
        "thin-nosed pliers or tweezers for the leads",
        "a soft brush, and a clean cloth to work on",
        "the papers of player and cartridge",
    ]
    if squares:
        items[1:1] = [
            "the sheet from this guide, printed and checked",
            "a ruler with millimetres, and scissors",
        ]
    if state.arm is not None and state.arm.headshell == "bayonet":
        items.append("a second cloth: the headshell comes off and is worked on there")
    return tuple(items)


def _prepare_step(squares: bool) -> Step:
    say = ["Switch the player off and let the platter stand still. Clear the table and aim the lamp."]
    if squares:
        say.append(
            "Print the last page of this guide at 100 %, not 'fit to page'. Measure both bars with the ruler: each "
            "must be 100 mm long. If one is not, tell us both lengths and we send a sheet that makes up for it."
        )
    return Step(
        "Prepare",
        tuple(say),
        (
            "Stylus guard on before anything else.",
            "Amplifier off, or muted, before a lead is touched.",
            "Nothing in this guide needs a cover opened. Mains parts are for a qualified person, under local rules.",
        ),
        ("scale",) if squares else (),
    )


def _mount_step(state: JobState) -> Step:
    plug_in = state.arm is not None and state.arm.headshell in ("plug-in", "moulded-in")
    if plug_in:
        home = "Push the cartridge straight into its holder until it sits home; tighten the small screw if it has one."
        return Step("Fit the cartridge", (home,), ("Stylus guard on while you push.",))
    say = (
        "Fit it with both screws just loose enough that it can still be moved by hand.",
        "Put each lead on by the letters beside the pin. Hold a lead by its sleeve and never force it: open a tight "
        "one with a cocktail stick.",
    )
    cautions = (
        "Never solder on a cartridge's pins.",
        "No ohmmeter across a moving-coil cartridge.",
    )
    return Step("Fit the cartridge", say, cautions, ("pins",))


def _force_step(state: JobState, drawings: dict[str, Drawing]) -> Step | None:
    into = state.cartridge_in
    if into is None or into.force_min_gf is None or into.force_max_gf is None:
        return Step(
            "Set the tracking force",
            (
                "Set it to the middle of the range that the cartridge's maker gives, and measure it with the gauge.",
            ),
            (
                "The maker's limits always win.",
                "Hold the finger lift: a loose arm swings, and a stylus breaks.",
            ),
        )
    middle = into.force_target_gf or 0.5 * (into.force_min_gf + into.force_max_gf)
    drawings["balance"] = balance_view(
        force_gf=middle,
        force_sd_gf=GAUGE_SD_GF,
        force_min_gf=into.force_min_gf,
        force_max_gf=into.force_max_gf,
    )
    say = (
        f"Set it to {middle:.2f} gf, within the maker's {into.force_min_gf:g} to {into.force_max_gf:g} gf, and "
        "measure it with the gauge at the height of a record.",
    )
    cautions = (
        "The maker's limits always win.",
        "Hold the finger lift: a loose arm swings, and a stylus breaks.",
    )
    return Step("Set the tracking force", say, cautions, ("balance",))


def _squaring_steps(aim: Alignment, drawings: dict[str, Drawing], *, two: bool) -> list[Step]:
    drawings["platter"] = sheet_on_platter() if two else plan_view(aim, radius_mm=aim.null_outer_mm)
    drawings["plan"] = plan_view(aim, radius_mm=aim.null_outer_mm)
    drawings["square"] = turn_to_square()
    place = Step(
        "Put the sheet on the platter",
        (
            "Cut the hole out carefully: it must fit the spindle without play. Take the guard off and let the stylus "
            f"down on the {'outer ' if two else ''}dot, {aim.null_outer_mm:.1f} mm from the spindle's middle, with the "
            "platter held still.",
        ),
        ("Guard off only now. Let the stylus down by the lift, never by hand.",),
        ("platter",) if two else ("plan",),
    )
    if not two:
        straight = (
            f"Set the cartridge straight along the arm, its stylus {abs(aim.overhang_mm):.1f} mm "
            f"{'short of' if aim.overhang_mm < 0 else 'beyond'} the spindle's middle. Then look from straight above: "
            "do the sides of the cartridge run along the lines? Read which way its front points, and by how much.",
        )
        return [place, Step("Look at the point", straight, (), ("square",))]
    drawings["out"], drawings["in"] = way_to_slide(points_in=False), way_to_slide(points_in=True)
    turn = Step(
        "Square it at the outer point",
        (
            "Look from straight above and from the front. Turn the cartridge in its slots until its sides run along "
            "the lines of the grid, with the stylus still on the dot.",
            PHOTO_WORDS,
            f"A good start: with the arm held over the spindle, the stylus is {aim.overhang_mm:.1f} mm beyond it.",
        ),
        ("Guard on whenever you turn or slide it; lift the arm first.",),
        ("square", "plan"),
    )
    look = Step(
        "Look at the inner point",
        (
            "Turn the platter, not the cartridge, until the inner dot lies under the stylus. Only look: the front "
            "points in, towards the spindle, or out, or it is square.",
            "Points out: slide the cartridge back. Points in: slide it forward. A millimetre is much. Then square it "
            "at the outer point again.",
        ),
        (),
        ("out", "in"),
    )
    return [place, turn, look]


PHOTO_WORDS = (
    "A photo reads finer than the eye: with the stylus guard on, cut the flag out of the sheet, fold it up "
    "to a right angle, hold it flush "
    "against the cartridge's front with removable tape, clear of the cantilever, and photograph it from the front, "
    "looking down at about 30 degrees from upright. Send us the photo. Take the flag off before playing."
)


def _last_step(squares: bool) -> Step:
    say = ["Tighten both screws in turns, a little each, without moving the cartridge."]
    if squares:
        say.insert(0, "Go on until it is square at both points, or send us what you see: see the next part.")
        say.append("Look once more: screws turn a cartridge as they are tightened.")
    say.append("Measure the tracking force again. Play at low volume first.")
    return Step("Tighten, and check", tuple(say), ("Not so tight that the body bends or a thread strips.",))
