"""The page on mechanics can't go stale: every file and every verdict code stands in it."""

from pathlib import Path

import pytest

import groovewright.mechanics as mechanics
from groovewright.mechanics.verdict import VERDICTS, Verdict, unknown

PAGE = (Path(__file__).parents[2] / "docs" / "mechanics.md").read_text(encoding="utf-8")
FILES = sorted(
    path.name for path in Path(mechanics.__file__).parent.glob("*.py") if not path.name.startswith("_")
)


@pytest.mark.parametrize("name", FILES)
def test_every_file_is_in_the_table_of_questions(name):
    assert f"| `{name}` |" in PAGE


@pytest.mark.parametrize("code", sorted(VERDICTS))
def test_every_verdict_code_is_documented_with_its_meaning(code):
    assert f"| `{code}` | {VERDICTS[code]} |" in PAGE


def test_a_code_outside_the_table_is_refused():
    with pytest.raises(ValueError, match="not in the table"):
        Verdict("splendid", "It is splendid.")


def test_unknown_says_what_it_needs():
    assert unknown("a gauge reading").sentence == "unknown, needs a gauge reading"
