"""`groovewright listen`: what a recording of test tones proves about the set-up."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from groovewright.audio import (
    BandList,
    Listening,
    Replay,
    State,
    Verdict,
    assess,
    band_list_toml,
    hear_recording,
    next_move,
    read_band_list,
    verdicts,
)
from groovewright.cli.into_job import IntoJob, into_job_options
from groovewright.cli.listen_job import enter, load_curve_of, print_entered, target_of
from groovewright.cli.listen_values import as_mapping
from groovewright.cli.output import check_free, json_option, json_text, print_json, print_table, write_file
from groovewright.cli.progress import shown_progress
from groovewright.quantities import FloatArray, InputError, Reading

NUMBERS_NAME = "listen.json"
MARKS = {State.RIGHT: "ok  ", State.LOOK: "look", State.WRONG: "BAD ", State.UNKNOWN: "?   "}
CAUTION = (
    "Test tones and sweeps can damage hearing and loudspeakers: start low, and take headphones off for the "
    "low-frequency bands."
)

EXAMPLE = """Listen to a recording of test tones and tell what it proves.

\b
Examples:
  groovewright listen side-a.wav --bands side-a.toml
  groovewright listen side-a.wav --save-bands found.toml
  groovewright listen side-a.wav --bands side-a.toml --job my-job.toml

Without --bands the bands are found; check them, then listen again with the list: leads and polarity can
only be told with it. With --job or --number the findings are added to that job, and shown beside what it
predicts. docs/listen.md describes the list and every key.
"""


@click.command("listen", help=EXAMPLE)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--bands", "bands_path", type=click.Path(path_type=Path), help="Band list (TOML): what is recorded where."
)
@click.option(
    "--save-bands", type=click.Path(path_type=Path), help="Write the bands as a list, to check and correct."
)
@click.option(
    "--equaliser",
    type=click.Choice([replay.value for replay in Replay]),
    help="What stood between cartridge and file, in place of the list's word.",
)
@click.option(
    "--out", type=click.Path(path_type=Path), help="Folder for drawings (SVG and PNG) and the numbers (JSON)."
)
@into_job_options("the findings")
@click.option("--as-found", is_flag=True, help="Recorded before anything was changed, as the player came in.")
@click.option("--heard-on", metavar="DAY", help="Day of the recording, year-month-day.")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@json_option
def command(
    file: Path,
    bands_path: Path | None,
    save_bands: Path | None,
    equaliser: str | None,
    out: Path | None,
    job_file: Path | None,
    number: int | None,
    as_found: bool,
    heard_on: str | None,
    database: str | None,
    force: bool,
    as_json: bool,
) -> None:
    """Measure one recording."""
    target = target_of(IntoJob(job_file, number, database), as_found, heard_on)
    _check_places(save_bands, out, force)
    bands = read_band_list(bands_path) if bands_path else None
    if bands and equaliser:
        bands = replace(bands, replay=Replay(equaliser))
    listening = assess(_heard(file, bands, quiet=as_json, equaliser=equaliser))
    found = verdicts(listening)
    written = _written(listening, found, save_bands, out, force, load_curve_of(target))
    told, beside = enter(listening, target)
    if as_json:
        print_json(as_mapping(listening, found) | told | {"written": written})
    else:
        _print(listening, found)
        print_entered(told, beside)
        for path in written:
            click.echo(f"wrote {path}")


def _heard(file: Path, bands: BandList | None, *, quiet: bool, equaliser: str | None) -> Any:
    assumed = Replay(equaliser) if equaliser else Replay.EQUALISED
    with shown_progress("listening", quiet=quiet) as (tell, say):
        found = None if say is None else lambda data: say(f"  heard {data.band.name}")
        return hear_recording(file, bands, assumed_replay=assumed, progress=tell, found=found)


def _print(listening: Listening, found: tuple[Verdict, ...]) -> None:
    recording = listening.heard.recording
    length = listening.heard.tally.frames / recording.rate_hz
    click.echo(f"{recording.path.name}: {length:.1f} s, {recording.rate_hz} Hz, {recording.encoding}")
    click.echo()
    click.echo(click.wrap_text(f"Next move: {next_move(found)}", 79, "", "           "))
    click.echo()
    for verdict in found:
        click.echo(click.wrap_text(f"{MARKS[verdict.state]}  {verdict.text}", 79, "", "      "))
    for warning in listening.warnings:
        click.echo(click.wrap_text(f"note  {warning}", 79, "", "      "))
    click.echo("\nNumbers (± is the 95 % interval)")
    print_table([(key, _number(measure.value)) for key, measure in listening.measures.items()])
    if listening.withheld:
        click.echo("\nNot measured")
        print_table(list(listening.withheld.items()))
    if not listening.heard.bands.listed:
        click.echo("\nBands found (confirm them: save with --save-bands, correct, listen again)")
        print_table(
            [
                (f"{b.start_s:.1f} to {b.end_s:.1f} s", f"{b.name}, {b.channel.value}")
                for b in listening.heard.bands.bands
            ]
        )
    click.echo()
    click.echo(click.wrap_text(CAUTION, 79))


def _number(value: Reading | str) -> str:
    if isinstance(value, str):
        return value
    half = 1.959964 * value.sd
    digits = 4 if half == 0.0 else max(0, min(4, 1 - _magnitude(half)))
    return f"{value.value:.{digits}f} ± {half:.{digits}f}"


def _magnitude(number: float) -> int:
    return math.floor(math.log10(number)) if number > 0.0 else 0


def _check_places(save_bands: Path | None, out: Path | None, force: bool) -> None:
    """See that what is asked for can be written, before minutes of listening."""
    if save_bands:
        check_free(save_bands, force=force)
        if not save_bands.parent.is_dir():
            raise InputError(f"{save_bands.parent} is not a folder; name one that exists and is yours")
    if out:
        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"{out} can't be made: {error.strerror}; name a folder that is yours") from None
        check_free(out / NUMBERS_NAME, force=force)


def _written(
    listening: Listening,
    found: tuple[Verdict, ...],
    save_bands: Path | None,
    out: Path | None,
    force: bool,
    load: tuple[FloatArray, FloatArray] | None,
) -> list[str]:
    written = []
    if save_bands:
        write_file(save_bands, band_list_toml(listening.heard.bands).encode(), force=force)
        written.append(str(save_bands))
    if out:
        from groovewright.report.listen_plots import drawings

        numbers = json_text(as_mapping(listening, found)).encode()
        for name, content in {NUMBERS_NAME: numbers, **drawings(listening, load)}.items():
            write_file(out / name, content, force=force)
            written.append(str(out / name))
    return written
