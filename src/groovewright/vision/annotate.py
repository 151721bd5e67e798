"""The picture that a person checks at a glance: what was measured, drawn over the photograph."""

from __future__ import annotations

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import project
from groovewright.vision.load import Photo
from groovewright.vision.reading import PhotoReading

LONGEST_PX = 1600
_INK, _SIGNAL, _WHITE = (27, 24, 22), (12, 65, 194), (255, 255, 255)
"""Blue, green, red, as the drawing library takes them."""
_FINE = 4
"""Coordinates are drawn to a sixteenth of a pixel: so many binary places."""


def annotated(photo: Photo, reading: PhotoReading) -> bytes:
    """Return a PNG of the photo with the grid's axes, the corners used and what was read; without metadata."""
    scale = min(1.0, LONGEST_PX / max(photo.size))
    gray = cv2.resize(photo.gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    picture = cv2.cvtColor(np.asarray(gray, dtype=np.uint8), cv2.COLOR_GRAY2BGR)
    values = reading.view.pose.values

    def at(points: list[tuple[float, float]]) -> FloatArray:
        flat = np.array(points)
        return project(values, np.column_stack([flat, np.zeros(len(flat))]))

    for ends in ([(0.0, -30.0), (0.0, 38.0)], [(-20.0, 0.0), (20.0, 0.0)]):
        _line(picture, at(ends) * scale, _SIGNAL, 1)
    _line(picture, at([(-2.0, 34.0), (0.0, 38.0), (2.0, 34.0)]) * scale, _SIGNAL, 2)
    for pixel in reading.view.pixels * scale:
        _ring(picture, pixel, 5, _SIGNAL)
    if reading.flag is not None:
        outline = reading.flag.outline_px * scale
        _line(picture, np.vstack([outline, outline[:1]]), _SIGNAL, 2)
        for pixel in reading.flag.pixels * scale:
            _ring(picture, pixel, 5, _INK)
    own = [] if reading.body is None else [seen.edge for seen in reading.body.edges]
    for edge in [*own, *reading.edges]:
        _line(picture, edge.ends() * scale, _SIGNAL, 3)
    _words(picture, reading)
    done, content = cv2.imencode(".png", picture)
    if not done:
        raise RuntimeError("the annotated picture can't be encoded")
    return bytes(content.tobytes())


def _words(picture: np.ndarray, reading: PhotoReading) -> None:
    low, high = reading.yaw.interval()
    lines = (
        f"{reading.null} null: {reading.yaw.value:+.2f} deg ({_side(reading.yaw.value)})",
        f"95 % sure: {low:+.2f} to {high:+.2f}   read from: {reading.method}",
    )
    height = max(0.5, picture.shape[1] / 1600.0)
    row = round(38 * height)
    cv2.rectangle(picture, (0, 0), (picture.shape[1], round(2.7 * row)), _WHITE, -1)
    for k, text in enumerate(lines):
        place = (round(12 * height), round((k + 1.0) * row))
        cv2.putText(
            picture,
            text,
            place,
            cv2.FONT_HERSHEY_SIMPLEX,
            1.0 * height,
            _INK,
            max(1, round(2 * height)),
            cv2.LINE_AA,
        )


def _side(yaw_deg: float) -> str:
    return "front points in" if yaw_deg > 0.0 else "front points out"


def _line(picture: np.ndarray, points: FloatArray, color: tuple[int, int, int], width: int) -> None:
    fixed = np.rint(points * (1 << _FINE)).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(picture, [fixed], False, color, width, cv2.LINE_AA, _FINE)


def _ring(picture: np.ndarray, pixel: FloatArray, radius: int, color: tuple[int, int, int]) -> None:
    x, y = (round(float(v) * (1 << _FINE)) for v in pixel)
    cv2.circle(picture, (x, y), radius << _FINE, color, 1, cv2.LINE_AA, _FINE)
