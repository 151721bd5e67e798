"""What to beware of where the hand is, for the mechanical stages."""

from __future__ import annotations

STYLUS_GUARD = "Stylus guard on before anything else."
MUTE = "Amplifier muted or off before a lead is touched."
MAKER_WINS = "The maker's own range always wins over a computed figure."
RECORD_FIRST = "Record the old set-up before the first screw: it is the way back."
LOWER_GENTLY = "Set the stylus down with the arm lift only, on the gauge as on the record."

MAINS = "Mains parts only by a qualified person, under local rules; a flashing lamp can trouble some people."

MATCH = (MAKER_WINS, RECORD_FIRST)
WEIGH = (LOWER_GENTLY, MAKER_WINS)
LEVEL = (STYLUS_GUARD, MUTE, MAKER_WINS)
