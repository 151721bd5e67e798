"""`groovewright hear`: what a given error does to a clean recording."""

from __future__ import annotations

import io
from pathlib import Path

import click
import numpy as np

from groovewright.audio import BlockReader, open_recording
from groovewright.cli.output import json_option, print_json, print_table, write_file
from groovewright.quantities import GROOVE_RADIUS, InputError, Limits

FROM = Limits("start", 0.0, 100_000.0, "s")
SECONDS = Limits("length", 1.0, 120.0, "s")
CAUTION = "The result is no louder than the original and peaks at -1 dB or less; start low all the same."

HELP = """Play a clean recording with an error, to hear what the error does.

\b
Examples:
  groovewright hear clean.wav --overhang-error 3 --out overhang.wav
  groovewright hear clean.wav --azimuth 3 --out leaning.wav
  groovewright hear clean.wav --off-centre 0.5 --radius 65 --out swaying.wav

Use a recording of your own that is free of the error: a digital one, not one from the same player.
"""


@click.command("hear", help=HELP)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--overhang-error", default=0.0, help="Stylus too far forward, mm (9-inch arm, two nulls).")
@click.option(
    "--tracking-error", default=0.0, help="Cartridge turned against the groove, degrees; positive front in."
)
@click.option("--azimuth", default=0.0, help="Lean, degrees; positive clockwise seen from the front.")
@click.option("--speed-error", default=0.0, help="Platter too fast, percent.")
@click.option("--off-centre", default=0.0, help="Record off centre, mm.")
@click.option("--swap-leads", is_flag=True, help="Left and right exchanged.")
@click.option("--reverse-coil", is_flag=True, help="One coil reversed.")
@click.option("--radius", default=65.0, show_default=True, help="Groove radius, mm.")
@click.option("--peak", default=15.0, show_default=True, help="Velocity of the loudest moment, cm/s.")
@click.option("--from", "start", default=0.0, help="Where the passage starts, s.")
@click.option("--seconds", default=60.0, show_default=True, help="How long it is at most.")
@click.option("--out", required=True, type=click.Path(path_type=Path), help="WAV file to write.")
@click.option("--force", is_flag=True, help="Replace a file that exists.")
@json_option
def command(
    file: Path,
    overhang_error: float,
    tracking_error: float,
    azimuth: float,
    speed_error: float,
    off_centre: float,
    swap_leads: bool,
    reverse_coil: bool,
    radius: float,
    peak: float,
    start: float,
    seconds: float,
    out: Path,
    force: bool,
    as_json: bool,
) -> None:
    """Write the passage as it sounds with the error."""
    from groovewright.simulate import hearing

    errors = hearing.Errors(
        overhang_error_mm=hearing.OVERHANG.check(overhang_error, "--overhang-error"),
        tracking_error_deg=hearing.TRACKING.check(tracking_error, "--tracking-error"),
        azimuth_deg=hearing.AZIMUTH.check(azimuth, "--azimuth"),
        speed_error_percent=hearing.SPEED.check(speed_error, "--speed-error"),
        off_centre_mm=hearing.OFF_CENTRE.check(off_centre, "--off-centre"),
        swap_leads=swap_leads,
        reverse_coil=reverse_coil,
        radius_mm=GROOVE_RADIUS.check(radius, "--radius"),
        peak_cm_per_s=hearing.PEAK.check(peak, "--peak"),
    )
    sound, rate_hz = _passage(file, FROM.check(start, "--from"), SECONDS.check(seconds, "--seconds"))
    heard = hearing.played_with(sound, rate_hz, errors)
    write_file(out, _wav(heard, rate_hz), force=force)
    told = {
        "file": str(out),
        "duration_s": len(heard) / rate_hz,
        "tracking_error_deg": errors.yaw_deg,
        "radius_mm": errors.radius_mm,
        "peak_cm_per_s": errors.peak_cm_per_s,
        "peak_full_scale": float(np.abs(heard).max()),
    }
    if as_json:
        print_json(told)
        return
    print_table([(key, value if isinstance(value, str) else f"{value:.3f}") for key, value in told.items()])
    click.echo(click.wrap_text(CAUTION, 79))


def _passage(file: Path, start_s: float, seconds: float) -> tuple[np.ndarray, int]:
    recording = open_recording(file)
    first, last = round(start_s * recording.rate_hz), round((start_s + seconds) * recording.rate_hz)
    pieces, place = [], 0
    for block in BlockReader(recording).blocks(4 * recording.rate_hz):
        pieces.append(block[max(0, first - place) : max(0, last - place)])
        place += len(block)
        if place >= last:
            break
    sound = np.concatenate(pieces).astype(float) if pieces else np.zeros((0, 2))
    if not len(sound):
        raise InputError(
            f"{file} lasts {place / recording.rate_hz:.1f} s; --from {start_s:g} lies behind its end"
        )
    return sound, recording.rate_hz


def _wav(sound: np.ndarray, rate_hz: int) -> bytes:
    import soundfile

    stream = io.BytesIO()
    soundfile.write(stream, sound, rate_hz, format="WAV", subtype="PCM_24")
    return stream.getvalue()
