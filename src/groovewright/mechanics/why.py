"""Where each number of the mechanical stages comes from."""

from __future__ import annotations

from groovewright.mechanics.azimuth import AzimuthEstimate
from groovewright.mechanics.compliance import ComplianceBasis
from groovewright.mechanics.leakage import ELECTRICAL_DB
from groovewright.mechanics.levelling import LevelStudy, Skating
from groovewright.mechanics.match import Masses, Match
from groovewright.mechanics.weighing import Gauge, Weighed
from groovewright.quantities import MN_PER_GF, Why


def match_whys(
    match: Match, masses: Masses, compliance_um_per_mN: float, basis: ComplianceBasis
) -> list[Why]:
    """Return formula, inputs and source of each number of a match."""
    return [*_mass_whys(match, masses, compliance_um_per_mN, basis), *_resonance_whys(match)]


def _mass_whys(
    match: Match, masses: Masses, compliance_um_per_mN: float, basis: ComplianceBasis
) -> list[Why]:
    spread = f"{masses.arm_relative_sd:.0%} of the arm's figure"
    return [
        Why(
            "total_effective_mass_g",
            "M = arm + cartridge + fasteners + headshell + m (x/L)^2",
            "moments of inertia about the pivot, referred to the stylus (docs/mechanics.md)",
            {
                "arm": f"{masses.arm_g:g} g",
                "cartridge": f"{masses.cartridge_g:g} g",
                "fasteners": f"{masses.fastener_g:g} g",
                "headshell (where the arm's figure is without)": f"{masses.headshell_g:g} g",
                "added": f"{masses.added_effective_g:g} g",
                "standard uncertainty": f"{match.total_effective_mass_sd_g:.2f} g, {spread} (from memory)",
            },
        ),
        Why(
            "compliance_um_per_mN",
            "C = figure x factor",
            basis.source,
            {
                "figure": f"{compliance_um_per_mN:g} um/mN {basis.name}",
                "factor": f"{basis.factor:.3g}",
                "standard uncertainty": f"{match.compliance.log_sd:.0%} (factor and specimen, lognormal)",
            },
        ),
    ]


def _resonance_whys(match: Match) -> list[Why]:
    mass = f"{match.total_effective_mass_g:.2f} g"
    return [
        Why(
            "resonance_vertical_hz",
            "f = 1000 / (2 pi sqrt(M C))",
            "textbook: a mass on a spring",
            {"M": mass, "C": f"{match.compliance.median:.2f} um/mN"},
        ),
        Why(
            "resonance_lateral_hz",
            "the same, with the lateral compliance",
            "no lateral figure was given: the vertical one stands in, its spread widened by 15 % (from memory)"
            if match.lateral_from_vertical
            else "textbook: a mass on a spring",
            {"M": mass},
        ),
        Why(
            "quality",
            "1 / Q = loss factor + R / (M w0)",
            "equation of motion (docs/mechanics.md)"
            + ("; loss factor of rubber, common practice, from memory" if match.loss_assumed else ""),
            {"Q": f"{match.quality.median:.1f}"},
        ),
        Why(
            "probability_in_window",
            "normal distribution of ln f between the window's edges",
            "GUM, JCGM 100:2008; window: common practice",
            {"window": f"{match.window_hz[0]:g} to {match.window_hz[1]:g} Hz"},
        ),
    ]


def weigh_whys(weighed: Weighed, gauge: Gauge, readings_mN: list[float]) -> list[Why]:
    """Return formula, inputs and source of each number of a weighing."""
    checked = (
        "from the check mass" if gauge.checked else "not checked; spread is common practice, from memory"
    )
    return [
        Why(
            "force_mN",
            "F = gain x mean - slope x (pan above record)",
            "GUM, JCGM 100:2008; 1 gf = 9.80665 mN (3rd CGPM, 1901)",
            {
                "readings": ", ".join(f"{value:.2f}" for value in readings_mN) + " mN",
                "gain": f"{gauge.gain:.4f}, {checked}",
            },
        ),
        Why(
            "force_sd_mN",
            "sqrt(repeatability^2 / n + resolution^2 / 12 + (F gain_sd)^2 + (height slope_sd)^2)",
            "GUM, JCGM 100:2008, 5.1.2 and 4.3.7",
            {
                "repeatability": f"{gauge.repeatability_mN:.3f} mN",
                "resolution": f"{gauge.resolution_mN:.3f} mN",
                "gain_sd": f"{gauge.gain_sd:.2%}",
            },
        ),
        Why(
            "target_mN",
            "middle of the maker's range unless given",
            "common practice",
            {"range": f"{weighed.force_range.low_mN:.2f} to {weighed.force_range.high_mN:.2f} mN"},
        ),
        Why(
            "turn_counterweight_turns",
            "(target - F) / change for one turn; that is m_w g p / L",
            "statics (docs/mechanics.md); positive is in, towards the bearing",
            {"target": f"{weighed.force_range.target_mN:.2f} mN"},
        ),
    ]


def level_whys(study: LevelStudy) -> list[Why]:
    """Return formula, inputs and source of each number of the level stage that is known."""
    whys = [] if study.skating is None else _skating_whys(study, study.skating)
    if study.height.height_change_mm is not None:
        whys.append(
            Why(
                "height_change_mm",
                "L sin(change of slope); positive raises the pivot",
                "trigonometry; rake 0 to -5 deg with a vertical tracking angle of 20 deg +5/-0: "
                "IEC 60098:2020, 6.1",
                {"L": f"{study.alignment.effective_length_mm:.1f} mm"},
            )
        )
    if study.azimuth is not None:
        whys.append(_azimuth_why(study.azimuth))
    return whys


def _skating_whys(study: LevelStudy, skating: Skating) -> list[Why]:
    alignment = study.alignment
    return [
        Why(
            "skating_mN",
            "S = mu F (r^2 + L^2 - d^2) / (2 r L)",
            "statics (docs/mechanics.md)",
            {
                "mu": f"{skating.friction[0]:g} to {skating.friction[1]:g} (common practice)",
                "F": f"{skating.force_mN:.2f} mN ({skating.force_mN / MN_PER_GF:.2f} gf)",
                "L": f"{alignment.effective_length_mm:.2f} mm",
                "d": f"{alignment.pivot_to_spindle_mm:.2f} mm",
            },
        ),
        Why(
            "antiskating_mN",
            "mean of S over the radius: the constant with the least squares left over",
            "closed integral (docs/mechanics.md)",
            {"minimax instead": f"{skating.minimax_mN:.2f} mN"},
        ),
    ]


def _azimuth_why(azimuth: AzimuthEstimate) -> Why:
    return Why(
        "azimuth_deg",
        "left into right -k tan(a) + e1, right into left tan(a)/k + e2; posterior over a",
        "derived; channel walls as in IEC 60098:2020, 6.2 (docs/mechanics.md)",
        {
            "e1, e2": f"{ELECTRICAL_DB[0]:g} to {ELECTRICAL_DB[1]:g} dB, any phase (common practice)",
            "side known": "yes" if azimuth.side_known else "no",
        },
    )
