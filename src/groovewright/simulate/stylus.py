"""The stylus in the groove: which radius traces the wall, and how it follows when it can't."""

from __future__ import annotations

import math

import numpy as np

from groovewright.quantities import FloatArray


def tracing_radius_um(tip_radius_um: float, edge_radius_um: float | None) -> float:
    """Return the radius with which a stylus rolls along a wall: of its section by the plane that holds the
    groove's direction and the wall's normal.

    A round tip gives its own radius. A stylus whose level section at the contact has an edge of radius
    r gives r / cos 45: the wall's normal stands at 45 degrees to the level (J. B. Meusnier's theorem, 1776); a sphere
    of radius R, whose level section there has R cos 45, gives R again.
    """
    return tip_radius_um if edge_radius_um is None else edge_radius_um / math.cos(math.radians(45.0))


def followed(velocity: FloatArray, limit: float) -> FloatArray:
    """Return the velocity of a stylus that can't move faster than a limit along a wall. [shape=(n,)]

    Where the wall runs away the stylus moves on at its limit, falls behind, and keeps that speed until it has
    caught up with the wall again: a limiter with recovery. No distance is lost, so that nothing stays displaced
    (the simplest picture of mistracking; common practice).
    """
    if not np.isfinite(limit) or not np.any(np.abs(velocity) > limit):
        return velocity
    first = int(np.argmax(np.abs(velocity) > limit))
    moved = []
    behind = 0.0
    for value in velocity[first:].tolist():
        wanted = value + behind
        speed = min(max(wanted, -limit), limit)
        behind = wanted - speed
        moved.append(speed)
    return np.concatenate([velocity[:first], moved])
