"""`groovewright photo`: the cartridge's yaw, azimuth or rake from photographs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from groovewright.cli.into_job import IntoJob, add_step, added_words, check_into, into_job_options
from groovewright.cli.options import force_option
from groovewright.cli.output import json_option, print_json, print_table, write_file
from groovewright.job import JobState, StageReport, fold
from groovewright.job.events import Step
from groovewright.job.photo import photo_lean, photo_look, photo_rake
from groovewright.job.stages.level import level
from groovewright.job.stages.square import square
from groovewright.quantities import CannotBeDoneError, InputError, Reading
from groovewright.vision import (
    MarkedLine,
    Photo,
    PhotoReading,
    annotated,
    fuse_readings,
    load_photo,
    rake_from_lean,
    read_lean,
    read_photo,
)

_KINDS = ("side", "front", "cantilever")
_NULL_MATCH_MM = 0.02


class LineType(click.ParamType[tuple[int, MarkedLine]]):
    """[N:][KIND:]X1,Y1,X2,Y2: a marked line, in pixels of photo number N."""

    name = "line"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, MarkedLine]:
        """Return the number of the photo (from 0) and the line."""
        if isinstance(value, tuple):
            return value
        *words, numbers = str(value).split(":")
        number, kind = 0, None
        try:
            x1, y1, x2, y2 = (float(part) for part in numbers.split(","))
            for word in words:
                if word in _KINDS:
                    kind = word
                else:
                    number = int(word) - 1
        except ValueError:
            raise InputError(
                f"--line '{value}' is not [PHOTO:][{'|'.join(_KINDS)}:]X1,Y1,X2,Y2, such as side:1210,880,1320,1190"
            ) from None
        return number, MarkedLine((x1, y1), (x2, y2), kind)


@click.command("photo")
@click.argument("images", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="IMAGE...")
@click.option("--sheet", default="auto", show_default=True, metavar="auto|INNER:OUTER",
              help="The sheet in the photo by its null radii in mm, to be checked; auto: as it says.")  # fmt: skip
@click.option("--null", type=click.Choice(("inner", "outer", "auto")), default="auto", show_default=True,
              help="The null at which the cartridge stands.")  # fmt: skip
@click.option("--line", "lines", type=LineType(), multiple=True, metavar="LINE",
              help="An edge marked by hand, [PHOTO:][side|front|cantilever:]X1,Y1,X2,Y2 in pixels.")  # fmt: skip
@click.option("--azimuth", is_flag=True, help="Read the lean from two --line: an edge and its reflection.")
@click.option("--rake", type=click.Choice(("left", "right")),
              help="Read the stylus rake angle likewise; to which side the front points.")  # fmt: skip
@click.option("--looking-down", "looking_down_deg", type=float, default=10.0, show_default=True, metavar="DEG",
              help="With --azimuth or --rake: by how much the camera looks down.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE.png",
              help="Write the first photo with what was read drawn over it.")  # fmt: skip
@into_job_options("the reading")
@force_option
@json_option
def command(
    images: tuple[Path, ...],
    sheet: str,
    null: str,
    lines: tuple[tuple[int, MarkedLine], ...],
    azimuth: bool,
    rake: str | None,
    looking_down_deg: float,
    out: Path | None,
    job_file: Path | None,
    number: int | None,
    database: str | None,
    force: bool,
    as_json: bool,
) -> None:
    """Read the cartridge's yaw from one or more photographs over the printed sheet.

    Fold the sheet's flag and hold it flush against the cartridge's front with removable tape; take the photo
    from 200 to 450 mm, from the front, 25 to 35 degrees from upright. Without the flag, take it from straight
    above or up to 8 degrees to the front, and where the body isn't found mark the edge of its front with --line.
    Several photos of one state are fused. Take the flag off before playing. With --job or
    --number the reading is added to that job, if it shows that job's sheet, and the next move is told.

    \b
    Examples (the photos are those that `groovewright demo` writes):
      groovewright photo fernhill-left.jpg --out seen.png
      groovewright photo fernhill-left.jpg fernhill-right.jpg --null inner
      groovewright photo fernhill-left.jpg --job my-job.toml
      groovewright photo fernhill-mirror.jpg --azimuth --looking-down 6 \\
          --line 761,411,712,156 --line 789,1136,812,1685
    """
    into = check_into(IntoJob(job_file, number, database))
    photos = [load_photo(path) for path in images]
    for number, _ in lines:
        if not 0 <= number < len(photos):
            raise InputError(f"--line names photo {number + 1}, and {len(photos)} are given; count from 1")
    if azimuth or rake:
        _lean(photos, [line for _, line in lines], rake, looking_down_deg, into, as_json)
        return
    asked = None if null == "auto" else null
    readings = [
        _read(photo, [line for at, line in lines if at == k], asked) for k, photo in enumerate(photos)
    ]
    for reading in readings:
        _check_sheet(reading, sheet)
    yaw, warnings = fuse_readings(readings)
    if out is not None:
        write_file(out, annotated(photos[0], readings[0]), force=force)
    told = _enter(into, lambda state: photo_look(readings, state)[0], square)
    if as_json:
        print_json(_as_json(readings, yaw, warnings) | told)
        return
    _print_yaw(readings, yaw, warnings)
    _print_entered(told)


def _read(photo: Photo, lines: Sequence[MarkedLine], null: str | None) -> PhotoReading:
    """Return a photo's reading; where marking an edge would help, say how that is typed."""
    try:
        return read_photo(photo, lines, null)
    except CannotBeDoneError as error:
        if lines or "mark the edge of its front" not in str(error):
            raise
        raise CannotBeDoneError(f"{error} (with --line, such as side:1210,880,1320,1190)") from None


def _enter(
    into: IntoJob, make: Callable[[JobState], Step], stage: Callable[[JobState], StageReport]
) -> dict[str, Any]:
    """Add the step to the job; return where it went and what its stage says now. Empty: there is no job."""
    if into.nowhere:
        return {}
    log, told = add_step(into, make)
    report = stage(fold(log))
    return told | {"stage_status": report.status, "stage_sentence": report.sentence}


def _print_entered(told: dict[str, Any]) -> None:
    if told:
        click.echo(f"\n{added_words(told)}")
        click.echo(click.wrap_text(str(told["stage_sentence"]), 79))


def _check_sheet(reading: PhotoReading, sheet: str) -> None:
    """Compare what the sheet says of itself with what was named."""
    if sheet == "auto":
        return
    try:
        inner, outer = (float(part) for part in sheet.split(":"))
    except ValueError:
        raise InputError(f"--sheet '{sheet}' is neither auto nor two radii such as 66.00:120.89") from None
    identity = reading.identity
    if identity is None:
        raise CannotBeDoneError(
            "the sheet's identity can't be read in this photo, so it can't be checked; take one in which a whole "
            "strip shows, or leave --sheet out"
        )
    wanted = inner if reading.null == "inner" else outer
    if abs(identity.null_radius_mm - wanted) > _NULL_MATCH_MM:
        raise CannotBeDoneError(
            f"this is another sheet: its {reading.null} null is at {identity.null_radius_mm:.2f} mm, and {wanted:.2f} "
            "mm was asked for; lay the right sheet on the platter"
        )


def _as_json(readings: Sequence[PhotoReading], yaw: Reading, warnings: Sequence[str]) -> dict[str, Any]:
    first = readings[0]
    identity = first.identity
    low, high = yaw.interval()
    return {
        "yaw_deg": round(yaw.value, 4) + 0.0,
        "yaw_sd_deg": round(yaw.sd, 4),
        "yaw_low_deg": round(low, 4),
        "yaw_high_deg": round(high, 4),
        "null": first.null,
        "method": " and ".join(dict.fromkeys(reading.method for reading in readings)),
        "markers_used": sum(reading.markers_used for reading in readings),
        "residual_px": round(max(reading.residual_px for reading in readings), 4),
        "warnings": list(warnings),
        "sheet": None if identity is None else identity.kind,
        "null_radius_mm": None if identity is None else identity.null_radius_mm,
        "photos": [
            {
                "yaw_deg": round(reading.yaw.value, 4) + 0.0,
                "yaw_sd_deg": round(reading.yaw.sd, 4),
                "method": reading.method,
                "camera_outward_deg": round(reading.view.pose.tilt_deg()[0], 2),
                "camera_front_deg": round(reading.view.pose.tilt_deg()[1], 2),
                "camera_height_mm": round(reading.view.pose.height_mm(), 1),
            }
            for reading in readings
        ],
    }


def _print_yaw(readings: Sequence[PhotoReading], yaw: Reading, warnings: Sequence[str]) -> None:
    first = readings[0]
    low, high = yaw.interval()
    way = "in (clockwise)" if yaw.value > 0 else "out (counter-clockwise)"
    click.echo(
        click.wrap_text(
            f"At the {first.null} null the front points {way} by {abs(yaw.value):.2f} degrees, 95 % sure between "
            f"{low:+.2f} and {high:+.2f}.",
            79,
        )
    )
    for warning in warnings:
        click.echo(click.wrap_text(f"Check: {warning}.", 79))
    click.echo()
    where = first.identity
    print_table(
        [
            ("yaw", f"{yaw.value:+.3f} deg +- {yaw.sd:.3f}"),
            ("read from", f"{first.method}, {len(readings)} photo{'s' if len(readings) > 1 else ''}"),
            ("sheet", f"{where.kind}, null at {where.null_radius_mm:.2f} mm" if where else "not readable"),
            ("markers", f"{first.markers_used} of 10, corners within {first.residual_px:.2f} pixel"),
        ]
    )


def _lean(
    photos: Sequence[Photo],
    lines: Sequence[MarkedLine],
    rake: str | None,
    looking_down_deg: float,
    into: IntoJob,
    as_json: bool,
) -> None:
    """Print azimuth or rake from an edge and its reflection."""
    if len(lines) != 2 or len(photos) != 1:
        raise InputError(
            f"azimuth and rake take one photo and two --line, an edge and its reflection; {len(photos)} and "
            f"{len(lines)} were given"
        )
    found = read_lean(photos[0], lines[0], lines[1], looking_down_deg)
    name = "stylus_rake" if rake else "azimuth"
    reading = rake_from_lean(found, front_is_right=rake == "right") if rake else found.lean
    low, high = reading.interval()
    told = _enter(into, lambda _: photo_rake(reading) if rake else photo_lean(reading), level)
    if as_json:
        print_json(
            {f"{name}_deg": round(reading.value, 4) + 0.0, f"{name}_sd_deg": round(reading.sd, 4),
             f"{name}_low_deg": round(low, 4), f"{name}_high_deg": round(high, 4),
             "method": "half the angle between an edge and its reflection", "warnings": []} | told
        )  # fmt: skip
        return
    words = (
        "above 90 the upper end leans to the front"
        if rake
        else "positive: leans clockwise seen from the front"
    )
    told_of = f"{reading.value:+.2f} deg, 95 % sure {low:.2f} to {high:.2f} ({words})"
    click.echo(click.wrap_text(f"{name.replace('_', ' ')} {told_of}", 79))
    _print_entered(told)
