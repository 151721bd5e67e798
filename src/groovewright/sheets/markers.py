"""Where the marks that a camera reads stand on a sheet and on the flag, as data.

Everything round a grid is laid out in that grid's own frame: x outward, y to the front, in mm from the null.
Before and behind the grid stands a strip of chessboard; its white squares hold coded markers, its black ones
the sheet's identity as small white cells. Along the sides of the grid runs a ladder of black and white
rungs. What is measured are the saddle corners, where two black and two white squares meet::

        back strip      [#][m][#][m][#]        # black square with 16 cells, m white square with marker
                        [m][#][m][#][m]
                       +---------------+
        ladder of rungs |#-           -#|
                        |-#     .     #-|      . the null
                       +---------------+
                         label
        front strip     [#][m][#][m][#]
                        [m][#][m][#][m]

The codes are those of the ArUco dictionary 4x4_50 (S. Garrido-Jurado et al., "Automatic generation and
detection of highly reliable fiducial markers under occlusion", Pattern Recognition 47, 2280, 2014), as the
open-source OpenCV library has them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from groovewright.sheets.identity import WORD_BITS

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""x from and to, y from and to."""

CODES = (
    0xB532, 0x0F9A, 0x332D, 0x9946, 0x549E, 0x79CD, 0x9E2E, 0xC4F2, 0xFEDA, 0xCF56,
    0xF991, 0x11A7, 0x0EB7, 0x2A0F, 0x24B1, 0x263E, 0x4665, 0x6600, 0x6C5E, 0x76AF,
    0x868B, 0xB02B, 0xCCD5, 0xDD82, 0xFE47, 0x9471, 0xACE4, 0xA554, 0x2123, 0x346F,
    0x4415, 0x57B2, 0x9ECF, 0xF0CB, 0x08AE, 0x0929, 0x1875, 0x04FF, 0x0DF6, 0x1C5A,
    0x1718, 0x2A28, 0x328C, 0x38B2,
)  # fmt: skip
"""The 16 inner modules of each marker, row by row from the top left, the first in the highest bit; 1 is white."""

SQUARE_MM = 7.5
COLUMNS = 5
MARKER_MM = 5.4
FRONT_STRIP_Y_MM = (40.0, 55.0)
BACK_STRIP_Y_MM = (-46.5, -31.5)
CELL_MM = 1.2
CELLS = 4

RUNG_MM = 2.5
LADDER_HALF_LENGTH_MM = 30.0
LADDER_MIDDLES_MM = (17.5, 12.5)
"""Where the middle of a ladder stands, outward or inward of the null: on a full or on a narrow grid."""

NULL_NAMES = ("inner", "outer")
FIRST_CODES = {"inner": 0, "outer": 20}
BACK_CODES_FROM = 10

FLANGE_CODES = (40, 42)
"""Near the fold, and near the end, which still shows where the headshell hides the rest."""
PANEL_CODE = 41
FLAG_CODES = (*FLANGE_CODES, PANEL_CODE)
FLAG_WIDTH_MM = 20.0
FLANGE_DEPTH_MM = 24.0
PANEL_HEIGHT_MM = 10.5
TAB_HEIGHT_MM = 3.0
FLAG_CELL_MM = 3.0
PANEL_CELL_MM = 3.5
"""Length of a rung along the panel; its width, and the rungs of the flange, are FLAG_CELL_MM."""
FLAG_LADDER_MM = 7.0
FLAG_MARKER_MM = 6.0
FLANGE_MARKERS_FROM_MM = (3.0, 15.0)
PANEL_MARKER_FROM_MM = 2.25


@dataclass(frozen=True)
class Square:
    """A square of a strip: its middle, whether it is black, and the marker's code where it is white."""

    middle: Point
    column: int
    black: bool
    code: int


@dataclass(frozen=True)
class Saddle:
    """A corner where two black and two white squares meet.

    `black_first`: the square towards smaller x and smaller y is black. `cell_mm` is the smallest side of the
    squares round it, within which nothing else is drawn.
    """

    at: Point
    black_first: bool
    cell_mm: float


def strip_squares(null: str, *, front: bool) -> tuple[Square, ...]:
    """Return the squares of one strip, column by column, in the grid's frame."""
    first = FIRST_CODES[null] + (0 if front else BACK_CODES_FROM)
    top = (FRONT_STRIP_Y_MM if front else BACK_STRIP_Y_MM)[0]
    return tuple(
        Square(
            ((column - (COLUMNS - 1) / 2.0) * SQUARE_MM, top + (row + 0.5) * SQUARE_MM),
            column,
            (column + row) % 2 == 0,
            first + column,
        )
        for column in range(COLUMNS)
        for row in range(2)
    )


def strip_saddles(*, front: bool) -> tuple[Saddle, ...]:
    """Return the saddle corners along the middle of one strip."""
    middle = sum(FRONT_STRIP_Y_MM if front else BACK_STRIP_Y_MM) / 2.0
    return tuple(
        Saddle(((column - COLUMNS / 2.0) * SQUARE_MM, middle), column % 2 == 1, 1.9)
        for column in range(1, COLUMNS)
    )


def ladder_rungs(middle_mm: float) -> tuple[tuple[Point, bool], ...]:
    """Return the upper left corner of each rung of a ladder and whether it is black."""
    rows = round(2 * LADDER_HALF_LENGTH_MM / RUNG_MM)
    return tuple(
        (
            (middle_mm + (column - 1) * RUNG_MM, -LADDER_HALF_LENGTH_MM + row * RUNG_MM),
            (column + row) % 2 == 0,
        )
        for row in range(rows)
        for column in range(2)
    )


def ladder_saddles(middle_mm: float) -> tuple[Saddle, ...]:
    """Return the saddle corners of a ladder."""
    rows = round(2 * LADDER_HALF_LENGTH_MM / RUNG_MM)
    return tuple(
        Saddle((middle_mm, -LADDER_HALF_LENGTH_MM + row * RUNG_MM), (row - 1) % 2 == 0, RUNG_MM)
        for row in range(1, rows)
    )


def grid_saddles() -> tuple[Saddle, ...]:
    """Return every saddle corner that may stand round a grid; a narrow grid has only some of them."""
    ladders = [
        saddle
        for middle in LADDER_MIDDLES_MM
        for sign in (-1.0, 1.0)
        for saddle in ladder_saddles(sign * middle)
    ]
    return (*strip_saddles(front=True), *strip_saddles(front=False), *ladders)


@cache
def marker_corners(code: int) -> tuple[str, tuple[Point, Point, Point, Point]] | None:
    """Return the null that a marker belongs to and its corners in that grid's frame; None for another code.

    The corners go round from the one that the code's first bit is at.
    """
    half = MARKER_MM / 2.0
    for null in NULL_NAMES:
        for front in (True, False):
            for square in strip_squares(null, front=front):
                if square.code == code and not square.black:
                    x, y = square.middle
                    return null, ((x - half, y - half), (x + half, y - half),
                                  (x + half, y + half), (x - half, y + half))  # fmt: skip
    return None


@dataclass(frozen=True)
class FlagSaddle:
    """A saddle corner of the flag: on the flange or the panel, x along the fold, y away from it.

    `rung_mm` is how long the cells round it are, away from the fold.
    """

    on_flange: bool
    at: Point
    black_first: bool
    rung_mm: float


def _flag_rungs(*, flange: bool) -> tuple[int, float]:
    """Return how many rungs stand one over the other on a part of the flag, and how long one is."""
    depth, rung = (FLANGE_DEPTH_MM, FLAG_CELL_MM) if flange else (PANEL_HEIGHT_MM, PANEL_CELL_MM)
    return round(depth / rung), rung


def flag_cells(*, flange: bool) -> tuple[tuple[Point, Point, bool], ...]:
    """Return each cell's corner (least x, least distance from the fold), its size, and whether it is black.

    The two ladders of the flag run on across the fold: what is black on one side is white on the other.
    """
    rows, rung = _flag_rungs(flange=flange)
    return tuple(
        (
            (sign * FLAG_LADDER_MM + (column - 1) * FLAG_CELL_MM, row * rung),
            (FLAG_CELL_MM, rung),
            (column + row + (0 if flange else 1)) % 2 == 0,
        )
        for sign in (-1.0, 1.0)
        for row in range(rows)
        for column in range(2)
    )


def flag_saddles() -> tuple[FlagSaddle, ...]:
    """Return the saddle corners of the flag."""
    found = []
    for flange in (True, False):
        rows, rung = _flag_rungs(flange=flange)
        for sign in (-1.0, 1.0):
            for row in range(1, rows):
                black_first = (row - 1 + (0 if flange else 1)) % 2 == 0
                found.append(FlagSaddle(flange, (sign * FLAG_LADDER_MM, row * rung), black_first, rung))
    return tuple(found)


@cache
def flag_marker_corners(code: int) -> tuple[bool, tuple[Point, ...]] | None:
    """Return whether a flag's marker is on the flange, and its corners (x, distance from the fold).

    The corners go round from the upper left of the flat strip, on which the panel lies below the flange.
    """
    half = FLAG_MARKER_MM / 2.0
    if code in FLANGE_CODES:
        low = FLANGE_MARKERS_FROM_MM[FLANGE_CODES.index(code)]
        return True, ((-half, low + 2 * half), (half, low + 2 * half), (half, low), (-half, low))
    if code == PANEL_CODE:
        low = PANEL_MARKER_FROM_MM
        return False, ((-half, low), (half, low), (half, low + 2 * half), (-half, low + 2 * half))
    return None


def word_cells(word: int, x: float, y: float, size: float) -> Iterator[Box]:
    """Return the white cells of a word round a middle, neighbours in a row in one piece."""
    left, top = x - CELLS / 2.0 * size, y - CELLS / 2.0 * size
    for row in range(CELLS):
        bits = [word >> (WORD_BITS - 1 - row * CELLS - column) & 1 for column in range(CELLS)]
        start = None
        for column in range(CELLS + 1):
            if column < CELLS and bits[column]:
                start = column if start is None else start
            elif start is not None:
                yield left + start * size, left + column * size, top + row * size, top + (row + 1) * size
                start = None


def flag_boxes() -> tuple[list[Box], list[Box]]:
    """Return black and white boxes of the flat strip: x along the fold, y from the fold towards the tab."""
    black: list[Box] = []
    white: list[Box] = []
    for flange in (True, False):
        sign = -1.0 if flange else 1.0
        for (x, y), (width, length), is_black in flag_cells(flange=flange):
            if is_black:
                low, high = sorted((sign * y, sign * (y + length)))
                black.append((x, x + width, low, high))
    for code in FLAG_CODES:
        flange, corners = flag_marker_corners(code) or (True, ())
        low, high = min(y for _, y in corners), max(y for _, y in corners)
        half = (high - low) / 2.0
        middle = (-1.0 if flange else 1.0) * (low + half)
        black.append((-half, half, middle - half, middle + half))
        white += word_cells(CODES[code], 0.0, middle, 2.0 * half / 6.0)
    return black, white
