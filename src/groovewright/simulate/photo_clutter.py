"""What lies about on a bench: a screwdriver, washers, a cable, a printed slip of paper, a hand's shadow."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from groovewright.quantities import FloatArray
from groovewright.simulate.photograph import Canvas, Face, Look, Solid, box, fallen, solid_faces, turned

CLEAR_MM = 30.0
"""What lies about keeps this far from the null, as the guidance asks: the cartridge and the grid stay free."""


@dataclass(frozen=True)
class Clutter:
    """Solids that lie on the sheet, flat things printed with lines, and the outlines of a hand's shadow."""

    solids: tuple[Solid, ...] = ()
    papers: tuple[Face, ...] = ()
    hand: tuple[FloatArray, ...] = ()
    hand_strength: float = 0.35


def strew(canvas: Canvas, clutter: Clutter, look: Look) -> None:
    """Paint what lies about over the sheet, with its shadows."""
    for face in clutter.papers:
        canvas.paint(face)
    for solid in clutter.solids:
        canvas.darken(fallen(solid, look), look.shadow, look.penumbra_mm)
    for outline in clutter.hand:
        canvas.darken(outline, clutter.hand_strength, 6.0 * look.penumbra_mm)
    for solid in clutter.solids:
        canvas.paint_solid(solid_faces(solid, canvas.camera, look.light))


def random_clutter(random: np.random.Generator) -> Clutter:
    """Return what lies about in one photograph: some of everything, or nothing."""
    solids: list[Solid] = []
    papers: list[Face] = []
    for _ in range(int(random.integers(0, 4))):
        solids.append(_washer(random))
    if random.uniform() < 0.4:
        solids += _screwdriver(random)
    if random.uniform() < 0.4:
        solids += _cable(random)
    if random.uniform() < 0.4:
        papers += _slip(random)
    hand = _hand(random) if random.uniform() < 0.3 else ()
    return Clutter(tuple(solids), tuple(papers), hand, float(random.uniform(0.15, 0.5)))


def _place(random: np.random.Generator, clear_mm: float) -> tuple[FloatArray, float]:
    """Return a place beside the grid, and its direction from the null in degrees clockwise from the front."""
    way = float(random.choice([random.uniform(50.0, 130.0), random.uniform(230.0, 310.0)]))
    far = clear_mm + float(random.uniform(0.0, 40.0))
    return far * np.array([math.sin(math.radians(way)), math.cos(math.radians(way))]), way


def _ring(middle: FloatArray, radius: float, corners: int = 24) -> FloatArray:
    turns = np.arange(corners) * 2.0 * math.pi / corners
    return np.asarray(middle + radius * np.column_stack([np.cos(turns), np.sin(turns)]))


def _washer(random: np.random.Generator) -> Solid:
    radius = float(random.uniform(4.0, 12.0))
    ring = _ring(_place(random, CLEAR_MM + radius)[0], radius)
    return Solid(ring, ring, 0.0, float(random.uniform(0.8, 2.2)), float(random.uniform(0.1, 0.7)), np.eye(3))


def _lying(start: FloatArray, way_deg: float, length: float, width: float) -> FloatArray:
    turn = turned(way_deg, 0.0, 0.0)[:2, :2]
    return np.asarray(start + box(-width / 2.0, width / 2.0, 0.0, length) @ turn.T)


def _screwdriver(random: np.random.Generator) -> list[Solid]:
    """Return shaft and handle, lying beside the grid and pointing anywhere but across it."""
    start, way = _place(random, CLEAR_MM + 5.0)
    way += float(random.uniform(-50.0, 50.0))
    step = np.array([math.sin(math.radians(way)), math.cos(math.radians(way))])
    shaft = _lying(start, way, 60.0, 3.0)
    handle = _lying(start + 60.0 * step, way, 70.0, 16.0)
    return [
        Solid(shaft, shaft, 4.0, 7.0, 0.55, np.eye(3)),
        Solid(handle, handle, 0.0, 15.0, float(random.choice([0.06, 0.25, 0.5])), np.eye(3)),
    ]


def _cable(random: np.random.Generator) -> list[Solid]:
    """Return a cable that winds about beside the grid, in short straight pieces."""
    at, way = _place(random, CLEAR_MM + 12.0)
    shade, pieces = float(random.choice([0.05, 0.4, 0.8])), []
    for _ in range(9):
        piece = _lying(at, way, 9.0, 3.0)
        pieces.append(Solid(piece, piece, 0.0, 3.0, shade, np.eye(3)))
        at = at + 8.0 * np.array([math.sin(math.radians(way)), math.cos(math.radians(way))])
        way += float(random.normal(0.0, 12.0))
    return pieces


def _slip(random: np.random.Generator) -> list[Face]:
    """Return a slip of paper with printed lines, beside the grid."""
    start, way = _place(random, CLEAR_MM + 12.0)
    turn = turned(way + float(random.uniform(-40.0, 40.0)), 0.0, 0.0)[:2, :2]

    def flat(corners: FloatArray, shade: float) -> Face:
        placed = start + corners @ turn.T
        return Face(np.column_stack([placed, np.zeros(4)]), shade)

    faces = [flat(box(-18.0, 18.0, 0.0, 50.0), 0.8)]
    for y in np.arange(4.0, 48.0, float(random.uniform(2.5, 7.0))):
        faces.append(flat(box(-15.0, 15.0, y, y + float(random.uniform(0.3, 1.5))), 0.06))
    return faces


def _hand(random: np.random.Generator) -> tuple[FloatArray, ...]:
    """Return the shadow of a hand that holds the phone: a palm and four fingers, anywhere near the grid."""
    middle = random.uniform(-60.0, 60.0, 2)
    way = float(random.uniform(0.0, 360.0))
    turn = turned(way, 0.0, 0.0)[:2, :2]
    palm = middle + box(-40.0, 40.0, -70.0, 0.0) @ turn.T
    fingers = [middle + box(x - 8.0, x + 8.0, -2.0, 60.0) @ turn.T for x in (-31.0, -10.5, 10.5, 31.0)]
    return (np.asarray(palm), *(np.asarray(finger) for finger in fingers))
