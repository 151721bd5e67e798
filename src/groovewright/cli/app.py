"""The `groovewright` command: its table of commands, and how every error ends."""

from __future__ import annotations

import importlib
import sys

import click

from groovewright import __version__
from groovewright.quantities.errors import BenchError, nearest

COMMANDS = {
    "demo": "The main job on an invented player: plan, next move, sheet.",
    "plan": "Where a job stands, stage by stage, and the next move.",
    "player": "Platter level, speed and bearings, before the cartridge.",
    "jobs": "The record of all jobs: find, add, go back, hand on, back up.",
    "geometry": "Nulls, overhang, offset angle and distortion for an arm.",
    "match": "Whether cartridge and arm suit each other: where their resonance lies.",
    "load": "What a load makes of a cartridge, and which load suits it best.",
    "weigh": "Tracking force from gauge readings, and what to turn.",
    "square": "The one next move after looking at both points of the sheet.",
    "level": "Anti-skating, arm height and azimuth.",
    "listen": "What a recording of test tones proves about the set-up.",
    "hear": "What a given error does to a clean recording of yours.",
    "sheet": "A true-scale sheet to print: grids at the nulls, or the stylus arc.",
    "photo": "The cartridge's yaw, azimuth or rake from photographs.",
    "stroboscope": "A disc to print that shows a platter's speed under a flashing lamp.",
    "handover": "The paper that proves the work: as found, as left, verdict. PDF or HTML.",
    "guide": "The guide for the owner at home, with the sheet. HTML or PDF.",
    "answer": "From the readings that an owner sent to the answer that goes back.",
    "serve": "The bench page: the whole job in a browser, here or on paired devices.",
}
"""Each command and its one line of help; its code is `command` in the module of that name in this package."""


class LazyGroup(click.Group):
    """A group that imports the code of a command only when that command is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of `COMMANDS`."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return the command, or None where there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"groovewright.cli.{cmd_name.replace('-', '_')}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Add the nearest name to the error for an unknown command."""
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            near = nearest(args[0], COMMANDS)
            hint = f" Did you mean '{near}'?" if near else ""
            raise click.UsageError(
                f"There is no command '{args[0]}'.{hint} All of them: {', '.join(COMMANDS)}."
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table of commands without importing any of them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="groovewright %(version)s")
def root() -> None:
    """Mount a phono cartridge, and be able to show that it is right.

    Each command explains itself with --help and an example.
    """


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and exit: 0 done, 1 can't be done, 2 bad input, 130 interrupted."""
    try:
        code = root.main(args=arguments, prog_name="groovewright", standalone_mode=False)
    except BenchError as error:
        _say(str(error))
        sys.exit(error.exit_code)
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        sys.exit(2)
    except click.ClickException as error:
        _say(error.format_message())
        sys.exit(2)
    except (click.Abort, KeyboardInterrupt):
        _say("interrupted; nothing further was written")
        sys.exit(130)
    except OSError as error:
        _say(f"{error.filename or 'what is printed'} can't be read or written: {error.strerror}")
        sys.exit(2)
    except SystemExit:
        # click's answer to a closed pipe: whoever reads has all that was wanted
        sys.exit(0)
    sys.exit(code if isinstance(code, int) else 0)


def _say(message: str) -> None:
    """Print an error as one line, whatever a file's name or key has in it."""
    line = "".join(letter if letter.isprintable() else " " for letter in message)
    click.echo(f"groovewright: {line}", err=True)
