"""Where a job stands, stage by stage, and the one next move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from groovewright.job.stage import StageReport
from groovewright.job.stages.intake import intake
from groovewright.job.stages.level import level
from groovewright.job.stages.listen import listen
from groovewright.job.stages.match import match
from groovewright.job.stages.mount import mount
from groovewright.job.stages.square import square
from groovewright.job.stages.weigh import weigh
from groovewright.job.state import JobState
from groovewright.mechanics.mounts import MOUNTS

STAGES: dict[str, Callable[[JobState], StageReport]] = {
    "intake": intake,
    "match": match,
    "mount": mount,
    "weigh": weigh,
    "square": square,
    "level": level,
    "listen": listen,
}
"""The stages in the order of the work."""


@dataclass(frozen=True)
class Plan:
    """All stages of a job in order, and the sentence of the one that is next."""

    stages: tuple[StageReport, ...]
    next_stage: str
    next_move: str


def plan(state: JobState) -> Plan:
    """Return where the job stands. The next stage is the first that is open."""
    mount = MOUNTS[state.arm.headshell] if state.arm is not None else MOUNTS["slotted"]
    reports = tuple(
        StageReport(name, "not-needed", mount.reasons[name]) if name in mount.skipped else stage(state)
        for name, stage in STAGES.items()
    )
    following = next((report for report in reports if report.status == "open"), None)
    if following is None:
        return Plan(reports, "done", "All stages that there are have been gone through.")
    return Plan(reports, following.stage, following.sentence)
