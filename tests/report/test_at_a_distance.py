"""Readings from a distance: what is composed comes back, what is said comes out right, nonsense is refused."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from groovewright.quantities import InputError
from groovewright.report.at_a_distance import (
    LARGEST_TEXT,
    DistantReadings,
    check_number,
    distant_text,
    readings_from_text,
)
from groovewright.report.spoken_numbers import spoken_tokens

WORDS = ("far-out", "out", "slightly-out", "square", "slightly-in", "in", "far-in")
SAID = st.one_of(
    st.sampled_from(WORDS),
    st.integers(-450, 450).map(lambda tenths: tenths / 10.0),
)
SHEET = st.none() | st.tuples(st.integers(70, 200), st.integers(20, 100))


@given(st.builds(DistantReadings, SAID, SAID, st.none() | st.booleans(), SHEET))
@settings(max_examples=300, deadline=None)
def test_what_the_guide_composes_comes_back(readings):
    assert readings_from_text(distant_text(readings)) == readings


ONES = (
    *(
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
    ),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)


@given(st.integers(1, 199), st.booleans(), st.integers(1, 199), st.booleans())
@settings(max_examples=200, deadline=None)
def test_readings_said_in_words_over_the_telephone_come_back(outer, outer_in, inner, inner_in):
    def spoken(tenths):
        return f"{ONES[tenths // 10]} point {ONES[tenths % 10]} degrees"

    text = (
        f"The outer one points {'in' if outer_in else 'out'} by {spoken(outer)}, and at the inner point it is "
        f"{spoken(inner)} {'in' if inner_in else 'out'}"
    )
    found = readings_from_text(text)
    assert found.outer == pytest.approx((1 if outer_in else -1) * outer / 10.0)
    assert found.inner == pytest.approx((1 if inner_in else -1) * inner / 10.0)


@pytest.mark.parametrize(
    ("text", "outer", "inner"),
    [
        ("Outer square, inner out one point two", "square", -1.2),
        ("the outer one is square and the inner one points out by half a degree", "square", -0.5),
        ("Outer: -0,2; inner: +1,1", -0.2, 1.1),
        ("OUTER \u22120.2 INNER 1.1 IN", -0.2, 1.1),
        ("outer point slightly in, inner far out", "slightly-in", "far-out"),
        ("outer a little out; inner quite far in", "slightly-out", "far-in"),
        ("inner point minus one point two five outer point point five in", 0.5, -1.25),
        ("outer point: one and a half degrees in. inner point: three quarters of a degree out", 1.5, -0.75),
        ("outer counter-clockwise 2, inner clockwise 1", -2.0, 1.0),
        ("Outer point: straight. Inner point: parallel.", "square", "square"),
        ("outside dot out 1, inside dot in 2", -1.0, 2.0),
        ("Outer point: 0 degrees. Inner point: twenty one degrees in.", 0.0, 21.0),
        (
            "Dear all, here it is.\nOuter point: in 0.4\nInner point: out 0.6\nKind regards, no hurry",
            0.4,
            -0.6,
        ),
    ],
)
def test_plain_words_are_understood(text, outer, inner):
    found = readings_from_text(text)
    assert (found.outer, found.inner) == (outer, inner)


@pytest.mark.parametrize(
    ("text", "moved"),
    [
        ("Outer square. Inner square.", None),
        ("Outer square. Inner square. Moved as told: yes.", True),
        ("Outer square. Inner square. Moved as told: no.", False),
        ("I have not moved it. Outer square, inner in 1.", False),
        ("I moved it as you said, outer square, inner in 1.", True),
        ("outer square, inner in 1, moved as told", True),
    ],
)
def test_whether_it_was_moved_is_understood(text, moved):
    assert readings_from_text(text).moved_as_told is moved


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "empty"),
        ("   \n", "empty"),
        ("hello", "neither the outer nor the inner"),
        ("outer 3, inner square", "which way"),
        ("outer not square, inner in", "unclear"),
        ("outer maybe in, inner out", "unclear"),
        ("outer in out, inner square", "more than one way"),
        ("outer square in, inner square", "more than one way"),
        ("outer in 1 2, inner square", "more than one number"),
        ("outer in -1, inner square", "a sign and a word"),
        ("outer in 0, inner square", "by 0 degrees"),
        ("outer square 2, inner in", "one of them"),
        ("outer in 1 mm, inner square", "in mm"),
        ("outer in 60 degrees, inner square", "allowed is -45"),
        ("outer, inner square", "no reading"),
        ("outer in 1. outer in 2. inner square", "named twice"),
        ("outer in 1, inner out 1, I moved it", "not how"),
        ("x" * (LARGEST_TEXT + 1), "allowed are 2000"),
    ],
)
def test_what_is_unclear_is_refused_with_what_is_wrong_and_how_to_say_it(text, part):
    with pytest.raises(InputError, match=part):
        readings_from_text(text)


def test_any_one_misheard_digit_or_way_is_caught_by_the_check_number():
    said = DistantReadings(-0.5, 1.2, False, (121, 66))
    number = check_number(said)
    for wrong in (
        DistantReadings(0.5, 1.2, False, (121, 66)),
        DistantReadings(-0.5, -1.2, False, (121, 66)),
        DistantReadings(-0.5, 1.2, True, (121, 66)),
        *(DistantReadings(-tenths / 10.0, 1.2, False, (121, 66)) for tenths in range(10) if tenths != 5),
        *(
            DistantReadings(-0.5, (10 + tenths) / 10.0, False, (121, 66))
            for tenths in range(10)
            if tenths != 2
        ),
        DistantReadings(-0.5, 2.1, False, (121, 66)),
        DistantReadings(-0.5, 1.2, False, (121, 65)),
    ):
        assert check_number(wrong) != number, wrong
        text = distant_text(wrong).replace(f"Check {check_number(wrong):02d}", f"Check {number:02d}")
        with pytest.raises(InputError, match="does not fit"):
            readings_from_text(text)


def test_the_check_number_may_be_said_digit_by_digit():
    said = DistantReadings("square", "slightly-in", None, (121, 66))
    first, second = f"{check_number(said):02d}"
    text = (
        "sheet one hundred and twenty one and sixty six, outer square, inner slightly in, check "
        f"{ONES[int(first)]} {ONES[int(second)]}"
    )
    assert readings_from_text(text) == said


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("one hundred and twenty one", 121.0),
        ("two hundred", 200.0),
        ("ninety nine point oh five", 99.05),
        ("1,5", 1.5),
        ("1.25", 1.25),
        ("nought point three", 0.3),
        ("quarter", 0.25),
        ("forty two and a quarter", 42.25),
    ],
)
def test_numbers_in_words_are_numbers(text, value):
    assert spoken_tokens(text) == [pytest.approx(value)]


PIECES = (
    *(
        "outer",
        "inner",
        "point",
        "in",
        "out",
        "square",
        "one",
        "two",
        "half",
        "and",
        "a",
        "quarter",
        "hundred",
    ),
    *(
        "check",
        "sheet",
        "moved",
        "told",
        "not",
        "degrees",
        "minus",
        "plus",
        "1",
        "2.5",
        "0",
        ",",
        ".",
        ";",
        "-",
    ),
    *(
        "+",
        "\n",
        "clockwise",
        "counter",
        "far",
        "slightly",
        "mm",
        "999999999",
        "\u00e9",
        "\u8f38",
        "\u0663",
        "\u00bd",
    ),
)


@given(st.lists(st.sampled_from(PIECES), max_size=25).map(" ".join) | st.text(max_size=200))
@settings(max_examples=600, deadline=None)
def test_whatever_is_pasted_gives_readings_or_one_clear_sentence(text):
    refusal = ""
    try:
        found = readings_from_text(text)
    except InputError as error:
        refusal = str(error)
    if refusal:
        assert 10 < len(refusal) < 500
    else:
        for said in (found.outer, found.inner):
            assert said is None or (said in WORDS if isinstance(said, str) else -45.0 <= said <= 45.0)
        assert readings_from_text(distant_text(found)).moved_as_told == found.moved_as_told
