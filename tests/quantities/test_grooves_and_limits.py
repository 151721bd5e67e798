"""Groove ranges of the standards, and errors that help."""

import pytest

from groovewright.quantities import INCHES, METRES, InputError, Limits, parse_groove_range


@pytest.mark.parametrize(
    ("name", "inner_mm", "outer_mm"),
    [
        ("lp", 60.325, 146.05),  # IEC 98:1958: 5 3/4 in outer
        ("lp-din", 57.5, 146.3),  # DIN 45547:1981
        ("lp-jis", 115.2 / 2, 293.0 / 2),  # JIS S 8502:1973, given as diameters
        ("lp-iec-1987", 60.325, 292.6 / 2),  # IEC 60098:1987, 8.5
        ("25cm", 57.6, 241.8 / 2),  # IEC 60098:1987, JIS S 8502:1973
        ("17cm", 106.0 / 2, 168.3 / 2),  # IEC 60098:1987, JIS S 8502:1973
    ],
)
def test_groove_ranges_are_those_of_the_standards(name, inner_mm, outer_mm):
    grooves = parse_groove_range(name)
    assert (grooves.inner_mm, grooves.outer_mm) == pytest.approx((inner_mm, outer_mm))
    assert grooves.source != "given"


def test_any_pair_of_radii_is_a_range():
    grooves = parse_groove_range("58:146.3")
    assert (grooves.inner_mm, grooves.outer_mm) == (58.0, 146.3)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("146:60", "try 60:146"),
        ("60:60.5", "narrower than 1 mm"),
        ("2.4:5.75", "inches"),
        ("a:b", "INNER:OUTER"),
        ("60:100:146", "INNER:OUTER"),
        ("lpp", "did you mean 'lp'"),
        ("nan:146", "not a finite number"),
    ],
)
def test_a_wrong_range_says_what_is_allowed(text, says):
    with pytest.raises(InputError, match=says):
        parse_groove_range(text)


LENGTH = Limits("length", 120.0, 500.0, "mm", (INCHES, METRES))


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (9, "9 in inches. That would be 228.6 mm"),
        (0.23, "0.23 in metres. That would be 230 mm"),
        (0, "allowed is 120 mm to 500 mm; the nearest that works is 120 mm"),
        (1e9, "the nearest that works is 500 mm"),
        (float("inf"), "not a finite number"),
        ("long", "not a number"),
        (True, "not a finite number"),
    ],
)
def test_limits_name_value_range_and_the_nearest_that_works(value, says):
    with pytest.raises(InputError, match=says.replace("?", ".")):
        LENGTH.check(value)


def test_limits_find_the_first_bad_element_of_an_array():
    LENGTH.check_all([200.0, 300.0])
    with pytest.raises(InputError, match="is 50 mm"):
        LENGTH.check_all([200.0, 50.0, 9.0])
