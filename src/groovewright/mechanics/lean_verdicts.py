"""What to do about a lean, as crosstalk or a mirror shows it."""

from __future__ import annotations

from groovewright.mechanics.azimuth import AzimuthEstimate
from groovewright.mechanics.lean import shim_for_lean_mm
from groovewright.mechanics.verdict import Verdict
from groovewright.quantities import Reading


def judge_azimuth(
    estimate: AzimuthEstimate | None, *, mono: bool = False, worth_deg: float = 0.25
) -> Verdict:
    """Return what to do about the lean. Below `worth_deg` or what can be read: stop."""
    if mono:
        return Verdict(
            "unknown",
            "The lean is unknown, needs a mirror or a ruled glass: a mono cartridge has no crosstalk to read.",
        )
    if estimate is None:
        return Verdict(
            "unknown",
            "The lean is unknown, needs two crosstalk readings, left into right and right into left.",
        )
    worst = max(abs(edge) for pair in estimate.intervals_deg for edge in pair)
    limits = " or ".join(f"{low:+.1f} to {high:+.1f}" for low, high in estimate.intervals_deg)
    if worst <= worth_deg or (
        (estimate.side_known or estimate.lean_deg.sd < 0.5)
        and abs(estimate.lean_deg.value) <= max(worth_deg, estimate.lean_deg.sd)
    ):
        return Verdict("upright", f"Upright as well as can be read or set (95 %: {limits} deg). Stop here.")
    if not estimate.side_known:
        return Verdict(
            "leans-side-unknown",
            f"The lean may be anything in {limits} deg (95 %): these readings can't tell lean from "
            f"electrical crosstalk, nor "
            "one side from the other. Lean the cartridge by 1 deg, either way, and read both again.",
        )
    return _leans(estimate.lean_deg.value, limits)


def judge_lean(lean_deg: Reading, *, worth_deg: float = 0.25) -> Verdict:
    """Return what to do about the body's lean as seen in a mirror. Below `worth_deg` or its uncertainty: stop.

    It is the body that a mirror shows; how its coils stand, only crosstalk tells.
    """
    low, high = lean_deg.interval()
    limits = f"{low:+.1f} to {high:+.1f}"
    if abs(lean_deg.value) <= max(worth_deg, lean_deg.sd):
        return Verdict(
            "upright",
            f"The body stands upright as well as can be seen (95 %: {limits} deg); how the coils stand, a test "
            "recording tells.",
        )
    return _leans(lean_deg.value, limits)


def _leans(lean_deg: float, limits: str) -> Verdict:
    way, turn, screw = (
        ("clockwise", "counter-clockwise", "nearer to")
        if lean_deg > 0.0
        else ("counter-clockwise", "clockwise", "farther from")
    )
    shim = abs(float(shim_for_lean_mm(lean_deg)))
    return Verdict(
        "leans",
        f"It leans {abs(lean_deg):.1f} deg {way} seen from the front (95 %: {limits} deg): turn it {turn}, or put "
        f"{shim:.2f} mm under the screw {screw} the spindle.",
    )
