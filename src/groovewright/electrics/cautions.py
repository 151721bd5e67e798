"""What to beware of at the leads, and what the electrical figures leave out."""

from __future__ import annotations

MUTE = "Amplifier muted or off before a lead is touched."
NO_OHMMETER = (
    "No ohmmeter across a moving coil: its current can burn the coil or magnetise the core. Take the "
    "resistance from the maker's figures."
)
MAKER_WINS = "Where the maker gives a load, that wins over a computed one."
CIRCUIT_ONLY = "Only the circuit is judged; the stylus's own resonance, often in the top octave, adds to it."


def cautions(kind: str) -> list[str]:
    """Return the cautions that belong to this work on a cartridge of this kind, one of `parts.KINDS`."""
    coil = [NO_OHMMETER] if kind == "moving-coil" else []
    return [MUTE, *coil, MAKER_WINS]
