"""`groovewright level`: anti-skating, arm height, azimuth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from groovewright.cli.from_job import command_with_job, level_options
from groovewright.cli.options import (
    PairType,
    chosen_alignment,
    criterion_option,
    grooves_option,
    nulls_option,
    pivot_option,
)
from groovewright.cli.output import json_option, print_json, print_table, print_why, why_option
from groovewright.quantities import MN_PER_GF, InputError, Reading

if TYPE_CHECKING:
    from groovewright.mechanics import AzimuthEstimate, LevelStudy
    from groovewright.mechanics.skating import Step

PROFILES = ("spherical", "elliptical", "line")


@click.command("level", cls=command_with_job(level_options))
@pivot_option
@criterion_option
@nulls_option
@grooves_option
@click.option("--effective-length", "effective_length_mm", type=float, metavar="MM",
              help="Pivot to stylus as mounted; without it, the criterion's.")  # fmt: skip
@click.option("--force-gf", type=float, metavar="GF", help="Tracking force.")
@click.option("--friction", type=PairType("friction", "0.25:0.4"), metavar="LOW:HIGH",
              help="Friction of stylus on record.  [default: 0.25:0.4]")  # fmt: skip
@click.option("--profile", type=click.Choice(PROFILES), help="Stylus profile, in place of --friction.")
@click.option("--thread-weight", "thread_weight_g", type=float, metavar="G",
              help="Anti-skating by thread: its weight; with --notch.")  # fmt: skip
@click.option("--notch", "notches_mm", type=float, multiple=True, metavar="MM",
              help="Distance of a notch from the pivot; repeat it.")  # fmt: skip
@click.option("--dial", "dial", type=PairType("dial", "1:1.2"), multiple=True, metavar="SETTING:MN",
              help="Anti-skating by spring: force measured at a setting; at least two.")  # fmt: skip
@click.option(
    "--rake-deg", type=float, metavar="DEG", help="Rake angle now, from a photo (0 to -5 is right)."
)
@click.option(
    "--rake-sd-deg", type=float, default=0.5, show_default=True, metavar="DEG", help="Its uncertainty."
)
@click.option("--tracking-angle-deg", "vertical_tracking_deg", type=float, metavar="DEG",
              help="Vertical tracking angle now, where known.")  # fmt: skip
@click.option("--record-mm", type=PairType("record-mm", "1.8:2.2"), metavar="FROM:TO",
              help="Change of record thickness: what it does to the rake.")  # fmt: skip
@click.option("--crosstalk-db", type=(float, float), metavar="L>R R>L",
              help="Crosstalk left into right and right into left.")  # fmt: skip
@click.option("--crosstalk-phase-deg", type=(float, float), metavar="L>R R>L",
              help="Phase of each against its own channel, where measured.")  # fmt: skip
@click.option("--crosstalk-after-db", type=(float, float), metavar="L>R R>L",
              help="The same two after leaning the cartridge by --leaned-deg.")  # fmt: skip
@click.option("--leaned-deg", type=float, metavar="DEG", help="Clockwise seen from the front: positive.")
@click.option("--crosstalk-sd-db", type=float, default=0.3, show_default=True, metavar="DB",
              help="Standard uncertainty of one crosstalk reading.")  # fmt: skip
@click.option("--balance-db", type=float, metavar="DB", help="Right channel over left, where measured.")
@click.option("--mono", is_flag=True, help="A mono cartridge: crosstalk says nothing.")
@why_option
@json_option
def command(**options: Any) -> None:
    """Say how to set anti-skating, arm height and azimuth.

    \b
    Examples:
      groovewright level --pivot-to-spindle 222 --force-gf 1.8 \\
        --crosstalk-db -29.1 -28.4
      groovewright level my-job.toml --why
    """
    from groovewright.geometry import alignment_for_mounting
    from groovewright.mechanics import FRICTION_BY_PROFILE, FRICTION_RANGE, advise_height, study_level
    from groovewright.mechanics.resonance import EFFECTIVE_LENGTH
    from groovewright.mechanics.why import level_whys

    alignment = chosen_alignment(
        options["pivot_to_spindle_mm"], options["criterion"], options["grooves"], options["nulls"]
    )
    if options["effective_length_mm"] is not None:
        length_mm = EFFECTIVE_LENGTH.check(options["effective_length_mm"])
        alignment = alignment_for_mounting(
            alignment.pivot_to_spindle_mm, length_mm, alignment.offset_angle_deg
        )
    friction = options["friction"] or FRICTION_BY_PROFILE.get(options["profile"], FRICTION_RANGE)
    study = study_level(
        alignment=alignment,
        grooves=options["grooves"],
        force_gf=options["force_gf"],
        friction=friction,
        steps=_steps(options, alignment.effective_length_mm),
        height=advise_height(
            effective_length_mm=alignment.effective_length_mm,
            rake_deg=options["rake_deg"],
            rake_sd_deg=options["rake_sd_deg"],
            vertical_tracking_deg=options["vertical_tracking_deg"],
        ),
        azimuth=None if options["mono"] else _azimuth(options),
        mono=options["mono"],
    )
    thickness_deg = _thickness_deg(options["record_mm"], alignment.effective_length_mm)
    if options["as_json"]:
        print_json(_as_json(study, thickness_deg))
        return
    _as_text(study, thickness_deg)
    if options["why"]:
        print_why(level_whys(study))


def _steps(options: dict[str, Any], effective_length_mm: float) -> tuple[Step, ...]:
    from groovewright.mechanics.skating import spring_steps, thread_weight_steps

    if options["dial"]:
        if options["thread_weight_g"] is not None:
            raise InputError("--dial is for a spring, --thread-weight for a thread; the arm has one of them")
        return spring_steps(*zip(*options["dial"], strict=True))
    if (options["thread_weight_g"] is None) != (not options["notches_mm"]):
        raise InputError(
            "--thread-weight and --notch belong together: the weight, and where its thread can hang"
        )
    if options["thread_weight_g"] is None:
        return ()
    return thread_weight_steps(
        weight_g=options["thread_weight_g"],
        levers_mm=tuple(options["notches_mm"]),
        effective_length_mm=effective_length_mm,
    )


def _azimuth(options: dict[str, Any]) -> AzimuthEstimate | None:
    from groovewright.mechanics import azimuth_from_magnitudes, azimuth_from_two_settings
    from groovewright.mechanics.azimuth import azimuth_from_complex
    from groovewright.mechanics.lean import polar

    pair, after, phases = (options[f"crosstalk_{name}"] for name in ("db", "after_db", "phase_deg"))
    if pair is None:
        if after is not None or phases is not None:
            raise InputError("--crosstalk-db is missing: the two readings that everything starts from")
        return None
    balance = None if options["balance_db"] is None else Reading(options["balance_db"], 0.1)
    shared = {"sd_db": options["crosstalk_sd_db"], "balance_db": balance}
    if after is not None:
        if options["leaned_deg"] is None:
            raise InputError("--crosstalk-after-db needs --leaned-deg: by how much the cartridge was leaned")
        return azimuth_from_two_settings(
            before_db=pair, after_db=after, leaned_deg=options["leaned_deg"], **shared
        )
    if phases is not None:
        first, second = (polar(level, phase) for level, phase in zip(pair, phases, strict=True))
        return azimuth_from_complex(left_to_right=first, right_to_left=second, **shared)
    return azimuth_from_magnitudes(left_to_right_db=pair[0], right_to_left_db=pair[1], **shared)


def _thickness_deg(record_mm: tuple[float, float] | None, effective_length_mm: float) -> float | None:
    from groovewright.mechanics.height import RECORD_THICKNESS, rake_change_for_thickness_deg

    if record_mm is None:
        return None
    before, after = (RECORD_THICKNESS.check(value) for value in record_mm)
    return float(rake_change_for_thickness_deg(after - before, effective_length_mm))


def _as_json(study: LevelStudy, thickness_deg: float | None) -> dict[str, Any]:
    skating, azimuth = study.skating, study.azimuth
    curves: dict[str, Any] = {
        "skating_mN": None,
        "skating_low_mN": None,
        "skating_high_mN": None,
        "antiskating_mN": None,
        "antiskating_sd_mN": None,
    }
    if skating is not None:
        curves = {
            "skating_mN": list(zip(skating.radius_mm.tolist(), skating.middle_mN.tolist(), strict=True)),
            "skating_low_mN": list(zip(skating.radius_mm.tolist(), skating.low_mN.tolist(), strict=True)),
            "skating_high_mN": list(zip(skating.radius_mm.tolist(), skating.high_mN.tolist(), strict=True)),
            "antiskating_mN": skating.antiskating_mN,
            "antiskating_sd_mN": skating.antiskating_sd_mN,
            "antiskating_minimax_mN": skating.minimax_mN,
            "antiskating_rest_mN": skating.largest_rest_mN,
            "antiskating_step": None if skating.step is None else skating.step.step.label,
            "friction": skating.friction,
        }
    return {
        "skating_verdict": study.skating_verdict.code,
        "skating_sentence": study.skating_verdict.sentence,
        **curves,
        "effective_length_mm": study.alignment.effective_length_mm,
        "height_verdict": study.height.verdict.code,
        "height_sentence": study.height.verdict.sentence,
        "height_change_mm": study.height.height_change_mm,
        "rake_change_for_thickness_deg": thickness_deg,
        "azimuth_verdict": study.azimuth_verdict.code,
        "azimuth_sentence": study.azimuth_verdict.sentence,
        "azimuth_deg": None if azimuth is None else azimuth.best_deg,
        "azimuth_sd_deg": None if azimuth is None else azimuth.sd_deg,
        "azimuth_side_known": None if azimuth is None else azimuth.side_known,
        "azimuth_95_deg": None if azimuth is None else azimuth.intervals_deg,
        "electrical_crosstalk_db": None
        if azimuth is None or azimuth.electrical_db is None
        else [reading.value for reading in azimuth.electrical_db],
    }


def _as_text(study: LevelStudy, thickness_deg: float | None) -> None:
    from groovewright.mechanics.cautions import LEVEL

    for verdict in (study.skating_verdict, study.height.verdict, study.azimuth_verdict):
        click.echo(click.wrap_text(verdict.sentence, 79))
    click.echo()
    rows: list[tuple[str, str]] = []
    skating, azimuth = study.skating, study.azimuth
    if skating is not None:
        rows += [
            ("friction", f"{skating.friction[0]:g} to {skating.friction[1]:g}"),
            ("anti-skating", f"{skating.antiskating_mN:.2f} mN, standard uncertainty "
             f"{skating.antiskating_sd_mN:.2f} mN, at the stylus"),
            ("left over", f"{skating.largest_rest_mN:.2f} mN at most with the middle friction, "
             f"{skating.largest_rest_any_friction_mN:.2f} mN with any"),
        ]  # fmt: skip
    if thickness_deg is not None:
        rows.append(("record thickness", f"changes the rake by {thickness_deg:+.2f} deg"))
    if azimuth is not None:
        side = "" if azimuth.side_known else " (size; the side is not known)"
        rows.append(
            ("lean", f"{azimuth.best_deg:.2f} deg, standard uncertainty {azimuth.sd_deg:.2f} deg{side}")
        )
        if azimuth.electrical_db is not None:
            levels = " and ".join(f"{one.value:.0f} ± {one.sd:.0f} dB" for one in azimuth.electrical_db)
            rows.append(("electrical crosstalk", f"{levels}, which no leaning removes"))
    if rows:
        print_table(rows)
    if skating is not None:
        click.echo("\nSkating force\n   radius       mN   for friction from      to      gf")
        for radius, low, middle, high in zip(
            skating.radius_mm, skating.low_mN, skating.middle_mN, skating.high_mN, strict=True
        ):
            click.echo(
                f"  {radius:7.2f}  {middle:7.2f}            {low:7.2f} {high:7.2f} {middle / MN_PER_GF:7.3f}"
            )
    click.echo()
    for caution in LEVEL:
        click.echo(click.wrap_text(f"Caution: {caution}", 79, "", "  "))
