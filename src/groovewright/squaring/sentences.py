"""Squaring in plain words, for a person with a screwdriver in hand."""

from __future__ import annotations

from groovewright.quantities import Why
from groovewright.squaring.advise import Advice
from groovewright.squaring.policy import REASONS, Goal

READABLE_MM, READABLE_DEG = 0.05, 0.05
"""Smaller parts of a move are left out of the sentence (common practice)."""


def advice_sentence(advice: Advice, goal: Goal) -> str:
    """Return the next move as one or two sentences."""
    chance = f"{advice.probability_within_tolerance:.0%} sure to be within {goal.tolerance_deg:g} deg"
    if advice.verdict == "stop":
        return _stop_sentence(advice, goal, chance)
    move = _move_words(advice)
    if advice.verdict == "look-again":
        if advice.reason == "not-believable":
            return (
                "Look again: as these readings stand the cartridge would be farther off than any slot allows. "
                "Check which point is the outer one, and on which side the front points."
            )
        if advice.reason == "unseen-move":
            return "Look at both points: it was moved and has not been looked at since."
        return f"Look again before you touch it: another look now helps more than a move ({chance})."
    end = "" if advice.reachable else f" The slots end there: best reachable, {nulls_words(advice)}."
    return f"{move}; tighten just enough to hold, and look again at both points.{end}"


def _stop_sentence(advice: Advice, goal: Goal, chance: str) -> str:
    if advice.reason == "within-tolerance":
        return f"Stop: it is square, {chance}. Tighten without moving it and check once more."
    if advice.reason == "slot-end":
        return (
            f"Stop: the slots end before both points come square. This is the best that can be reached here, "
            f"{nulls_words(advice)}."
        )
    return (
        f"Stop: a further move would be smaller than what these readings and hands can tell apart "
        f"({chance}). What can be said is: within {advice.within_at_90_percent_deg:.2f} deg, 90 % sure. "
        f"A finer reading than {goal.reading_sd_deg:g} deg is needed to say more."
    )


def _move_words(advice: Advice) -> str:
    parts = []
    if abs(advice.slide_mm) >= READABLE_MM:
        parts.append(f"slide it {abs(advice.slide_mm):.1f} mm {'forward' if advice.slide_mm > 0 else 'back'}")
    if abs(advice.turn_deg) >= READABLE_DEG:
        way = "in (clockwise)" if advice.turn_deg > 0 else "out (counter-clockwise)"
        parts.append(f"turn its front {abs(advice.turn_deg):.1f} deg {way}")
    if not parts:
        return "Leave it where it stands"
    text = " and ".join(parts)
    outer, inner = _screw_words(advice.outer_screw_mm), _screw_words(advice.inner_screw_mm)
    return f"{text[0].upper()}{text[1:]} (outer screw {outer}, inner screw {inner})"


def _screw_words(distance_mm: float) -> str:
    if abs(distance_mm) < READABLE_MM:
        return "stays"
    return f"{abs(distance_mm):.1f} mm {'forward' if distance_mm > 0 else 'back'}"


def nulls_words(advice: Advice) -> str:
    """Return where the cartridge is square after the move, in words."""
    nulls = [null for null in (advice.null_inner_mm, advice.null_outer_mm) if null == null]
    if not nulls:
        return "square nowhere on the record"
    return "square at " + " and ".join(f"{null:.1f}" for null in nulls) + " mm"


def advice_rows(advice: Advice, goal: Goal) -> list[tuple[str, str]]:
    """Return the numbers behind an advice, as names and values with their standard uncertainty."""
    return [
        ("verdict", f"{advice.verdict} ({REASONS[advice.reason]})"),
        ("yaw now, outer", f"{advice.yaw_outer_deg:+.2f} deg +- {advice.yaw_outer_sd_deg:.2f}"),
        ("yaw now, inner", f"{advice.yaw_inner_deg:+.2f} deg +- {advice.yaw_inner_sd_deg:.2f}"),
        ("within now", f"{goal.tolerance_deg:g} deg at {advice.probability_within_tolerance:.1%};"
         f" {advice.within_at_90_percent_deg:.2f} deg at 90 %"),
        ("slide", f"{advice.slide_mm:+.2f} mm +- {advice.slide_sd_mm:.2f}  (+ is forward)"),
        ("turn", f"{advice.turn_deg:+.2f} deg +- {advice.turn_sd_deg:.2f}  (+ is front in, clockwise)"),
        ("outer screw", f"{advice.outer_screw_mm:+.2f} mm in its slot"),
        ("inner screw", f"{advice.inner_screw_mm:+.2f} mm in its slot"),
        ("yaw after, outer", f"{advice.predicted_outer_deg:+.2f} deg +- {advice.predicted_outer_sd_deg:.2f}"),
        ("yaw after, inner", f"{advice.predicted_inner_deg:+.2f} deg +- {advice.predicted_inner_sd_deg:.2f}"),
        ("within after", f"{goal.tolerance_deg:g} deg at {advice.probability_after_move:.1%}"),
    ]  # fmt: skip


def misfit_sentences(advice: Advice) -> list[str]:
    """Return a warning for every reading that does not fit the others."""
    return [
        f"The reading at the {null} point in round {look} does not fit the others "
        f"({size:.1f} standard deviations off): is its sign right, was the move after it written down?"
        for look, null, size in advice.misfits
    ]


def squaring_whys(advice: Advice, goal: Goal) -> list[Why]:
    """Return where the numbers of an advice come from."""
    hand = f"{goal.hand.slide_sd_mm:g} mm, {goal.hand.turn_sd_deg:g} deg"
    fused = "Gauss-Newton over all rounds and moves, intervals by expectation propagation (docs/squaring.md)"
    return [
        Why(
            "slide_mm, turn_deg",
            "the move that takes the estimated state to zero yaw at both nulls",
            fused,
            {"reading sd": f"{goal.reading_sd_deg:g} deg", "move sd": hand},
        ),
        Why(
            "outer_screw_mm, inner_screw_mm",
            "slide +- 6.35 mm x change of sin(body - slots)",
            "rigid body in the plan; holes half an inch apart (common practice)",
        ),
        Why(
            "probability_within_tolerance",
            "P(|yaw outer| <= t and |yaw inner| <= t)",
            "bivariate normal posterior of the two yaws (GUM, JCGM 100:2008)",
            {
                "yaw outer": f"{advice.yaw_outer_deg:+.2f} +- {advice.yaw_outer_sd_deg:.2f} deg",
                "yaw inner": f"{advice.yaw_inner_deg:+.2f} +- {advice.yaw_inner_sd_deg:.2f} deg",
                "t": f"{goal.tolerance_deg:g} deg",
            },
        ),
        Why(
            "verdict",
            "least expected number of looks until the job can stop",
            "one-step decision over further looks and moves (docs/squaring.md)",
        ),
    ]
