"""Make the house's fallback font for Chinese, Japanese and Korean from WenQuanYi Micro Hei.

WenQuanYi Micro Hei (The WenQuanYi Project and others, based on Droid Sans Fallback; Apache License 2.0 or
GPL 3 with font exception, used here under the Apache License) has all Hangul syllables, kana and the 20,932
unified ideographs of Unicode 5. The letters that the house's own font has are left out, and the result is
named anew because it was changed. Run it once, with the file (Debian's package fonts-wqy-microhei has it)::

    .venv/bin/python tools/make_wide_font.py wqy-microhei.ttc
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FAMILY = "Groovewright Wide"
TARGET = Path(__file__).resolve().parents[1] / "src/groovewright/assets/fonts_wide"
RANGES = (
    (0x1100, 0x11FF),  # Hangul letters
    (0x2E80, 0x2FDF),  # radicals
    (0x3000, 0x30FF),  # punctuation, hiragana, katakana
    (0x3100, 0x31FF),  # bopomofo, Hangul compatibility letters
    (0x3200, 0x33FF),  # enclosed letters
    (0x3400, 0x9FFF),  # unified ideographs
    (0xAC00, 0xD7A3),  # Hangul syllables
    (0xF900, 0xFAFF),  # compatibility ideographs
    (0xFE30, 0xFE4F),  # compatibility forms
    (0xFF00, 0xFFEF),  # full and half width forms
)


def make(source: Path) -> TTFont:
    """Return the font, cut down and renamed."""
    font = TTFont(source, fontNumber=0, recalcTimestamp=False)
    options = subset.Options(
        layout_features=[], name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14], hinting=False, recalc_timestamp=False
    )
    options.drop_tables += ["vhea", "vmtx", "GSUB", "GPOS", "GDEF", "kern", "FFTM"]
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[code for low, high in RANGES for code in range(low, high + 1)])
    cutter.subset(font)
    own = {
        1: FAMILY,
        2: "Regular",
        3: f"{FAMILY}, from WenQuanYi Micro Hei",
        4: FAMILY,
        6: "GroovewrightWide-Regular",
    }
    for record in list(font["name"].names):
        if record.nameID in own:
            font["name"].setName(
                own[record.nameID], record.nameID, record.platformID, record.platEncID, record.langID
            )
    return font


def main() -> None:
    """Write the file."""
    TARGET.mkdir(parents=True, exist_ok=True)
    make(Path(sys.argv[1])).save(TARGET / "GroovewrightWide-Regular.ttf")


if __name__ == "__main__":
    main()
