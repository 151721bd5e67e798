"""`groovewright match`: will this cartridge suit this arm."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.from_job import command_with_job, match_options
from groovewright.cli.options import PairType, force_option
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option, write_file
from groovewright.quantities import InputError

if TYPE_CHECKING:
    from groovewright.mechanics import Match


@click.command("match", cls=command_with_job(match_options))
@click.option("--effective-mass", "arm_g", type=float, required=True, metavar="G",
              help="Effective mass of the arm, its headshell included.")  # fmt: skip
@click.option("--cartridge-mass", "cartridge_g", type=float, required=True, metavar="G", help="Cartridge.")
@click.option("--fastener-mass", "fastener_g", type=float, default=0.0, show_default=True, metavar="G",
              help="Screws and nuts together.")  # fmt: skip
@click.option("--headshell-mass", "headshell_g", type=float, default=0.0, metavar="G",
              help="Headshell, only where the arm's figure is without it.")  # fmt: skip
@click.option("--added", type=PairType("added", "1.5:230"), multiple=True, metavar="G:MM",
              help="A weight and its distance from the pivot; may be repeated.")  # fmt: skip
@click.option("--effective-length", "effective_length_mm", type=float, metavar="MM",
              help="Pivot to stylus; needed for --added and the counterweight.")  # fmt: skip
@click.option("--compliance", "compliance_um_per_mN", type=float, required=True, metavar="UM/MN",
              help="Compliance in um/mN (the same number as 1e-6 cm/dyn).")  # fmt: skip
@click.option("--compliance-at", default="unknown", show_default=True, metavar="HZ",
              help="Where it was measured: 10, 100, another frequency, static or unknown.")  # fmt: skip
@click.option("--compliance-lateral", "compliance_lateral_um_per_mN", type=float, metavar="UM/MN",
              help="Lateral compliance, where given apart.")  # fmt: skip
@click.option("--loss-factor", type=float, metavar="NUMBER", help="Loss factor of the suspension.")
@click.option("--arm-damping", "arm_damping_mN_s_per_m", type=float, default=0.0, metavar="MN.S/M",
              help="Resistance of an arm damper at the stylus.")  # fmt: skip
@click.option("--window", "window_hz", type=PairType("window", "8:12"), default="8:12", show_default=True,
              metavar="LOW:HIGH", help="Preferred window in Hz.")  # fmt: skip
@click.option("--screw", "screw", type=PairType("screw", "2.5:3"), metavar="HEADSHELL:LUG",
              help="Thickness of headshell and cartridge lug in mm: which screw to take.")  # fmt: skip
@click.option("--nut", "nut_mm", type=float, default=2.0, show_default=True, metavar="MM", help="Nut height.")
@click.option("--plot", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the chart over mass and compliance: .svg, .pdf or .png.")  # fmt: skip
@force_option
@why_option
@json_option
def command(**options: Any) -> None:
    """Say whether cartridge and arm suit each other: where their resonance lies.

    \b
    Examples:
      groovewright match --effective-mass 11 --cartridge-mass 6.5 \\
        --fastener-mass 1 --compliance 10 --compliance-at 100
      groovewright match my-job.toml --why
    """
    from groovewright.mechanics import Masses, match_mechanics, parse_basis
    from groovewright.mechanics.clearance import screw_for_nut
    from groovewright.mechanics.why import match_whys

    masses = Masses(
        arm_g=options["arm_g"],
        cartridge_g=options["cartridge_g"],
        fastener_g=options["fastener_g"],
        headshell_g=options["headshell_g"],
        added_effective_g=_added_g(options["added"], options["effective_length_mm"]),
    )
    basis = parse_basis(options["compliance_at"])
    passed = (
        "compliance_um_per_mN",
        "compliance_lateral_um_per_mN",
        "loss_factor",
        "arm_damping_mN_s_per_m",
        "window_hz",
    )
    match = match_mechanics(masses, basis=basis, **{name: options[name] for name in passed})
    screw_mm = None
    if options["screw"] is not None:
        headshell_mm, lug_mm = options["screw"]
        screw_mm = screw_for_nut(headshell_mm=headshell_mm, lug_mm=lug_mm, nut_mm=options["nut_mm"]).length_mm
    if options["plot"] is not None:
        _plot(options["plot"], match, force=options["force"])
    if options["as_json"]:
        print_json(_as_json(match, screw_mm))
        return
    _as_text(match, screw_mm)
    if options["why"]:
        print_why(match_whys(match, masses, options["compliance_um_per_mN"], basis))


def _added_g(added: tuple[tuple[float, float], ...], effective_length_mm: float | None) -> float:
    from groovewright.mechanics.resonance import EFFECTIVE_LENGTH, effective_mass_of_g

    if not added:
        return 0.0
    if effective_length_mm is None:
        raise InputError(
            "--added needs --effective-length: the weight counts with (distance / length) squared"
        )
    EFFECTIVE_LENGTH.check(effective_length_mm)
    return float(sum(effective_mass_of_g(mass, place, effective_length_mm) for mass, place in added))


def _as_json(match: Match, screw_mm: float | None) -> dict[str, Any]:
    return {
        "verdict": match.verdict.code,
        "sentence": match.verdict.sentence,
        "resonance_vertical_hz": match.vertical.median,
        "resonance_vertical_sd_hz": match.vertical.sd,
        "resonance_vertical_95_hz": match.vertical.interval(),
        "resonance_lateral_hz": match.lateral.median,
        "resonance_lateral_sd_hz": match.lateral.sd,
        "resonance_lateral_95_hz": match.lateral.interval(),
        "lateral_from_vertical": match.lateral_from_vertical,
        "probability_in_window": match.probability_in_window,
        "probability_lateral_in_window": match.probability_lateral_in_window,
        "window_hz": match.window_hz,
        "total_effective_mass_g": match.total_effective_mass_g,
        "total_effective_mass_sd_g": match.total_effective_mass_sd_g,
        "compliance_at_resonance_um_per_mN": match.compliance.median,
        "compliance_at_resonance_sd_um_per_mN": match.compliance.sd,
        "quality": match.quality.median,
        "quality_95": match.quality.interval(),
        "loss_factor_assumed": match.loss_assumed,
        "warp_response": match.warp_response,
        "record_response_db": match.record_response_db,
        "mass_change_to_window_g": match.change_to_window_g,
        "mass_change_to_centre_g": match.change_to_centre_g,
        "mass_change_practicable_g": match.practicable_g,
        "screw_length_mm": screw_mm,
    }


def _as_text(match: Match, screw_mm: float | None) -> None:
    from groovewright.mechanics.cautions import MATCH

    click.echo(click.wrap_text(match.verdict.sentence, 79) + "\n")
    low, high = match.vertical.interval()
    lateral_low, lateral_high = match.lateral.interval()
    quality_low, quality_high = match.quality.interval()
    lateral_note = "; no lateral compliance given: the vertical one" if match.lateral_from_vertical else ""
    loss_note = " (loss of rubber assumed)" if match.loss_assumed else ""
    rows = [
        ("total effective mass", f"{match.total_effective_mass_g:.1f} g, standard uncertainty "
         f"{match.total_effective_mass_sd_g:.1f} g"),
        ("compliance at resonance", f"{match.compliance.median:.1f} um/mN, standard uncertainty "
         f"{match.compliance.sd:.1f} um/mN"),
        ("resonance, vertical", f"{match.vertical.median:.2f} Hz (95 %: {low:.1f} to {high:.1f} Hz)"),
        ("resonance, lateral", f"{match.lateral.median:.2f} Hz (95 %: {lateral_low:.1f} to "
         f"{lateral_high:.1f} Hz{lateral_note})"),
        ("in the window", f"{match.probability_in_window:.0%} vertical, "
         f"{match.probability_lateral_in_window:.0%} lateral"),
        ("Q", f"{match.quality.median:.1f} (95 %: {quality_low:.1f} to {quality_high:.1f}){loss_note}"),
        ("cantilever, of a warp", ", ".join(f"{gain:.1%} at {hz:g} Hz" for hz, gain in match.warp_response)),
        ("response, of the record", ", ".join(f"{db:+.1f} dB at {hz:g} Hz" for hz, db in match.record_response_db)),
        ("mass to the middle", f"{match.change_to_centre_g:+.1f} g at the headshell; practicable "
         f"{match.practicable_g[0]:.1f} to {match.practicable_g[1]:+.1f} g"),
        ("screw", "unknown, needs --screw" if screw_mm is None else f"M2.5 x {screw_mm:g} mm"),
    ]  # fmt: skip
    print_table(rows)
    click.echo()
    for caution in MATCH:
        click.echo(click.wrap_text(f"Caution: {caution}", 79, "", "  "))


def _plot(path: Path, match: Match, *, force: bool) -> None:
    import numpy as np

    from groovewright.mechanics import resonance_hz
    from groovewright.quantities import Reading
    from groovewright.report.charts import figure_bytes, resonance_chart

    mass, compliance = match.total_effective_mass_g, match.compliance.median
    masses, compliances = (np.geomspace(value / 2.5, value * 2.5, 121) for value in (mass, compliance))
    figure = resonance_chart(
        masses,
        compliances,
        resonance_hz(masses[None, :], compliances[:, None]),
        job_mass_g=Reading(mass, match.total_effective_mass_sd_g),
        job_compliance_um_per_mN=Reading(compliance, match.compliance.sd),
        window_hz=match.window_hz,
    )
    write_file(path, figure_bytes(figure, path.suffix.removeprefix(".").lower()), force=force)
