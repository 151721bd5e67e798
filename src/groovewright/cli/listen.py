"""`groovewright listen`: what a recording of test tones proves about the set-up."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from groovewright.audio import (
    Band,
    BandData,
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
    tracking_error_of,
    verdicts,
)
from groovewright.cli.into_job import IntoJob, into_job_options
from groovewright.cli.listen_job import enter, print_entered, target_of
from groovewright.cli.output import json_option, json_text, print_json, print_table, write_file
from groovewright.quantities import InputError, Reading

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
    bands = read_band_list(bands_path) if bands_path else None
    if bands and equaliser:
        bands = replace(bands, replay=Replay(equaliser))
    listening = assess(_heard(file, bands, quiet=as_json, equaliser=equaliser))
    found = verdicts(listening)
    written = _written(listening, found, save_bands, out, force)
    told, beside = enter(listening, target)
    if as_json:
        print_json(as_mapping(listening, found) | told | {"written": written})
    else:
        _print(listening, found)
        print_entered(told, beside)
        for path in written:
            click.echo(f"wrote {path}")


def _heard(file: Path, bands: BandList | None, *, quiet: bool, equaliser: str | None) -> Any:
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    assumed = Replay(equaliser) if equaliser else Replay.EQUALISED
    with Progress(console=console, transient=True, disable=quiet or not console.is_terminal) as progress:
        task = progress.add_task("listening", total=1.0)

        def tell(share: float) -> None:
            progress.update(task, completed=share)

        def found(data: BandData) -> None:
            progress.console.print(f"  heard {data.band.name}")

        return hear_recording(
            file, bands, assumed_replay=assumed, progress=tell, found=found if console.is_terminal else None
        )


def as_mapping(listening: Listening, found: tuple[Verdict, ...]) -> dict[str, Any]:
    """Return everything as one object: each key with its partner in `_sd`, null where it is withheld."""
    recording, heard = listening.heard.recording, listening.heard
    out: dict[str, Any] = {
        "file": str(recording.path),
        "sample_rate_hz": recording.rate_hz,
        "encoding": recording.encoding,
        "duration_s": heard.tally.frames / recording.rate_hz,
        "complete": not heard.problem and recording.promised_frames is None,
        "bands_from": "list" if heard.bands.listed else "found",
        "next_move": next_move(found),
        "re_plug": list(listening.identity.re_plug),
    }
    out |= _measured(listening, found) | _details(listening)
    return out


def _measured(listening: Listening, found: tuple[Verdict, ...]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for key, measure in listening.measures.items():
        if isinstance(measure.value, Reading):
            out[key], out[f"{key}_sd"] = measure.value.value, measure.value.sd
        else:
            out[key] = measure.value
    for key in listening.withheld:
        out[key] = out[f"{key}_sd"] = None
    out["measured_in"] = {key: list(measure.bands) for key, measure in listening.measures.items()}
    out["notes"] = {key: measure.note for key, measure in listening.measures.items() if measure.note}
    out["withheld"] = dict(listening.withheld)
    out["warnings"] = list(listening.warnings)
    out["verdicts"] = [
        {
            "key": v.key,
            "state": v.state.value,
            "text": v.text,
            "move": v.move,
            "probability_right": v.probability,
        }
        for v in found
    ]
    return out


def _details(listening: Listening) -> dict[str, Any]:
    out: dict[str, Any] = {}
    out["bands"] = [_band(band) for band in listening.heard.bands.bands]
    out["crosstalk"] = _crosstalk(listening)
    out["harmonics_percent"] = {
        name: {str(order): _pair(size) for order, size in one.by_order_percent.items()}
        for name, one in listening.harmonics.items()
    }
    by_name = {band.name: band for band in listening.heard.bands.bands}
    rpm = listening.heard.bands.speed_rpm
    out["tracking_errors_deg"] = {
        name: _maybe(tracking_error_of(by_name[name], one, rpm)) for name, one in listening.harmonics.items()
    }
    out["resonances"] = {
        name: {"frequency_hz": _pair(one.frequency_hz), "q": _pair(one.q)}
        for name, one in listening.resonances.items()
    }
    out["speeds"] = {name: _speed(listening, name) for name in listening.turnings}
    out["intermodulation"] = {
        name: {f"{m:+d}f1{n:+d}f2": _pair(size) for (m, n), size in one.products_percent.items()}
        for name, one in listening.mixings.items()
    }
    out["tracking_ability"] = [_ladder(ladder) for ladder in listening.ladders]
    out["response"] = {name: _response(one) for name, one in listening.responses.items()}
    out["hum"] = {
        name: {
            "mains_hz": one.mains_hz,
            "lines_db": {str(k): list(v) for k, v in one.lines_db.items()},
            "likely_cause": one.likely_cause,
        }
        for name, one in listening.hums.items()
    }
    return out


def _pair(reading: Reading) -> dict[str, float]:
    return {"value": reading.value, "sd": reading.sd}


def _maybe(reading: Reading | None) -> dict[str, float] | None:
    return None if reading is None else _pair(reading)


def _band(band: Band) -> dict[str, Any]:
    return {
        "name": band.name,
        "kind": band.kind.value,
        "channel": band.channel.value,
        "start_s": band.start_s,
        "end_s": band.end_s,
        "frequency_hz": band.frequency_hz,
        "groove_radius_mm": band.groove_radius_mm,
        "level_cm_per_s": band.level_cm_per_s,
    }


def _crosstalk(listening: Listening) -> list[dict[str, Any]]:
    return [
        {
            "frequency_hz": one.frequency_hz,
            "bands": list(one.bands),
            "balance_db": _pair(one.balance_db),
            "l_to_r_db": _pair(one.left_to_right.level_db),
            "l_to_r_deg": _pair(one.left_to_right.phase_deg),
            "r_to_l_db": _pair(one.right_to_left.level_db),
            "r_to_l_deg": _pair(one.right_to_left.phase_deg),
            "azimuth_deg": _pair(one.azimuth_deg),
            "l_to_r_if_upright_db": one.upright_db[0],
            "r_to_l_if_upright_db": one.upright_db[1],
        }
        for one in listening.separations
    ]


def _speed(listening: Listening, name: str) -> dict[str, Any]:
    turning, flutter = listening.turnings[name], listening.flutters.get(name)
    radius = next(band.groove_radius_mm for band in listening.heard.bands.bands if band.name == name)
    return {
        "speed_error_percent": _pair(turning.speed_error_percent),
        "once_per_turn_percent": _pair(turning.once_per_turn_percent),
        "eccentricity_mm": _maybe(turning.off_centre_mm(radius) if radius else None),
        "weighted_two_sigma_percent": _maybe(flutter.weighted_two_sigma if flutter else None),
        "unweighted_rms_percent": _maybe(flutter.unweighted_rms if flutter else None),
        "steady_lines": [{"frequency_hz": hz, "amplitude_percent": size} for hz, size in turning.lines],
    }


def _ladder(ladder: Any) -> dict[str, Any]:
    return {
        "frequency_hz": ladder.frequency_hz,
        "channel": ladder.channel.value,
        "levels_cm_per_s": list(ladder.levels_cm_per_s),
        "left_percent": [size.value for size in ladder.left_percent],
        "right_percent": [size.value for size in ladder.right_percent],
        "left_breaks_cm_per_s": ladder.left_breaks_cm_per_s,
        "right_breaks_cm_per_s": ladder.right_breaks_cm_per_s,
        "anti_skating_change_of_tracking_force": ladder.side_force_share,
    }


def _response(one: Any) -> Mapping[str, Any]:
    return {
        "frequency_hz": one.frequency_hz,
        "left_db": one.left_db,
        "right_db": one.right_db,
        "crosstalk_db": one.crosstalk_db,
        "crosstalk_deg": one.crosstalk_deg,
    }


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


def _written(
    listening: Listening, found: tuple[Verdict, ...], save_bands: Path | None, out: Path | None, force: bool
) -> list[str]:
    written = []
    if save_bands:
        write_file(save_bands, band_list_toml(listening.heard.bands).encode(), force=force)
        written.append(str(save_bands))
    if out:
        from groovewright.report.listen_plots import drawings

        try:
            out.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError(f"{out} can't be made: {error.strerror}; name a folder that is yours") from None
        numbers = json_text(as_mapping(listening, found)).encode()
        for name, content in {"listen.json": numbers, **drawings(listening)}.items():
            write_file(out / name, content, force=force)
            written.append(str(out / name))
    return written
