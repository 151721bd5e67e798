"""What photographs say, as steps of a job: a look at one null, the rake, the lean."""

from __future__ import annotations

import math
from collections.abc import Sequence

from groovewright.job.aim import aimed_alignment
from groovewright.job.events import LeanRead, Looked, RakeRead
from groovewright.job.state import JobState
from groovewright.quantities import CannotBeDoneError, Reading
from groovewright.vision import PhotoReading, fuse_readings

SAME_NULL_MM = 0.1
"""A sheet whose null is nearer than this to the job's is the job's own: the yaw differs by less than 0.02 deg."""
UNCHECKED = "which sheet it is can't be read in the photo, so it is not checked that it is this job's"


def photo_look(readings: Sequence[PhotoReading], state: JobState) -> tuple[Looked, tuple[str, ...]]:
    """Return the look that photographs of one state make, and what is to be said about it.

    The other null was not looked at: a look at it is an event of its own.

    Raises
    ------
    CannotBeDoneError
        A photo shows a sheet for other nulls than the job's.
    InputError
        The photos show different nulls or sheets.
    """
    for reading in readings:
        check_sheet(reading, state)
    yaw, warnings = fuse_readings(readings)
    if any(reading.identity is None for reading in readings):
        warnings = (*warnings, UNCHECKED)
    value, sd = round(yaw.value, 3), round(yaw.sd, 4)
    method = " and ".join(dict.fromkeys(reading.method for reading in readings))
    source = f"{_photos(len(readings))}, {method}"
    if readings[0].null == "outer":
        return Looked(value, None, sd, source), warnings
    return Looked(None, value, sd, source), warnings


def check_sheet(reading: PhotoReading, state: JobState) -> None:
    """Make sure that a photo shows the sheet of the job's nulls, as far as it can be read.

    Raises
    ------
    CannotBeDoneError
        It shows another.
    """
    aimed = aimed_alignment(state.arm, state.aim) if state.arm is not None else None
    identity = reading.identity
    if aimed is None or identity is None:
        return
    nulls = {"inner": aimed.null_inner_mm, "outer": aimed.null_outer_mm}
    wanted = nulls[reading.null]
    if not math.isfinite(wanted) or abs(identity.null_radius_mm - wanted) > SAME_NULL_MM:
        own = " and ".join(f"{null:.2f}" for null in nulls.values() if math.isfinite(null)) or "none"
        shown = " and ".join(
            f"{null:.2f}"
            for null in sorted({identity.null_radius_mm, identity.other_radius_mm or identity.null_radius_mm})
        )
        raise CannotBeDoneError(
            f"the photo shows a sheet for nulls at {shown} mm, and this job's are at {own} mm: print this job's "
            "sheet, or change the aim"
        )


def photo_rake(stylus_rake_angle_deg: Reading) -> RakeRead:
    """Return the step of a stylus rake angle as a photo gives it, 90 degrees where the stylus stands upright."""
    return RakeRead(
        round(90.0 - stylus_rake_angle_deg.value, 3), round(stylus_rake_angle_deg.sd, 4), None, _photos(1)
    )


def photo_lean(lean_deg: Reading) -> LeanRead:
    """Return the step of a lean, positive clockwise seen from the front."""
    return LeanRead(round(lean_deg.value, 3), round(lean_deg.sd, 4), _photos(1))


def _photos(count: int) -> str:
    return "a photo" if count == 1 else f"{count} photos"
