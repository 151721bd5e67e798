"""The command photo: one JSON object, clear words, exit codes, and nothing written where nothing was read."""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from groovewright.cli import main
from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Look

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
            drawing=drawing, pixels=printed, null="outer", cartridge=Cartridge(yaw_deg=-0.8),
            camera=replace(CAMERA, sideways_deg=aside), look=Look(), random=np.random.default_rng(3), flag=flag,
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
