"""Ground: readings with uncertainty, limits, units, groove ranges, errors. Imports nothing of the house."""

from groovewright.quantities.errors import BenchError, CannotBeDoneError, InputError, nearest, unknown_word
from groovewright.quantities.grooves import (
    GROOVE_RADIUS,
    LP,
    NAMED_RANGES,
    GrooveRange,
    parse_groove_range,
)
from groovewright.quantities.limits import CENTIMETRES, INCHES, METRES, RADIANS, Limits, OtherUnit
from groovewright.quantities.reading import (
    FloatArray,
    Reading,
    mean_of,
    normal_cdf,
    normal_quantile,
    probability_between,
    propagate,
)
from groovewright.quantities.units import MM_PER_INCH, MN_PER_GF, RPM_33, RPM_45, RPM_78, SPEEDS_RPM
from groovewright.quantities.why import Why

__all__ = [
    "CENTIMETRES",
    "GROOVE_RADIUS",
    "INCHES",
    "LP",
    "METRES",
    "MM_PER_INCH",
    "MN_PER_GF",
    "NAMED_RANGES",
    "RADIANS",
    "RPM_33",
    "RPM_45",
    "RPM_78",
    "SPEEDS_RPM",
    "BenchError",
    "CannotBeDoneError",
    "FloatArray",
    "GrooveRange",
    "InputError",
    "Limits",
    "OtherUnit",
    "Reading",
    "Why",
    "mean_of",
    "nearest",
    "normal_cdf",
    "normal_quantile",
    "parse_groove_range",
    "probability_between",
    "propagate",
    "unknown_word",
]
