"""Random photographs as people take them: as the guidance asks, or from anywhere; the truth comes along."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.sheets import Drawing
from groovewright.simulate.photo_clutter import Clutter, random_clutter
from groovewright.simulate.photo_scenes import Cartridge, Flag, photograph
from groovewright.simulate.photograph import Camera, Canvas, Image, Look, Single, turned

GUIDED_FRONT_DEG = (22.0, 38.0)
GUIDED_BODY_FRONT_DEG = (0.0, 8.0)
"""From where the guidance asks for a photograph of the body alone, in degrees from upright to the front."""
GUIDED_SIDEWAYS_DEG = 8.0
FOLD_SKEW_DEG = 0.25
FOLD_SHIFT_MM = 0.15
"""How far a fold along a ruler lies off the printed one: 0.06 mm at each end of 20 mm, and 0.15 mm in all."""
FOLD_RADIUS_MM = (0.05, 0.4)
"""How round a fold along a ruler is: paper is 0.1 mm thick (our own choice)."""
BOW_SD_MM = 0.1
"""How far the flange is bowed half way along it, as paper curls by 0.7 mm over 30 (our own choice)."""
MOST_DUSK, ASLANT_SD = 0.35, 0.1
"""How much light may be lost at the fold under a headshell, and how unevenly it falls across the strip: as seen
where light bounces between sheet, flag and headshell (our own choice)."""


@dataclass(frozen=True)
class Setting:
    """One photograph to be taken."""

    null: str
    cartridge: Cartridge
    camera: Camera
    look: Look
    flag: Flag | None
    seed: int
    clutter: Clutter | None = None

    def taken(self, drawing: Drawing, pixels: Single) -> Image:
        """Return the photograph."""
        return photograph(
            drawing=drawing,
            pixels=pixels,
            null=self.null,
            cartridge=self.cartridge,
            camera=self.camera,
            look=self.look,
            random=np.random.default_rng(self.seed),
            flag=self.flag,
            clutter=self.clutter,
        )

    def front_outline(self) -> FloatArray:
        """Return both ends, in pixels, of the front's foremost edge: of its face the lower one, where that shows."""
        c = self.cartridge
        half = c.width_mm / 2.0 - c.nose_mm - 0.2
        attitude = turned(c.yaw_deg, c.pitch_deg, c.roll_deg)
        before = float(self.camera.position() @ attitude[:, 1]) > c.ahead_mm
        height = c.low_mm if before else c.high_mm
        ends = np.array([[-half, c.ahead_mm, height], [half, c.ahead_mm, height]])
        canvas = Canvas(replace(self.camera))
        return canvas.to_pixels(canvas.to_rays(ends @ attitude.T))


def guided_setting(random: np.random.Generator, *, with_flag: bool, ahead_mm: tuple[float, float]) -> Setting:
    """Return a photograph taken as the guidance asks: of a flag from the front, of the body alone from above."""
    front = float(random.uniform(*(GUIDED_FRONT_DEG if with_flag else GUIDED_BODY_FRONT_DEG)))
    sideways = float(random.uniform(-GUIDED_SIDEWAYS_DEG, GUIDED_SIDEWAYS_DEG))
    return _setting(random, sideways, front, with_flag, ahead_mm)


def free_setting(random: np.random.Generator, *, with_flag: bool, ahead_mm: tuple[float, float]) -> Setting:
    """Return a photograph from anywhere within 30 degrees of upright."""
    tilt, way = math.radians(30.0 * math.sqrt(random.uniform())), random.uniform(0.0, 2.0 * math.pi)
    sideways = math.degrees(math.atan(math.tan(tilt) * math.cos(way)))
    front = math.degrees(math.atan(math.tan(tilt) * math.sin(way)))
    return _setting(random, sideways, front, with_flag, ahead_mm)


def from_other_side(setting: Setting, random: np.random.Generator) -> Setting:
    """Return a second photograph of the same state, the camera moved through upright to the opposite side."""
    camera = setting.camera
    moved = replace(
        camera,
        sideways_deg=-camera.sideways_deg + float(random.normal(0.0, 2.0)),
        front_deg=-camera.front_deg + float(random.normal(0.0, 2.0)),
        roll_deg=float(random.uniform(0.0, 360.0)),
    )
    return replace(setting, camera=moved, seed=int(random.integers(1 << 31)))


def _setting(
    random: np.random.Generator,
    sideways_deg: float,
    front_deg: float,
    with_flag: bool,
    ahead_mm: tuple[float, float],
) -> Setting:
    megapixels = random.uniform(3.0, 12.0)
    width = int(math.sqrt(megapixels * 1e6 * 4.0 / 3.0))
    middle = random.normal(0.0, 0.004 * width, 2)
    camera = Camera(
        width,
        int(0.75 * width),
        float(random.uniform(0.65, 0.88)) * width,
        float(random.uniform(200.0, 450.0)),
        sideways_deg,
        front_deg,
        float(random.uniform(0.0, 360.0)),
        (float(random.uniform(-15.0, 15.0)), float(random.uniform(-10.0, 20.0)), 5.0),
        float(random.uniform(-0.03, 0.03)),
        float(random.uniform(-0.01, 0.01)),
        (float(middle[0]), float(middle[1])),
    )
    look = Look(
        blur_px=float(random.uniform(0.6, 1.8)) * math.sqrt(megapixels / 8.0),
        noise=float(random.uniform(0.005, 0.02)),
        light=(float(random.uniform(-0.7, 0.7)), float(random.uniform(-0.7, 0.7))),
        shadow=float(random.uniform(0.2, 0.6)),
        gradient=(float(random.uniform(-0.2, 0.2)), float(random.uniform(-0.2, 0.2))),
        exposure=float(random.uniform(0.5, 0.95)),
    )
    flag = Flag(
        float(random.uniform(0.0, 1.5)), float(random.uniform(-1.0, 1.0)),
        float(random.normal(0.0, 1.0)), float(random.normal(90.0, 5.0)),
        float(random.normal(0.0, FOLD_SKEW_DEG)), float(random.normal(0.0, FOLD_SHIFT_MM)),
    )  # fmt: skip
    setting = Setting(
        str(random.choice(["inner", "outer"])),
        random_cartridge(random, ahead_mm),
        camera,
        look,
        flag if with_flag else None,
        int(random.integers(1 << 31)),
        random_clutter(random),
    )
    if setting.flag is None:
        return setting
    dusk, aslant = float(random.uniform(0.0, MOST_DUSK)), float(random.normal(0.0, ASLANT_SD))
    radius = float(random.uniform(*FOLD_RADIUS_MM))
    bow = float(random.normal(0.0, BOW_SD_MM))
    return replace(
        setting, flag=replace(setting.flag, radius_mm=radius, bow_mm=bow, dusk=dusk, aslant=aslant)
    )


def random_cartridge(random: np.random.Generator, ahead_mm: tuple[float, float]) -> Cartridge:
    """Return a cartridge within 4 degrees of square, not quite level, its headshell turned against it."""
    high = float(random.uniform(12.0, 17.0))
    return Cartridge(
        yaw_deg=float(random.uniform(-4.0, 4.0)),
        pitch_deg=float(random.uniform(-1.0, 1.0)),
        roll_deg=float(random.uniform(-1.0, 1.0)),
        width_mm=float(random.uniform(14.0, 19.0)),
        ahead_mm=float(random.uniform(*ahead_mm)),
        length_mm=float(random.uniform(18.0, 27.0)),
        low_mm=float(random.uniform(3.0, 5.0)),
        high_mm=high,
        nose_mm=float(random.choice([0.0, 0.0, 1.0, 2.5])),
        shade=float(random.choice([0.05, 0.12, 0.3, 0.6])),
        shell_turn_deg=float(random.uniform(-2.5, 2.5)),
        shell_ahead_mm=float(random.uniform(-2.0, 0.5)),
        shell_width_mm=float(random.uniform(18.0, 24.0)),
        shell_taper_mm=float(random.uniform(0.0, 4.0)),
        shell_shade=float(random.choice([0.05, 0.15, 0.5])),
        tube_turn_deg=float(random.uniform(15.0, 25.0)),
        cantilever_slope_deg=float(random.uniform(17.0, 25.0)),
    )
