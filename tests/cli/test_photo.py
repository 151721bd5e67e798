"""The command photo: one JSON object, clear words, exit codes, and nothing written where nothing was read."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from groovewright.cli import main
from groovewright.geometry import alignment_for_nulls
from groovewright.job import log_from_toml
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Look
from groovewright.store import new_job, open_store

CAMERA = Camera(2200, 1650, 1750.0, 280.0, 3.0, 30.0, 10.0)


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    folder = tmp_path_factory.mktemp("photos")
    drawing = two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
    )
    printed = sheet_pixels(drawing)
    for name, flag, aside in (("left", Flag(), -4.0), ("right", Flag(), 4.0), ("bare", None, 3.0)):
        gray = photograph(
            drawing=drawing, pixels=printed, null="outer",
            cartridge=None if flag is None else Cartridge(yaw_deg=-0.8),
            camera=replace(CAMERA, sideways_deg=aside, front_deg=8.0 if flag is None else CAMERA.front_deg),
            look=Look(), random=np.random.default_rng(3), flag=flag,
        )  # fmt: skip
        cv2.imwrite(str(folder / f"{name}.jpg"), gray)
    return folder


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as stop:
        main([str(argument) for argument in arguments])
    out, err = capsys.readouterr()
    return stop.value.code, out, err


def test_two_photos_give_one_json_object_with_everything_that_was_promised(capsys, photos, tmp_path):
    picture = tmp_path / "seen.png"
    code, out, _ = run(capsys, "photo", photos / "left.jpg", photos / "right.jpg", "--json", "--out", picture)
    found = json.loads(out)
    assert code == 0
    assert found["yaw_deg"] == pytest.approx(-0.8, abs=0.1)
    assert 0.0 < found["yaw_sd_deg"] < 0.1
    assert (found["null"], found["method"]) == ("outer", "flag")
    assert found["markers_used"] >= 8
    assert 0.0 < found["residual_px"] < 0.5
    assert found["warnings"] == []
    assert picture.read_bytes()[:4] == b"\x89PNG"


def test_a_photo_that_can_t_be_read_ends_with_1_and_writes_nothing(capsys, photos, tmp_path):
    picture = tmp_path / "seen.png"
    code, out, err = run(capsys, "photo", photos / "bare.jpg", "--out", picture)
    assert (code, out) == (1, "")
    assert "put the flag on" in err
    assert not picture.exists()


def test_another_sheet_than_was_named_ends_with_1(capsys, photos):
    code, _, err = run(capsys, "photo", photos / "left.jpg", "--sheet", "63.11:119.17")
    assert code == 1
    assert "another sheet" in err
    assert run(capsys, "photo", photos / "left.jpg", "--sheet", "66.00:120.89")[0] == 0


@pytest.mark.parametrize(
    "arguments", [["--line", "1,2,3"], ["--line", "9:1,2,300,400"], ["--azimuth"], ["--sheet", "both"]]
)
def test_what_is_typed_wrong_ends_with_2(capsys, photos, arguments):
    code, _, err = run(capsys, "photo", photos / "left.jpg", *arguments)
    assert code == 2
    assert err.startswith("groovewright: ")


def test_a_file_that_only_claims_to_be_a_photo_ends_with_2(capsys, tmp_path):
    (tmp_path / "claim.jpg").write_bytes(b"MZ this is a program")
    code, _, err = run(capsys, "photo", tmp_path / "claim.jpg")
    assert code == 2
    assert "not a photo" in err


def test_the_reading_is_added_to_the_job_file_and_the_next_move_is_told(capsys, photos, tmp_path, demo_job):
    job = tmp_path / "job.toml"
    job.write_bytes(demo_job)
    before = log_from_toml(demo_job, "job.toml")
    code, out, _ = run(capsys, "photo", photos / "left.jpg", photos / "right.jpg", "--job", job)
    assert code == 0
    assert f"Added to {job}.\nSlide it" in out
    assert job.read_bytes().startswith(demo_job)
    *kept, look = log_from_toml(job.read_bytes(), "job.toml")
    assert tuple(kept) == before
    assert look.outer == pytest.approx(-0.8, abs=0.1)
    assert look.read_from == "2 photos, flag"


def test_the_reading_is_added_to_a_job_of_the_record(capsys, photos, tmp_path, demo_job):
    record = tmp_path / "records.sqlite3"
    store = open_store(str(record))
    new_job(store, log_from_toml(demo_job, "job.toml"))
    store.close()
    code, out, _ = run(capsys, "photo", photos / "left.jpg", "--number", "1", "--database", record, "--json")
    found = json.loads(out)
    assert code == 0
    assert (found["job_number"], found["stage_status"]) == (1, "open")
    assert found["stage_sentence"].startswith("Slide it")
    missing = run(capsys, "photo", photos / "left.jpg", "--number", "9", "--database", record)
    assert missing[0] == 2
    assert "9" in missing[2]


def test_a_photo_of_another_sheet_leaves_the_job_as_it_is(capsys, photos, tmp_path, demo_job):
    job = tmp_path / "job.toml"
    other = demo_job.replace(b"pivot_to_spindle_mm = 222.0", b"pivot_to_spindle_mm = 295.0")
    job.write_bytes(other + b"\n[aim]\n" if b"[aim]" not in other else other)
    text = job.read_text("utf-8").replace("[aim]", "[aim]\nnull_inner_mm = 63.1\nnull_outer_mm = 116.6", 1)
    job.write_text(text, "utf-8")
    code, out, err = run(capsys, "photo", photos / "left.jpg", "--job", job)
    assert (code, out) == (1, "")
    assert "nulls at 66.00 and 120.89 mm" in err
    assert job.read_text("utf-8") == text
