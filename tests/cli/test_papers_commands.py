"""The commands handover, guide and answer: files, summaries, errors."""

import json

import pytest
from click.testing import CliRunner

from groovewright.cli.answer import command as answer
from groovewright.cli.guide import command as guide
from groovewright.cli.handover import command as handover
from groovewright.quantities import InputError

JOB = """
[job]
title = "A job"
[arm]
name = "Fernhill F9"
pivot_to_spindle_mm = 222.0
[[step]]
look = { outer = 0.1, inner = -1.2 }
"""


@pytest.fixture
def job_file(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(JOB, "utf-8")
    return path


def run(command, *arguments, **options):
    result = CliRunner().invoke(command, [str(argument) for argument in arguments], **options)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


@pytest.mark.parametrize(
    ("command", "ending"), [(handover, "pdf"), (handover, "html"), (guide, "pdf"), (guide, "html")]
)
def test_a_paper_is_written_in_the_format_of_its_ending(command, ending, job_file, tmp_path):
    out = tmp_path / f"paper.{ending}"
    said = run(command, job_file, "--out", out)
    assert str(out).replace("\n", "") in said.replace("\n", "")
    assert out.read_bytes().startswith(b"%PDF" if ending == "pdf" else b"<!doctype html>")


@pytest.mark.parametrize("command", [handover, guide])
def test_another_ending_is_refused_with_one_that_works(command, job_file, tmp_path):
    with pytest.raises(InputError, match=r"written as \.\w+ or \.\w+"):
        run(command, job_file, "--out", tmp_path / "paper.docx")


@pytest.mark.parametrize("command", [handover, guide])
def test_a_file_that_exists_is_left_as_it_is_unless_forced(command, job_file, tmp_path):
    out = tmp_path / "paper.html"
    out.write_text("mine")
    with pytest.raises(InputError, match="--force"):
        run(command, job_file, "--out", out)
    assert out.read_text() == "mine"
    run(command, job_file, "--out", out, "--force")
    assert out.read_text("utf-8").startswith("<!doctype")


def test_the_handover_as_json_has_settings_and_code(job_file, tmp_path):
    said = json.loads(
        run(handover, job_file, "--out", tmp_path / "h.html", "--next-check", "in May", "--json")
    )
    assert said["finished"] is False
    assert said["next_check"] == "in May"
    assert {row["name"] for row in said["settings"]} >= {"Yaw at the outer point", "Yaw at the inner point"}


def test_the_guide_as_json_names_its_steps(job_file, tmp_path):
    said = json.loads(run(guide, job_file, "--out", tmp_path / "g.html", "--json"))
    assert said["sheet_radii_mm"] == [121, 66]
    assert "Look at the inner point" in said["steps"]


def test_the_answer_prints_a_sentence_and_the_lines_to_add(job_file):
    said = run(answer, job_file, "not moved. outer square, inner out 1")
    assert "back" in said
    assert 'look = { outer = "square", inner = -1 }' in said
    assert job_file.read_text("utf-8") == JOB


def test_the_answer_reads_the_standard_input_and_writes_its_drawing(job_file, tmp_path):
    text = "not moved. outer square, inner out 1"
    for ending, start in (("svg", "<svg"), ("html", "<!doctype")):
        out = tmp_path / f"answer.{ending}"
        said = json.loads(run(answer, job_file, "-", "--out", out, "--json", input=text))
        assert said["inner"] == -1.0
        assert said["events"][0]["kind"] == "moved"
        assert out.read_text("utf-8").startswith(start)


def test_an_unclear_text_is_refused(job_file):
    with pytest.raises(InputError, match="which way"):
        run(answer, job_file, "outer 1, inner square")
