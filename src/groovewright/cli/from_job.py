"""A job file in place of options: its values become the options of a command, and later ones win."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from groovewright.job import JobState

Options = list[str]


def command_with_job(options_of: Callable[[JobState], Options]) -> type[click.Command]:
    """Return a kind of command that takes JOB.toml before its options.

    `options_of` turns the job's state into options of that command; what the job doesn't say is left out.
    """

    class CommandWithJob(click.Command):
        """A command whose first argument may be a job file."""

        def make_context(
            self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
        ) -> click.Context:
            """Put the job's options in front of those that were typed."""
            if args and not args[0].startswith("-"):
                from groovewright.cli.plan import read_job_file
                from groovewright.job import fold

                args = [*options_of(fold(read_job_file(Path(args[0])))), *args[1:]]
            return super().make_context(info_name, args, parent, **extra)

        def collect_usage_pieces(self, ctx: click.Context) -> list[str]:
            """Show the job file in the usage line."""
            return ["[JOB.toml]", *super().collect_usage_pieces(ctx)]

    return CommandWithJob


def given(*options: tuple[str, object]) -> Options:
    """Return options with their values, without those whose value is None or empty."""
    result: Options = []
    for name, value in options:
        if value is None or value in ((), ""):
            continue
        result += [name, *(str(part) for part in value)] if isinstance(value, tuple) else [name, str(value)]
    return result


def match_options(state: JobState) -> Options:
    """Return the options of `match` that a job knows."""
    options: Options = []
    if state.arm is not None:
        options += given(
            ("--effective-mass", state.arm.effective_mass_g),
            ("--effective-length", state.arm.effective_length_mm),
            ("--arm-damping", state.arm.damping_mN_s_per_m or None),
        )
    cartridge = state.cartridge_in
    if cartridge is not None:
        options += given(
            ("--cartridge-mass", cartridge.mass_g),
            ("--fastener-mass", cartridge.fastener_mass_g),
            ("--compliance", cartridge.compliance_um_per_mN),
            ("--compliance-at", cartridge.compliance_at),
            ("--compliance-lateral", cartridge.compliance_lateral_um_per_mN),
        )
    return options


def load_options(state: JobState) -> Options:
    """Return the options of `load` that a job knows."""
    from groovewright.electrics import KINDS

    options: Options = []
    cartridge, phono = state.cartridge_in, state.phono
    if cartridge is not None:
        options += given(
            ("--kind", cartridge.kind if cartridge.kind in KINDS else None),
            ("--inductance-mH", cartridge.inductance_mH),
            ("--resistance-ohm", cartridge.resistance_ohm),
            ("--iron-loss-ohm", cartridge.iron_loss_ohm),
        )
    if phono is not None:
        options += given(
            ("--load-ohm", phono.load_ohm),
            ("--load-pF", phono.load_pF),
            ("--cable-pF", phono.cable_pF),
            ("--offered-ohm", ",".join(f"{ohm:g}" for ohm in phono.offered_ohm)),
            ("--offered-pF", ",".join(f"{capacitance:g}" for capacitance in phono.offered_pF)),
        )
    return options


def weigh_options(state: JobState) -> Options:
    """Return the options of `weigh` that a job knows: the readings since the counterweight was turned."""
    options: Options = []
    cartridge = state.cartridge_in
    if cartridge is not None and cartridge.force_min_gf is not None and cartridge.force_max_gf is not None:
        options += ["--range", f"{cartridge.force_min_gf:g}:{cartridge.force_max_gf:g}"]
        options += given(("--target", cartridge.force_target_gf))
    for check in state.gauge_checks:
        options += ["--check-mass", f"{check.true_gf:g}:{check.read_gf:g}"]
    for weighing in state.weighings:
        options += ["--reading", f"{weighing.force_gf:g}"]
    if state.weighings:
        options += ["--pan-above-record", f"{state.weighings[-1].above_record_mm:g}"]
    if state.arm is not None:
        options += given(("--turn", state.arm.counterweight_turn_gf))
    return options


def level_options(state: JobState) -> Options:
    """Return the options of `level` that a job knows."""
    from groovewright.job.events import CrosstalkRead, RakeRead
    from groovewright.job.stages.level import known_force, profile_of
    from groovewright.quantities import MN_PER_GF

    options: Options = []
    aim, arm, cartridge = state.aim, state.arm, state.cartridge_in
    if arm is not None:
        options += given(
            ("--pivot-to-spindle", arm.pivot_to_spindle_mm), ("--effective-length", arm.effective_length_mm)
        )
    if aim.null_inner_mm is not None and aim.null_outer_mm is not None:
        options += ["--nulls", f"{aim.null_inner_mm:g}:{aim.null_outer_mm:g}"]
    options += [
        "--criterion",
        aim.criterion,
        "--grooves",
        f"{aim.grooves.inner_mm:g}:{aim.grooves.outer_mm:g}",
    ]
    force = known_force(state)
    if force is not None:
        options += ["--force-gf", f"{force.value / MN_PER_GF:.4g}"]
    if cartridge is not None:
        options += given(("--profile", profile_of(cartridge.stylus)))
        options += ["--mono"] if cartridge.mono else []
    for event in state.levelling:
        if isinstance(event, CrosstalkRead):
            options += given(
                ("--crosstalk-db", (event.left_to_right_db, event.right_to_left_db)),
                ("--crosstalk-sd-db", event.sd_db),
            )
        elif isinstance(event, RakeRead):
            options += given(("--rake-deg", event.rake_deg), ("--rake-sd-deg", event.sd_deg))
    return options


def player_options(state: JobState) -> Options:
    """Return the options of `player` that a job knows: the last count of bars, the last level reading."""
    from groovewright.job.events import SpeedCounted, TiltRead

    options: Options = []
    for event in state.player:
        if isinstance(event, SpeedCounted):
            options += [
                "--speed",
                event.speed,
                "--bars",
                f"{event.bars:g}",
                "--seconds",
                f"{event.seconds:g}",
            ]
            options += ["--drift", event.drift, *given(("--flash-hz", event.flash_hz))]
        elif isinstance(event, TiltRead):
            options += given(
                ("--tilt-deg", (event.right_deg, event.front_deg)), ("--tilt-sd-deg", event.sd_deg)
            )
    return options
