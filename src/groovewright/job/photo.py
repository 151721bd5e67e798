"""A reading from photographs as a look of the job: one null, its yaw, and how well it was read."""

from __future__ import annotations

from groovewright.job.events import Looked
from groovewright.quantities import InputError, Reading


def look_from_photo(null: str, yaw: Reading) -> Looked:
    """Return the event that enters a photograph's reading into a job.

    The other null was not looked at. Looks at both, each with its own uncertainty, are two events.

    Raises
    ------
    InputError
        The null is neither 'inner' nor 'outer'.
    """
    if null == "outer":
        return Looked(yaw.value, None, yaw.sd)
    if null == "inner":
        return Looked(None, yaw.value, yaw.sd)
    raise InputError(f"a photo shows the 'inner' or the 'outer' null, not '{null}'")
