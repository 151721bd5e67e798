"""The documents say what the program knows: a key, command, word or name can't be added without them."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from groovewright.cli.app import COMMANDS
from groovewright.geometry import Alignment
from groovewright.geometry.why import CRITERION_SOURCES
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS
from groovewright.job.records import RECORDS
from groovewright.squaring import WORDS, Advice
from groovewright.squaring.policy import REASONS

ROOT = Path(__file__).parents[1]


def words_of(name):
    return set(re.findall(r"[A-Za-z0-9_.\-]+", (ROOT / name).read_text(encoding="utf-8")))


@pytest.mark.parametrize("section", SECTION_KEYS)
def test_every_key_of_a_section_is_in_the_job_document(section):
    assert {section, *SECTION_KEYS[section]} <= words_of("docs/job.md")


@pytest.mark.parametrize("step", STEP_KEYS)
def test_every_key_of_a_step_is_in_the_job_document(step):
    assert {step, *STEP_KEYS[step]} <= words_of("docs/job.md")


def test_every_key_is_a_field_of_its_record_and_the_other_way_round():
    for section, keys in SECTION_KEYS.items():
        assert set(keys) == {entry.name for entry in fields(RECORDS[section])}


def test_every_word_for_a_yaw_is_in_the_job_document():
    assert set(WORDS) <= words_of("docs/job.md")


def test_every_command_is_in_the_readme():
    assert set(COMMANDS) <= words_of("README.md")


def test_every_criterion_has_its_source():
    from groovewright.geometry import CRITERIA, CRITERION_NAMES

    assert set(CRITERIA) <= set(CRITERION_SOURCES)
    assert set(CRITERIA) == set(CRITERION_NAMES)


def glossary():
    text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([a-z][A-Za-z0-9_, ]*[a-zA-Z0-9]) \| ", text, flags=re.MULTILINE)
    return {name.strip() for row in rows for name in row.split(",")} - {"name", "layer", "doors"}


def test_every_name_of_the_glossary_is_used():
    source = " ".join(path.read_text(encoding="utf-8") for path in (ROOT / "src").rglob("*.py"))
    used = set(re.findall(r"[A-Za-z0-9_]+", source))
    assert {name for name in glossary() if "_" in name} <= used


def test_measures_of_the_plan_are_in_the_glossary():
    named = {entry.name for kind in (Alignment, Advice) for entry in fields(kind)}
    measures = {name.replace("_sd_", "_") for name in named if re.search(r"_(mm|deg)$", name)}
    # the same measure at another time or place keeps its name with a word in front
    bare = {re.sub(r"^(predicted|aim|yaw)_(outer|inner)?_?", "yaw_", name) for name in measures}
    known = glossary() | {"within_at_90_percent_deg"}
    assert {name for name in bare if name not in known} == set()


def test_reasons_are_sentences_without_a_full_stop():
    assert all(reason and not reason.endswith(".") for reason in REASONS.values())
