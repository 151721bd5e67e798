"""Scenes to photograph: a cartridge in a headshell over a printed sheet, with what else lies about.

What a scene holds is invented within what is usual in the trade: bodies 14 to 19 mm wide and 8 to 14 mm high,
their front 0 to 7 mm before the headshell's, headshells that taper, screws, four leads, a cantilever that
slopes by some 20 degrees.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.sheets import Drawing, pdf_bytes
from groovewright.sheets.markers import (
    FLAG_WIDTH_MM,
    FLANGE_DEPTH_MM,
    PANEL_HEIGHT_MM,
    TAB_HEIGHT_MM,
)
from groovewright.simulate.photo_clutter import Clutter, strew
from groovewright.simulate.photograph import (
    Camera,
    Canvas,
    Face,
    Image,
    Look,
    Paper,
    Single,
    Solid,
    box,
    fallen,
    solid_faces,
    turned,
)

INK_REFLECTANCE = 0.04
PAPER_REFLECTANCE = 0.86
_FLAP_MM = PANEL_HEIGHT_MM + TAB_HEIGHT_MM
_PIECES, _OVERLAP_MM = 12, 0.3


@dataclass(frozen=True)
class Cartridge:
    """A cartridge and its headshell over the null, with the truth that a photograph is asked for.

    Lengths in mm, from the stylus; `ahead_mm` is the body's front face, `nose_mm` how far the two front
    corners of its footprint are cut. `shell_turn_deg` is the headshell against the body.
    """

    yaw_deg: float = 0.0
    pitch_deg: float = 0.0
    roll_deg: float = 0.0
    width_mm: float = 16.5
    ahead_mm: float = 2.5
    length_mm: float = 24.0
    low_mm: float = 4.0
    high_mm: float = 14.0
    nose_mm: float = 0.0
    shade: float = 0.12
    shell_turn_deg: float = 0.0
    shell_ahead_mm: float = -1.0
    shell_width_mm: float = 20.0
    shell_taper_mm: float = 3.0
    shell_shade: float = 0.10
    tube_turn_deg: float = 23.0
    cantilever_slope_deg: float = 20.0


@dataclass(frozen=True)
class Flag:
    """The printed flag on the front face: fold above the body's foot, and how it was folded and put on.

    `skew_deg` and `shift_mm` are the fold as it was made against the printed one, `radius_mm` how round it is, `bow_mm`
    how far up the flange is bowed half way along it.
    `dusk` is the share of light that is lost at the fold, under the headshell, and `aslant` what the light gains
    across the strip.
    """

    above_foot_mm: float = 0.5
    aside_mm: float = 0.0
    lean_deg: float = 0.0
    fold_deg: float = 90.0
    skew_deg: float = 0.0
    shift_mm: float = 0.0
    shade: float = 1.0
    radius_mm: float = 0.0
    bow_mm: float = 0.0
    dusk: float = 0.0
    aslant: float = 0.0


def sheet_pixels(drawing: Drawing, pixels_per_mm: float = 16.0) -> Single:
    """Return a printed sheet as reflectance from 0 to 1. [shape=(rows, columns)]

    Drawn by PDFium (pypdfium2, which the checks install): it shades the pixels that an edge cuts, where others
    move edges to whole pixels, by up to 0.03 mm here.
    """
    import pypdfium2

    # a hair less than the scale, so that the picture isn't rounded up to one more pixel
    page = pypdfium2.PdfDocument(pdf_bytes(drawing))[0]
    gray = page.render(scale=pixels_per_mm * 25.4 / 72.0 * (1.0 - 1e-6), grayscale=True).to_numpy()
    ink = np.asarray(gray, dtype=np.float32).reshape(gray.shape[:2]) / np.float32(255.0)
    return np.asarray(INK_REFLECTANCE + (PAPER_REFLECTANCE - INK_REFLECTANCE) * ink, dtype=np.float32)


def paper_at(drawing: Drawing, null: str, pixels: Single, pixels_per_mm: float = 16.0) -> Paper:
    """Return the printed sheet as it lies in the frame of one of its grids ('inner' or 'outer')."""
    spindle, centre = _circle(drawing, "spindle"), _circle(drawing, f"null-{null}")
    out = (centre - spindle) / np.hypot(*(centre - spindle))
    return Paper(pixels, pixels_per_mm, (float(centre[0]), float(centre[1])), (float(out[0]), float(out[1])))


def _circle(drawing: Drawing, name: str) -> FloatArray:
    for element in drawing.elements:
        match = re.search(rf'id="{name}" cx="([^"]+)" cy="([^"]+)"', element)
        if match:
            return np.array([float(match[1]), float(match[2])])
    raise LookupError(f"the sheet has no {name}")


def flag_faces(
    drawing: Drawing, pixels: Single, cartridge: Cartridge, flag: Flag, scale: float
) -> list[Face]:
    """Return flange, in pieces where it is bowed, and panel of the flag, cut from the sheet, on the body's front face.

    Seen from above the strip lies half a turn round: its x runs inward, its flange to the front. Both faces
    carry the whole strip as their picture and are bounded by the fold as it was made.
    """
    left, top = (float(drawing.facts[f"flag_{axis}_mm"]) for axis in "xy")
    a, b = (round(scale * v) for v in (left, left + FLAG_WIDTH_MM))
    low, high = (round(scale * (top + v)) for v in (0.0, FLANGE_DEPTH_MM + _FLAP_MM))
    strip = pixels[low:high, a:b]
    half = FLAG_WIDTH_MM / 2.0
    lean, fold, skew = (math.radians(v) for v in (flag.lean_deg, flag.fold_deg, flag.skew_deg))
    attitude = turned(cartridge.yaw_deg, cartridge.pitch_deg, cartridge.roll_deg)
    along = attitude @ np.array([-math.cos(lean), 0.0, -math.sin(lean)])
    up = attitude @ np.array([-math.sin(lean), 0.0, math.cos(lean)])
    normal = attitude @ np.array([0.0, 1.0, 0.0])
    foot = attitude @ np.array(
        [flag.aside_mm, cartridge.ahead_mm + 0.1, cartridge.low_mm + flag.above_foot_mm]
    )
    # the crease and what is square to it, first as printed (x, y towards the tab), then in space
    crease, square = np.array([math.cos(skew), math.sin(skew)]), np.array([-math.sin(skew), math.cos(skew)])
    crease_3d, square_3d = (v[0] * along + v[1] * up for v in (crease, square))
    inward = -(math.sin(fold) * normal + math.cos(fold) * square_3d)
    # a bend is shorter than its two tangents, which meet in the crease: half of that moves each part away from it
    bend = math.pi - fold
    short = flag.radius_mm * (math.tan(0.5 * bend) - 0.5 * bend)
    rise = math.sin(fold) * square_3d - math.cos(fold) * normal
    faces = []
    for flange in (True, False):
        away, start = (inward, flag.shift_mm + short) if flange else (square_3d, flag.shift_mm - short)
        far = -FLANGE_DEPTH_MM if flange else _FLAP_MM
        shade = flag.shade * (1.0 if flange else 0.8)
        # from the fold, which lies FLANGE_DEPTH_MM below the strip's end, to the far end of each part
        per_v = flag.dusk / (far * scale)
        at_fold = 1.0 - flag.dusk - 0.5 * flag.aslant
        light = (at_fold - per_v * FLANGE_DEPTH_MM * scale, flag.aslant / (FLAG_WIDTH_MM * scale), per_v)
        # a bowed flange is drawn by flat pieces; each lies between two lines along the crease
        bow, pieces = (flag.bow_mm, _PIECES) if flange and flag.bow_mm else (0.0, 1)
        limits = np.linspace(0.0, far, pieces + 1)
        heights = 4.0 * bow * limits / far * (1.0 - limits / far)
        for k in range(pieces):
            slope = (heights[k + 1] - heights[k]) / (limits[k + 1] - limits[k])
            onward, base = away + slope * rise, foot + (heights[k] - slope * limits[k]) * rise
            per_x, per_y = (crease[i] * crease_3d + square[i] * onward for i in (0, 1))

            def in_space(
                x: float,
                y: float,
                base: FloatArray = base,
                per_x: FloatArray = per_x,
                per_y: FloatArray = per_y,
                start: float = start,
            ) -> FloatArray:
                return np.asarray(base + x * per_x + (y - start) * per_y)

            # each lies a little over the next, so that nothing shows between them
            near, end = (
                [start + limit / math.cos(skew) + x * math.tan(skew) for x in (-half, half)]
                for limit in (limits[k], limits[k + 1] - _OVERLAP_MM)
            )
            end = [far, far] if k == pieces - 1 else end
            corners = np.array([in_space(x, y) for x, y in
                                ((-half, near[0]), (half, near[1]), (half, end[1]), (-half, end[0]))])  # fmt: skip
            e1, e2 = per_x / scale, per_y / scale
            origin = in_space(-half, -FLANGE_DEPTH_MM) + 0.5 * e1 + 0.5 * e2
            faces.append(Face(corners, shade, strip, origin, e1, e2, light))
    return faces


def photograph(
    *,
    drawing: Drawing,
    pixels: Single,
    null: str,
    cartridge: Cartridge | None,
    camera: Camera,
    look: Look,
    random: np.random.Generator,
    flag: Flag | None = None,
    pixels_per_mm: float = 16.0,
    stretch: tuple[float, float] = (1.0, 1.0),
    clutter: Clutter | None = None,
) -> Image:
    """Return a photograph of the sheet with a cartridge at one of its nulls. [shape=(height, width)]"""
    canvas = Canvas(camera)
    canvas.light[:] = look.table
    canvas.paint(paper_at(drawing, null, pixels, pixels_per_mm).face(*stretch))
    if clutter is not None:
        strew(canvas, clutter, look)
    if cartridge is not None:
        solids = cartridge_solids(cartridge)
        for solid in (solids["body"], solids["shell"], solids["tube"]):
            canvas.darken(fallen(solid, look), look.shadow, look.penumbra_mm)
        order = ["cantilever", "leads", "body", "flag", "tube", "shell", "screws"]
        attitude = solids["body"].attitude
        front = (camera.position() - attitude @ np.array([0.0, cartridge.ahead_mm, 8.0])) @ attitude[:, 1]
        if front < 0.0:
            order = ["cantilever", "leads", "flag", "body", "tube", "shell", "screws"]
        for name in order:
            if name == "flag" and flag is not None:
                faces = flag_faces(drawing, pixels, cartridge, flag, pixels_per_mm)
                _paint_flag(canvas, faces, (solids["body"], solids["shell"]), look)
            for key, solid in solids.items():
                if key.startswith(name):
                    canvas.paint_solid(solid_faces(solid, camera, look.light))
    return canvas.developed(look, random)


def _paint_flag(canvas: Canvas, faces: list[Face], over: Sequence[Solid], look: Look) -> None:
    """Paint a flag, the panel last, with the shadows on its flange of what stands over it."""
    for part in faces[:-1]:
        canvas.paint(part)
        height = float(part.corners[:, 2].mean())
        for solid in over:
            canvas.darken(fallen(solid, look, height), look.shadow, look.penumbra_mm,
                          height_mm=height, within=part.corners)  # fmt: skip
    canvas.paint(faces[-1])


def cartridge_solids(c: Cartridge) -> dict[str, Solid]:
    """Return every solid of a cartridge, its headshell and what hangs on it, by name."""
    body = turned(c.yaw_deg, c.pitch_deg, c.roll_deg)
    half, back, n = c.width_mm / 2.0, c.ahead_mm - c.length_mm, c.nose_mm
    foot = box(-half, half, back, c.ahead_mm)
    if n > 0.0:
        foot = np.array([[-half, back], [half, back], [half, c.ahead_mm - n], [half - n, c.ahead_mm],
                         [n - half, c.ahead_mm], [-half, c.ahead_mm - n]])  # fmt: skip
    shell = body @ turned(c.shell_turn_deg, 0.0, 0.0)
    front, rear = c.shell_ahead_mm, back - 14.0
    wide, narrow = c.shell_width_mm / 2.0, c.shell_width_mm / 2.0 - c.shell_taper_mm
    plate = np.array(
        [
            [-narrow, front],
            [narrow, front],
            [wide, back],
            [wide * 0.6, rear],
            [-wide * 0.6, rear],
            [-wide, back],
        ]
    )
    tube = body @ turned(-c.tube_turn_deg, 0.0, 0.0)
    solids = {
        "body": Solid(foot, foot, c.low_mm, c.high_mm, c.shade, body),
        "shell": Solid(plate, plate, c.high_mm, c.high_mm + 2.5, c.shell_shade, shell),
        "tube": Solid(box(-5.0, 5.0, rear - 160.0, rear + 4.0), box(-4.0, 4.0, rear - 160.0, rear + 4.0),
                      c.high_mm - 2.0, c.high_mm + 7.0, 0.3, tube),
        "cantilever": _cantilever(c, body),
    }  # fmt: skip
    for k, x in enumerate((-6.35, 6.35)):
        ring = np.array(
            [[1.9 * math.cos(t) + x, 1.9 * math.sin(t) - 8.0] for t in np.arange(8) * math.pi / 4]
        )
        solids[f"screws{k}"] = Solid(ring, ring, c.high_mm + 2.5, c.high_mm + 4.5, 0.5, body)
    for k, shade in enumerate((0.8, 0.15, 0.3, 0.35)):
        x = -5.0 + 3.3 * k
        solids[f"leads{k}"] = Solid(
            box(x, x + 0.9, back - 12.0, back), box(x, x + 0.9, back - 12.0, back),
            c.low_mm + 4.0, c.low_mm + 4.9, shade, body,
        )  # fmt: skip
    return solids


def _cantilever(c: Cartridge, body: FloatArray) -> Solid:
    """Return the cantilever: from the stylus on the sheet backwards and up into the body."""
    length = (c.low_mm + 0.5) / math.sin(math.radians(c.cantilever_slope_deg))
    rod = body @ turned(0.0, -c.cantilever_slope_deg, 0.0)
    return Solid(box(-0.3, 0.3, -length, 0.3), box(-0.3, 0.3, -length, 0.3), 0.1, 0.7, 0.5, rod)
