"""`groovewright square`: from looks and moves to the one next move."""

from __future__ import annotations

from typing import Any

import click

from groovewright.cli.options import (
    PairType,
    chosen_alignment,
    criterion_option,
    grooves_option,
    nulls_option,
    pivot_option,
)
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option
from groovewright.geometry.headshell import Headshell
from groovewright.quantities import GrooveRange, InputError
from groovewright.squaring import (
    Advice,
    Goal,
    Hand,
    Look,
    Move,
    Room,
    Steps,
    Workpiece,
    advise,
    parse_yaw,
)
from groovewright.squaring.sentences import advice_rows, advice_sentence, misfit_sentences, squaring_whys


@click.command("square")
@pivot_option
@criterion_option
@nulls_option
@grooves_option
@click.option("--round", "rounds", type=(str, str), multiple=True, metavar="OUTER INNER",
              help="Yaw at both points: degrees, or a word (square, in, out, slightly-in, ...).")  # fmt: skip
@click.option("--moved", "moves", type=(float, float), multiple=True, metavar="SLIDE_MM TURN_DEG",
              help="What was done after the round before it; 0 0 if nothing was touched.")  # fmt: skip
@click.option("--reading-sd", type=float, default=0.3, show_default=True, metavar="DEG",
              help="Standard uncertainty of one reading.")  # fmt: skip
@click.option("--move-sd", type=(float, float), default=(0.15, 0.2), show_default=True, metavar="MM DEG",
              help="Standard uncertainty of one move.")  # fmt: skip
@click.option("--pivot-to-spindle-sd", type=float, default=0.5, show_default=True, metavar="MM",
              help="Standard uncertainty of the pivot-to-spindle distance.")  # fmt: skip
@click.option("--slot-angle", type=float, default=0.0, show_default=True, metavar="DEG",
              help="From the nominal body axis to the slots, clockwise.")  # fmt: skip
@click.option("--holes-to-stylus", type=float, default=9.5, show_default=True, metavar="MM",
              help="From the line of the holes to the stylus.")  # fmt: skip
@click.option("--room", type=PairType("room", "4:3.5"), metavar="BACK:FORWARD",
              help="How far it can slide in the slots from where it stood first, in mm.")  # fmt: skip
@click.option("--tolerance-deg", type=float, default=0.25, show_default=True, metavar="DEG",
              help="Both yaws within this is square.")  # fmt: skip
@why_option
@json_option
def command(
    pivot_to_spindle_mm: float,
    criterion: str,
    nulls: tuple[float, float] | None,
    grooves: GrooveRange,
    rounds: tuple[tuple[str, str], ...],
    moves: tuple[tuple[float, float], ...],
    reading_sd: float,
    move_sd: tuple[float, float],
    pivot_to_spindle_sd: float,
    slot_angle: float,
    holes_to_stylus: float,
    room: tuple[float, float] | None,
    tolerance_deg: float,
    why: bool,
    as_json: bool,
) -> None:
    """Tell the one next move after looking at both points of the sheet.

    Positive yaw: the front points in, towards the spindle (clockwise seen from above).

    \b
    Examples:
      groovewright square --pivot-to-spindle 222 --round 0.2 -1.1
      groovewright square --pivot-to-spindle 222 --round square out
      groovewright square --pivot-to-spindle 222 --round 0.2 -1.1 \\
          --moved -3.2 -1.6 --round 0.1 0.2
    """
    work = Workpiece(
        chosen_alignment(pivot_to_spindle_mm, criterion, grooves, nulls),
        Headshell(slot_angle, holes_to_stylus),
        pivot_to_spindle_sd,
        Room(*room) if room else Room(),
    )
    hand = Hand(*move_sd)
    goal = Goal(tolerance_deg, reading_sd, hand, grooves)
    advice = advise(work, _steps(rounds, moves, reading_sd, hand), goal)
    if as_json:
        print_json(_as_json(advice, work))
        return
    click.echo(click.wrap_text(advice_sentence(advice, goal), 79))
    for warning in misfit_sentences(advice):
        click.echo(click.wrap_text(f"Check: {warning}", 79))
    click.echo()
    print_table(advice_rows(advice, goal))
    if why:
        print_why(squaring_whys(advice, goal))


def _steps(
    rounds: tuple[tuple[str, str], ...], moves: tuple[tuple[float, float], ...], reading_sd: float, hand: Hand
) -> Steps:
    """Return the looks and moves in order; every round but the last is followed by what was done."""
    if not rounds:
        raise InputError("--round OUTER INNER is missing: look at both points of the sheet first")
    if len(moves) not in (len(rounds) - 1, len(rounds)):
        raise InputError(
            f"{len(rounds)} --round and {len(moves)} --moved don't fit: say after every round but the "
            "last what was done (--moved 0 0 where nothing was touched)"
        )
    steps: list[Look | Move] = []
    for number, (outer, inner) in enumerate(rounds):
        where = f"--round {number + 1}"
        steps.append(
            Look(
                parse_yaw(outer, reading_sd, f"{where} outer"), parse_yaw(inner, reading_sd, f"{where} inner")
            )
        )
        if number < len(moves):
            steps.append(Move(*moves[number], hand))
    return tuple(steps)


def _as_json(advice: Advice, work: Workpiece) -> dict[str, Any]:
    values = {
        key: round(value, 6) + 0.0 if isinstance(value, float) else value
        for key, value in vars(advice).items()
    }
    values["misfits"] = [
        {"round": look, "null": null, "standard_deviations": round(size, 2)}
        for look, null, size in advice.misfits
    ]
    return {
        **values,
        "aim_null_inner_mm": work.aim.null_inner_mm,
        "aim_null_outer_mm": work.aim.null_outer_mm,
        "aim_overhang_mm": work.aim.overhang_mm,
        "aim_offset_angle_deg": work.aim.offset_angle_deg,
    }
