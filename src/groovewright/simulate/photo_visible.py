"""Which points of a scene a camera can see at all, by geometry: inside the picture and not behind a solid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import FLAG_WIDTH_MM, FLANGE_DEPTH_MM
from groovewright.simulate.photo_scenes import cartridge_solids
from groovewright.simulate.photo_settings import Setting
from groovewright.simulate.photograph import Canvas, Image, Solid, turned

_SKIN_MM = 0.05
"""Solids are taken smaller by this much, so that a point on one isn't hidden by it."""
READABLE_SHARE = 0.4
"""With so much of the flange in view its two directions show."""
LEAST_STEP, LEAST_LENGTH_PX = 0.05, 40.0
"""An edge can be seen where the light changes across it by this share of the paper's, along so many pixels."""
EDGE_SHARE = 0.6
"""Of a front edge so much has to be seen for its direction to show."""


def visible(setting: Setting, points: FloatArray) -> NDArray[np.bool_]:
    """Return which points (grid's frame, h up) the camera sees. [shapes (n, 3) to (n,)]"""
    camera, canvas = setting.camera, Canvas(setting.camera)
    pixels = canvas.to_pixels(canvas.to_rays(points))
    size = np.array([camera.width, camera.height])
    seen: NDArray[np.bool_] = np.asarray(((pixels > 2.0) & (pixels < size - 3.0)).all(axis=1))
    for solid in cartridge_solids(setting.cartridge).values():
        seen &= ~hidden_by(solid, camera.position(), points)
    return seen


def hidden_by(solid: Solid, eye: FloatArray, points: FloatArray) -> NDArray[np.bool_]:
    """Return which points lie behind or in a convex prism, seen from the eye. [shapes (n, 3) to (n,)]

    The straight line to each point is cut with the prism's planes one after the other (M. Cyrus and J. Beck,
    "Generalized two- and three-dimensional clipping", 1978).
    """
    start = eye @ solid.attitude
    ways = points @ solid.attitude - start
    foot = solid.foot
    edges = np.roll(foot, -1, axis=0) - foot
    area = float((foot[:, 0] * np.roll(foot[:, 1], -1) - np.roll(foot[:, 0], -1) * foot[:, 1]).sum())
    out = np.sign(area) * np.column_stack([edges[:, 1], -edges[:, 0], np.zeros(len(foot))])
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    normals = np.vstack([out, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])
    limits = np.append((out[:, :2] * foot).sum(axis=1), [solid.high_mm, -solid.low_mm]) - _SKIN_MM
    enter, leave = np.zeros(len(points)), np.ones(len(points))
    for normal, limit in zip(normals, limits, strict=True):
        gap, rate = limit - float(normal @ start), ways @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            at = gap / rate
        enter = np.where(rate < 0.0, np.maximum(enter, at), enter)
        leave = np.where(rate > 0.0, np.minimum(leave, at), leave)
        leave = np.where((rate == 0.0) & (gap < 0.0), -1.0, leave)
    return np.asarray(enter < leave)


def flange_share_seen(setting: Setting) -> float:
    """Return the share of the flag's flange that the camera sees; 0 where there is no flag."""
    flag, c = setting.flag, setting.cartridge
    if flag is None:
        return 0.0
    x = np.linspace(-0.45, 0.45, 7) * FLAG_WIDTH_MM + flag.aside_mm
    y = np.linspace(0.05, 0.95, 10) * FLANGE_DEPTH_MM + c.ahead_mm + 0.1
    places = np.array([[a, b, c.low_mm + flag.above_foot_mm] for a in x for b in y])
    return float(visible(setting, places @ turned(c.yaw_deg, c.pitch_deg, c.roll_deg).T).mean())


def front_share_seen(setting: Setting, picture: Image) -> float:
    """Return the share of the body's foremost front edge across which the light of a photograph changes.

    0 where less of it is in the picture than shows a direction.
    """
    a, b = setting.front_outline()
    length = float(np.hypot(*(b - a)))
    if length < LEAST_LENGTH_PX:
        return 0.0
    way = (b - a) / length
    off = 1.5 * setting.look.blur_px + 1.0
    stations = np.arange(4.0, length - 4.0)
    lit = []
    for side in (-1.0, 1.0):
        at = np.rint(a + stations[:, None] * way + side * off * np.array([-way[1], way[0]])).astype(int)
        if (at < 0).any() or (at >= [setting.camera.width, setting.camera.height]).any():
            return 0.0
        lit.append((picture[at[:, 1], at[:, 0]] / 255.0) ** 2.2)
    paper = float(np.quantile((picture[::16, ::16] / 255.0) ** 2.2, 0.95))
    blocks = np.array_split(lit[1] - lit[0], max(1, len(stations) // 10))
    return float(np.mean([abs(block.mean()) > LEAST_STEP * paper for block in blocks]))
