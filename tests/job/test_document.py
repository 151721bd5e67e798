"""The job file: read into the same events as everything else; whatever is wrong with it is bad input."""

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from groovewright.job import Described, Looked, Moved, fold, log_from_toml, plan
from groovewright.job.document import LARGEST_FILE
from groovewright.job.events import STEP_KINDS
from groovewright.job.keys import SECTION_KEYS, STEP_KEYS
from groovewright.job.records import RECORDS
from groovewright.quantities import InputError
from groovewright.quantities.errors import BenchError

VALUES = (
    "1e308", "-1", "0", "nan", "-inf", "[]", "{}", "true", "'x'", "'square'", "1979-05-27", "12:30:00", "[1]", "''",
    "9", "0.23", "'60:140'", "'parallel'", "'fixed-holes'", "22.9", "240.0", "[[1]]", "9" * 40, "'\\u0000'",
    '"\\u001b\\n"', "{ a = 1 }", "0x10", "1_000", "", "=", "[",
)  # fmt: skip
LINES = (
    "[[step]]", "[step]", "[arm]", "[[arm]]", "[aim.x]", "[ arm ]", "[\"arm\"]", "x = 1", "step = 3", "arm = 3",
    "kind = 'parallel'", "effective_length_mm = 239.3", "offset_angle_deg = 23.0", "null_inner_mm = 66.0",
    "look = {}", "moved = { slide_mm = 1.0, turn_deg = 0.0, x = 1 }", "'''", "# é", "\ufeff", "\x00",
)  # fmt: skip
NUMBER = re.compile(r"-?\d+\.\d+")


@st.composite
def mutations(draw, text):
    """Return the demo's text with some lines changed, left out, put in, or cut off."""
    lines = text.splitlines()
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.integers(0, 5)):
            case 0:
                lines[at] = f"{lines[at].split('=')[0]}= {draw(st.sampled_from(VALUES))}"
            case 1:
                value = draw(st.sampled_from(VALUES))
                lines[at] = NUMBER.sub(lambda _, value=value: value, lines[at], count=1)
            case 2:
                lines.insert(at, draw(st.sampled_from((*LINES, *lines))))
            case 3 if len(lines) > 1:
                del lines[at]
            case 4:
                inside = draw(st.integers(0, len(lines[at])))
                lines[at] = lines[at][:inside] + draw(st.text(max_size=3)) + lines[at][inside + 1 :]
            case _:
                lines = lines[: at + 1]
    return "\n".join(lines).encode("utf-8", "surrogatepass")


FIXED = settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def read(content):
    """Return the events of a job and None, or none and what is wrong; any other failure is a defect."""
    try:
        return log_from_toml(content, "job.toml"), None
    except InputError as error:
        return (), str(error)


@settings(FIXED, max_examples=400)
@given(data=st.data())
def test_a_mutilated_job_is_read_or_is_bad_input_and_nothing_else(demo_text, data):
    log, wrong = read(data.draw(mutations(demo_text)))
    assert wrong is None or wrong.startswith("job.toml")
    assert all(isinstance(event, (Described, *STEP_KINDS.values())) for event in log)


@settings(FIXED, max_examples=300)
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_are_bad_input(content):
    _, wrong = read(content)
    assert wrong is None or wrong.startswith("job.toml")


@settings(FIXED, max_examples=60)
@given(data=st.data())
def test_a_job_that_can_be_read_can_be_planned_or_says_why_not(demo_text, data):
    log, _ = read(data.draw(mutations(demo_text)))
    try:
        planned = plan(fold(log))
    except BenchError:
        # only what the sections say together can be wrong here: the whole demo can be planned
        planned = plan(fold(read(demo_text.encode())[0]))
    assert planned.next_move.strip()
    assert all(report.sentence.strip() for report in planned.stages)


def test_sections_come_first_and_steps_in_their_order():
    text = (
        b"[[step]]\nlook = {outer = 'square', inner = -1.5}\n"
        b"[[step]]\nmoved = {slide_mm = -2, turn_deg = 0}\n[job]\n"
    )
    log = log_from_toml(text, "j")
    assert log == (Described("job", RECORDS["job"]()), Looked("square", -1.5), Moved(-2.0, 0.0))


def test_every_key_that_a_file_may_use_is_a_field_and_the_other_way_round():
    assert set(SECTION_KEYS) == set(RECORDS)
    for section, keys in SECTION_KEYS.items():
        assert set(keys) == set(RECORDS[section].__dataclass_fields__), section
    assert set(STEP_KEYS) == set(STEP_KINDS)
    for kind, keys in STEP_KEYS.items():
        # bands and notes of a finding stand beside the numbers in a file, inside the finding in the record
        beside = {"measured_in", "notes"} if kind == "listened" else set()
        assert set(keys) == set(STEP_KINDS[kind].__dataclass_fields__) | beside, kind


def test_a_file_of_the_largest_size_is_still_read():
    text = b"[job]\nowner = 'A. Sample'\n"
    log = log_from_toml(text + b"#" * (LARGEST_FILE - len(text)), "j")
    assert fold(log).job.owner == "A. Sample"


def test_an_error_names_the_line_of_its_section_as_an_editor_counts_it(demo_text):
    wrong = demo_text.replace("effective_mass_g = 11.0", "effective_mass_kg = 0.011")
    line = demo_text.splitlines().index("[arm]") + 1
    with pytest.raises(
        InputError, match=rf"job.toml, line {line}, \[arm\]: .*did you mean 'effective_mass_g'"
    ):
        log_from_toml(wrong.encode(), "job.toml")


def test_texts_in_any_script_are_kept_as_they_are():
    owner = "Žofie Ωmega 山田 🎶"
    assert fold(log_from_toml(f"[job]\nowner = '{owner}'\n".encode(), "j")).job.owner == owner


def test_a_text_longer_than_a_paper_can_hold_is_refused():
    with pytest.raises(InputError, match="501 characters; allowed are 500"):
        log_from_toml(f"[job]\nnotes = '{'x' * 501}'\n".encode(), "j")
