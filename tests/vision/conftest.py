"""One printed sheet, and photographs of it whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import SheetLabel, two_point_sheet
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photo_settings import free_setting, guided_setting
from groovewright.simulate.photograph import Camera, Look

CAMERA = Camera(2400, 1800, 1850.0, 280.0, 3.0, 30.0, 20.0, bend=-0.01)
CARTRIDGE = Cartridge(yaw_deg=1.3, pitch_deg=0.6, roll_deg=-0.7, shell_turn_deg=2.2)


@pytest.fixture(scope="session")
def drawing():
    return two_point_sheet(
        alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=SheetLabel("Fernhill F9", "Löfgren A")
    )


@pytest.fixture(scope="session")
def printed(drawing):
    return sheet_pixels(drawing)


@pytest.fixture(scope="session")
def take(drawing, printed):
    """Take a photograph; anything may be changed from the usual."""

    def taken(
        *,
        null="outer",
        cartridge=CARTRIDGE,
        flag=None,
        seed=1,
        look=None,
        stretch=(1.0, 1.0),
        clutter=None,
        **camera,
    ):
        return photograph(
            drawing=drawing,
            pixels=printed,
            null=null,
            cartridge=cartridge,
            camera=replace(CAMERA, **camera),
            look=look or Look(),
            random=np.random.default_rng(seed),
            flag=flag,
            stretch=stretch,
            clutter=clutter,
        )

    return taken


@pytest.fixture(scope="session")
def flagged(take):
    """The usual photograph with the flag on the cartridge."""
    return take(flag=Flag(lean_deg=0.8, fold_deg=94.0))


def numbered(number, *, with_flag):
    """A photograph of the accuracy table by its number: of the flag from anywhere, or of the body as guided."""
    random = np.random.default_rng(np.random.SeedSequence(20261125, spawn_key=(number,)))
    make = free_setting if with_flag else guided_setting
    return make(random, with_flag=with_flag, ahead_mm=(1.0, 5.0))
