"""The photographs of the demo job: its cartridge with the flag over its sheet, and its front over a mirror."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from groovewright.sheets import Drawing
from groovewright.simulate.photo_clutter import random_clutter
from groovewright.simulate.photo_mirror import azimuth_scene
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph, sheet_pixels
from groovewright.simulate.photograph import Camera, Image, Look

SEED = 20
YAW_DEG = 0.6
"""At the inner null, as the demo's last look found it by eye."""

_CAMERA = Camera(1800, 1350, 1400.0, 230.0, 0.0, 29.0, 12.0, bend=-0.01)
_LOOK = Look(blur_px=0.8, noise=0.006, light=(-0.5, 0.3), shadow=0.35)
_CARTRIDGE = Cartridge(
    yaw_deg=YAW_DEG, pitch_deg=0.4, roll_deg=-0.3, ahead_mm=2.5, shade=0.10, shell_turn_deg=0.8
)
_FLAG = Flag(lean_deg=0.6, fold_deg=92.0, skew_deg=0.15, shift_mm=0.08, dusk=0.15, aslant=0.05)


def demo_photos(drawing: Drawing) -> dict[str, Image]:
    """Return the demo's photographs over its sheet by name: left, right and the mirror."""
    pixels = sheet_pixels(drawing)
    clutter = random_clutter(np.random.default_rng(SEED))
    photos = {
        name: photograph(
            drawing=drawing,
            pixels=pixels,
            null="inner",
            cartridge=_CARTRIDGE,
            camera=replace(_CAMERA, sideways_deg=aside, roll_deg=roll),
            look=_LOOK,
            random=np.random.default_rng(SEED + k),
            flag=_FLAG,
            clutter=clutter,
        )
        for k, (name, aside, roll) in enumerate((("left", -6.0, 8.0), ("right", 5.0, -5.0)))
    }
    return photos | {"mirror": azimuth_scene(np.random.default_rng(SEED)).taken()}
