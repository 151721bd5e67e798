"""`groovewright geometry`: its numbers against what is published, its text, its plot."""

import json

import pytest

KEYS = {
    "null_inner_mm",
    "null_outer_mm",
    "effective_length_mm",
    "overhang_mm",
    "offset_angle_deg",
    "linear_offset_mm",
    "max_tracking_error_deg",
    "max_distortion_percent",
    "rms_distortion_percent",
}


@pytest.fixture
def geometry(run):
    """Return the JSON object of a geometry command."""

    def go(*arguments):
        code, text, errors = run("geometry", *arguments, "--json")
        assert (code, errors) == (0, "")
        return json.loads(text)

    return go


@pytest.mark.parametrize(
    ("grooves", "inner", "outer"),
    [
        # K. Howard, "Arc Angles: Optimizing Tonearm Geometry", Stereophile, March 2010
        ("56:146.3", 61.6, 118.4),
        ("58:146.3", 63.6, 119.6),
    ],
)
def test_nulls_for_a_range_are_those_published(geometry, grooves, inner, outer):
    values = geometry("--pivot-to-spindle", 222, "--grooves", grooves)
    assert values["null_inner_mm"] == pytest.approx(inner, abs=0.05)
    assert values["null_outer_mm"] == pytest.approx(outer, abs=0.05)


@pytest.mark.parametrize(
    ("criterion", "inner", "outer", "length", "offset"),
    [
        # nulls, and length and offset for d = 220 mm, 60.325 to 146.05 mm, as the trade quotes them (common
        # practice, from memory)
        ("lofgren-a", 65.998, 120.891, 237.44, 23.17),
        ("lofgren-b", 70.285, 116.604, 237.90, 23.13),
        ("stevenson", 60.325, 117.42, 235.55, 22.17),
    ],
)
def test_the_closed_forms_give_what_the_trade_quotes(geometry, criterion, inner, outer, length, offset):
    values = geometry("--pivot-to-spindle", 220, "--criterion", criterion)
    assert set(values) >= KEYS
    assert values["null_inner_mm"] == pytest.approx(inner, abs=0.001)
    assert values["null_outer_mm"] == pytest.approx(outer, abs=0.006)
    assert values["effective_length_mm"] == pytest.approx(length, abs=0.006)
    assert values["overhang_mm"] == pytest.approx(length - 220, abs=0.006)
    assert values["offset_angle_deg"] == pytest.approx(offset, abs=0.006)
    assert values["linear_offset_mm"] == pytest.approx((inner + outer) / 2, abs=0.006)


@pytest.mark.parametrize(
    ("criterion", "nulls", "worst_percent", "rms_percent"),
    [
        # d = 222 mm, 60.325 to 146.05 mm, 10 cm/s peak at 33 1/3 rpm: from high-precision brute force, once
        ("lofgren-a", (65.998, 120.891), 0.618, 0.408),
        ("lofgren-b", (70.285, 116.604), 1.004, 0.366),
        ("stevenson", (60.325, 117.42), 0.755, 0.500),
        ("minimax", (65.976, 121.036), None, None),
        ("least-squares", (70.151, 116.242), None, None),
    ],
)
def test_distortion_and_exact_optima_agree_with_brute_force(
    geometry, criterion, nulls, worst_percent, rms_percent
):
    values = geometry("--pivot-to-spindle", 222, "--criterion", criterion)
    assert (values["null_inner_mm"], values["null_outer_mm"]) == pytest.approx(nulls, abs=0.006)
    if worst_percent is not None:
        assert values["max_distortion_percent"] == pytest.approx(worst_percent, abs=0.0006)
        assert values["rms_distortion_percent"] == pytest.approx(rms_percent, abs=0.0006)


def test_distortion_goes_with_velocity_and_against_speed(geometry):
    # amplitude V / v tan(error): Baerwald 1941 (J. SMPE)
    plain = geometry("--pivot-to-spindle", 222)["max_distortion_percent"]
    louder = geometry("--pivot-to-spindle", 222, "--velocity", 20)["max_distortion_percent"]
    faster = geometry("--pivot-to-spindle", 222, "--speed", 45)["max_distortion_percent"]
    assert louder == pytest.approx(2 * plain)
    assert faster == pytest.approx(plain * (100 / 3) / 45)


def test_given_nulls_take_the_place_of_the_criterion(geometry):
    values = geometry("--pivot-to-spindle", 222, "--nulls", "60:117")
    assert values["criterion"] == "given nulls"
    # L^2 = d^2 + n1 n2 (Vieta)
    assert values["effective_length_mm"] == pytest.approx((222**2 + 60 * 117) ** 0.5)


def test_every_error_costs_distortion_where_the_largest_is_as_small_as_can_be(geometry):
    best = geometry("--pivot-to-spindle", 222, "--criterion", "minimax")
    costs = best["costs_of_errors"]
    assert len(costs) >= 4
    assert costs[0]["what"] == "as it should be"
    assert costs[0]["max_distortion_percent"] == best["max_distortion_percent"]
    assert all(cost["max_distortion_percent"] > best["max_distortion_percent"] for cost in costs[1:])
    assert all(cost["what"] for cost in costs)


def test_the_text_says_the_setting_first_and_why_gives_a_source(run):
    _, text, _ = run("geometry", "--pivot-to-spindle", 222, "--why")
    assert text.startswith("Overhang 17.30 mm and offset angle 22.99 deg")
    assert "source:" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize(("name", "start"), [("a.svg", b"<?xml"), ("a.pdf", b"%PDF"), ("a.png", b"\x89PNG")])
def test_the_plot_is_written_in_the_format_of_its_name(run, here, name, start):
    code, _, errors = run("geometry", "--pivot-to-spindle", 222, "--plot", name)
    assert (code, errors) == (0, "")
    assert (here / name).read_bytes().startswith(start)
    code, _, errors = run("geometry", "--pivot-to-spindle", 222, "--plot", name)
    assert code == 2
    assert "--force" in errors
