"""The user's own catalogue: what is right is taken, what is not is named by its line."""

from __future__ import annotations

import pytest

from groovewright.job.records import Arm, Cartridge, Deck
from groovewright.quantities import InputError
from groovewright.store import import_catalogue, remembered, suggest

GOOD = """what,name,kind,stylus,mass_g,force_min_gf,force_max_gf,pivot_to_spindle_mm,speeds_rpm
cartridge,Brightwater 5,moving-magnet,fine line,6.5,1.6,2.0,,
arm,Fernhill F9,pivoted,,,,,222,
deck,Fernhill 3,,,,,,,33.333 45

cartridge,5,,,,,,,
"""


def test_decks_arms_and_cartridges_are_read_with_their_values(store):
    report = import_catalogue(store, GOOD.encode(), "own.csv")
    assert (report.added, report.refused) == (4, ())
    assert remembered(store, "cartridge", "Brightwater 5") == Cartridge(
        "Brightwater 5", "moving-magnet", "fine line", mass_g=6.5, force_min_gf=1.6, force_max_gf=2.0
    )
    assert remembered(store, "arm", "Fernhill F9") == Arm("Fernhill F9", pivot_to_spindle_mm=222.0)
    assert remembered(store, "deck", "Fernhill 3") == Deck("Fernhill 3", (33.333, 45.0))
    assert remembered(store, "cartridge", "5") == Cartridge("5")


@pytest.mark.parametrize(
    "content",
    [
        "what;name;mass_g\r\ncartridge;Willow M;6,5\r\n".encode("utf-8-sig"),
        b"what\tname\tmass_g\ncartridge\tWillow M\t6.5\n",
        b'name , what,"mass_g"\n" Willow M ",cartridge,6.5',
    ],
)
def test_the_forms_that_spreadsheets_write_are_read(sqlite_store, content):
    assert import_catalogue(sqlite_store, content, "own.csv").added == 1
    assert remembered(sqlite_store, "cartridge", "Willow M") == Cartridge("Willow M", mass_g=6.5)


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (
            "cartrige,Willow M,,,",
            "what: 'cartrige' is not known; allowed: deck, arm, cartridge; did you mean",
        ),
        ("cartridge,,6,,", "the name is missing"),
        ("cartridge,Willow M,heavy,,", "mass_g is 'heavy', not a number"),
        ("cartridge,Willow M,9000,,", "mass_g"),
        ("cartridge,Willow M,nan,,", "mass_g"),
        ("cartridge,Willow M,,moving-coil,222", "a cartridge has no 'pivot_to_spindle_mm'"),
        ("arm,Willow,,pivotted,222", "did you mean 'pivoted'"),
        ("arm,Willow,,pivoted,22.2", "pivot"),
        ("cartridge,Oakmoss P1,6,,", "'Oakmoss P1' stands in line 2 already"),
        ("cartridge,Willow M,6,,,,", "more cells than the first line"),
    ],
)
def test_a_line_that_is_not_right_is_named_with_its_reason(sqlite_store, line, why):
    content = (
        f"what,name,mass_g,kind,pivot_to_spindle_mm\ncartridge,Oakmoss P1,6,,\n{line}\ndeck,Juniper S,,,"
    )
    report = import_catalogue(sqlite_store, content.encode(), "own.csv")
    assert report.added == 2
    assert [refused.line for refused in report.refused] == [3]
    assert why in report.refused[0].why


def test_values_that_do_not_go_together_are_refused(sqlite_store):
    content = b"what,name,force_min_gf,force_max_gf\ncartridge,Willow M,2.0,1.6"
    report = import_catalogue(sqlite_store, content, "own.csv")
    assert "force_min_gf 2 is not below force_max_gf 1.6" in report.refused[0].why


def test_reading_it_again_replaces_what_changed(store):
    def read(mass):
        report = import_catalogue(store, f"what,name,mass_g\ncartridge,Willow M,{mass}".encode(), "own.csv")
        return report.added, report.replaced, report.unchanged

    assert [read(6), read(6), read(7)] == [(1, 0, 0), (0, 0, 1), (0, 1, 0)]
    assert remembered(store, "cartridge", "Willow M") == Cartridge("Willow M", mass_g=7.0)


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (b"", "is empty"),
        (b"\n \n", "is empty"),
        (b"what,name\n\xff", "byte 10 is not UTF-8"),
        (b"name,mass_g\nWillow M,6", "the column 'what' is missing"),
        (b"what,name,mas_g\n", "no column 'mas_g'; did you mean 'mass_g'"),
        (b"what,name,name\n", "stands there twice"),
        (b"what,name\ncartridge," + b"x" * 200_000, r"line \d+: field larger"),
    ],
)
def test_a_file_that_can_not_be_used_changes_nothing(sqlite_store, content, fault):
    with pytest.raises(InputError, match=fault):
        import_catalogue(sqlite_store, content, "own.csv")
    assert suggest(sqlite_store, "cartridge") == ()
