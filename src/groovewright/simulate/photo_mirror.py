"""Photographs of an edge and its reflection: azimuth from the front, stylus rake from the side, in perspective.

Coordinates are those of the other scenes, with the mirror (or record surface) as h = 0. The reflection is the
same solid upside down below it. For azimuth the camera stands before the body; for rake a close-up looks at the
stylus from its side, the cartridge's front to the right of the picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.simulate.photograph import (
    Camera,
    Canvas,
    Face,
    Image,
    Look,
    Solid,
    box,
    solid_faces,
    turned,
)

BACKGROUND, MIRROR = 0.55, 0.45
REFLECTED = 0.75
"""Share of the light that comes back from a mirror or a record."""


@dataclass(frozen=True)
class MirrorScene:
    """A solid over a mirror, the camera, and the two edges that a person would mark.

    `edge` are the ends of the marked edge in the grid's frame, [shape=(2, 3)]; `lean_deg` is the truth: how the
    solid leans clockwise as seen from the camera.
    """

    solid: Solid
    camera: Camera
    look: Look
    edge: FloatArray
    lean_deg: float
    looking_down_deg: float
    seed: int

    def taken(self) -> Image:
        """Return the photograph. [shape=(height, width)]"""
        canvas = Canvas(self.camera)
        canvas.light[:] = np.float32(BACKGROUND)
        far = 400.0
        ground = np.column_stack([box(-far, far, -far, far), np.zeros(4)])
        # only what lies before the camera can be drawn
        ahead = (ground - canvas.centre) @ canvas.axes[2]
        if (ahead > 1.0).all():
            canvas.paint(Face(ground, MIRROR))
        else:
            canvas.light[:] = np.float32(MIRROR)
        below = [
            replace(
                face, corners=face.corners * np.array([1.0, 1.0, -1.0]), shade=face.shade * REFLECTED + 0.1
            )
            for face in solid_faces(self.solid, self._image_camera(), self.look.light)
        ]
        canvas.paint_solid(below)
        canvas.paint_solid(solid_faces(self.solid, self.camera, self.look.light))
        return canvas.developed(self.look, np.random.default_rng(self.seed))

    def _image_camera(self) -> Camera:
        """Return a camera that stands where the mirror puts this one: it sees the faces that are reflected."""
        position = self.camera.position() * np.array([1.0, 1.0, -1.0])
        return _At(**{**vars(self.camera), "place": tuple(float(v) for v in position)})

    def marked(self) -> tuple[FloatArray, FloatArray]:
        """Return the ends of the edge and of its reflection in pixels. [shapes (2, 2), (2, 2)]"""
        canvas = Canvas(self.camera)
        mirrored = self.edge * np.array([1.0, 1.0, -1.0])
        return canvas.to_pixels(canvas.to_rays(self.edge)), canvas.to_pixels(canvas.to_rays(mirrored))


@dataclass(frozen=True)
class _At(Camera):
    """A camera of which only the place matters."""

    place: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def position(self) -> FloatArray:
        return np.array(self.place)


def azimuth_scene(random: np.random.Generator) -> MirrorScene:
    """Return a cartridge on a mirror seen from the front, leaning by up to three degrees."""
    lean, pitch = float(random.uniform(-3.0, 3.0)), float(random.uniform(-1.0, 1.0))
    half = float(random.uniform(7.0, 9.0))
    attitude = turned(float(random.uniform(-2.0, 2.0)), pitch, lean)
    foot = box(-half, half, -22.0, 0.0)
    solid = Solid(
        foot, foot, 3.0, float(random.uniform(13.0, 16.0)), float(random.choice([0.05, 0.15])), attitude
    )
    x = half * float(random.choice([-1.0, 1.0]))
    edge = np.array([[x, 0.0, solid.low_mm + 0.8], [x, 0.0, solid.high_mm - 0.8]]) @ attitude.T
    return _scene(random, solid, edge, lean, (80.0, 160.0), 0.0)


def rake_scene(random: np.random.Generator) -> MirrorScene:
    """Return a stylus on a record in a close-up from its side, its rake 88 to 95 degrees.

    The stylus stands for a post of 0.25 mm before a cantilever that ends above it; its front is to the right.
    """
    lean = float(random.uniform(-2.0, 5.0))
    attitude = turned(0.0, 0.0, lean) @ turned(0.0, float(random.uniform(-1.0, 1.0)), 0.0)
    foot = box(-0.12, 0.12, -0.12, 0.12)
    solid = Solid(foot, foot, 0.05, 0.9, 0.06, attitude)
    x = 0.12 * float(random.choice([-1.0, 1.0]))
    edge = np.array([[x, 0.12, 0.12], [x, 0.12, 0.82]]) @ attitude.T
    return _scene(random, solid, edge, lean, (18.0, 30.0), 0.0)


def _scene(
    random: np.random.Generator,
    solid: Solid,
    edge: FloatArray,
    lean_deg: float,
    distance_mm: tuple[float, float],
    aside_deg: float,
) -> MirrorScene:
    down = float(random.uniform(4.0, 20.0))
    aside = aside_deg + float(random.normal(0.0, 3.0))
    width = 2400
    distance = float(random.uniform(*distance_mm))
    size = float(np.abs(edge).max())
    # the camera stands to the front; its tilts are those of its direction from the target
    up, ahead = math.sin(math.radians(down)), math.cos(math.radians(down))
    camera = Camera(
        width,
        1800,
        min(0.32 * width * distance / size, 40.0 * width),
        distance,
        math.degrees(math.atan2(ahead * math.tan(math.radians(aside)), up)),
        math.degrees(math.atan2(ahead, up)),
        float(random.normal(0.0, 4.0)),
        (0.0, 0.0, 0.0),
    )
    look = Look(
        blur_px=float(random.uniform(0.8, 2.0)),
        noise=float(random.uniform(0.005, 0.015)),
        light=(float(random.uniform(-0.4, 0.4)), 0.5),
    )
    return MirrorScene(solid, camera, look, edge, lean_deg, down, int(random.integers(1 << 31)))
