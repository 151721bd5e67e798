"""Jobs are found by the beginnings of words, page by page; names that came before are suggested."""

from __future__ import annotations

from dataclasses import replace

import pytest

from groovewright.job import Described, Moved, Redone, Undone
from groovewright.job.kept import Kept
from groovewright.job.records import Arm, Cartridge, Deck, Job
from groovewright.job.wear import Play
from groovewright.quantities import InputError
from groovewright.store import (
    append,
    import_catalogue,
    list_jobs,
    new_job,
    read_job,
    remembered,
    search,
    stylus_due,
    suggest,
)
from groovewright.store import listing as listing_module
from groovewright.store.words import after_prefix, folded, words


def job(owner="", deck="", going_in="", out="", arm="", title=""):
    return (
        Described("job", Job(title=title, owner=owner)),
        Described("deck", Deck(deck)),
        Described("arm", Arm(arm)),
        Described("cartridge_out", Cartridge(out)),
        Described("cartridge_in", Cartridge(going_in)),
    )


def numbers(page):
    return [listed.number for listed in page.jobs]


@pytest.fixture
def three(store):
    new_job(
        store, job("A. Sample", "Fernhill 3", "Brightwater 5", "Oakmoss P1", "Fernhill F9", "New cartridge")
    )
    new_job(store, job("Łucja Żółć", "Alder Twelve", "Oakmoss P1", title="Lead broken"))
    new_job(store, job("東京 太郎", "Juniper S", "Brightwater 5"))
    return store


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("sample", [1]),
        ("SAMPLE", [1]),
        ("fern", [1]),
        ("brightwater", [3, 1]),
        ("oakmoss", [2, 1]),
        ("bright juni", [3]),
        ("lucja zolc", [2]),
        ("ŻÓŁĆ", [2]),
        ("東京", [3]),
        ("太", [3]),
        ("f9", [1]),
        ("lead", [2]),
        ("5", [3, 1]),
        ("ample", []),
        ("sample juniper", []),
        ("sample's", [1]),
        ("%", None),
        ("' OR 1=1 --", []),
    ],
)
def test_a_job_is_found_by_the_beginnings_of_its_words(three, text, found):
    if found is None:
        with pytest.raises(InputError, match="has no word to search for"):
            search(three, text)
    else:
        assert numbers(search(three, text)) == found


@pytest.mark.parametrize("rare", [0, 10_000])
def test_common_words_find_the_same_jobs_as_rare_ones(store, monkeypatch, rare):
    for number in range(30):
        new_job(store, job(f"Customer {number % 3}", f"Fernhill {number % 2}", "Brightwater 5"))
    expected = [n for n in range(30, 0, -1) if (n - 1) % 3 == 1 and (n - 1) % 2 == 0]
    monkeypatch.setattr(listing_module, "RARE", rare)  # 0: no word counts as rare
    assert numbers(search(store, "brightwater customer 1 fernhill 0", size=100)) == [
        n for n in range(30, 0, -1) if {(n - 1) % 3, (n - 1) % 2} >= {0, 1}
    ]
    assert numbers(search(store, "brig", page=2, size=7)) == list(range(23, 16, -1))
    assert set(expected) <= set(numbers(search(store, "1 0", size=100)))


def test_a_search_follows_what_a_job_says_now(store):
    number = new_job(store, job("A. Sample", "Fernhill 3"))
    append(store, number, Described("deck", Deck("Alder Twelve")), 5)
    assert numbers(search(store, "fernhill")) == []
    assert numbers(search(store, "alder")) == [number]
    append(store, number, Undone(), 6)
    assert numbers(search(store, "fernhill")) == [number]
    assert numbers(search(store, "alder")) == []
    append(store, number, Redone(), 7)
    assert numbers(search(store, "alder")) == [number]
    assert read_job(store, number).header.deck == "Alder Twelve"


def test_the_list_is_paged_with_the_last_change_first(store):
    for number in range(5):
        new_job(store, job(f"Customer {number}"))
    append(store, 2, Moved(1.0, 0.0), 5)
    pages = [list_jobs(store, page, size=2) for page in (1, 2, 3, 4)]
    assert [numbers(page) for page in pages] == [[2, 5], [4, 3], [1], []]
    assert [page.more for page in pages] == [True, True, False, False]
    assert {page.total for page in pages} == {5}


@pytest.mark.parametrize(("page", "size"), [(0, 20), (-1, 20), (10**9, 20), (1, 0), (1, 501)])
def test_a_page_that_can_not_be_is_refused(store, page, size):
    for ask in (list_jobs, lambda *where: search(store, "a", *where[1:])):
        with pytest.raises(InputError, match="page"):
            ask(store, page, size)


def test_jobs_are_listed_by_the_day_on_which_their_stylus_is_due(store):
    for hours_per_week, since in ((7.0, "2026-01-01"), (14.0, "2026-01-01"), (None, "2026-01-01"), (7.0, "")):
        play = Described("play", Play(hours_per_week, 0.0, since))
        new_job(store, (Described("cartridge_in", Cartridge("Oakmoss P1", stylus="elliptical")), play))
    # 300 h at 7 h a week is 300 days, at 14 h 150 days
    assert numbers(stylus_due(store, "2026-05-30")) == []
    assert numbers(stylus_due(store, "2026-05-31")) == [2]
    assert numbers(stylus_due(store, "2026-10-28")) == [2, 1]


def test_the_list_shows_where_the_old_cartridge_lies(store):
    new_job(store, (Described("kept", Kept(place="drawer 3,\nbox 12")),))
    assert list_jobs(store).jobs[0].header.kept_at == "drawer 3, box 12"


def test_names_are_suggested_from_jobs_and_the_catalogue(three):
    import_catalogue(three, b"what,name,mass_g\ncartridge,Willow M,5\ncartridge,oakmoss p1,6", "own.csv")
    named = [(s.name, s.jobs, s.last_job, s.in_catalogue) for s in suggest(three, "cartridge")]
    assert named == [
        ("Brightwater 5", 2, 3, False),
        ("oakmoss p1", 2, 2, True),
        ("Willow M", 0, None, True),
    ]
    assert [s.name for s in suggest(three, "deck", "tw")] == ["Alder Twelve"]
    assert [s.name for s in suggest(three, "customer", "zol")] == ["Łucja Żółć"]
    assert suggest(three, "deck", "%") == ()
    with pytest.raises(InputError, match=r"kind: 'dekc' is not known.*did you mean 'deck'"):
        suggest(three, "dekc")


def test_a_name_that_was_put_right_is_not_suggested_any_more(store):
    number = new_job(store, job(deck="Fernhil 3"))
    append(store, number, Described("deck", Deck("Fernhill 3")), 5)
    assert [s.name for s in suggest(store, "deck")] == ["Fernhill 3"]


def test_what_was_last_said_about_a_thing_is_remembered(store):
    arm = Arm("Fernhill F9", pivot_to_spindle_mm=221.0)
    new_job(store, (Described("arm", arm),))
    new_job(store, (Described("arm", replace(arm, pivot_to_spindle_mm=222.0)),))
    new_job(store, (Described("arm", Arm("Fernhill F9 long")),))
    assert remembered(store, "arm", "fernhill  F9") == replace(arm, pivot_to_spindle_mm=222.0)
    import_catalogue(store, b"what,name,mass_g\ncartridge,Willow M,5", "own.csv")
    assert remembered(store, "cartridge", "willow m") == Cartridge("Willow M", mass_g=5.0)
    assert remembered(store, "cartridge", "Nothing") is None
    assert remembered(store, "customer", "A. Sample") is None


def test_texts_are_compared_without_capitals_and_accents():
    assert folded("  Łódź\tCAFÉ\nStraße ") == "lodz cafe strasse"
    assert folded("ΑΘΉΝΑ") == "αθηνα"
    assert words(["Fernhill 3", "F9/b_c"]) == {"fernhill", "3", "f9", "b", "c"}


@pytest.mark.parametrize("prefix", ["a", "fern", "東", "\ud7ff", "z\U0010ffff"])
def test_what_begins_with_a_prefix_comes_before_what_follows_it(prefix):
    assert prefix < prefix + "\U0010fffe" < after_prefix(prefix) or prefix.endswith("\U0010ffff")
    assert after_prefix(prefix).encode()  # no half characters
