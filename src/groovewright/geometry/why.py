"""Where the numbers of an alignment come from."""

from __future__ import annotations

from groovewright.geometry.alignment import Alignment
from groovewright.quantities import GrooveRange, Why

CRITERION_SOURCES = {
    "lofgren-a": (
        "1 / (m +- h / sqrt 2), m and h middle and half-range of 1/r",
        "E. Lofgren 1938; H. G. Baerwald, J. SMPE 1941: smallest largest error / r, small angles",
    ),
    "lofgren-b": (
        "roots of r^2 - 2 s r + P, s the linear offset of lofgren-a, P = (2 s I3 - I2) / I4",
        "the usual closed form after E. Lofgren 1938; off the exact least squares by up to 0.6 mm in the"
        " nulls (J. Audio Eng. Soc. 70(3), 199-207, 2022)",
    ),
    "stevenson": (
        "n1 = ri; 1/n2 = 1/ro + (3 - 2 sqrt 2) (1/ri - 1/ro)",
        "J. K. Stevenson, Wireless World 1966: no error at the innermost groove",
    ),
    "minimax": (
        "largest |error| / r made smallest by Newton's method on its three equal peaks",
        "Chebyshev's alternation theorem, exact angles; derivation in docs/geometry.md",
    ),
    "least-squares": (
        "integral of (error / r)^2 over r made smallest by Gauss-Newton",
        "exact angles; derivation in docs/geometry.md",
    ),
    "given nulls": ("as given", "the user"),
    "own records": (
        "integral of (error / r)^2 made smallest, each radius weighted by the share of records that reach it",
        "exact angles; derivation in docs/geometry.md",
    ),
    "fixed offset angle": (
        "roots of r^2 - 2 L r sin b + L^2 - d^2, L the best length for the offset angle given",
        "golden-section search, exact angles; derivation in docs/geometry.md",
    ),
    "fixed effective length": (
        "roots of r^2 - 2 L r sin b + L^2 - d^2, b the best offset angle for the length given",
        "golden-section search, exact angles; derivation in docs/geometry.md",
    ),
    "as mounted": (
        "roots of r^2 - 2 L r sin b + L^2 - d^2",
        "law of cosines in the triangle pivot, spindle, stylus; B. B. Bauer, Electronics, March 1945",
    ),
}
"""Formula and source of the nulls for every criterion."""


def alignment_whys(alignment: Alignment, criterion: str, grooves: GrooveRange) -> list[Why]:
    """Return how nulls, length, overhang and offset angle came about.

    `criterion` is a key of `CRITERION_SOURCES`.
    """
    formula, source = CRITERION_SOURCES[criterion]
    d = f"{alignment.pivot_to_spindle_mm:g} mm"
    length = f"{alignment.effective_length_mm:.3f} mm"
    nulls = {"n1": f"{alignment.null_inner_mm:.3f} mm", "n2": f"{alignment.null_outer_mm:.3f} mm"}
    triangle = "law of cosines in the triangle pivot, spindle, stylus; B. B. Bauer, Electronics, March 1945"
    return [
        Why(
            "null_inner_mm, null_outer_mm",
            formula,
            source,
            {"ri": f"{grooves.inner_mm:g} mm", "ro": f"{grooves.outer_mm:g} mm", "grooves": grooves.source},
        ),
        Why("effective_length_mm", "L = sqrt(d^2 + n1 n2)", triangle, {"d": d, **nulls}),
        Why("overhang_mm", "L - d", "definition", {"L": length, "d": d}),
        Why("offset_angle_deg", "b = asin((n1 + n2) / (2 L))", triangle, {"L": length, **nulls}),
        Why("linear_offset_mm", "L sin b = (n1 + n2) / 2", triangle, nulls),
        Why(
            "max_tracking_error_deg",
            "largest |b - asin((L^2 + r^2 - d^2) / (2 L r))| over the grooves",
            triangle,
            {"L": length, "b": f"{alignment.offset_angle_deg:.3f} deg", "d": d},
        ),
        Why(
            "max_distortion_percent, rms_distortion_percent",
            "100 V / v tan(error), V peak recorded velocity, v groove speed",
            "H. G. Baerwald, J. SMPE 1941; B. B. Bauer, Electronics, March 1945; before the replay equaliser",
        ),
    ]
