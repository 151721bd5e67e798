"""The same page on a record that a PostgreSQL server keeps: a short run of the tests of the pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from test_pages import (  # noqa: F401 - run here once more, on the record below
    test_every_stage_of_the_plan_has_a_page_with_a_drawing_and_a_sentence,
    test_saving_what_is_so_already_writes_nothing,
    test_the_list_finds_jobs_and_turns_pages,
    test_the_second_bench_is_shown_what_changed_and_keeps_what_it_typed,
    test_undo_and_redo_have_no_limit,
    test_what_if_changes_the_page_and_not_the_record,
    test_what_is_not_allowed_is_not_saved_and_stands_in_the_form_again,
)

from groovewright.store import Store, open_store
from groovewright.web.first_job import add_demo_job


@pytest.fixture
def store(postgresql_place: str) -> Iterator[Store]:
    opened = open_store(postgresql_place, bench="bench one")
    add_demo_job(opened)
    assert opened.engine.dialect.name == "postgresql"
    yield opened
    opened.close()
