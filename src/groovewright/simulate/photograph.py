"""Photographs with a known truth: every pixel's ray is cut with flat faces of a scene over a printed sheet.

Coordinates are those of one grid of the sheet: x outward, y to the front, h up, in mm from the null. Every
pixel has a ray, bent by the lens; faces are painted from the lowest to the highest (the camera stands above
all of them), each with the share of a pixel that it covers. Light falls in parallel with a soft edge. Nothing
here is shared with the code that reads photographs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray

Image = NDArray[np.uint8]
Single = NDArray[np.float32]


@dataclass(frozen=True)
class Camera:
    """Where a camera stands and how it draws.

    `sideways_deg` and `front_deg` are the angles at the target by which it stands outward and to the front of
    upright; `roll_deg` turns the picture. A pixel at the distance r from the middle, in focal lengths, sees
    the ray at r (1 + bend r^2 + bend2 r^4).
    """

    width: int
    height: int
    focal_px: float
    distance_mm: float
    sideways_deg: float
    front_deg: float
    roll_deg: float = 0.0
    target: tuple[float, float, float] = (0.0, 0.0, 5.0)
    bend: float = 0.0
    bend2: float = 0.0
    middle_px: tuple[float, float] = (0.0, 0.0)

    def position(self) -> FloatArray:
        """Return where it stands. [shape=(3,)]"""
        across, ahead = math.tan(math.radians(self.sideways_deg)), math.tan(math.radians(self.front_deg))
        up = np.array([across, ahead, 1.0])
        return np.asarray(np.array(self.target) + self.distance_mm * up / np.linalg.norm(up))

    def axes(self) -> FloatArray:
        """Return the directions right, down and forward of the picture as rows. [shape=(3, 3)]"""
        forward = np.array(self.target) - self.position()
        forward /= np.linalg.norm(forward)
        right = np.array([1.0, 0.0, 0.0])
        right -= (right @ forward) * forward
        right /= np.linalg.norm(right)
        down = np.cross(right, forward)
        c, s = math.cos(math.radians(self.roll_deg)), math.sin(math.radians(self.roll_deg))
        return np.array([c * right + s * down, c * down - s * right, forward])


@dataclass(frozen=True)
class Look:
    """What the picture is like: blur and noise, light, and the paper's shade outside the sheet."""

    blur_px: float = 0.9
    noise: float = 0.01
    light: tuple[float, float] = (0.4, -0.5)
    shadow: float = 0.45
    penumbra_mm: float = 2.0
    gradient: tuple[float, float] = (0.0, 0.0)
    exposure: float = 0.85
    table: float = 0.06


@dataclass(frozen=True)
class Face:
    """A flat polygon in space with one shade, or with a picture on it.

    `texture` maps a point of the face to `origin + u e1 + v e2`, one pixel per unit of u and v. `light` is the
    share of light at the origin, and what it gains per unit of u and of v.
    """

    corners: FloatArray
    shade: float
    texture: Single | None = None
    origin: FloatArray | None = None
    e1: FloatArray | None = None
    e2: FloatArray | None = None
    light: tuple[float, float, float] = (1.0, 0.0, 0.0)


@dataclass(frozen=True)
class Solid:
    """A convex prism: its footprint at the foot and at the top, and what it looks like."""

    foot: FloatArray
    top: FloatArray
    low_mm: float
    high_mm: float
    shade: float
    attitude: FloatArray


def turned(yaw_deg: float, pitch_deg: float, roll_deg: float) -> FloatArray:
    """Return the attitude of a body as a matrix that takes its own axes to the grid's. [shape=(3, 3)]

    Roll leans it over about its own length, pitch lifts its front, yaw turns it clockwise seen from above.
    """
    p, r, w = (math.radians(a) for a in (pitch_deg, roll_deg, yaw_deg))
    lean = np.array([[math.cos(r), 0.0, math.sin(r)], [0.0, 1.0, 0.0], [-math.sin(r), 0.0, math.cos(r)]])
    lift = np.array([[1.0, 0.0, 0.0], [0.0, math.cos(p), -math.sin(p)], [0.0, math.sin(p), math.cos(p)]])
    turn = np.array([[math.cos(w), -math.sin(w), 0.0], [math.sin(w), math.cos(w), 0.0], [0.0, 0.0, 1.0]])
    return np.asarray(turn @ lift @ lean)


def solid_faces(solid: Solid, camera: Camera, light: tuple[float, float]) -> list[Face]:
    """Return the faces of a prism that the camera can see."""
    n = len(solid.foot)
    low = np.column_stack([solid.foot, np.full(n, solid.low_mm)]) @ solid.attitude.T
    high = np.column_stack([solid.top, np.full(n, solid.high_mm)]) @ solid.attitude.T
    polygons = [high, low[::-1]]
    polygons += [np.array([low[k], low[(k + 1) % n], high[(k + 1) % n], high[k]]) for k in range(n)]
    middle = np.vstack([low, high]).mean(axis=0)
    sun = np.array([light[0], light[1], 1.0]) / math.hypot(*light, 1.0)
    faces = []
    for corners in polygons:
        normal = np.cross(corners[1] - corners[0], corners[2] - corners[1])
        normal /= np.linalg.norm(normal)
        if normal @ (corners.mean(axis=0) - middle) < 0.0:
            normal = -normal
        if normal @ (camera.position() - corners[0]) > 0.0:
            lit = 0.45 + 0.55 * max(0.0, float(normal @ sun))
            faces.append(Face(corners, solid.shade * lit))
    return faces


def shadow_outline(points: FloatArray, light: tuple[float, float]) -> FloatArray:
    """Return the outline on the sheet of the shadow of a convex solid. [shape=(n, 2)]"""
    fallen = points[:, :2] - points[:, 2:] * np.array(light)
    return np.asarray(cv2.convexHull(fallen.astype(np.float32))[:, 0, :], dtype=float)


def fallen(solid: Solid, look: Look, height_mm: float = 0.0) -> FloatArray:
    """Return the outline of a solid's shadow on the sheet, or on what lies level above it. [shape=(n, 2)]"""
    low = np.column_stack([solid.foot, np.full(len(solid.foot), solid.low_mm)]) @ solid.attitude.T
    high = np.column_stack([solid.top, np.full(len(solid.top), solid.high_mm)]) @ solid.attitude.T
    return shadow_outline(np.vstack([low, high]) - np.array([0.0, 0.0, height_mm]), look.light)


def box(x0: float, x1: float, y0: float, y1: float) -> FloatArray:
    """Return the corners of a rectangle, as the footprint of a solid. [shape=(4, 2)]"""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


class Canvas:
    """A picture while it is painted, in linear light, and the ray of every pixel."""

    def __init__(self, camera: Camera) -> None:
        self.camera = camera
        self.centre = camera.position()
        self.axes = camera.axes()
        u = np.arange(camera.width, dtype=np.float32) - (camera.width - 1) / 2 - camera.middle_px[0]
        v = np.arange(camera.height, dtype=np.float32) - (camera.height - 1) / 2 - camera.middle_px[1]
        u, v = u[None, :] / np.float32(camera.focal_px), v[:, None] / np.float32(camera.focal_px)
        square = u * u + v * v
        grow = 1.0 + np.float32(camera.bend) * square + np.float32(camera.bend2) * square * square
        self.ray_x: Single = (u * grow).astype(np.float32)
        self.ray_y: Single = (v * grow).astype(np.float32)
        self.light: Single = np.full((camera.height, camera.width), 0.0, dtype=np.float32)

    def to_rays(self, points: FloatArray) -> FloatArray:
        """Return where points in space lie in the picture without the lens's bend. [shape=(n, 2)]"""
        seen = (points - self.centre) @ self.axes.T
        return np.asarray(seen[:, :2] / seen[:, 2:])

    def to_pixels(self, rays: FloatArray) -> FloatArray:
        """Return the pixels that see these rays. [shape=(n, 2)]"""
        wanted = np.hypot(rays[:, 0], rays[:, 1])
        radius = wanted.copy()
        for _ in range(30):
            radius = wanted / (1.0 + self.camera.bend * radius**2 + self.camera.bend2 * radius**4)
        scale = np.where(wanted > 0.0, radius / np.maximum(wanted, 1e-12), 1.0) * self.camera.focal_px
        size = np.array([self.camera.width, self.camera.height])
        return np.asarray(rays * scale[:, None] + (size - 1) / 2.0 + np.array(self.camera.middle_px))

    def window(self, rays: FloatArray, margin: float = 6.0) -> tuple[slice, slice] | None:
        """Return the rows and columns round a polygon; None where it lies outside the picture."""
        rays = np.concatenate([np.linspace(a, b, 5) for a, b in zip(rays, np.roll(rays, -1, 0), strict=True)])
        pixels = self.to_pixels(rays)
        low = np.maximum(np.floor(pixels.min(axis=0) - margin), 0).astype(int)
        high = np.minimum(
            np.ceil(pixels.max(axis=0) + margin), [self.camera.width, self.camera.height]
        ).astype(int)
        return None if (high <= low).any() else (slice(low[1], high[1]), slice(low[0], high[0]))

    def coverage(self, rays: FloatArray, where: tuple[slice, slice], soft_px: float = 1.0) -> Single:
        """Return how much of each pixel of a window a convex polygon covers."""
        x, y = self.ray_x[where], self.ray_y[where]
        area = np.cross(np.append(rays[1] - rays[0], 0.0), np.append(rays[2] - rays[1], 0.0))[2]
        inside = np.full(x.shape, np.float32(1.0))
        for a, b in zip(rays, np.roll(rays, -1, axis=0), strict=True):
            edge = (b - a) / max(np.hypot(*(b - a)), 1e-12) * math.copysign(1.0, area)
            slope = edge * self.camera.focal_px / soft_px
            at = 0.5 - slope[0] * a[1] + slope[1] * a[0]
            share = cv2.addWeighted(y, float(slope[0]), x, float(-slope[1]), float(at))
            inside *= np.clip(share, 0.0, 1.0, out=share)
        return inside

    def paint(self, face: Face) -> None:
        """Paint a face over what is there."""
        rays = self.to_rays(face.corners)
        where = self.window(rays)
        if where is None:
            return
        cover = self.coverage(rays, where)
        colour: Single | np.float32 = np.float32(face.shade)
        if face.texture is not None:
            colour = self._textured(face, where) * np.float32(face.shade)
        self.light[where] = self.light[where] * (1.0 - cover) + cover * colour

    def paint_solid(self, faces: list[Face]) -> None:
        """Paint the faces of a convex solid; what lies behind doesn't shine through where two of them meet."""
        if not faces:
            return
        rays = np.vstack([self.to_rays(face.corners) for face in faces])
        outline = np.asarray(cv2.convexHull(rays.astype(np.float32))[:, 0, :], dtype=float)
        where = self.window(outline)
        if where is None:
            return
        covers = [self.coverage(self.to_rays(face.corners), where) for face in faces]
        total = np.sum(covers, axis=0)
        shades = np.sum(
            [cover * np.float32(face.shade) for cover, face in zip(covers, faces, strict=True)], axis=0
        )
        mean = np.float32(np.mean([face.shade for face in faces]))
        inner = np.where(total > 1e-3, shades / np.maximum(total, np.float32(1e-3)), mean)
        cover = self.coverage(outline, where)
        self.light[where] = self.light[where] * (1.0 - cover) + cover * inner

    def _textured(self, face: Face, where: tuple[slice, slice]) -> Single:
        """Return the picture on a face as the pixels of a window see it."""
        assert face.texture is not None
        assert face.origin is not None
        assert face.e1 is not None
        assert face.e2 is not None
        # camera to (u, v): C + t d = origin + u e1 + v e2, solved with the inverse of (e1, e2, -d)
        e1, e2, offset = self.axes @ face.e1, self.axes @ face.e2, self.axes @ (face.origin - self.centre)
        matrix = np.linalg.inv(np.column_stack([e1, e2, offset])).astype(np.float32)
        x, y = self.ray_x[where], self.ray_y[where]
        below = matrix[2, 0] * x + matrix[2, 1] * y + matrix[2, 2]
        u = (matrix[0, 0] * x + matrix[0, 1] * y + matrix[0, 2]) / below
        v = (matrix[1, 0] * x + matrix[1, 1] * y + matrix[1, 2]) / below
        texture, at_u, at_v = _minified(face, u, v)
        seen = cv2.remap(texture, at_u, at_v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        here, per_u, per_v = (np.float32(part) for part in face.light)
        return np.asarray(seen * (here + per_u * u + per_v * v), dtype=np.float32)

    def darken(
        self,
        outline: FloatArray,
        strength: float,
        penumbra_mm: float,
        *,
        height_mm: float = 0.0,
        within: FloatArray | None = None,
    ) -> None:
        """Cast a shadow with this outline on the sheet, or on what lies `within` corners in space above it."""
        rays = self.to_rays(np.column_stack([outline, np.full(len(outline), height_mm)]))
        soft = penumbra_mm * self.camera.focal_px / self.camera.distance_mm
        where = self.window(rays, 6.0 + soft)
        if where is None:
            return
        cover = self.coverage(rays, where, max(1.0, soft))
        if within is not None:
            cover *= self.coverage(self.to_rays(within), where)
        self.light[where] *= 1.0 - np.float32(strength) * cover

    def developed(self, look: Look, random: np.random.Generator) -> Image:
        """Return the photograph: lit, blurred, with noise, and with the usual curve of 1/2.2."""
        light = self.light
        gx, gy = look.gradient
        if gx or gy:
            light = light * (1.0 + np.float32(gx) * self.ray_x + np.float32(gy) * self.ray_y)
        if look.blur_px > 0.0:
            light = np.asarray(cv2.GaussianBlur(light, (0, 0), look.blur_px), dtype=np.float32)
        light = light * np.float32(look.exposure)
        noise = random.standard_normal(light.shape, dtype=np.float32)
        noise *= np.float32(look.noise) * np.sqrt(np.clip(light, 0.0, 1.0) + np.float32(0.02))
        light += noise
        curved = cv2.pow(np.clip(light, 0.0, 1.0, out=light), 1.0 / 2.2)
        return np.asarray(np.rint(np.float32(255.0) * curved), dtype=np.uint8)


def _minified(face: Face, u: Single, v: Single) -> tuple[Single, Single, Single]:
    """Return the texture at the scale at which it is seen, and the places in it."""
    assert face.texture is not None
    if min(u.shape) < 4:
        return face.texture, u, v
    rows, columns = u.shape[0] // 2, u.shape[1] // 2
    size, factors, places = face.texture.shape, [], []
    # a flat view shrinks one side of the texture more than the other
    for axis, at in ((1, u), (0, v)):
        step = math.hypot(
            float(at[rows, columns + 1] - at[rows, columns - 1]),
            float(at[rows + 1, columns] - at[rows - 1, columns]),
        )
        # a face seen from its edge has a step without end
        factor = min(max(1, math.floor(step / 2.0)), size[axis])
        factors.append(factor)
        places.append(at / np.float32(factor) + np.float32(0.5 / factor - 0.5))
    wide, high = (size[axis] // factor for axis, factor in zip((1, 0), factors, strict=True))
    texture = face.texture[: high * factors[1], : wide * factors[0]]
    if max(factors) > 1:
        texture = np.asarray(
            cv2.resize(texture, (wide, high), interpolation=cv2.INTER_AREA), dtype=np.float32
        )
    return np.ascontiguousarray(texture), places[0], places[1]


@dataclass(frozen=True)
class Paper:
    """A printed sheet as pixels of reflectance, and where the grid's frame lies on it."""

    pixels: Single
    pixels_per_mm: float
    null_mm: tuple[float, float]
    outward: tuple[float, float]

    def face(self, scale_x: float = 1.0, scale_y: float = 1.0) -> Face:
        """Return the sheet as a face at height 0; the scales are what a printer made of 1 mm."""
        height, width = self.pixels.shape
        ox, oy = self.outward
        to_grid = np.array([[ox, oy], [-oy, ox]])
        stretch = np.diag([scale_x, scale_y])

        def in_space(px: float, py: float) -> FloatArray:
            flat = to_grid @ stretch @ (np.array([px, py]) / self.pixels_per_mm - np.array(self.null_mm))
            return np.array([flat[0], flat[1], 0.0])

        origin = in_space(0.5, 0.5)
        e1, e2 = in_space(1.5, 0.5) - origin, in_space(0.5, 1.5) - origin
        corners = np.array([in_space(*p) for p in ((0, 0), (width, 0), (width, height), (0, height))])
        return Face(corners, 1.0, self.pixels, origin, e1, e2)
