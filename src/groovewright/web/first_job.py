"""The demo job, so that the first page a person sees shows a job under way."""

from __future__ import annotations

from importlib import resources

from groovewright.job import log_from_toml
from groovewright.store import Store, list_jobs, new_job

DEMO_FILE = "fernhill.toml"


def add_demo_job(store: Store) -> int | None:
    """Put the demo job into a record that has none at all; return its number."""
    if store.read_only or list_jobs(store).total:
        return None
    content = resources.files("groovewright.demo").joinpath(DEMO_FILE).read_bytes()
    return new_job(store, log_from_toml(content, DEMO_FILE))
