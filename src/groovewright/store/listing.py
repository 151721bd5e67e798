"""Lists of jobs: page by page, and by the words in their names."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Select, and_, exists, func, literal, select

from groovewright.quantities import InputError
from groovewright.store.header import Header
from groovewright.store.log import LARGEST_NUMBER, header_in
from groovewright.store.opening import Store
from groovewright.store.tables import job as job_table
from groovewright.store.tables import job_word
from groovewright.store.words import after_prefix, words

PAGE_SIZE = 20
LARGEST_PAGE = 500
RARE = 3000
"""Up to so many jobs that have a word, it is quickest to take those and look for the other words in them."""
GONE_THROUGH = 3 * RARE
"""So many of the newest jobs are gone through one by one for words that are all common."""


@dataclass(frozen=True)
class ListedJob:
    """A job as a list shows it; the times are ISO 8601 in UTC."""

    number: int
    created: str
    changed: str
    sequence: int
    anonymised: str | None
    header: Header


@dataclass(frozen=True)
class Page:
    """One page of a list: `total` counts all jobs of the list; None where only `more` is known."""

    jobs: tuple[ListedJob, ...]
    page: int
    more: bool
    total: int | None = None


def list_jobs(store: Store, page: int = 1, size: int = PAGE_SIZE) -> Page:
    """Return a page of all jobs, the one that changed last first.

    Raises
    ------
    InputError
        The page's number or size is out of range.
    """
    start = _start(page, size)
    with store.reading() as connection:
        total = connection.execute(select(func.count()).select_from(job_table)).scalar_one()
        return Page(
            _listed(connection, _by_change(connection, start, min(size, total - start), total)),
            page,
            start + size < total,
            total,
        )


def _by_change(connection: Connection, start: int, count: int, total: int) -> list[int]:
    """Return the numbers of some jobs in the order of their last change, counted from the nearer end."""
    if count <= 0:
        return []
    from_newest = start <= total // 2
    offset = start if from_newest else total - start - count
    columns = (job_table.c.changed, job_table.c.number)
    order = [column.desc() if from_newest else column for column in columns]
    numbers = select(job_table.c.number).order_by(*order).limit(count).offset(offset)
    found = [row[0] for row in connection.execute(numbers)]
    return found if from_newest else found[::-1]


def stylus_due(store: Store, day: str, page: int = 1, size: int = PAGE_SIZE) -> Page:
    """Return the jobs whose stylus should be looked at by a day (year-month-day), the oldest first."""
    start = _start(page, size)
    column = job_table.c.stylus_due
    with store.reading() as connection:
        numbers = (
            select(job_table.c.number)
            .where(column > "", column <= day)
            .order_by(column, job_table.c.number)
            .limit(size + 1)
            .offset(start)
        )
        found = [row[0] for row in connection.execute(numbers)]
        return Page(_listed(connection, found[:size]), page, len(found) > size)


def search(store: Store, text: str, page: int = 1, size: int = PAGE_SIZE) -> Page:
    """Return a page of the jobs that have every word of a text, the newest first.

    A word counts from its beginning ('fern' finds 'Fernhill'), without capitals and accents, in the title,
    the customer, the deck, the arm and both cartridges.

    Raises
    ------
    InputError
        There is no word in the text, or the page's number or size is out of range.
    """
    start = _start(page, size)
    wanted = sorted(words([text]), key=len, reverse=True)
    if not wanted:
        raise InputError(f"'{text}' has no word to search for; type letters or digits")
    with store.reading() as connection:
        found = matching(connection, wanted, limit=size + 1, offset=start)
        return Page(_listed(connection, found[:size]), page, len(found) > size)


def matching(connection: Connection, wanted: list[str], *, limit: int, offset: int = 0) -> list[int]:
    """Return the numbers of the jobs that have words beginning with every one of `wanted`, newest first.

    Where one of the words is rare, its jobs are taken and the others looked for in them; else the jobs are
    gone through from the newest until the page is full, or, should that take long, the sets intersected.
    """
    jobs_with = {prefix: _count(connection, prefix) for prefix in wanted}
    rarest = min(wanted, key=lambda prefix: jobs_with[prefix])
    others = [prefix for prefix in wanted if prefix != rarest]
    if jobs_with[rarest] <= RARE:
        question = (
            select(job_word.c.job_number)
            .where(_begins(rarest), *(_has(job_word.c.job_number, prefix) for prefix in others))
            .distinct()
            .order_by(job_word.c.job_number.desc())
        )
        return _numbers(connection, question, limit, offset)
    newest = select(func.max(job_table.c.number)).scalar_subquery()
    recent = _by_going_through(wanted).where(job_table.c.number > newest - GONE_THROUGH)
    found = _numbers(connection, recent, limit, offset)
    return found if len(found) == limit else _numbers(connection, _by_sets(wanted), limit, offset)


def _by_going_through(wanted: list[str]) -> Select[int]:
    number = job_table.c.number
    return select(number).where(*(_has(number, prefix) for prefix in wanted)).order_by(number.desc())


def _by_sets(wanted: list[str]) -> Select[int]:
    sets = [select(job_word.c.job_number).where(_begins(prefix)) for prefix in wanted]
    both = sets[0].intersect(*sets[1:]).subquery() if len(sets) > 1 else sets[0].distinct().subquery()
    column: ColumnElement[int] = both.c.job_number
    return select(column).order_by(column.desc())


def _numbers(connection: Connection, question: Select[int], limit: int, offset: int) -> list[int]:
    return [row[0] for row in connection.execute(question.limit(limit).offset(offset))]


def _begins(prefix: str) -> ColumnElement[bool]:
    return and_(job_word.c.word >= prefix, job_word.c.word < after_prefix(prefix))


def _has(number: ColumnElement[int], prefix: str) -> ColumnElement[bool]:
    other = job_word.alias()
    inside = and_(other.c.word >= prefix, other.c.word < after_prefix(prefix))
    return exists(select(literal(1)).where(other.c.job_number == number, inside))


def _count(connection: Connection, prefix: str) -> int:
    some = select(literal(1)).where(_begins(prefix)).limit(RARE + 1).subquery()
    return connection.execute(select(func.count()).select_from(some)).scalar_one()


def _listed(connection: Connection, numbers: list[int]) -> tuple[ListedJob, ...]:
    rows = connection.execute(select(job_table).where(job_table.c.number.in_(numbers))).mappings()
    by_number = {
        row["number"]: ListedJob(
            number=row["number"],
            created=row["created"],
            changed=row["changed"],
            sequence=row["last_sequence"],
            anonymised=row["anonymised"],
            header=header_in(row),
        )
        for row in rows
    }
    return tuple(by_number[number] for number in numbers)


def _start(page: int, size: int) -> int:
    if page < 1 or page > LARGEST_NUMBER // LARGEST_PAGE:
        raise InputError(f"page {page} is not there; pages count from 1")
    if not 1 <= size <= LARGEST_PAGE:
        raise InputError(f"a page of {size} jobs is not possible; allowed are 1 to {LARGEST_PAGE}")
    return (page - 1) * size
