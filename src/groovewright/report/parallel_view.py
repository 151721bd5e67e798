"""An arm whose stylus travels along a line, from above: the line against the radius where it belongs."""

from __future__ import annotations

import math

from groovewright.geometry.parallel import parallel_tracking_yaw_deg
from groovewright.quantities import LP, CannotBeDoneError, GrooveRange
from groovewright.report.body import Stand, draw_body
from groovewright.report.picture import FINE, INK, PALE, PAPER, SIGNAL, blank_picture, finished_picture
from groovewright.report.plan_view import HEIGHT, RECORD_EDGE_MM, WIDTH, View, draw_platter
from groovewright.report.words import yaw_words
from groovewright.sheets.drawing import Drawing, Sketch

RAIL_MM = 62.0
"""How far behind the line of travel the carriage's rail is drawn: where none is said, anywhere will do."""

SEEN_MM = 1.0
"""Lines nearer to each other than this are drawn as one."""


def parallel_view(
    *,
    line_offset_mm: float = 0.0,
    body_yaw_deg: float = 0.0,
    grooves: GrooveRange = LP,
    body_scale: float = 1.35,
) -> Drawing:
    """Return the player from above, the stylus at the outermost groove.

    Parameters
    ----------
    line_offset_mm : number
        How far the line of travel passes in front of the spindle's middle.
    body_yaw_deg : number
        How far the cartridge is turned in against the square to that line.
    body_scale : number
        By how much the cartridge is drawn larger than the rest.

    Raises
    ------
    CannotBeDoneError
        The line does not reach the outermost groove.
    """
    radius = grooves.outer_mm
    yaw = float(parallel_tracking_yaw_deg(radius, line_offset_mm=line_offset_mm, body_yaw_deg=body_yaw_deg))
    if not math.isfinite(yaw):
        raise CannotBeDoneError(
            f"a line {line_offset_mm:g} mm from the spindle does not reach a groove of {radius:g} mm radius"
        )
    stylus = (math.sqrt(radius**2 - line_offset_mm**2), line_offset_mm)
    sketch = blank_picture(WIDTH, HEIGHT)
    view = View(Stand((RECORD_EDGE_MM, -RECORD_EDGE_MM), stylus, 0.0))
    draw_platter(sketch, view, grooves)
    _draw_lines(sketch, view, line_offset_mm)
    rail = line_offset_mm - RAIL_MM
    _draw_carriage(sketch, view, stylus[0], rail, stylus)
    draw_body(sketch, view(stylus), body_yaw_deg, scale=view.scale * body_scale)
    words = f"At {radius:.1f} mm the cartridge {yaw_words(yaw)}"
    return finished_picture(
        sketch,
        title="Plan view, arm that travels along a line",
        description=f"{words}; the line of travel passes {_where(line_offset_mm)}. The platter turns clockwise.",
        yaw_deg=yaw,
        radius_mm=radius,
        scale=view.scale,
    )


def _where(offset_mm: float) -> str:
    if abs(offset_mm) < 0.05:
        return "through the spindle's middle"
    return f"{abs(offset_mm):.1f} mm {'in front of' if offset_mm > 0 else 'behind'} the spindle's middle"


def _draw_lines(sketch: Sketch, view: View, offset_mm: float) -> None:
    """Draw the radius that the stylus belongs on and, where it is another, the line on which it travels."""
    end = RECORD_EDGE_MM
    apart = abs(offset_mm) >= SEEN_MM
    sketch.line(view((0.0, 0.0)), view((end, 0.0)), width=0.3, color=SIGNAL, dash="1.6 1.2")
    named = [(0.0, "belongs here" if apart else "line of travel", SIGNAL, offset_mm <= 0.0 or not apart)]
    if apart:
        sketch.line(view((0.0, offset_mm)), view((end, offset_mm)), width=0.35, color=FINE)
        named.append((offset_mm, "line of travel", FINE, offset_mm > 0.0))
    for at_mm, words, color, below in named:
        x, y = view((131.0, at_mm))
        sketch.text((x, y + (5.2 if below else -2.0)), words, size=4.2, anchor="end", color=color, bold=True)


def _draw_carriage(
    sketch: Sketch, view: View, carriage_mm: float, rail_mm: float, stylus: tuple[float, float]
) -> None:
    """Draw the rail, the carriage on it, and the short arm that it carries."""
    for beside in (-2.5, 2.5):
        sketch.line(
            view((20.0, rail_mm + beside)),
            view((RECORD_EDGE_MM + 2.0, rail_mm + beside)),
            width=0.4,
            color=INK,
        )
    arm = (view((carriage_mm, rail_mm)), view((carriage_mm, stylus[1] - 20.0)))
    sketch.line(*arm, width=1.9, color=INK)
    sketch.line(*arm, width=1.1, color=PAPER)
    corners = [(-13.0, -8.0), (13.0, -8.0), (13.0, 8.0), (-13.0, 8.0)]
    sketch.outline(
        [view((carriage_mm + x, rail_mm + y)) for x, y in corners], width=0.4, color=INK, fill=PALE
    )
    start = view((22.0, rail_mm - 6.0))
    sketch.text(start, "rail", size=4.6, color=FINE)
