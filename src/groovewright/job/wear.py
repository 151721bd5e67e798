"""Stylus hours: how long a stylus usually lives, and when to look at it again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Play:
    """How much the player is used, as the owner estimates it. None or empty: not known.

    `hours_before` is what the stylus that goes in had played on the day `since` (year-month-day).
    """

    hours_per_week: float | None = None
    hours_before: float = 0.0
    since: str = ""


@dataclass(frozen=True)
class StylusLife:
    """Hours after which a stylus of a profile is usually worn: between the two figures."""

    profile: str
    low_h: float
    high_h: float


LIVES = (
    (("conical", "spherical", "round"), StylusLife("conical", 300.0, 500.0)),
    (("fine line", "fine-line", "line contact", "line-contact"), StylusLife("fine line", 600.0, 1000.0)),
    (("hyperelliptical", "hyper-elliptical", "hyper elliptical"), StylusLife("hyperelliptical", 400.0, 800.0)),
    (("elliptical", "biradial"), StylusLife("elliptical", 300.0, 600.0)),
)  # fmt: skip
"""Words in the name of a stylus profile, and its usual life with clean records at the maker's force.

Common practice of the trade without a published source; the maker's own figure wins.
"""

SOURCE = (
    "common practice of the trade; the maker's figure wins, and dirty records or a wrong force shorten it"
)


@dataclass(frozen=True)
class StylusReminder:
    """When a stylus should be looked at under a microscope.

    Parameters
    ----------
    played_h : float or None
        What it has played by `today`; None where that can't be estimated.
    look_on : date or None
        The day on which it reaches the low end of its usual life.
    due : bool
        That day has come.
    """

    life: StylusLife
    played_h: float | None
    look_on: date | None
    due: bool
    sentence: str


def usual_life(stylus: str) -> StylusLife | None:
    """Return the usual life of a stylus by the name of its profile; None where that says nothing."""
    named = stylus.casefold()
    return next((life for names, life in LIVES if any(name in named for name in names)), None)


def look_on(play: Play, life: StylusLife) -> date | None:
    """Return the day on which the stylus reaches the low end of its usual life; None if not known."""
    if not play.since or not play.hours_per_week:
        return None
    weeks = max(0.0, life.low_h - play.hours_before) / play.hours_per_week
    start = date.fromisoformat(play.since)
    days = round(7.0 * weeks)
    return start + timedelta(days=days) if days < (date.max - start).days else None


def stylus_reminder(stylus: str, play: Play | None, today: date) -> StylusReminder | None:
    """Return the reminder for a stylus; None where neither its life nor its use is known."""
    life = usual_life(stylus)
    if life is None or play is None:
        return None
    day = look_on(play, life)
    usual = f"a {life.profile} stylus usually lasts {life.low_h:g} to {life.high_h:g} h ({SOURCE})"
    if day is None or play.hours_per_week is None:
        return StylusReminder(
            life, None, None, False, f"Note hours_per_week and since to be reminded: {usual}."
        )
    weeks = max(0, (today - date.fromisoformat(play.since)).days) / 7.0
    played = play.hours_before + weeks * play.hours_per_week
    due = today >= day
    when = "Look at the stylus under a microscope now" if due else f"Look at the stylus by {day}"
    return StylusReminder(
        life,
        played,
        day,
        due,
        f"{when}: it has played about {played:.0f} h by the owner's estimate; {usual}.",
    )
