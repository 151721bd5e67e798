"""A verdict: one code that programs can rely on, and one sentence for the person at the bench."""

from __future__ import annotations

from dataclasses import dataclass

VERDICTS = {
    "suits": "the resonance lies in the window with at least 80 % probability",
    "borderline": "the resonance may or may not lie in the window",
    "too-low": "the resonance lies below the window: too much mass for this compliance",
    "too-high": "the resonance lies above the window: too little mass for this compliance",
    "balances": "the counterweight balances the arm and applies the force within its travel",
    "counterweight-too-light": "the counterweight would have to stand behind the end of its travel",
    "counterweight-too-heavy": "the counterweight would have to stand in front of its travel",
    "fits": "the part fits, with the margin that the sentence gives",
    "does-not-fit": "the part does not fit",
    "right": "the force is within the maker's range and on target as well as can be read",
    "adjust": "the force is within the maker's range, and a readable step away from the target",
    "unsure": "the reading is too uncertain to say that the value lies within its limits",
    "too-light": "the force is below the maker's range",
    "too-heavy": "the force is above the maker's range",
    "steady": "as found and as left agree within what can be read",
    "drifted": "as found and as left differ by more than what can be read",
    "upright": "the lean is smaller than what can be read or corrected",
    "leans": "the cartridge leans and the side is known",
    "leans-side-unknown": "the cartridge leans, and the readings can't say to which side",
    "level": "the platter is level within what matters",
    "tilted": "the platter is tilted by more than what matters",
    "on-speed": "the speed is within its limits",
    "too-slow": "the platter turns too slowly",
    "too-fast": "the platter turns too fast",
    "unknown": "something is missing; the sentence says what",
}
"""Every code that the mechanics instrument can answer with, and what it means."""


@dataclass(frozen=True)
class Verdict:
    """What the numbers amount to.

    Parameters
    ----------
    code : str
        A key of `VERDICTS`.
    sentence : str
        One complete sentence, or two where the second is a caution.
    probability : float or None
        That the thing judged lies within its limits; None where nothing can be said.
    """

    code: str
    sentence: str
    probability: float | None = None

    def __post_init__(self) -> None:
        if self.code not in VERDICTS:
            raise ValueError(f"verdict code '{self.code}' is not in the table of codes")


def unknown(needs: str) -> Verdict:
    """Return the verdict for a question that can't be answered yet: 'unknown, needs ...'."""
    return Verdict("unknown", f"unknown, needs {needs}")
