"""`groovewright hear`: what a given error does to a clean recording."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from groovewright.audio import BlockReader, Recording, open_recording
from groovewright.cli.output import json_option, print_json, print_table, whole_file
from groovewright.cli.progress import shown_progress
from groovewright.quantities import GROOVE_RADIUS, FloatArray, InputError, Limits

if TYPE_CHECKING:
    from groovewright.simulate import hearing

FROM = Limits("start", 0.0, 100_000.0, "s")
SECONDS = Limits("length", 1.0, 100_000.0, "s")
LARGEST_WAV = 4_000_000_000
"""Bytes; a longer result is written as RF64, the same with room for a longer length (EBU Tech 3306)."""
BLOCK_S = 2
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
@click.option("--seconds", type=float, help="How long it is at most; to the end where left out.")
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
    seconds: float | None,
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
    length_s = None if seconds is None else SECONDS.check(seconds, "--seconds")
    passage = _Passage(open_recording(file), FROM.check(start, "--from"), length_s)
    with (
        shown_progress("playing", quiet=as_json) as (tell, _),
        whole_file(out, force=force) as part,
    ):
        played = _written(part, passage, errors, tell)
    told = {
        "file": str(out),
        "duration_s": played.frames / passage.recording.rate_hz,
        "tracking_error_deg": errors.yaw_deg,
        "radius_mm": errors.radius_mm,
        "peak_cm_per_s": errors.peak_cm_per_s,
        "peak_full_scale": played.peak,
    }
    if passage.problem:
        click.echo(f"note: {file}: {passage.problem}; what came before is played", err=True)
    if as_json:
        print_json(told)
        return
    print_table([(key, value if isinstance(value, str) else f"{value:.3f}") for key, value in told.items()])
    click.echo(click.wrap_text(CAUTION, 79))


@dataclass
class _Passage:
    """What is played of a recording; `problem` says, after a walk, why it ended too early."""

    recording: Recording
    start_s: float
    length_s: float | None
    problem: str = ""

    def blocks(self) -> Iterator[FloatArray]:
        """Yield its blocks. [each shape=(n, 2)]

        Raises
        ------
        InputError
            It lies behind the end.
        """
        rate_hz = self.recording.rate_hz
        first = round(self.start_s * rate_hz)
        last = None if self.length_s is None else round((self.start_s + self.length_s) * rate_hz)
        reader, place = BlockReader(self.recording), 0
        for block in reader.blocks(BLOCK_S * rate_hz):
            part = block[max(0, first - place) : None if last is None else max(0, last - place)]
            place += len(block)
            if len(part):
                yield part.astype(np.float64)
            if last is not None and place >= last:
                return
        self.problem = reader.problem
        if not place:
            raise InputError(f"{self.recording.path} can't be played: {reader.problem}")
        if place <= first:
            raise InputError(
                f"{self.recording.path} lasts {place / rate_hz:.1f} s; --from {self.start_s:g} lies behind its end"
            )


def _written(
    part: Path, passage: _Passage, errors: hearing.Errors, tell: Callable[[float], None]
) -> hearing.Played:
    """Write the passage as it sounds with the errors: kept aside until its loudness is known, then made as loud
    as it may be.
    """
    from groovewright.simulate import hearing

    rate_hz = passage.recording.rate_hz
    with tempfile.TemporaryFile(dir=part.parent) as aside:

        def keep(block: FloatArray) -> None:
            aside.write(block.astype(np.float32).tobytes())

        played = hearing.play(passage.blocks, rate_hz, errors, keep, progress=tell)
        aside.seek(0)
        _write_wav(part, aside, rate_hz, played)
    return played


def _write_wav(part: Path, aside: Any, rate_hz: int, played: hearing.Played) -> None:
    import soundfile

    bytes_per_frame = 2 * np.dtype(np.float32).itemsize
    kind = "WAV" if played.frames * 6 < LARGEST_WAV else "RF64"
    try:
        with soundfile.SoundFile(part, "w", rate_hz, 2, "PCM_24", format=kind) as sound:
            while block := aside.read(BLOCK_S * rate_hz * bytes_per_frame):
                sound.write(np.frombuffer(block, dtype=np.float32).reshape(-1, 2) * played.gain)
    except (soundfile.LibsndfileError, AssertionError):
        raise InputError(
            f"{part.parent} has no room for the result; free some, or name another folder"
        ) from None
