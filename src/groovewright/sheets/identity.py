"""Which sheet and which null a photograph shows: 48 bits in the black squares of every strip.

Two bits of version, two of kind, fifteen for this grid's null radius in hundredths of a millimetre, fifteen
for the other's (0 where there is none), and a checksum of fourteen bits, so that what was read wrong is
known to be wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from groovewright.quantities import CannotBeDoneError

VERSION = 1
KINDS = ("one-point", "two-point", "arc")
WORDS = 3
WORD_BITS = 16
_CHECK_BITS = 14
_POLYNOMIAL = 0x2757
"""x^14 + x^13 + x^10 + x^9 + x^8 + x^6 + x^4 + x^2 + x + 1, without its highest power."""
_START = 0x1F3B


@dataclass(frozen=True)
class SheetIdentity:
    """What a strip says: the kind of sheet, the radius of the null it stands at, and of the other one."""

    kind: str
    null_radius_mm: float
    other_radius_mm: float | None


def checksum(data: int, bits: int) -> int:
    """Return the 14-bit cyclic checksum of the lowest `bits` bits of `data`, highest first."""
    register = _START
    for shift in range(bits - 1, -1, -1):
        carry = (register >> (_CHECK_BITS - 1)) ^ ((data >> shift) & 1)
        register = (register << 1) & ((1 << _CHECK_BITS) - 1)
        if carry:
            register ^= _POLYNOMIAL & ((1 << _CHECK_BITS) - 1)
    return register


def identity_words(identity: SheetIdentity) -> tuple[int, int, int]:
    """Return the three words of 16 bits; black square number k of a strip carries word k modulo 3."""
    radius = round(100.0 * identity.null_radius_mm)
    other = round(100.0 * identity.other_radius_mm) if identity.other_radius_mm is not None else 0
    if not (0 < radius < 1 << 15 and 0 <= other < 1 << 15):
        raise CannotBeDoneError(
            f"a null radius of {identity.null_radius_mm:g} mm can't be coded; up to 327 mm can"
        )
    data = (VERSION << 32) | ((KINDS.index(identity.kind) + 1) << 30) | (radius << 15) | other
    whole = (data << _CHECK_BITS) | checksum(data, 34)
    return whole >> 32 & 0xFFFF, whole >> 16 & 0xFFFF, whole & 0xFFFF


def identity_of(words: Sequence[int]) -> SheetIdentity | None:
    """Return what three words say; None where the checksum, the version or the kind is wrong."""
    whole = (words[0] << 32) | (words[1] << 16) | words[2]
    data = whole >> _CHECK_BITS
    kind = (data >> 30 & 3) - 1
    if checksum(data, 34) != whole & ((1 << _CHECK_BITS) - 1) or data >> 32 != VERSION or kind < 0:
        return None
    radius, other = data >> 15 & 0x7FFF, data & 0x7FFF
    return SheetIdentity(KINDS[kind], radius / 100.0, other / 100.0 if other else None)
