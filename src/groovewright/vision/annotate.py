"""The picture that a person checks at a glance: what was measured, drawn over the photograph."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from groovewright.quantities import FloatArray
from groovewright.vision.camera import CameraPose, on_plane, project
from groovewright.vision.load import Photo
from groovewright.vision.marks import find_codes
from groovewright.vision.reading import PhotoReading
from groovewright.vision.sheet_view import see_grids

Frame = tuple[int, int, int, int]
"""A part of a photo in pixels: left, top, right, bottom; the last two are just outside."""

LONGEST_PX = 1600
_INK, _SIGNAL, _WHITE = (27, 24, 22), (12, 65, 194), (255, 255, 255)
"""Blue, green, red, as the drawing library takes them."""
_FINE = 4
"""Coordinates are drawn to a sixteenth of a pixel: so many binary places."""


def annotated(photo: Photo, reading: PhotoReading) -> bytes:
    """Return a PNG of the photo around the grid, with its axes, the corners used and what was read."""
    picture, scale, corner = _part(photo, reading_frame(photo, reading))
    values = reading.view.pose.values

    def put(pixels: FloatArray) -> FloatArray:
        return np.asarray((pixels - corner) * scale)

    def at(points: list[tuple[float, float]]) -> FloatArray:
        flat = np.array(points)
        return put(project(values, np.column_stack([flat, np.zeros(len(flat))])))

    for ends in ([(0.0, -30.0), (0.0, 38.0)], [(-20.0, 0.0), (20.0, 0.0)]):
        _line(picture, at(ends), _SIGNAL, 1)
    _line(picture, at([(-2.0, 34.0), (0.0, 38.0), (2.0, 34.0)]), _SIGNAL, 2)
    for pixel in put(reading.view.pixels):
        _ring(picture, pixel, 5, _SIGNAL)
    if reading.flag is not None:
        outline = put(reading.flag.outline_px)
        _line(picture, np.vstack([outline, outline[:1]]), _SIGNAL, 2)
        for pixel in put(reading.flag.pixels):
            _ring(picture, pixel, 5, _INK)
    own = [] if reading.body is None else [seen.edge for seen in reading.body.edges]
    for edge in [*own, *reading.edges]:
        _line(picture, put(edge.ends()), _SIGNAL, 3)
    _words(picture, reading)
    return _png(picture)


def with_lines(photo: Photo, lines: Sequence[FloatArray], frame: Frame | None = None) -> bytes:
    """Return a PNG of a part of the photo with lines drawn over it, each by its two ends in pixels.

    [shape of each=(2, 2)]
    """
    picture, scale, corner = _part(photo, frame or whole_frame(photo))
    for ends in lines:
        _line(picture, (ends - corner) * scale, _SIGNAL, 3)
    return _png(picture)


def whole_frame(photo: Photo) -> Frame:
    """Return the frame of the whole photo."""
    return 0, 0, *photo.size


def grid_frame(photo: Photo, null: str | None = None) -> Frame:
    """Return the part of a photo that shows a grid, or both; the whole of it where none is seen."""
    views = see_grids(photo, find_codes(photo.gray))
    wanted = [view.pose for view in views if null in (None, view.null)]
    return _frame(photo, wanted) if wanted else whole_frame(photo)


def reading_frame(photo: Photo, reading: PhotoReading) -> Frame:
    """Return the part of a photo that shows the grid of a reading and what stands over it."""
    return _frame(photo, [reading.view.pose])


def _frame(photo: Photo, poses: Sequence[CameraPose]) -> Frame:
    (left, right), (rear, front) = _RECTIFIED_MM
    corners = np.array([[x, y, z] for x in (left, right) for y in (rear, front) for z in (0.0, -_TALLEST_MM)])
    seen = np.vstack([project(pose.values, corners) for pose in poses])
    low = np.maximum(np.floor(seen.min(axis=0)), 0.0)
    high = np.minimum(np.ceil(seen.max(axis=0)), photo.size)
    if (high - low).min() < _SMALLEST_PART_PX:
        return whole_frame(photo)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def rectified(photo: Photo, reading: PhotoReading) -> bytes:
    """Return a PNG of the sheet as seen from straight above, with its grid and what was read.

    Outward is to the right, the front down. What stands above the sheet is drawn where its picture falls on
    it: it keeps its direction, not its place.
    """
    values = reading.view.pose.values
    (left, right), (rear, front) = _RECTIFIED_MM
    across = np.arange(left, right, 1.0 / _PX_PER_MM)
    along = np.arange(rear, front, 1.0 / _PX_PER_MM)
    x, y = np.meshgrid(across, along)
    seen = project(values, np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])).astype(np.float32)
    maps = seen.reshape(*x.shape, 2)
    gray = cv2.remap(photo.gray, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderValue=255)
    picture = cv2.cvtColor(np.asarray(gray, dtype=np.uint8), cv2.COLOR_GRAY2BGR)

    def at(points: FloatArray) -> FloatArray:
        return np.column_stack([points[:, 0] - left, points[:, 1] - rear]) * _PX_PER_MM

    for x_mm in np.arange(-20.0, 21.0, 5.0):
        _line(picture, at(np.array([[x_mm, rear], [x_mm, front]])), _SIGNAL, 2 if x_mm == 0.0 else 1)
    for y_mm in np.arange(-40.0, 41.0, 5.0):
        _line(picture, at(np.array([[left, y_mm], [right, y_mm]])), _SIGNAL, 2 if y_mm == 0.0 else 1)
    for edge in reading.edges:
        _line(picture, at(on_plane(values, edge.ends(), 0.0)), _INK, 6)
        _line(picture, at(on_plane(values, edge.ends(), 0.0)), _WHITE, 2)
    if reading.flag is not None:
        outline = at(on_plane(values, reading.flag.outline_px, 0.0))
        _line(picture, np.vstack([outline, outline[:1]]), _INK, 6)
        _line(picture, np.vstack([outline, outline[:1]]), _WHITE, 2)
    return _png(picture)


_TALLEST_MM = 25.0
"""What stands over the grid, headshell and all, is not taller."""
_SMALLEST_PART_PX = 100
_RECTIFIED_MM = ((-25.0, 25.0), (-47.0, 56.0))
_PX_PER_MM = 12.0


def _part(photo: Photo, frame: Frame) -> tuple[np.ndarray, float, FloatArray]:
    """Return a part of the photo to be drawn upon, its longer side `LONGEST_PX`, its scale and its corner."""
    left, top, right, bottom = frame
    part = photo.gray[top:bottom, left:right]
    scale = LONGEST_PX / max(part.shape)
    way = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_LINEAR
    gray = cv2.resize(part, None, fx=scale, fy=scale, interpolation=way)
    # a pixel's middle, not its corner, has whole coordinates
    corner = np.array([left, top]) - 0.5 + 0.5 / scale
    return cv2.cvtColor(np.asarray(gray, dtype=np.uint8), cv2.COLOR_GRAY2BGR), scale, corner


def _png(picture: np.ndarray) -> bytes:
    done, content = cv2.imencode(".png", picture)
    if not done:
        raise RuntimeError("the picture can't be encoded")
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
