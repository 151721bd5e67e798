"""`groovewright player`: is the player itself in order, before the cartridge?"""

from __future__ import annotations

from typing import Any

import click

from groovewright.cli.from_job import command_with_job, player_options
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option
from groovewright.quantities import MN_PER_GF, SPEEDS_RPM, Reading, Why


@click.command("player", cls=command_with_job(player_options))
@click.option("--speed", type=click.Choice(tuple(SPEEDS_RPM)), default="33", show_default=True, help="rpm.")
@click.option("--mains-hz", type=click.Choice(("50", "60")), default="50", show_default=True,
              help="Mains of the lamp over the stroboscope; it flashes twice a period.")  # fmt: skip
@click.option("--flash-hz", type=float, metavar="HZ", help="Flashes a second of any other lamp.")
@click.option("--bars", type=float, metavar="N", help="Bars of the ring that passed a mark.")
@click.option(
    "--seconds", type=float, default=60.0, show_default=True, metavar="S", help="How long you counted."
)
@click.option("--drift", type=click.Choice(("with", "against", "still")), default="still", show_default=True,
              help="Which way they went: with the platter or against it.")  # fmt: skip
@click.option("--tilt-deg", type=(float, float), metavar="RIGHT FRONT",
              help="Reading of a level on the platter: positive where the right side, the front is low.")  # fmt: skip
@click.option("--tilt-turned-deg", type=(float, float), metavar="RIGHT FRONT",
              help="The same with the level turned by half a turn: its own error drops out.")  # fmt: skip
@click.option(
    "--tilt-sd-deg", type=float, default=0.1, show_default=True, metavar="DEG", help="Its uncertainty."
)
@click.option(
    "--force-gf", type=float, metavar="GF", help="Tracking force: what the tilt does to the stylus."
)
@why_option
@json_option
def command(**options: Any) -> None:
    """Judge platter level and speed, and list what to look at in the bearings.

    The ring's bars are those of `groovewright stroboscope`.

    \b
    Examples:
      groovewright player --speed 33 --mains-hz 50 --bars 12 --drift with
      groovewright player --tilt-deg 0.4 -0.1 --tilt-turned-deg -0.2 0.1
    """
    from groovewright.mechanics.cautions import MAINS
    from groovewright.mechanics.player import BEARING_CHECKS

    speed, speed_values, speed_whys = _speed(options)
    tilt, tilt_values, tilt_whys = _tilt(options)
    if options["as_json"]:
        checks = [vars(check) for check in BEARING_CHECKS]
        print_json({**speed_values, **tilt_values, "bearing_checks": checks, "cautions": [MAINS]})
        return
    for sentence in (speed, tilt):
        click.echo(click.wrap_text(sentence, 79))
    click.echo("\nBearings, before the cartridge (common practice)")
    for check in BEARING_CHECKS:
        click.echo(click.wrap_text(f"- {check.do} {check.right} {check.fault}", 79, "  ", "    "))
    rows = [
        (key, f"{value:.3g}")
        for key, value in {**speed_values, **tilt_values}.items()
        if isinstance(value, float)
    ]
    if rows:
        click.echo()
        print_table(rows)
    click.echo(click.wrap_text(f"\nCaution: {MAINS}", 79))
    if options["why"]:
        print_why([*speed_whys, *tilt_whys])


def _speed(options: dict[str, Any]) -> tuple[str, dict[str, Any], list[Why]]:
    from groovewright.mechanics.player import bars_for_speed, judge_speed, speed_from_count_percent

    if options["bars"] is None and options["drift"] == "still":
        nothing = {"speed_error_percent": None, "speed_error_sd_percent": None, "speed_verdict": "unknown"}
        return "Speed: unknown, needs a count of drifting bars (--bars, --seconds, --drift).", nothing, []
    flashes = options["flash_hz"] or 2.0 * float(options["mains_hz"])
    nominal = SPEEDS_RPM[options["speed"]]
    error = speed_from_count_percent(
        nominal_rpm=nominal,
        flashes_per_second=flashes,
        bars_passed=options["bars"] or 0.0,
        seconds=options["seconds"],
        drift=options["drift"],
    )
    verdict = judge_speed(error)
    why = Why(
        "speed_error_percent",
        "60 (f +- bars / seconds) / N over the nominal speed, less one",
        "the lamp freezes f bars a second; +-0.5 % is the recording speed of IEC 60098:2020, 5.6",
        {
            "f": f"{flashes:g} flashes a second",
            "N": f"{float(bars_for_speed(nominal, flashes)):.0f} bars",
            "nominal": f"{nominal:.4g} rpm",
        },
    )
    values = {
        "speed_error_percent": error.value,
        "speed_error_sd_percent": error.sd,
        "speed_verdict": verdict.code,
    }
    return verdict.sentence, values, [why]


def _tilt(options: dict[str, Any]) -> tuple[str, dict[str, Any], list[Why]]:
    from groovewright.mechanics.player import (
        Tilt,
        judge_tilt,
        side_force_from_tilt_mN,
        tilt_from_turned_readings,
    )

    nothing = {"tilt_deg": None, "tilt_sd_deg": None, "tilt_verdict": "unknown"}
    if options["tilt_deg"] is None:
        return "Level: unknown, needs a level's reading in two directions (--tilt-deg).", nothing, []
    sd = options["tilt_sd_deg"]
    first = [Reading(value, sd) for value in options["tilt_deg"]]
    turned = options["tilt_turned_deg"]
    if turned is not None:
        first = [
            tilt_from_turned_readings(one, Reading(other, sd))
            for one, other in zip(first, turned, strict=True)
        ]
    tilt = Tilt(*first)
    verdict = judge_tilt(tilt)
    values: dict[str, Any] = {
        "tilt_deg": tilt.size_deg,
        "tilt_sd_deg": max(reading.sd for reading in first),
        "tilt_right_deg": tilt.right_deg.value,
        "tilt_front_deg": tilt.front_deg.value,
        "tilt_verdict": verdict.code,
    }
    if options["force_gf"] is not None:
        force = options["force_gf"] * MN_PER_GF
        values["side_force_mN"] = float(side_force_from_tilt_mN(force, tilt.right_deg.value))
    why = Why(
        "side_force_mN",
        "F sin(tilt across the arm)",
        "statics: a balanced arm is out of balance by its tracking force alone (docs/mechanics.md)",
    )
    return verdict.sentence, values, [why]
