"""Squaring: from every look and move so far to the one next move, and when to stop."""

from groovewright.squaring.advise import Advice, advise
from groovewright.squaring.estimate import Estimate, estimate
from groovewright.squaring.policy import Goal
from groovewright.squaring.record import Hand, Look, Move, Room, Steps, Workpiece, YawReading
from groovewright.squaring.words import WORDS, parse_yaw

__all__ = [
    "WORDS",
    "Advice",
    "Estimate",
    "Goal",
    "Hand",
    "Look",
    "Move",
    "Room",
    "Steps",
    "Workpiece",
    "YawReading",
    "advise",
    "estimate",
    "parse_yaw",
]
