"""`groovewright load`: what the phono input's load makes of a cartridge, and which load would be best."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.from_job import command_with_job, load_options
from groovewright.cli.options import NumberListType, force_option
from groovewright.cli.output import json_option, print_json, print_why, why_option, write_file

if TYPE_CHECKING:
    from groovewright.electrics import Budget, Chain, StepUp, Study


class Hum(click.ParamType[Any]):
    """A measured hum component as HZ:MICROVOLT."""

    name = "HZ:UV"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return frequency and microvolts, or fail."""
        try:
            hertz, microvolt = (float(part) for part in str(value).split(":"))
        except ValueError:
            self.fail(f"'{value}' is not HZ:MICROVOLT such as 50:1.5", param, ctx)
        if not (hertz > 0.0 and microvolt >= 0.0):
            self.fail(
                f"'{value}': the frequency must be more than 0 Hz, the hum 0 or more microvolts", param, ctx
            )
        return hertz, microvolt


def _number(name: str, help_text: str, default: float | None = None) -> Callable[[Any], Any]:
    return click.option(
        name,
        name.removeprefix("--").replace("-", "_"),
        type=float,
        metavar="NUMBER",
        default=default,
        help=help_text,
        show_default=default is not None,
    )


@click.command("load", cls=command_with_job(load_options))
@click.option(
    "--kind",
    type=click.Choice(["moving-magnet", "moving-iron", "moving-coil"]),
    default="moving-magnet",
    show_default=True,
)
@_number("--inductance-mH", "Coil inductance of one channel.")
@_number("--resistance-ohm", "Coil resistance of one channel, the maker's figure.")
@_number("--iron-loss-ohm", "Loss of the iron, as a resistance across the inductance.")
@_number("--coil-pF", "The coil's own capacitance.")
@click.option("--strap", type=click.Choice(["parallel", "series"]), help="Both coils strapped for mono.")
@_number("--load-ohm", "Load resistance as it is set now.")
@_number("--load-pF", "Load capacitance as it is set now (the input's; the total without --cable-pF).")
@_number("--cable-pF", "Arm leads and cable together; comes on top of --load-pF and --offered-pF.")
@click.option(
    "--offered-ohm", "offered_ohm", type=NumberListType(), help="Resistances the phono stage offers."
)
@click.option(
    "--offered-pF", "offered_pF", type=NumberListType(), help="Capacitances the phono stage offers."
)
@_number("--step-up", "Turns ratio of a step-up transformer.")
@_number("--primary-ohm", "Its primary's resistance.")
@_number("--secondary-ohm", "Its secondary's resistance.")
@_number("--primary-H", "Its primary inductance in henry.")
@_number("--leakage-uH", "Its leakage inductance, seen from the primary.", 0.0)
@_number("--tolerance-db", "Departure from flat that is allowed, 20 Hz to 20 kHz.", 2.0)
@_number("--resistance-sd-percent", "Standard uncertainty of the coil's resistance.", 5.0)
@_number("--inductance-sd-percent", "Standard uncertainty of the coil's inductance.", 5.0)
@_number("--capacitance-sd-percent", "Standard uncertainty of cable and input capacitance.", 10.0)
@_number("--load-sd-percent", "Standard uncertainty of the input's resistance.", 1.0)
@_number("--output-mV", "Output at the reference velocity, rms: adds the level budget.")
@_number("--output-sd-percent", "Standard uncertainty of the output.", 10.0)
@_number("--reference-cm-per-s", "The reference velocity.", 5.0)
@click.option(
    "--reference-is",
    type=click.Choice(["peak", "rms"]),
    default="peak",
    show_default=True,
    help="How that velocity is stated.",
)
@_number("--line-mV", "Level wanted behind the phono stage for that velocity, rms.", 500.0)
@_number("--overload-mV", "Largest input of the phono stage at 1 kHz, rms.")
@_number("--noise-nV", "Voltage noise of the input per root hertz.")
@_number("--noise-pA", "Current noise of the input per root hertz.")
@click.option("--hum", type=Hum(), multiple=True, help="Hum measured at the input; may be repeated.")
@click.option(
    "--record",
    type=click.Choice(["microgroove", "78"]),
    default="microgroove",
    show_default=True,
    help="Replay curve of the noise figures.",
)
@click.option(
    "--plot", type=click.Path(path_type=Path, dir_okay=False), help="Write the chart: .svg, .pdf or .png."
)
@force_option
@why_option
@json_option
def command(**options: Any) -> None:
    """Say what a load makes of a cartridge, and which of the offered loads is the flattest.

    The verdict comes first, then the numbers. Nothing is assumed silently: what was assumed is listed, what
    is missing is named.

    \b
    Examples:
      groovewright load --inductance-mH 500 --resistance-ohm 800 \\
          --load-ohm 47000 --load-pF 200
      groovewright load --inductance-mH 500 --resistance-ohm 800 --cable-pF 120 \\
          --offered-ohm 33000,47000,68000 --offered-pF 50,100,150,220
      groovewright load my-job.toml --why
    """
    from groovewright.cli import load_print
    from groovewright.electrics import study
    from groovewright.electrics.why import loading_whys

    _check(options)
    missing = _missing(options)
    if missing:
        load_print.print_unknown(missing, options)
        return
    chain = _chain(options)
    found = study(
        chain,
        options["load_ohm"],
        options["load_pF"],
        options["offered_ohm"] or (),
        options["offered_pF"] or (),
        tolerance_db=options["tolerance_db"],
    )
    budget = None if options["output_mV"] is None else _budget(options, chain, found)
    if options["plot"] is not None:
        _plot(options["plot"], chain, found, force=options["force"])
    if options["as_json"]:
        print_json(load_print.as_json(found, budget, chain, options, _assumed(options)))
        return
    load_print.print_text(found, budget, options, _assumed(options))
    if options["why"]:
        print_why(loading_whys(found, budget, chain))


def _check(options: dict[str, Any]) -> None:
    """Check every number against what it can be, and name its option where it can't."""
    from groovewright.electrics import KINDS, check_capacitance_pF, parts

    kind = KINDS[options["kind"]]
    limits = {
        "inductance_mH": kind.inductance,
        "resistance_ohm": kind.resistance,
        "iron_loss_ohm": parts.IRON_LOSS,
        "load_ohm": kind.load,
        "output_mV": kind.output,
        "step_up": parts.TURNS_RATIO,
        "primary_ohm": parts.PRIMARY_RESISTANCE,
        "secondary_ohm": parts.SECONDARY_RESISTANCE,
        "primary_H": parts.PRIMARY_INDUCTANCE,
        "leakage_uH": parts.LEAKAGE,
        "reference_cm_per_s": parts.VELOCITY,
        "line_mV": parts.LINE_LEVEL,
        "overload_mV": parts.OVERLOAD,
        "noise_nV": parts.NOISE_VOLTAGE,
        "noise_pA": parts.NOISE_CURRENT,
        "tolerance_db": parts.TOLERANCE,
    }
    limits |= {name: parts.SPREAD for name in options if name.endswith("_sd_percent")}
    for name, limit in limits.items():
        if options[name] is not None:
            limit.check(options[name], _option(name))
    for name in ("load_pF", "cable_pF", "coil_pF"):
        if options[name] is not None:
            check_capacitance_pF(options[name], _option(name))
    for value in options["offered_ohm"] or ():
        limits["load_ohm"].check(value, "--offered-ohm")
    for value in options["offered_pF"] or ():
        check_capacitance_pF(value, "--offered-pF")


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")


def _missing(options: dict[str, Any]) -> list[str]:
    """Return what the circuit can't be computed without, in words with its option."""
    needs = [
        f"{words} ({_option(name)})"
        for name, words in (("inductance_mH", "the inductance"), ("resistance_ohm", "the coil resistance"))
        if options[name] is None
    ]
    for kind, words in (("ohm", "the load resistance"), ("pF", "the load capacitance")):
        if options[f"load_{kind}"] is None and not options[f"offered_{kind}"]:
            needs.append(f"{words} (--load-{kind} or --offered-{kind})")
    if options["step_up"] is not None:
        needs += [
            f"the transformer's {words} ({_option(name)})"
            for name, words in (
                ("primary_ohm", "primary resistance"),
                ("secondary_ohm", "secondary resistance"),
                ("primary_H", "primary inductance"),
            )
            if options[name] is None
        ]
    return needs


def _chain(options: dict[str, Any]) -> Chain:
    from groovewright.electrics import Chain, Coil, in_parallel, in_series
    from groovewright.quantities import Reading

    coil = Coil(
        resistance_ohm=options["resistance_ohm"],
        inductance_mH=options["inductance_mH"],
        iron_loss_ohm=options["iron_loss_ohm"] or float("inf"),
        shunt_pF=options["coil_pF"] or 0.0,
    )
    if options["strap"] == "parallel":
        coil = in_parallel(coil)
    elif options["strap"] == "series":
        coil = in_series(coil)

    def reading(value: Any, spread: str) -> Reading:
        return Reading(float(value), float(value) * options[f"{spread}_sd_percent"] / 100.0)

    return Chain(
        resistance_ohm=reading(coil.resistance_ohm, "resistance"),
        inductance_mH=reading(coil.inductance_mH, "inductance"),
        cable_pF=reading(options["cable_pF"] or 0.0, "capacitance"),
        iron_loss_ohm=None if options["iron_loss_ohm"] is None else reading(coil.iron_loss_ohm, "inductance"),
        coil_pF=reading(coil.shunt_pF, "capacitance"),
        step_up=_step_up(options),
        load_ohm_relative_sd=options["load_sd_percent"] / 100.0,
        load_pF_relative_sd=options["capacitance_sd_percent"] / 100.0,
    )


def _step_up(options: dict[str, Any]) -> StepUp | None:
    from groovewright.electrics import StepUp

    if options["step_up"] is None:
        return None
    return StepUp(
        turns_ratio=options["step_up"],
        primary_ohm=options["primary_ohm"],
        secondary_ohm=options["secondary_ohm"],
        primary_H=options["primary_H"],
        leakage_uH=options["leakage_uH"],
    )


def _budget(options: dict[str, Any], chain: Chain, found: Study) -> Budget:
    from groovewright.electrics import COARSE_GROOVE, MICROGROOVE, Signal, level_budget, rms_from_peak
    from groovewright.quantities import Reading

    output_mV = options["output_mV"] * (2.0 if options["strap"] == "series" else 1.0)
    velocity = options["reference_cm_per_s"]
    signal = Signal(
        emf_mV=Reading(output_mV, output_mV * options["output_sd_percent"] / 100.0),
        reference_rms_cm_per_s=velocity
        if options["reference_is"] == "rms"
        else float(rms_from_peak(velocity)),
        line_mV=options["line_mV"],
        overload_mV=options["overload_mV"],
        amplifier_nV=options["noise_nV"] or 0.0,
        amplifier_pA=options["noise_pA"] or 0.0,
        hum=options["hum"],
        curve=COARSE_GROOVE if options["record"] == "78" else MICROGROOVE,
    )
    return level_budget(chain, signal, found.setting.load_ohm, found.setting.load_pF)


def _plot(path: Path, chain: Chain, found: Study, *, force: bool) -> None:
    from groovewright.electrics import curve_db, nominal, show_setting
    from groovewright.report.charts import figure_bytes, loaded_response_chart

    paper, setting, others = nominal(chain), found.setting, []
    for name, choice in (("best", found.recommendation.best), ("runner-up", found.recommendation.runner_up)):
        if choice is not None and (choice.load_ohm, choice.load_pF) != (setting.load_ohm, setting.load_pF):
            curve = curve_db(paper, paper.load(choice.load_ohm, choice.load_pF))[0]
            others.append((f"{name}: {show_setting(choice)}", curve))
    figure = loaded_response_chart(
        found.frequency_hz,
        found.response_db,
        label=show_setting(setting),
        spread_db=(found.low_db, found.high_db),
        other_db=others,
        tolerance_db=found.tolerance_db,
    )
    write_file(path, figure_bytes(figure, path.suffix.removeprefix(".").lower()), force=force)


def _assumed(options: dict[str, Any]) -> list[str]:
    """Return in words what the figures rest on without having been given."""
    context = click.get_current_context()

    def silent(name: str) -> bool:
        source = context.get_parameter_source(name)
        return source is not None and source.name == "DEFAULT"

    assumed = [
        f"standard uncertainty of the {words} {options[name]:g} % ({_option(name)}; common practice)"
        for name, words in (
            ("inductance_sd_percent", "inductance"),
            ("resistance_sd_percent", "coil resistance"),
            ("capacitance_sd_percent", "capacitances"),
            ("load_sd_percent", "load resistance"),
        )
        if silent(name)
    ]
    if options["cable_pF"] is None:
        assumed.append("the load capacitance is the total, leads and cable included (no --cable-pF)")
    if options["iron_loss_ohm"] is None and options["kind"] != "moving-coil":
        assumed.append("no loss in the iron (no --iron-loss-ohm), so the peak is at its highest")
    if options["step_up"] is not None and silent("leakage_uH"):
        assumed.append("no leakage inductance in the transformer (no --leakage-uH)")
    if options["strap"] is not None:
        assumed.append("no coupling between the strapped coils, and the same signal in both")
    return assumed + (_assumed_levels(options, silent) if options["output_mV"] is not None else [])


def _assumed_levels(options: dict[str, Any], silent: Callable[[str], bool]) -> list[str]:
    assumed = []
    if silent("reference_cm_per_s") or silent("reference_is"):
        assumed.append(
            f"output stated at {options['reference_cm_per_s']:g} cm/s {options['reference_is']} "
            "(--reference-cm-per-s, --reference-is)"
        )
    if silent("output_sd_percent"):
        assumed.append(f"standard uncertainty of the output {options['output_sd_percent']:g} %")
    if silent("line_mV"):
        assumed.append(f"{options['line_mV']:g} mV wanted behind the phono stage (--line-mV)")
    if options["noise_nV"] is None or options["noise_pA"] is None:
        given = [name for name in ("noise_nV", "noise_pA") if options[name] is None]
        assumed.append(
            f"that noise of the input itself is left out ({', '.join(map(_option, given))} not given)"
        )
    if options["record"] == "78":
        assumed.append("the loudest grooves are those of microgroove records, for want of figures for 78s")
    return assumed
