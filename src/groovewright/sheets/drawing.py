"""A drawing in true millimetres, written as SVG.

One user unit is 1 mm of paper. A sketch is laid out in the millimetres that the print will show; with a
print correction every coordinate is scaled on its way to the paper, and nothing carries a transform except
turned lettering, so each datum can be read straight from its element.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape, quoteattr

from groovewright.sheets.lettering import ASCENT, DESCENT, FAMILY, font_face_css, text_width_mm
from groovewright.sheets.papers import Paper, PrintCorrection

INK = "#16181b"
FINE = "#6d747c"
PALE = "#e9ebed"
PAPER_WHITE = "#ffffff"
SIGNAL = "#c2410c"
"""The one signal colour: 5.2 to 1 against white (WCAG 2.2), and dark enough for a printer without colour."""

Point = tuple[float, float]


@dataclass(frozen=True)
class TextBox:
    """Where a line of lettering lies on the paper: its four corners, in order."""

    text: str
    corners: tuple[Point, Point, Point, Point]


@dataclass(frozen=True)
class Drawing:
    """A finished sheet.

    Parameters
    ----------
    elements : tuple of str
        SVG elements in the order in which they are painted.
    texts : tuple of TextBox
        Where lettering lies, in mm on the paper.
    zones : mapping
        Places kept clear for marks that a machine reads: name to four corners, in mm on the paper.
    facts : mapping
        What the sheet was drawn from, by name with the unit in it.
    """

    paper: Paper
    title: str
    description: str
    elements: tuple[str, ...]
    texts: tuple[TextBox, ...]
    zones: Mapping[str, tuple[Point, ...]]
    facts: Mapping[str, float | str]


def number(value: float) -> str:
    """Return a coordinate to a tenth of a micrometre, without idle zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


@dataclass
class Sketch:
    """A sheet while it is drawn. Coordinates are the millimetres of the print, y down from the top left."""

    paper: Paper
    correction: PrintCorrection = field(default_factory=PrintCorrection)
    elements: list[str] = field(default_factory=list)
    texts: list[TextBox] = field(default_factory=list)
    zones: dict[str, tuple[Point, ...]] = field(default_factory=dict)

    @property
    def width_mm(self) -> float:
        """The paper's width in millimetres of the print."""
        return self.paper.width_mm / self.correction.scale_x

    @property
    def height_mm(self) -> float:
        """The paper's height in millimetres of the print."""
        return self.paper.height_mm / self.correction.scale_y

    def on_paper(self, point: Point) -> Point:
        """Return where a point of the print has to be drawn."""
        return point[0] * self.correction.scale_x, point[1] * self.correction.scale_y

    def off_paper(self, point: Point) -> Point:
        """Return which point of the print is drawn there: the inverse of `on_paper`."""
        return point[0] / self.correction.scale_x, point[1] / self.correction.scale_y

    def _xy(self, point: Point) -> str:
        x, y = self.on_paper(point)
        return f"{number(x)} {number(y)}"

    def line(
        self, start: Point, end: Point, *, width: float, color: str = INK, name: str = "", dash: str = ""
    ) -> None:
        """Draw a straight line."""
        (x1, y1), (x2, y2) = self.on_paper(start), self.on_paper(end)
        self.elements.append(
            f'<line{_id(name)} x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
            f" {_stroke(width, color, dash)}/>"
        )

    def strokes(self, segments: Iterable[tuple[Point, Point]], *, width: float, color: str = INK) -> None:
        """Draw many straight lines as one element."""
        path = "".join(f"M{self._xy(start)}L{self._xy(end)}" for start, end in segments)
        if path:
            self.elements.append(f'<path d="{path}" fill="none" {_stroke(width, color)}/>')

    def outline(
        self, points: Sequence[Point], *, width: float = 0.0, color: str = INK, fill: str = "none"
    ) -> None:
        """Draw a closed polygon."""
        path = "M" + "L".join(self._xy(point) for point in points) + "Z"
        stroke = _stroke(width, color) if width else 'stroke="none"'
        self.elements.append(f'<path d="{path}" fill="{fill}" {stroke} stroke-linejoin="round"/>')

    def outlines(self, polygons: Iterable[Sequence[Point]], *, fill: str, name: str = "") -> None:
        """Fill many closed polygons as one element."""
        path = "".join("M" + "L".join(self._xy(point) for point in points) + "Z" for points in polygons)
        self.elements.append(f'<path{_id(name)} d="{path}" fill="{fill}" stroke="none"/>')

    def circle(
        self,
        centre: Point,
        radius: float,
        *,
        width: float = 0.0,
        color: str = INK,
        fill: str = "none",
        name: str = "",
        dash: str = "",
    ) -> None:
        """Draw a circle that is true in the print: on the paper an ellipse if x and y are off unequally."""
        x, y = self.on_paper(centre)
        rx, ry = radius * self.correction.scale_x, radius * self.correction.scale_y
        shape = (
            f'<circle{_id(name)} cx="{number(x)}" cy="{number(y)}" r="{number(rx)}"'
            if abs(rx - ry) < 5e-5
            else f'<ellipse{_id(name)} cx="{number(x)}" cy="{number(y)}" rx="{number(rx)}" ry="{number(ry)}"'
        )
        stroke = _stroke(width, color, dash) if width else 'stroke="none"'
        self.elements.append(f'{shape} fill="{fill}" {stroke}/>')

    def dot(self, centre: Point, radius: float, *, color: str = INK, name: str = "") -> None:
        """Draw a round dot whose size is that of a mark and isn't corrected."""
        x, y = self.on_paper(centre)
        self.elements.append(
            f'<circle{_id(name)} cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
            f' fill="{color}" stroke="none"/>'
        )

    def arc(
        self,
        centre: Point,
        radius: float,
        start: Point,
        end: Point,
        *,
        width: float,
        color: str = INK,
        name: str = "",
        dash: str = "",
    ) -> None:
        """Draw the arc of less than half a turn from `start` to `end`, both on the circle."""
        turns_right = (start[0] - centre[0]) * (end[1] - centre[1]) > (start[1] - centre[1]) * (
            end[0] - centre[0]
        )
        rx, ry = radius * self.correction.scale_x, radius * self.correction.scale_y
        self.elements.append(
            f'<path{_id(name)} d="M {self._xy(start)} A {number(rx)} {number(ry)} 0 0 {int(turns_right)}'
            f' {self._xy(end)}" fill="none" {_stroke(width, color, dash)}/>'
        )

    def text(
        self,
        at: Point,
        text: str,
        *,
        size: float,
        bold: bool = False,
        anchor: str = "start",
        color: str = INK,
        turn_deg: float = 0.0,
    ) -> None:
        """Write one line with its baseline through `at`; turned clockwise about it.

        Letters keep their shape; their size follows the smaller of the two corrections, so that they keep
        to the room that the layout gave them.
        """
        if not text:
            return
        x, y = self.on_paper(at)
        size *= min(self.correction.scale_x, self.correction.scale_y)
        turn = f' transform="rotate({number(turn_deg)} {number(x)} {number(y)})"' if turn_deg else ""
        weight = ' font-weight="700"' if bold else ""
        align = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self.elements.append(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{weight}{align}'
            f' fill="{color}"{turn}>{escape(text)}</text>'
        )
        self.texts.append(_text_box((x, y), text, size, bold, anchor, turn_deg))

    def keep_clear(self, name: str, corners: Sequence[Point]) -> None:
        """Name a place that stays free for marks that a machine reads."""
        self.zones[name] = tuple(self.on_paper(corner) for corner in corners)

    def finished(self, *, title: str, description: str, facts: Mapping[str, float | str]) -> Drawing:
        """Return the drawing."""
        return Drawing(
            self.paper,
            title,
            description,
            tuple(self.elements),
            tuple(self.texts),
            dict(self.zones),
            dict(facts),
        )


def _id(name: str) -> str:
    return f' id="{name}"' if name else ""


def _stroke(width: float, color: str, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'stroke="{color}" stroke-width="{number(width)}"{dashes}'


def _text_box(at: Point, text: str, size: float, bold: bool, anchor: str, turn_deg: float) -> TextBox:
    width = text_width_mm(text, size_mm=size, bold=bold)
    left = {"start": 0.0, "middle": -width / 2.0, "end": -width}[anchor]
    cosine, sine = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def turned(dx: float, dy: float) -> Point:
        return at[0] + dx * cosine - dy * sine, at[1] + dx * sine + dy * cosine

    top, bottom = -ASCENT * size, DESCENT * size
    return TextBox(
        text,
        (turned(left, top), turned(left + width, top), turned(left + width, bottom), turned(left, bottom)),
    )


def svg_text(drawing: Drawing) -> str:
    """Return the sheet as SVG that carries its own lettering, for browsers and drawing programs."""
    return _svg(drawing, f"<style>{font_face_css(box.text for box in drawing.texts)}</style>")


def svg_without_font(drawing: Drawing) -> str:
    """Return the sheet as SVG for a program that has the house's font at hand."""
    return _svg(drawing, "")


def _svg(drawing: Drawing, style: str) -> str:
    width, height = number(drawing.paper.width_mm), number(drawing.paper.height_mm)
    body = "\n".join(drawing.elements)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
        f' viewBox="0 0 {width} {height}" font-family={quoteattr(f"{FAMILY}, sans-serif")}>\n'
        f"<title>{escape(drawing.title)}</title>\n<desc>{escape(drawing.description)}</desc>\n{style}"
        f'<rect id="paper" x="0" y="0" width="{width}" height="{height}" fill="{PAPER_WHITE}"/>\n'
        f"{body}\n</svg>\n"
    )
