"""Forces, masses and angles of arm and cartridge: match, weigh, level, and the player itself."""

from groovewright.mechanics.azimuth import (
    AzimuthEstimate,
    azimuth_from_complex,
    azimuth_from_magnitudes,
    azimuth_from_two_settings,
)
from groovewright.mechanics.balance import BalanceResult, Counterweight, judge_balance
from groovewright.mechanics.compliance import ComplianceBasis, parse_basis
from groovewright.mechanics.height import HeightAdvice, advise_height
from groovewright.mechanics.lean_verdicts import judge_azimuth
from groovewright.mechanics.levelling import LevelStudy, Skating, study_level, study_skating
from groovewright.mechanics.match import Masses, Match, match_mechanics
from groovewright.mechanics.mounts import FIXED_HEADSHELLS, MOUNTS, Mount
from groovewright.mechanics.resonance import LognormalEstimate, resonance_hz, total_effective_mass_g
from groovewright.mechanics.skating import FRICTION_BY_PROFILE, FRICTION_RANGE, skating_force_mN
from groovewright.mechanics.verdict import VERDICTS, Verdict
from groovewright.mechanics.weighing import (
    Gauge,
    GaugeHeight,
    Weighed,
    force_from_readings,
    force_range_mN,
    gauge_from_check_mass,
    judge_drift,
    judge_force,
)

__all__ = [
    "FIXED_HEADSHELLS",
    "FRICTION_BY_PROFILE",
    "FRICTION_RANGE",
    "MOUNTS",
    "VERDICTS",
    "AzimuthEstimate",
    "BalanceResult",
    "ComplianceBasis",
    "Counterweight",
    "Gauge",
    "GaugeHeight",
    "HeightAdvice",
    "LevelStudy",
    "LognormalEstimate",
    "Masses",
    "Match",
    "Mount",
    "Skating",
    "Verdict",
    "Weighed",
    "advise_height",
    "azimuth_from_complex",
    "azimuth_from_magnitudes",
    "azimuth_from_two_settings",
    "force_from_readings",
    "force_range_mN",
    "gauge_from_check_mass",
    "judge_azimuth",
    "judge_balance",
    "judge_drift",
    "judge_force",
    "match_mechanics",
    "parse_basis",
    "resonance_hz",
    "skating_force_mN",
    "study_level",
    "study_skating",
    "total_effective_mass_g",
]
