"""How a test measures a sheet from outside: its SVG as any XML reader sees it, its PDF as pixels."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pytest

DPI = 1200
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


class SvgSheet:
    """An SVG sheet, read without the code that wrote it."""

    def __init__(self, text):
        self.root = ET.fromstring(text)
        self.by_id = {node.get("id"): node for node in self.root.iter() if node.get("id")}

    def centre(self, name):
        node = self.by_id[name]
        return np.array([float(node.get("cx")), float(node.get("cy"))])

    def ends(self, name):
        node = self.by_id[name]
        return np.array([[float(node.get(f"{axis}{k}")) for axis in "xy"] for k in (1, 2)])

    def arc(self):
        """Return start, end and both radii of the arc."""
        match = re.fullmatch(
            r"M (\S+) (\S+) A (\S+) (\S+) 0 0 ([01]) (\S+) (\S+)", self.by_id["arc"].get("d")
        )
        x1, y1, rx, ry, sweep, x2, y2 = (float(part) for part in match.groups())
        return np.array([x1, y1]), np.array([x2, y2]), (rx, ry), int(sweep)

    def arc_points(self, count):
        """Return points on the arc by SVG 1.1, F.6.5: centre from end points, nothing of the geometry."""
        start, end, (rx, ry), sweep = self.arc()
        half = (start - end) / 2.0
        square = (rx * ry) ** 2 - (rx * half[1]) ** 2 - (ry * half[0]) ** 2
        factor = np.sqrt(max(0.0, square / ((rx * half[1]) ** 2 + (ry * half[0]) ** 2)))
        sign = -1.0 if sweep == 0 else 1.0
        middle = sign * factor * np.array([rx * half[1] / ry, -ry * half[0] / rx])
        centre = middle + (start + end) / 2.0
        first, last = (np.arctan2((p[1] - centre[1]) / ry, (p[0] - centre[0]) / rx) for p in (start, end))
        turn = (last - first + np.pi) % (2.0 * np.pi) - np.pi
        angle = first + turn * np.linspace(0.0, 1.0, count)
        return centre + np.column_stack((rx * np.cos(angle), ry * np.sin(angle)))


@dataclass
class Print:
    """One page as gray pixels; `mm` says where a pixel's centre lies."""

    pixels: np.ndarray
    width_mm: float
    height_mm: float

    def crop(self, centre, half_x, half_y=None):
        """Return darkness 0 to 1 and the x and y in mm of each pixel of a small window."""
        half_y = half_x if half_y is None else half_y
        rows, columns = self.pixels.shape
        mm_x, mm_y = self.width_mm / columns, self.height_mm / rows
        x0, x1 = round((centre[0] - half_x) / mm_x), round((centre[0] + half_x) / mm_x)
        y0, y1 = round((centre[1] - half_y) / mm_y), round((centre[1] + half_y) / mm_y)
        darkness = 1.0 - self.pixels[y0:y1, x0:x1] / 255.0
        x, y = np.meshgrid((np.arange(x0, x1) + 0.5) * mm_x, (np.arange(y0, y1) + 0.5) * mm_y)
        return darkness, x, y

    def centroid(self, centre, half_x, half_y=None):
        """Return the centre of the ink in a window."""
        ink, x, y = self.crop(centre, half_x, half_y)
        assert ink.sum() > 0.0
        return np.array([(ink * x).sum(), (ink * y).sum()]) / ink.sum()


def printed(content, width_mm, height_mm):
    document = pypdfium2.PdfDocument(content)
    try:
        page = document[0]
        bitmap = page.render(scale=DPI / 72.0, grayscale=True)
        pixels = np.array(bitmap.to_numpy(), copy=True).squeeze()
        bitmap.close()
        page.close()
    finally:
        document.close()
    return Print(pixels, width_mm, height_mm)


@pytest.fixture(scope="session")
def read_svg():
    return SvgSheet


@pytest.fixture(scope="session")
def print_pdf():
    return printed
