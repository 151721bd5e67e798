"""Where to hold the phone: a few steps for each thing that is read from a photo; docs/vision.md says why."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Guide:
    """What to do, step by step, and what to mind."""

    title: str
    steps: tuple[str, ...]
    cautions: tuple[str, ...]
    line: str


GUIDANCE = {
    "yaw": Guide(
        "Yaw over the sheet",
        (
            "Cut the flag out of the sheet, fold it up to a right angle, and hold its panel flush against the "
            "cartridge's front with removable tape, clear of the cantilever.",
            "Let the stylus rest on the dot of one point; hold the platter still.",
            "Stand before the cartridge, the phone 200 to 450 mm away, looking down 22 to 38 degrees from upright "
            "and not more than 8 degrees aside. The grid and both strips fill the picture.",
            "Hold still, in even light. A second photo from the other side makes it better.",
            "No flag? Then from straight above, or up to 8 degrees to the front. It is read less exactly.",
        ),
        ("Stylus guard on while the flag goes on or off. Take the flag off before playing.",),
        "If the body isn't found, mark the edge of its front, corner to corner: not the headshell's, which may stand "
        "otherwise.",
    ),
    "lean": Guide(
        "Lean in a mirror",
        (
            "Lay a small flat mirror, or a record, on the platter and let the stylus down onto it with care, platter "
            "held still.",
            "Photograph the cartridge straight from the front, as low as you can, so that body and reflection show.",
            "Mark two lines: an upright edge of the body, then the same edge in the reflection.",
        ),
        ("Anti-skating to zero while the stylus stands on a mirror, and back to its setting afterwards.",),
        "Mark the same upright edge twice: on the body and in the mirror.",
    ),
    "rake": Guide(
        "Rake from the side",
        (
            "Photograph the stylus straight from the side, as near as the phone gets sharp, with the record's "
            "surface below.",
            "Mark two lines: the stylus along its middle, then its reflection in the record.",
        ),
        ("The stylus bends easily: bring the lens near, never to it.",),
        "Mark the stylus from its top to its tip, then its reflection.",
    ),
}
"""By what is read."""
