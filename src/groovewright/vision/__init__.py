"""Read angles from photographs over a printed sheet: markers, camera, flag, marked lines, several fused."""

from groovewright.vision.annotate import (
    Frame,
    annotated,
    grid_frame,
    reading_frame,
    rectified,
    whole_frame,
    with_lines,
)
from groovewright.vision.clean import without_metadata
from groovewright.vision.lean import LeanReading, rake_from_lean, read_lean
from groovewright.vision.load import Photo, decode_photo, load_photo
from groovewright.vision.reading import MarkedLine, PhotoReading, fuse_readings, read_photo
from groovewright.vision.sight import Sight, fuse

__all__ = [
    "Frame",
    "LeanReading",
    "MarkedLine",
    "Photo",
    "PhotoReading",
    "Sight",
    "annotated",
    "decode_photo",
    "fuse",
    "fuse_readings",
    "grid_frame",
    "load_photo",
    "rake_from_lean",
    "read_lean",
    "read_photo",
    "reading_frame",
    "rectified",
    "whole_frame",
    "with_lines",
    "without_metadata",
]
