"""A job: its append-only log, the state folded from it, its stages and the one next move."""

from groovewright.job.document import log_from_toml
from groovewright.job.events import (
    Described,
    Event,
    Log,
    Looked,
    Moved,
    Redone,
    Undone,
    effective,
    from_plain,
    to_plain,
)
from groovewright.job.plan import Plan, plan
from groovewright.job.stage import StageReport
from groovewright.job.state import JobState, fold

__all__ = [
    "Described",
    "Event",
    "JobState",
    "Log",
    "Looked",
    "Moved",
    "Plan",
    "Redone",
    "StageReport",
    "Undone",
    "effective",
    "fold",
    "from_plain",
    "log_from_toml",
    "plan",
    "to_plain",
]
