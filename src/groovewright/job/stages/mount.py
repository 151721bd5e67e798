"""Mount: the list of what the hands do, with the cautions where they belong."""

from __future__ import annotations

from groovewright.job.events import MOUNT_CHECKS
from groovewright.job.stage import StageReport
from groovewright.job.state import JobState

CAUTIONS = (
    "Amplifier muted or off before a lead is touched.",
    "Never solder on a cartridge's pins; slide the clips with tweezers.",
    "Stylus guard on until the tracking force is set.",
)


def mount(state: JobState) -> StageReport:
    """Return the next point of the mounting list."""
    ticked = [what for what in MOUNT_CHECKS if what in state.checks]
    left = [what for what in MOUNT_CHECKS if what not in state.checks]
    rows = tuple(("[x]" if what in ticked else "[ ]", text) for what, text in MOUNT_CHECKS.items())
    values = {"ticked": ticked, "left": left}
    if not left:
        return StageReport("mount", "done", "Mounted, loose enough to move, leads on.", rows, values=values)
    if state.squaring or state.weighings:
        sentence = f"Mounted by what came after; not ticked: {', '.join(left)}."
        return StageReport("mount", "done", sentence, rows, values=values)
    return StageReport("mount", "open", MOUNT_CHECKS[left[0]], rows, CAUTIONS, values=values)
