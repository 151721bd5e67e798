"""`groovewright plan` and `groovewright demo`: the next move first, then the stages, and the sheet."""

import json

import pypdf
import pytest


@pytest.fixture
def job(here, demo_job):
    """The demo job as a file of the user's own."""
    (here / "my-job.toml").write_bytes(demo_job)
    return here / "my-job.toml"


def test_the_plan_tells_the_next_move_first_and_every_stage(run, job):
    code, text, errors = run("plan", job.name)
    assert (code, errors) == (0, "")
    lines = text.splitlines()
    assert "A. Sample" in lines[0] + lines[1]
    assert " ".join(text.split()).index("Next, square: Slide it") < text.index("INTAKE")
    assert text.count("(NEXT)") >= 1
    for stage in ("INTAKE", "SQUARE"):
        assert f"\n{stage}  (" in text
    assert max(map(len, lines)) <= 80
    assert "Caution: Stylus guard on" in text


def test_the_plan_as_json_has_a_status_and_a_sentence_for_every_stage(run, job):
    _, text, _ = run("plan", job.name, "--json")
    values = json.loads(text)
    assert values["next_stage"] == "square"
    assert values["sheet_file"] is None
    stages = {stage["stage"]: stage for stage in values["stages"]}
    assert stages["square"]["sentence"] == values["next_move"]
    assert all(stage["status"] in ("done", "open", "waiting", "not-needed") for stage in stages.values())
    assert stages["square"]["verdict"] == "adjust"
    # the aim of the demo, Lofgren A for 222 mm, from high-precision brute force
    assert stages["square"]["aim_overhang_mm"] == pytest.approx(17.296, abs=0.001)


def test_plan_and_square_agree_on_the_next_move(run, job):
    _, text, _ = run("plan", job.name, "--json")
    planned = next(stage for stage in json.loads(text)["stages"] if stage["stage"] == "square")
    _, text, _ = run(
        "square", "--pivot-to-spindle", 222, "--round", 0.1, -1.2, "--moved", -3.5, -1.8, "--round", -0.2, 0.6,
        "--tolerance-deg", 0.5, "--room", "6:5", "--json",
    )  # fmt: skip
    asked = json.loads(text)
    for key in ("slide_mm", "turn_deg", "probability_within_tolerance", "outer_screw_mm"):
        assert asked[key] == pytest.approx(planned[key], abs=1e-6)


def test_why_gives_a_source_for_every_number(run, job):
    _, text, _ = run("plan", job.name, "--why")
    assert text.count("source:") >= 4
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_sheet_of_the_plan_is_written_once(run, job, here, paper, size_mm):
    code, text, _ = run("plan", job.name, "--out", "papers/new", "--paper", paper)
    assert code == 0
    sheet = here / "papers" / "new" / "my-job-sheet.pdf"
    assert str(sheet.relative_to(here)) in text
    box = pypdf.PdfReader(sheet).pages[0].mediabox
    assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size_mm, abs=0.05)
    before = sheet.read_bytes()
    code, text, errors = run("plan", job.name, "--out", "papers/new")
    assert (code, text) == (2, "")
    assert "--force" in errors
    assert sheet.read_bytes() == before
    assert run("plan", job.name, "--out", "papers/new", "--force")[0] == 0


def test_a_job_with_nothing_in_it_but_a_name_asks_for_the_arm(run, here):
    (here / "start.toml").write_text("[job]\nowner = 'A. Sample'\n")
    code, text, _ = run("plan", "start.toml", "--out", "papers")
    assert code == 0
    assert "Next, intake: Describe the arm first" in " ".join(text.split())
    assert not (here / "papers").exists()


def test_a_byte_order_mark_and_windows_line_ends_are_read_alike(run, here, demo_job):
    (here / "a.toml").write_bytes(demo_job)
    (here / "b.toml").write_bytes(b"\xef\xbb\xbf" + demo_job.replace(b"\n", b"\r\n"))
    assert run("plan", "a.toml") == run("plan", "b.toml")


def test_the_demo_writes_its_job_and_its_sheet_and_plans_it(run, here, demo_job):
    code, text, errors = run("demo", "--out", "papers")
    assert (code, errors) == (0, "")
    assert (here / "papers" / "fernhill.toml").read_bytes() == demo_job
    assert len(pypdf.PdfReader(here / "papers" / "fernhill-sheet.pdf").pages) == 1
    assert "Lantern Lane Audio Workshop" in text
    assert max(map(len, text.splitlines())) <= 80
    _, planned, _ = run("plan", "papers/fernhill.toml")
    assert text.split("\nThe sheet is")[0] == planned.split("\nAdd --out")[0]


def test_the_demo_again_and_again_replaces_nothing(run, here):
    assert run("demo", "--out", "papers")[0] == 0
    first = sorted(path.name for path in (here / "papers").iterdir())
    assert run("demo", "--out", "papers")[0] == 0
    assert sorted(path.name for path in (here / "papers").iterdir()) == first
    mine = here / "papers" / "fernhill-sheet.pdf"
    mine.write_text("mine")
    (here / "papers" / "fernhill.toml").write_text("# mine")
    code, text, _ = run("demo", "--out", "papers")
    assert code == 0
    assert mine.read_text() == "mine"
    assert (here / "papers" / "fernhill.toml").read_text() == "# mine"
    assert "fernhill-sheet-2.pdf" in text
    assert (here / "papers" / "fernhill-2.toml").exists()
