"""A bench page with the demo job: as an app for httpx, and served for a browser."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from bench_under_test import Running, running, served
from PIL import Image

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Look
from groovewright.store import Store, open_store
from groovewright.web import Bench
from groovewright.web.first_job import add_demo_job


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(str(tmp_path / "records.sqlite3"), bench="bench one")
    add_demo_job(opened)
    yield opened
    opened.close()


@pytest.fixture
def local(store: Store) -> Running:
    return running(store)


@pytest.fixture
def lan(store: Store) -> Running:
    return running(store, lan=True)


CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    if CHROMIUM is None:
        pytest.skip("no chromium here: apt install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A served bench page; its record is empty but for the demo job."""
    store = open_store(str(tmp_path_factory.mktemp("bench") / "records.sqlite3"))
    add_demo_job(store)
    with served(Bench(store)) as place:
        yield place
    store.close()


@pytest.fixture(scope="session")
def photo_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Rendered photos over the demo job's sheet: two with the flag from both sides, one without."""
    folder = tmp_path_factory.mktemp("photos")
    drawing = two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
    )
    printed = sheet_pixels(drawing)
    files = {}
    for name, flag, aside in (("left", Flag(), -4.0), ("right", Flag(), 4.0), ("bare", None, 3.0)):
        gray = photograph(
            drawing=drawing, pixels=printed, null="outer",
            cartridge=None if flag is None else Cartridge(yaw_deg=-0.8),
            camera=Camera(2200, 1650, 1750.0, 280.0, aside, 8.0 if flag is None else 30.0, 10.0), look=Look(),
            random=np.random.default_rng(3), flag=flag,
        )  # fmt: skip
        files[name] = folder / f"{name}.jpg"
        exif = Image.Exif()
        exif.get_ifd(GPS)[1] = "N"
        exif[MAKER] = "Fernhill"
        Image.fromarray(gray).save(files[name], quality=92, exif=exif)
    return files


GPS, MAKER = 0x8825, 0x010F
"""Exif 2.32: where a photo was taken, and the camera's maker."""
