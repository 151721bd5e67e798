"""Make the house's font files from Inter's static TrueType files: digits tabular, only what is needed.

Inter (The Inter Project Authors, SIL Open Font License 1.1) draws tabular digits only where a program asks
for the OpenType feature `tnum`, which several SVG renderers can't. So the digits are exchanged in the
character map, the glyphs are cut down to Latin, Greek, Cyrillic and the signs of the trade, and the result
is named anew, as a changed font should be. Run it once, with the folder that holds `Inter_400Regular.ttf`
and `Inter_700Bold.ttf` (the npm package @expo-google-fonts/inter has both)::

    .venv/bin/python tools/make_fonts.py FOLDER
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

from groovewright.sheets.lettering import LATIN

FAMILY = "Groovewright Sans"
TARGET = Path(__file__).resolve().parents[1] / "src/groovewright/assets/fonts"
STYLES = {"Regular": "Inter_400Regular.ttf", "Bold": "Inter_700Bold.ttf"}
RANGES = (
    (0x0020, 0x024F),  # Latin with diacritics
    (0x02B0, 0x02FF),  # modifier letters
    (0x0300, 0x036F),  # combining marks
    (0x0370, 0x03FF),  # Greek
    (0x0400, 0x052F),  # Cyrillic
    (0x1E00, 0x1EFF),  # Latin additional, Vietnamese
    (0x2000, 0x206F),  # punctuation
    (0x2070, 0x209F),  # superscripts and subscripts
    (0x20A0, 0x20BF),  # currencies
    (0x2100, 0x214F),  # letterlike
    (0x2150, 0x215F),  # fractions
    (0x2190, 0x2199),  # arrows
    (0x2200, 0x22FF),  # mathematics
    (0x25A0, 0x25FF),  # shapes
    (0x2713, 0x2717),  # ticks
)
TABULAR = "0123456789+\u2212\u2007"


def tabular_names(font: TTFont) -> dict[str, str]:
    """Return the glyph that the feature `tnum` puts in place of each glyph."""
    gsub = font["GSUB"].table
    lookups = {
        index
        for record in gsub.FeatureList.FeatureRecord
        if record.FeatureTag == "tnum"
        for index in record.Feature.LookupListIndex
    }
    names: dict[str, str] = {}
    for index in lookups:
        for table in gsub.LookupList.Lookup[index].SubTable:
            names.update(getattr(table, "ExtSubTable", table).mapping)
    return names


def make(source: Path, style: str) -> TTFont:
    """Return the font of one style, from Inter's file of that style."""
    font = TTFont(source, recalcTimestamp=False)
    exchange = tabular_names(font)
    for table in font["cmap"].tables:
        for character in TABULAR:
            name = table.cmap.get(ord(character))
            if name in exchange:
                table.cmap[ord(character)] = exchange[name]
    options = subset.Options(
        layout_features=["kern", "ccmp", "locl", "mark", "mkmk"],
        name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14],
        hinting=False,
        recalc_timestamp=False,
        notdef_outline=True,
    )
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=[code for low, high in RANGES for code in range(low, high + 1)])
    cutter.subset(font)
    rename(font, style)
    return font


def rename(font: TTFont, style: str) -> None:
    """Give the changed font its own name; the copyright and the licence stay."""
    own = {
        1: FAMILY,
        2: style,
        3: f"{FAMILY} {style}, from Inter",
        4: f"{FAMILY} {style}",
        6: f"{FAMILY.replace(' ', '')}-{style}",
    }
    for record in list(font["name"].names):
        if record.nameID in own:
            font["name"].setName(
                own[record.nameID], record.nameID, record.platformID, record.platEncID, record.langID
            )


def small(font: TTFont) -> TTFont:
    """Return the font with the letters of `LATIN` only, compressed for pages."""
    options = subset.Options(layout_features=["kern", "ccmp"], hinting=False, recalc_timestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(text="".join(sorted(LATIN)))
    cutter.subset(font)
    font.flavor = "woff"
    return font


def main() -> None:
    """Write all four files."""
    folder = Path(sys.argv[1])
    TARGET.mkdir(parents=True, exist_ok=True)
    for style, file in STYLES.items():
        path = TARGET / f"{FAMILY.replace(' ', '')}-{style}.ttf"
        make(folder / file, style).save(path)
        small(TTFont(path, recalcTimestamp=False)).save(path.with_name(f"{path.stem}-latin.woff"))


if __name__ == "__main__":
    main()
