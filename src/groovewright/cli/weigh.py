"""`groovewright weigh`: is the tracking force right, and what to turn."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.from_job import command_with_job, weigh_options
from groovewright.cli.options import PairType
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option
from groovewright.quantities import MN_PER_GF, InputError

if TYPE_CHECKING:
    from groovewright.mechanics import Gauge, Verdict, Weighed

UNITS_MN = {"gf": MN_PER_GF, "mN": 1.0}


@click.command("weigh", cls=command_with_job(weigh_options))
@click.option("--range", "maker_range", type=PairType("range", "1.6:2"), required=True, metavar="LOW:HIGH",
              help="The maker's range of tracking force.")  # fmt: skip
@click.option("--reading", "readings", type=float, multiple=True, required=True, metavar="FORCE",
              help="What the gauge read; repeat it for each weighing.")  # fmt: skip
@click.option("--unit", type=click.Choice(tuple(UNITS_MN)), default="gf", show_default=True,
              help="Unit of every force given here.")  # fmt: skip
@click.option("--target", type=float, metavar="FORCE", help="Target; without it the middle of the range.")
@click.option("--gauge-sd", type=float, metavar="FORCE", help="Repeatability of the gauge.")
@click.option("--gauge-step", type=float, metavar="FORCE", help="Last step of its display.")
@click.option("--check-mass", type=PairType("check-mass", "2:2.02"), multiple=True, metavar="TRUE:READ",
              help="A known mass and what the gauge made of it; may be repeated.")  # fmt: skip
@click.option("--pan-above-record", "pan_mm", type=float, default=0.0, show_default=True, metavar="MM",
              help="Height of the gauge's pan over the record surface.")  # fmt: skip
@click.option("--slope", type=float, metavar="FORCE/MM", help="Change of force for a rise of 1 mm.")
@click.option("--turn", "turn", type=float, metavar="FORCE", help="Change for one turn of the counterweight.")
@click.option("--thread", "thread_mm", type=float, metavar="MM", help="Thread pitch, in place of --turn.")
@click.option("--counterweight-mass", "counterweight_g", type=float, metavar="G", help="For --thread.")
@click.option("--effective-length", "effective_length_mm", type=float, metavar="MM", help="For --thread.")
@click.option("--as-found", type=float, metavar="FORCE", help="The force before any work, for drift.")
@why_option
@json_option
def command(**options: Any) -> None:
    """Turn gauge readings into the tracking force, and say what to turn.

    \b
    Examples:
      groovewright weigh --range 1.6:2.0 --reading 1.83 --reading 1.86
      groovewright weigh my-job.toml --why
    """
    from groovewright.mechanics import (
        GaugeHeight,
        force_from_readings,
        force_range_mN,
        judge_drift,
        judge_force,
    )
    from groovewright.mechanics.weighing import check_unit_of_readings
    from groovewright.mechanics.why import weigh_whys

    unit = UNITS_MN[options["unit"]]
    low, high = options["maker_range"]
    force_range = force_range_mN(low, high, unit, options["target"])
    given = [*options["readings"], *([] if options["as_found"] is None else [options["as_found"]])]
    check_unit_of_readings(given, force_range, unit)
    gauge = _gauge(options, unit)
    slope = None if options["slope"] is None else options["slope"] * unit
    height = GaugeHeight(_pan_height(options["pan_mm"]), slope)
    readings_mN = [value * unit for value in options["readings"]]
    force_mN = force_from_readings(readings_mN, gauge, height)
    weighed = judge_force(force_mN, force_range, turn_mN=_turn_mN(options, unit))
    drift, same_gauge = None, replace(gauge, gain_sd=0.0)
    if options["as_found"] is not None:
        before = force_from_readings([options["as_found"] * unit], same_gauge, height)
        drift = judge_drift(before, force_from_readings(readings_mN, same_gauge, height))
    if options["as_json"]:
        print_json(_as_json(weighed, drift, gauge))
        return
    _as_text(weighed, drift, gauge, len(readings_mN), options)
    if options["why"]:
        print_why(weigh_whys(weighed, gauge, readings_mN))


def _pan_height(pan_mm: float) -> float:
    from groovewright.quantities import METRES, Limits

    return Limits("height of the pan over the record", -20.0, 40.0, "mm", (METRES,)).check(pan_mm)


def _gauge(options: dict[str, Any], unit_mN: float) -> Gauge:
    from groovewright.mechanics import Gauge, gauge_from_check_mass

    given = {"repeatability_mN": options["gauge_sd"], "resolution_mN": options["gauge_step"]}
    gauge = Gauge(**{name: value * unit_mN for name, value in given.items() if value is not None})
    if not options["check_mass"]:
        return gauge
    true = {mass for mass, _ in options["check_mass"]}
    if len(true) > 1:
        raise InputError(
            f"--check-mass takes one mass, read several times; {len(true)} different ones were given"
        )
    read = [value * unit_mN for _, value in options["check_mass"]]
    return gauge_from_check_mass(gauge, true_mN=true.pop() * unit_mN, read_mN=read)


def _turn_mN(options: dict[str, Any], unit_mN: float) -> float | None:
    from groovewright.mechanics.weighing import force_per_turn_mN

    if options["turn"] is not None:
        return float(options["turn"]) * unit_mN
    thread = {name: options[name] for name in ("thread_mm", "counterweight_g", "effective_length_mm")}
    if options["thread_mm"] is None:
        return None
    missing = [f"--{name}" for name, value in zip(
        ("thread", "counterweight-mass", "effective-length"), thread.values(), strict=True
    ) if value is None]  # fmt: skip
    if missing:
        raise InputError(f"--thread needs {' and '.join(missing)} as well")
    return force_per_turn_mN(
        thread_pitch_mm=thread["thread_mm"],
        counterweight_mass_g=thread["counterweight_g"],
        effective_length_mm=thread["effective_length_mm"],
    )


def _as_json(weighed: Weighed, drift: Verdict | None, gauge: Gauge) -> dict[str, Any]:
    limits = weighed.force_range
    return {
        "verdict": weighed.verdict.code,
        "sentence": weighed.verdict.sentence,
        "force_mN": weighed.force_mN.value,
        "force_sd_mN": weighed.force_mN.sd,
        "force_95_mN": weighed.force_mN.interval(),
        "force_gf": weighed.force_gf.value,
        "force_sd_gf": weighed.force_gf.sd,
        "range_mN": [limits.low_mN, limits.high_mN],
        "target_mN": limits.target_mN,
        "probability_in_range": weighed.verdict.probability,
        "turn_counterweight_turns": weighed.turn_turns,
        "turn_sentence": weighed.turn_sentence,
        "gauge_gain": gauge.gain if gauge.checked else None,
        "drift_verdict": None if drift is None else drift.code,
        "drift_sentence": None if drift is None else drift.sentence,
    }


def _as_text(
    weighed: Weighed, drift: Verdict | None, gauge: Gauge, count: int, options: dict[str, Any]
) -> None:
    from groovewright.mechanics.cautions import WEIGH

    click.echo(click.wrap_text(weighed.verdict.sentence, 79) + "\n")
    low, high = weighed.force_gf.interval()
    limits = weighed.force_range
    pan = (
        "taken as the record's" if options["pan_mm"] == 0.0 else f"{options['pan_mm']:g} mm above the record"
    )
    if options["pan_mm"] != 0.0 and options["slope"] is None:
        pan += "; the arm's change with height is unknown, needs --slope: the interval is wider"
    print_table(
        [
            ("force", f"{weighed.force_gf.value:.3f} gf = {weighed.force_mN.value:.2f} mN, standard uncertainty "
             f"{weighed.force_gf.sd:.3f} gf"),
            ("95 % interval", f"{low:.2f} to {high:.2f} gf, from {count} reading{'s' if count > 1 else ''}"),
            ("maker's range", f"{limits.low_mN / MN_PER_GF:.2f} to {limits.high_mN / MN_PER_GF:.2f} gf, target "
             f"{limits.target_mN / MN_PER_GF:.2f} gf"),
            ("within the range", f"{weighed.verdict.probability or 0.0:.1%} likely"),
            ("counterweight", weighed.turn_sentence),
            ("gauge", f"reads {1.0 / gauge.gain:.4f} of the truth by its check mass" if gauge.checked
             else "scale unknown, needs --check-mass: 1 % of spread is assumed"),
            ("height of the pan", pan),
        ]
    )  # fmt: skip
    if drift is not None:
        click.echo("\n" + click.wrap_text(drift.sentence, 79))
    click.echo()
    for caution in WEIGH:
        click.echo(click.wrap_text(f"Caution: {caution}", 79, "", "  "))
