"""A recording's findings go into the job that is named, and nothing else of it changes."""

import json
from pathlib import Path

import pytest

from groovewright.audio import Band, BandList, Channel, Kind, band_list_toml
from groovewright.job import log_from_toml
from groovewright.job.heard import Listened
from groovewright.simulate.recording import Flaws, record, write_recording

RATE_HZ = 48_000
DOCS = Path(__file__).parents[2] / "docs" / "listen.md"


def tone(start_s, channel):
    name = f"{channel.value} 1000"
    return Band(name, Kind.TONE, start_s, start_s + 4.0, channel, frequency_hz=1000.0, level_cm_per_s=5.0)


BANDS = BandList((tone(0.2, Channel.LEFT), tone(4.5, Channel.RIGHT), tone(9.0, Channel.LATERAL)), name="made")


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    folder = tmp_path_factory.mktemp("listen-job")
    write_recording(
        folder / "a.wav", record(BANDS, Flaws(azimuth_deg=2.0, noise=1e-5), rate_hz=RATE_HZ), rate_hz=RATE_HZ
    )
    (folder / "a.toml").write_text(band_list_toml(BANDS), encoding="utf-8")
    return folder


@pytest.fixture
def hear(sound, run):
    def go(*arguments):
        return run("listen", sound / "a.wav", "--bands", sound / "a.toml", *arguments)

    return go


def test_the_findings_enter_a_job_file_and_the_plan_tells_the_move(hear, run_json, here, demo_job):
    Path("job.toml").write_bytes(demo_job)
    code, out, _ = hear("--job", "job.toml", "--heard-on", "2026-03-14")
    assert code == 0
    assert "Added to job.toml. Stage listen: Seen from the front the cartridge leans" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines()) <= 80
    content = Path("job.toml").read_bytes()
    assert content.startswith(demo_job)
    before, after = (log_from_toml(part, "job.toml") for part in (demo_job, content))
    assert after[:-1] == before
    event = after[-1]
    assert isinstance(event, Listened)
    assert (event.file, event.heard_on, event.as_found) == ("a.wav", "2026-03-14", False)
    assert event.finding("azimuth_deg").value == pytest.approx(2.0, abs=0.05)
    assert event.finding("leads").bands == ("left 1000", "right 1000")
    listen = next(stage for stage in run_json("plan", "job.toml")["stages"] if stage["stage"] == "listen")
    assert listen["status"] == "open"
    assert "counter-clockwise" in listen["sentence"]


def test_a_recording_as_found_is_kept_as_that(hear, here, demo_job):
    Path("job.toml").write_bytes(demo_job)
    code, out, _ = hear("--job", "job.toml", "--as-found", "--json")
    told = json.loads(out)
    assert (code, told["job_file"], told["stage_status"]) == (0, "job.toml", "done")
    assert log_from_toml(Path("job.toml").read_bytes(), "job.toml")[-1].as_found
    text = DOCS.read_text(encoding="utf-8")
    assert all(f"`{key}`" in text for key in ("job_file", "job_number", "stage_sentence", "against_load_db"))


def test_the_findings_enter_a_job_of_the_record(hear, run, run_json, here, demo_job):
    Path("job.toml").write_bytes(demo_job)
    number = run_json("jobs", "add", "job.toml", "--database", "r.sqlite3")["number"]
    before = run_json("jobs", "show", number, "--database", "r.sqlite3")
    code, out, _ = hear("--number", number, "--database", "r.sqlite3", "--json")
    told = json.loads(out)
    assert (code, told["job_number"]) == (0, number)
    assert "leans" in told["stage_sentence"]
    after = run_json("jobs", "show", number, "--database", "r.sqlite3")
    assert after["events"] == before["events"] + 1
    # and it can be carried to another record
    assert run("jobs", "export", "--out", "all.json", "--database", "r.sqlite3")[0] == 0
    assert run("jobs", "import", "all.json", "--database", "other.sqlite3")[0] == 0
    assert run_json("jobs", "show", number, "--database", "other.sqlite3")["events"] == after["events"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--job", "none.toml"), "none.toml can't be read"),
        (("--job", "bad.toml"), "no section [amr]"),
        (("--as-found",), "name it with --job or --number"),
        (("--job", "job.toml", "--heard-on", "14 March"), "write year-month-day"),
        (("--number", "7", "--database", "r.sqlite3"), "7"),
    ],
)
def test_a_job_that_is_not_there_is_told_before_anything_is_heard(hear, here, demo_job, arguments, words):
    Path("job.toml").write_bytes(demo_job)
    Path("bad.toml").write_text("[amr]\n", encoding="utf-8")
    code, out, err = hear(*arguments)
    assert code != 0
    assert out == ""
    assert words in err
    assert "Traceback" not in err
    assert Path("job.toml").read_bytes() == demo_job


def test_drawings_come_as_svg_and_png(hear, here):
    assert hear("--out", "drawn")[0] == 0
    names = {path.name for path in Path("drawn").iterdir()}
    drawn = {name.removesuffix(".svg") for name in names if name.endswith(".svg")}
    assert {"speed", "turn", "crosstalk"} <= drawn
    assert {f"{name}.png" for name in drawn} <= names
    assert all(Path("drawn", f"{name}.png").read_bytes().startswith(b"\x89PNG\r\n") for name in drawn)
