"""The jobs commands as a script and as a person use them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from rich.cells import cell_len

from groovewright.cli import main
from groovewright.cli.jobs import command

ROOT = Path(__file__).parents[2]
JOB = """
[job]
title = "New cartridge"
owner = "A. Sample"
[deck]
name = "Fernhill 3"
[arm]
name = "Fernhill F9"
pivot_to_spindle_mm = 222.0
[cartridge_out]
name = "Oakmoss P1"
[cartridge_in]
name = "Brightwater 5"
stylus = "fine line"
[found]
force_gf = 1.8
[kept]
place = "drawer 3"
[play]
hours_per_week = 10
since = 2025-03-14
"""


@pytest.fixture
def bench(tmp_path, monkeypatch, capsys):
    """Return a function that runs a jobs command on a record of its own."""
    monkeypatch.setenv("GROOVEWRIGHT_DATABASE", str(tmp_path / "records.sqlite3"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "job.toml").write_text(JOB)

    def run(*arguments, code=0):
        with pytest.raises(SystemExit) as stop:
            main(["jobs", *arguments])
        said = capsys.readouterr()
        assert (stop.value.code or 0, "" if code else said.err) == (code, ""), said.err
        return said.err if code else said.out

    return run


def test_a_job_is_added_found_shown_and_gone_back_from(bench):
    assert "There are no jobs yet" in bench("list")
    assert "Job 1 is kept, with 8 events" in bench("add", "job.toml")
    assert re.search(r"^1 +20.* A\. Sample +Fernhill 3 +Brightwater 5$", bench("list"), flags=re.MULTILINE)
    assert "Fernhill 3" in bench("search", "sample", "fern")
    assert "No job has words that begin with quince" in bench("search", "quince")
    shown = bench("show", "1", "--events")
    for part in ("drawer 3", "tracking force 1.8 ± 0.03 gf", "common practice", "described cartridge_in"):
        assert part in " ".join(shown.split())
    assert "Job 2 begins: Back to Oakmoss P1" in bench("go-back", "1")
    assert "Brightwater 5  2 jobs" in bench("names", "cartridge", "bri")


def test_json_is_one_object_with_units_in_its_keys(bench):
    assert json.loads(bench("add", "job.toml", "--json"))["number"] == 1
    listed = json.loads(bench("list", "--json"))
    assert (listed["total"], listed["more"], listed["jobs"][0]["customer"]) == (1, False, "A. Sample")
    shown = json.loads(bench("show", "1", "--json"))
    assert shown["log"][2]["event"]["record"]["pivot_to_spindle_mm"] == 222.0
    assert len(shown["uid"]) == 32
    assert json.loads(bench("search", "oakmoss", "--json"))["jobs"][0]["number"] == 1
    # 600 h, the low end for a fine line stylus, at 10 h a week are 420 days from 14 March 2025
    assert json.loads(bench("due", "--by", "2026-05-07", "--json"))["jobs"] == []
    due = json.loads(bench("due", "--by", "2026-05-08", "--json"))["jobs"]
    assert [job["stylus_due"] for job in due] == ["2026-05-08"]
    assert json.loads(bench("names", "deck", "--json"))["names"][0]["name"] == "Fernhill 3"
    assert json.loads(bench("go-back", "1", "--json"))["goes_back_from"] == 1


def test_exports_imports_backups_and_restores_go_round(bench, tmp_path):
    bench("add", "job.toml")
    text = bench("export")
    bench("export", "--out", "all.json")
    assert (tmp_path / "all.json").read_text() == text
    assert "exists and was left as it is" in bench("export", "--out", "all.json", code=2)
    other = ("--database", str(tmp_path / "other.sqlite3"))
    assert json.loads(bench("import", "all.json", "--json", *other))["added"] == [1]
    assert bench("export", *other) == text
    assert "1 jobs were here already" in bench("import", "all.json")
    assert json.loads(bench("backup", "b.sqlite3", "--json")) == {"file": "b.sqlite3", "jobs": 1}
    assert "add --force" in bench("restore", "b.sqlite3", code=2)
    bench("go-back", "1")
    kept = json.loads(bench("restore", "b.sqlite3", "--force", "--json"))
    assert kept["jobs"] == 1
    assert Path(kept["before_restore"]).exists()
    assert bench("export") == text


def test_a_catalogue_is_reported_on_line_by_line(bench, tmp_path):
    (tmp_path / "own.csv").write_text("what,name,mass_g\ncartridge,Willow M,6\ncartridge,Hazel,heavy\n")
    said = bench("catalogue-import", "own.csv")
    assert "own.csv: 1 added, 0 replaced, 0 unchanged, 1 refused." in said
    assert "line 3  Hazel: mass_g is 'heavy', not a number" in said
    (tmp_path / "own.csv").write_text("what,name,mass_g\ncartridge,Hazel,heavy\n")
    assert "none of its lines was taken" in bench("catalogue-import", "own.csv", code=2)


def test_a_customer_is_taken_out_only_when_told_so(bench):
    bench("add", "job.toml")
    assert "add --yes" in bench("delete-customer", "A. Sample", code=2)
    assert "A. Sample" in bench("list")
    said = bench("delete-customer", "A. Sample", "--yes")
    assert "Taken out of 1 job" in said
    assert "Backups and exports from before still hold the data" in said
    assert "(anonymised)" in bench("list")
    assert "Sample" not in bench("export")


@pytest.mark.parametrize(
    ("arguments", "code", "fault"),
    [
        (["lst"], 2, "There is no command 'jobs lst'. Did you mean 'list'?"),
        (["show", "9"], 2, "there is no job 9"),
        (["show", "x"], 2, "not a valid integer"),
        (["list", "--page", "0"], 2, "page 0"),
        (["due", "--by", "soon"], 2, "--by soon is not a day"),
        (["add", "nothing.toml"], 2, "can't be read"),
        (["import", "nothing.json"], 2, "can't be read"),
        (["restore", "nothing.sqlite3"], 2, "is not there"),
        (["list", "--database", "mysql://x/y"], 2, "'mysql' is not served"),
        (["go-back", "1"], 2, "there is no job 1"),
        (["list", "--database", "job.toml"], 1, "damaged or is no record"),
    ],
)
def test_what_can_not_be_done_is_said_in_one_line(bench, arguments, code, fault):
    said = bench(*arguments, code=code)
    assert fault in said
    assert said.count("\n") == 1


@pytest.mark.parametrize(
    "owner", ["東京 太郎 と とても 長い 名前 の 人", "Александра Константиновна Длиннофамильная"]
)
def test_a_list_fits_eighty_columns_whatever_the_script(bench, tmp_path, owner):
    (tmp_path / "long.toml").write_text(
        JOB.replace("A. Sample", owner).replace("Fernhill 3", "Fernhill " * 8)
    )
    bench("add", "long.toml")
    for text in (bench("list"), bench("search", "fernhill"), bench("names", "deck")):
        assert max(cell_len(line) for line in text.splitlines()) <= 80


def test_a_job_with_long_texts_fits_eighty_columns(bench, tmp_path):
    (tmp_path / "long.toml").write_text(JOB.replace("drawer 3", "a drawer far away " * 9))
    bench("add", "long.toml")
    for text in (bench("show", "1", "--events"), bench("go-back", "1")):
        assert max(len(line) for line in text.splitlines()) <= 80


def test_the_handbook_names_every_command_and_every_key_of_an_export(bench):
    handbook = (ROOT / "docs/records.md").read_text(encoding="utf-8")
    bench("add", "job.toml")
    document = json.loads(bench("export"))
    job = document["jobs"][0]
    for key in {*document, *job, *job["events"][0]}:
        assert f"`{key}`" in handbook, key
    for name in command.commands:
        assert name == "show" or f"jobs {name}" in handbook, name
