"""The camera: where it stands over a grid and how its lens draws, from points of the sheet.

Coordinates here are those of the grid with z down into the sheet (x outward, y to the front), so that a
camera above looks along +z. A point at `R X + t` before the camera is drawn at

    u = f x d + cx,  v = f y d + cy,  d = 1 + k1 r^2 + k2 r^4

with x, y its direction and r^2 = x^2 + y^2 (D. C. Brown, "Decentering Distortion of Lenses", 1966). Values in
order: log f, k1, k2, cx, cy, three of the rotation vector, three of t.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from groovewright.quantities import FloatArray

SIZE = 11
_LENS = 5
USUAL_FOCAL = 0.78
"""Focal length over the picture's longer side: phones' main cameras have 0.65 to 0.9 (common practice)."""
FOCAL_SD = 0.25
STATED_FOCAL_SD = 0.06
"""How far the stated focal length may be off, as a share, through cropping and focusing."""
BEND_SD = 0.04
MIDDLE_SD = 0.008


@dataclass(frozen=True)
class CameraPose:
    """A camera as it was found, with the covariance of its values."""

    values: FloatArray
    covariance: FloatArray

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return float(math.exp(self.values[0]))

    def position(self) -> FloatArray:
        """Return where it stands, in mm, z down. [shape=(3,)]"""
        return camera_position(self.values)

    def tilt_deg(self) -> tuple[float, float]:
        """Return by how much it stands outward and to the front of upright over the null, in degrees."""
        x, y, z = self.position()
        return math.degrees(math.atan2(x, -z)), math.degrees(math.atan2(y, -z))

    def height_mm(self) -> float:
        """Return how far it is above the sheet."""
        return float(-self.position()[2])

    def px_per_mm(self) -> float:
        """Return about how many pixels a millimetre of the sheet has in the picture."""
        return self.focal_px / max(1.0, self.height_mm())


def rotation(vector: FloatArray) -> FloatArray:
    """Return the matrix of a rotation vector (O. Rodrigues). [shape=(..., 3) to (..., 3, 3)]"""
    if vector.ndim == 1:
        return np.asarray(cv2.Rodrigues(vector)[0])
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    half = 0.5 * np.sqrt(x * x + y * y + z * z)
    safe = np.maximum(half, 1e-9)
    # sin(a) / a and (1 - cos(a)) / a^2, as they are for no turn too
    fine = np.sin(safe) / safe
    sine, bend = fine * np.cos(half), 0.5 * fine * fine
    out = np.empty((*vector.shape[:-1], 3, 3))
    out[..., 0, 0], out[..., 1, 1] = 1.0 - bend * (y * y + z * z), 1.0 - bend * (x * x + z * z)
    out[..., 2, 2] = 1.0 - bend * (x * x + y * y)
    for i, j, along, product in ((0, 1, z, x * y), (2, 0, y, x * z), (1, 2, x, y * z)):
        out[..., i, j], out[..., j, i] = bend * product - sine * along, bend * product + sine * along
    return out


def camera_position(values: FloatArray) -> FloatArray:
    """Return the camera's place in the grid's frame. [shape=(3,)]"""
    return np.asarray(-rotation(values[5:8]).T @ values[8:11])


def project(values: FloatArray, points: FloatArray) -> FloatArray:
    """Return the pixels of points in the grid's frame, for one camera or several.

    [shapes (..., 11) and (..., n, 3) to (..., n, 2)]
    """
    seen = points @ rotation(values[..., 5:8]).swapaxes(-1, -2) + values[..., None, 8:11]
    flat = seen[..., :2] / np.maximum(seen[..., 2:], 1e-6)
    square = flat[..., :1] ** 2 + flat[..., 1:] ** 2
    bent = flat * (1.0 + square * (values[..., None, 1:2] + values[..., None, 2:3] * square))
    return np.asarray(np.exp(values[..., None, :1]) * bent + values[..., None, 3:5])


def rays(values: FloatArray, pixels: FloatArray) -> FloatArray:
    """Return the unit directions, in the grid's frame, that pixels look along. [shape=(n, 2) to (n, 3)]"""
    bent = (pixels - values[3:5]) / math.exp(values[0])
    flat = bent.copy()
    for _ in range(15):
        square = (flat**2).sum(axis=1, keepdims=True)
        flat = bent / (1.0 + values[1] * square + values[2] * square**2)
    seen = np.column_stack([flat, np.ones(len(flat))]) @ rotation(values[5:8])
    return np.asarray(seen / np.linalg.norm(seen, axis=1, keepdims=True))


def on_plane(values: FloatArray, pixels: FloatArray, height_mm: float) -> FloatArray:
    """Return where pixels' rays meet the plane so far above the sheet. [shape=(n, 2) to (n, 2)]"""
    centre, way = camera_position(values), rays(values, pixels)
    along = (-height_mm - centre[2]) / way[:, 2]
    return np.asarray(centre[:2] + along[:, None] * way[:, :2])


def prior_of(size: tuple[int, int], focal_px: float | None) -> tuple[FloatArray, FloatArray]:
    """Return prior values and standard deviations for a picture of this width and height."""
    longer = float(max(size))
    focal = focal_px or USUAL_FOCAL * longer
    prior = np.zeros(SIZE)
    prior[0] = math.log(focal)
    prior[3:5] = (size[0] - 1) / 2.0, (size[1] - 1) / 2.0
    sd = np.full(SIZE, np.inf)
    sd[:_LENS] = (
        STATED_FOCAL_SD if focal_px else FOCAL_SD, BEND_SD, BEND_SD, MIDDLE_SD * longer, MIDDLE_SD * longer
    )  # fmt: skip
    return prior, sd


def start_from_homography(homography: FloatArray, prior: FloatArray) -> FloatArray | None:
    """Return first values from the map of the sheet's millimetres to pixels; None where it makes no sense.

    A plane's map gives rotation and translation once the focal length is known (Z. Zhang, "A flexible new
    technique for camera calibration", 2000); the prior's is taken here and mended by the fit.
    """
    inner = np.array([[math.exp(prior[0]), 0.0, prior[3]], [0.0, math.exp(prior[0]), prior[4]], [0, 0, 1.0]])
    columns = np.linalg.inv(inner) @ homography
    if columns[2, 2] < 0.0:
        columns = -columns
    scale = 2.0 / (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1]))
    first, second = columns[:, 0] * scale, columns[:, 1] * scale
    matrix = np.column_stack([first, second, np.cross(first, second)])
    if not np.isfinite(matrix).all():
        return None
    u, _, v = np.linalg.svd(matrix)
    turn = u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v
    values = prior.copy()
    values[5:8] = cv2.Rodrigues(turn)[0].ravel()
    values[8:11] = columns[:, 2] * scale
    return values if camera_position(values)[2] < 0.0 else None
