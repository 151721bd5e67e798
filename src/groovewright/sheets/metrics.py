"""How wide the letters of a TrueType font are, read straight from its tables.

The tables are those of ISO/IEC 14496-22 (Open Font Format): `head`, `hhea`, `hmtx`, and `cmap` in format 4.
A font library does the same; importing one takes longer than drawing and typesetting a sheet.
"""

from __future__ import annotations

import struct

import numpy as np

from groovewright.quantities import FloatArray

_UNICODE_BMP = ((3, 1), (0, 3), (0, 4))
"""Platform and encoding of the character maps that hold the Unicode letters below U+FFFF."""


def read_advances(content: bytes) -> dict[int, float]:
    """Return the advance width of each character, in parts of the font size."""
    tables = _tables(content)
    units_per_em = struct.unpack_from(">H", tables["head"], 18)[0]
    advances = _advance_by_glyph(tables) / units_per_em
    return {code: float(advances[min(glyph, len(advances) - 1)]) for code, glyph in _cmap(tables["cmap"])}


def _tables(content: bytes) -> dict[str, bytes]:
    count = struct.unpack_from(">H", content, 4)[0]
    records = (struct.unpack_from(">4s4xII", content, 12 + 16 * k) for k in range(count))
    return {tag.decode("ascii"): content[offset : offset + length] for tag, offset, length in records}


def _advance_by_glyph(tables: dict[str, bytes]) -> FloatArray:
    count = struct.unpack_from(">H", tables["hhea"], 34)[0]
    pairs = np.frombuffer(tables["hmtx"], dtype=">u2", count=2 * count).reshape(count, 2)
    return pairs[:, 0].astype(float)


def _cmap(table: bytes) -> list[tuple[int, int]]:
    """Return character and glyph number of every character in the map."""
    count = struct.unpack_from(">H", table, 2)[0]
    maps = (struct.unpack_from(">HHI", table, 4 + 8 * k) for k in range(count))
    offset = next(offset for platform, encoding, offset in maps if (platform, encoding) in _UNICODE_BMP)
    if struct.unpack_from(">H", table, offset)[0] != 4:
        raise ValueError("the font's character map isn't of format 4")
    twice = struct.unpack_from(">H", table, offset + 6)[0]
    ends, starts, deltas, ranges = (
        struct.unpack_from(f">{twice // 2}H", table, offset + 14 + twice * k + (2 if k else 0))
        for k in range(4)
    )
    range_base = offset + 16 + 3 * twice
    pairs = []
    for k, (start, end, delta, shift) in enumerate(zip(starts, ends, deltas, ranges, strict=True)):
        for code in range(start, end + 1):
            glyph = code
            if shift:
                glyph = struct.unpack_from(">H", table, range_base + 2 * k + shift + 2 * (code - start))[0]
            if glyph and code != 0xFFFF:
                pairs.append((code, (glyph + delta) & 0xFFFF))
    return pairs
