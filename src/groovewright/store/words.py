"""Texts as they are compared: without capitals and accents, and cut into words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

LONGEST_WORD = 64
"""Letters of a word that are kept for finding it."""

_WORD = re.compile(r"\w+")

# Letters of their own in Unicode that a person without the key types plainly.
_PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})


def folded(text: str) -> str:
    """Return a text for comparing: 'Łódź  Café' is 'lodz cafe'; other scripts keep their letters."""
    apart = unicodedata.normalize("NFKD", text.casefold()).translate(_PLAIN)
    bare = "".join(
        letter if letter.isprintable() else " " for letter in apart if not unicodedata.combining(letter)
    )
    return " ".join(unicodedata.normalize("NFC", bare).split())


def words(texts: Iterable[str]) -> frozenset[str]:
    """Return the words of some texts, folded."""
    return frozenset(
        word[:LONGEST_WORD] for text in texts for word in _WORD.findall(folded(text).replace("_", " "))
    )


def after_prefix(prefix: str) -> str:
    """Return the text that comes after everything that begins with `prefix`, ordered by code point."""
    last = ord(prefix[-1]) + 1
    if 0xD800 <= last <= 0xDFFF:
        last = 0xE000
    return prefix[:-1] + chr(min(last, 0x10FFFF))
