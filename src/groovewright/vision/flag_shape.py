"""The flag as a body: a strip folded along a line, how it usually is, and where its print lies in the grid's frame."""

from __future__ import annotations

import math

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.sheets.markers import FLANGE_DEPTH_MM

PITCH_SD = math.radians(2.0)
LEAN_SD = math.radians(2.0)
FOLD_SD = math.radians(12.0)
SKEW_SD = math.radians(0.25)
SHIFT_SD_MM = 0.3
ROUND_SD_MM = 0.05
BOW_SD_MM = 0.15
"""How a strip is folded and put on by hand: the face's pitch, the strip's lean on it, its fold about a right
angle, by how much the fold is turned and shifted against the printed one, by how much its being round moves the
print of both parts away from the line in which their planes meet, and how far up the flange is bowed half way along it.

The arc of a bend by a right angle with the radius r is 2 r - r pi / 2 = 0.43 r shorter than its two tangents, half of
which each part is moved by; and on the inner side of paper 0.1 mm thick the planes meet half of that nearer. Radii of
0.05 to 0.4 mm give -0.04 to 0.04 mm. A sheet that curls by 1 mm over 30 bows a strip of 24 mm by 0.14 mm."""
BY_HAND_SD = {
    "pitch": math.degrees(PITCH_SD),
    "lean": math.degrees(LEAN_SD),
    "fold": math.degrees(FOLD_SD),
    "skew": math.degrees(SKEW_SD),
    "shift": SHIFT_SD_MM,
    "round": ROUND_SD_MM,
    "bow": BOW_SD_MM,
}
"""The same in degrees and mm, by name: it stays as it is from one photograph of a flag to the next."""
USUAL_HEIGHT_MM = 6.0
HEIGHT_SD_MM = 8.0
USUAL = np.array([0.0, 0.0, -USUAL_HEIGHT_MM, 0.0, 0.0, 0.0, math.pi / 2.0, 0.0, 0.0, 0.0, 0.0])
USUAL_SD = np.array(
    [
        *(np.inf, np.inf, HEIGHT_SD_MM, np.inf),
        *(PITCH_SD, LEAN_SD, FOLD_SD, SKEW_SD, SHIFT_SD_MM, ROUND_SD_MM, BOW_SD_MM),
    ]
)


def flag_points(flag: FloatArray, on_flange: np.ndarray, at: FloatArray) -> FloatArray:
    """Return places of the flag in the grid's frame (z down), for one flag or several. [shape=(..., n, 3)]

    `flag` holds the fold's middle (x, y, z), yaw, pitch, lean, fold angle, by how much the fold is turned
    and shifted towards the panel against the printed one, by how much both parts begin away from it, and how far up the
    flange is bowed half way along it, in mm and radians. `at` is printed: x along the fold's line, y away from it.
    """
    yaw, pitch, lean, fold, skew, shift, away, bow = (flag[..., k, None] for k in range(3, 11))
    x, y = at[:, 0], at[:, 1] + np.where(on_flange, shift, -shift)
    # each part's own two directions: the flange's are turned by the skew, and folded
    c, s = np.cos(skew), np.sin(skew)
    along, off = np.where(on_flange, c * x - s * y, x), np.where(on_flange, s * x + c * y, y) + away
    turn = lean - np.where(on_flange, skew, 0.0)
    part = off / FLANGE_DEPTH_MM
    rise = np.where(on_flange, 4.0 * bow * part * (1.0 - part), 0.0)
    ahead = np.where(on_flange, np.sin(fold) * off - np.cos(fold) * rise, 0.0)
    off = np.where(on_flange, np.cos(fold) * off + np.sin(fold) * rise, off)
    # on the face: aside to the right (the strip's printed x runs to the left, inward), up it, and out of it
    c, s = np.cos(turn), np.sin(turn)
    aside, up = -c * along - s * off, s * along - c * off
    c, s = np.cos(pitch), np.sin(pitch)
    out, down = c * ahead + s * up, c * up - s * ahead
    c, s = np.cos(yaw), np.sin(yaw)
    return np.stack([
        flag[..., 0, None] + c * aside - s * out, flag[..., 1, None] + s * aside + c * out, flag[..., 2, None] + down
    ], axis=-1)  # fmt: skip


def is_plausible(flag: FloatArray) -> bool:
    """Return whether a flag in use may stand so: nearly upright and level, and as high as a cartridge's foot is."""
    return bool(
        abs(flag[4]) < math.radians(12.0) and abs(flag[5]) < math.radians(12.0) and -16.0 < flag[2] < 1.0
    )
