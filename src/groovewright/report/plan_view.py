"""The plan view that lives: arm, platter, grids and the cartridge, turned as it is estimated to stand."""

from __future__ import annotations

import math

import numpy as np

from groovewright.geometry import Alignment, yaw_deg
from groovewright.geometry.headshell import Headshell, length_and_offset, yaw_and_slopes
from groovewright.quantities import LP, CannotBeDoneError, GrooveRange
from groovewright.report.body import Stand, draw_body, stand_at, turned
from groovewright.report.picture import (
    FINE,
    INK,
    LINE,
    PALE,
    PAPER,
    SIGNAL,
    blank_picture,
    finished_picture,
)
from groovewright.report.words import yaw_words
from groovewright.sheets.drawing import Drawing, Point, Sketch

WIDTH, HEIGHT = 110.0, 120.0
RECORD_EDGE_MM = 150.8
"""Half of 301.6 mm, the outside of a 30 cm record (IEC 60098:1987)."""
LABEL_MM = 50.0


def plan_view(
    aim: Alignment,
    *,
    radius_mm: float,
    slide_mm: float = 0.0,
    turn_deg: float = 0.0,
    headshell: Headshell | None = None,
    grooves: GrooveRange = LP,
    body_scale: float = 1.35,
) -> Drawing:
    """Return the player from above with the stylus at one radius.

    An arm with one null, such as a straight one that stops short of the spindle, has one grid.

    Parameters
    ----------
    aim : Alignment
        What is aimed at: its nulls are where the grids lie.
    radius_mm : number > 0
        Where the stylus stands.
    slide_mm, turn_deg : number
        How the cartridge stands in its headshell, from where the aim wants it: forward and clockwise.
    body_scale : number
        By how much the cartridge is drawn larger than the rest.

    Raises
    ------
    CannotBeDoneError
        The arm does not reach the radius.
    """
    length, offset = (float(x) for x in length_and_offset(aim, headshell or Headshell(), slide_mm, turn_deg))
    stand = stand_at(aim.pivot_to_spindle_mm, length, radius_mm)
    yaw = float(yaw_deg(aim.pivot_to_spindle_mm, length, offset, radius_mm))
    sketch = blank_picture(WIDTH, HEIGHT)
    view = View(stand)
    draw_platter(sketch, view, grooves)
    _draw_nulls(sketch, view, aim, length)
    _draw_arm(sketch, view, stand, stand.groove_deg + yaw, body_scale)
    words = f"At {radius_mm:.1f} mm the cartridge {yaw_words(yaw)}"
    return finished_picture(
        sketch,
        title="Plan view",
        description=f"{words}; the platter turns clockwise, the pivot stands at the rear right.",
        yaw_deg=yaw,
        radius_mm=radius_mm,
        scale=view.scale,
    )


def plan_view_for_yaws(
    aim: Alignment,
    *,
    radius_mm: float,
    yaw_outer_deg: float,
    yaw_inner_deg: float,
    headshell: Headshell | None = None,
    grooves: GrooveRange = LP,
) -> Drawing:
    """Return the plan view of a cartridge whose yaw at both nulls is known.

    Slide and turn are those that give the two yaws, by Newton's method.

    Raises
    ------
    CannotBeDoneError
        No slide and turn give these yaws, or the arm does not reach the radius.
    """
    shell = headshell or Headshell()
    radii = np.array([aim.null_outer_mm, aim.null_inner_mm])
    wanted = np.array([yaw_outer_deg, yaw_inner_deg])
    state = np.zeros(3)
    for _ in range(30):
        with np.errstate(invalid="ignore"):
            yaw, slopes = yaw_and_slopes(aim, shell, state, radii)
        if not np.all(np.isfinite(slopes)):
            break
        change = np.linalg.solve(slopes[:, 1:], wanted - yaw)
        state[1:] += change
        if np.max(np.abs(change)) < 1e-9:
            return plan_view(
                aim,
                radius_mm=radius_mm,
                slide_mm=float(state[1]),
                turn_deg=float(state[2]),
                headshell=shell,
                grooves=grooves,
            )
    raise CannotBeDoneError(
        f"no slide and turn give {yaw_outer_deg:+.1f} deg at the outer and {yaw_inner_deg:+.1f} deg at the inner "
        "null on this arm, so there is no plan view of it"
    )


class View:
    """From millimetres about the spindle to the picture: the whole player fits."""

    def __init__(self, stand: Stand) -> None:
        top = min(-RECORD_EDGE_MM, stand.pivot[1] - 44.0)
        right = max(RECORD_EDGE_MM, stand.pivot[0] + 30.0)
        wide, high = right + RECORD_EDGE_MM, RECORD_EDGE_MM - top
        self.scale = min((WIDTH - 4.0) / wide, (HEIGHT - 4.0) / high)
        self.left = (WIDTH - wide * self.scale) / 2.0 + RECORD_EDGE_MM * self.scale
        self.top = (HEIGHT - high * self.scale) / 2.0 - top * self.scale

    def __call__(self, point: Point) -> Point:
        """Return where a point in millimetres about the spindle lies in the picture."""
        return self.left + point[0] * self.scale, self.top + point[1] * self.scale


def draw_platter(sketch: Sketch, view: View, grooves: GrooveRange) -> None:
    """Draw the record with its grooves, the spindle, and which way it turns."""
    centre = view((0.0, 0.0))
    sketch.circle(centre, RECORD_EDGE_MM * view.scale, width=0.5, color=INK, fill=PAPER)
    for radius in (grooves.outer_mm, grooves.inner_mm):
        sketch.circle(centre, radius * view.scale, width=0.18, color=LINE)
    sketch.circle(centre, LABEL_MM * view.scale, width=0.25, color=LINE, fill=PALE)
    sketch.circle(centre, 1.1, width=0.35, color=INK, fill=PAPER)
    sketch.dot(centre, 0.35, color=INK)
    sketch.text((centre[0], centre[1] + 7.4), "spindle", size=4.6, color=FINE, anchor="middle")
    _draw_turning(sketch, view)


def _draw_turning(sketch: Sketch, view: View) -> None:
    """Draw which way the platter turns, on its free side."""
    radius = 134.0
    start, end = (view(_polar(radius, angle)) for angle in (154.0, 206.0))
    sketch.arc(view((0.0, 0.0)), radius * view.scale, start, end, width=0.45, color=FINE)
    tip = view(_polar(radius, 213.0))
    for reach in (-6.5, 6.5):
        sketch.line(view(_polar(radius + reach, 204.5)), tip, width=0.45, color=FINE)


def _polar(radius: float, bearing_deg: float) -> Point:
    """Return a point at a bearing clockwise from the right."""
    angle = math.radians(bearing_deg)
    return radius * math.cos(angle), radius * math.sin(angle)


def _draw_nulls(sketch: Sketch, view: View, aim: Alignment, length_mm: float) -> None:
    """Draw the arc of the stylus, and the two grids where it is to be square."""
    reachable = []
    for name, radius in (("inner", aim.null_inner_mm), ("outer", aim.null_outer_mm)):
        if not math.isfinite(radius):
            continue
        sketch.circle(view((0.0, 0.0)), radius * view.scale, width=0.25, color=SIGNAL, dash="1.6 1.2")
        at = stand_at(aim.pivot_to_spindle_mm, aim.effective_length_mm, radius)
        reachable.append(at.stylus)
        corners = [(-13.0, -20.0), (13.0, -20.0), (13.0, 16.0), (-13.0, 16.0)]
        square = [view(turned(corner, at.stylus, at.groove_deg)) for corner in corners]
        sketch.outline(square, width=0.3, color=SIGNAL, fill="none")
        alone = not (math.isfinite(aim.null_inner_mm) and math.isfinite(aim.null_outer_mm))
        _label_null(sketch, view, "square at" if alone else name, radius)
    if reachable:
        pivot = stand_at(aim.pivot_to_spindle_mm, aim.effective_length_mm, aim.null_outer_mm).pivot
        ends = [
            stand_at(aim.pivot_to_spindle_mm, length_mm, radius).stylus
            for radius in (RECORD_EDGE_MM - 2.0, LABEL_MM + 4.0)
        ]
        sketch.arc(view(pivot), length_mm * view.scale, view(ends[0]), view(ends[1]), width=0.3, color=FINE)


def _label_null(sketch: Sketch, view: View, name: str, radius_mm: float) -> None:
    """Write a null's name and radius on its circle, on the side where the arm never is."""
    x, y = view(_polar(radius_mm, -112.0 if name == "inner" else -100.0))
    sketch.outline(
        ((x - 18.0, y - 2.8), (x + 18.0, y - 2.8), (x + 18.0, y + 2.8), (x - 18.0, y + 2.8)), fill=PAPER
    )
    sketch.text(
        (x, y + 1.6), f"{name} {radius_mm:.1f} mm", size=4.4, anchor="middle", color=SIGNAL, bold=True
    )


def _draw_arm(sketch: Sketch, view: View, stand: Stand, heading_deg: float, body_scale: float) -> None:
    pivot, stylus = view(stand.pivot), view(stand.stylus)
    scale = view.scale * body_scale
    neck = turned((0.0, -21.0), stylus, heading_deg, scale)
    arm = np.array(neck) - np.array(pivot)
    unit = arm / np.linalg.norm(arm)
    tail = np.array(pivot) - unit * 9.0
    sketch.circle(pivot, 6.2, width=0.4, color=INK, fill=PAPER)
    sketch.line((float(tail[0]), float(tail[1])), neck, width=1.9, color=INK)
    sketch.line((float(tail[0]), float(tail[1])), neck, width=1.1, color=PAPER)
    weight = [np.array(pivot) - unit * k + np.array([-unit[1], unit[0]]) * s for k, s in
              ((5.4, -3.0), (5.4, 3.0), (11.0, 3.0), (11.0, -3.0))]  # fmt: skip
    sketch.outline([(float(x), float(y)) for x, y in weight], width=0.4, color=INK, fill=PALE)
    shell = [(-5.0, -23.0), (5.0, -23.0), (9.4, -18.0), (9.4, -3.0), (-9.4, -3.0), (-9.4, -18.0)]
    sketch.outline(
        [turned(point, stylus, heading_deg, scale) for point in shell], width=0.35, color=INK, fill=PALE
    )
    draw_body(sketch, stylus, heading_deg, scale=scale)
    sketch.circle(pivot, 1.5, width=0.4, color=INK, fill=PAPER)
    sketch.text((pivot[0] - 8.4, pivot[1] - 1.0), "pivot", size=4.6, color=FINE, anchor="end")
