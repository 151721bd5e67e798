"""The reminder about the stylus: arithmetic on an estimate, said as that."""

from __future__ import annotations

from datetime import date

import pytest

from groovewright.job.keys import SECTION_KEYS, checked
from groovewright.job.wear import Play, look_on, stylus_reminder, usual_life
from groovewright.quantities import InputError


@pytest.mark.parametrize(
    ("stylus", "profile"),
    [
        ("fine line", "fine line"),
        ("Elliptical 7 x 18 um", "elliptical"),
        ("hyper-elliptical", "hyperelliptical"),
        ("nude conical", "conical"),
        ("", None),
        ("sapphire", None),
    ],
)
def test_the_profile_is_known_by_its_name(stylus, profile):
    life = usual_life(stylus)
    assert (life.profile if life else None) == profile


def test_the_day_is_the_hours_that_are_left_over_the_hours_a_week():
    # (300 - 90) h / 7 h a week = 30 weeks = 210 days after 1 January 2026: 30 July
    play = Play(7.0, 90.0, "2026-01-01")
    assert look_on(play, usual_life("elliptical")) == date(2026, 7, 30)
    early, late = (stylus_reminder("elliptical", play, date(2026, 7, day)) for day in (29, 30))
    assert (early.due, late.due) == (False, True)
    assert late.played_h == pytest.approx(300.0)
    assert "common practice" in late.sentence


def test_a_stylus_that_was_worn_already_is_due_at_once():
    assert look_on(Play(1.0, 900.0, "2026-01-01"), usual_life("conical")) == date(2026, 1, 1)


@pytest.mark.parametrize(
    "play", [Play(), Play(0.0, 0.0, "2026-01-01"), Play(5.0), Play(0.0001, 0.0, "2026-01-01")]
)
def test_without_an_estimate_there_is_no_day_and_the_sentence_says_what_is_missing(play):
    reminder = stylus_reminder("elliptical", play, date(2026, 7, 30))
    assert reminder.look_on is None
    assert not reminder.due
    assert "usually lasts 300 to 600 h" in reminder.sentence


def test_what_is_not_known_is_not_reminded_of():
    assert stylus_reminder("sapphire", Play(5.0, 0.0, "2026-01-01"), date(2026, 1, 1)) is None
    assert stylus_reminder("elliptical", None, date(2026, 1, 1)) is None


@pytest.mark.parametrize("day", ["soon", "2026-02-30", 5])
def test_a_day_that_is_none_is_refused(day):
    with pytest.raises(InputError, match="write the day as year-month-day"):
        checked(SECTION_KEYS["play"], {"since": day}, "[play]")
