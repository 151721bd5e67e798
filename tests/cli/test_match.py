"""The match command as a script and as a person use it."""

import math

import pytest

JOB = ["match", "--effective-mass", "11", "--cartridge-mass", "6.5", "--fastener-mass", "1"]
QUICK = [*JOB, "--compliance", "10", "--compliance-at", "100"]


def test_json_has_the_keys_that_a_script_relies_on(run_json):
    found = run_json(*QUICK)
    # textbook: 18.5 g on 10 x 1.5 to 10 x 2 um/mN
    ends = [1e3 / (2 * math.pi * math.sqrt(18.5 * compliance)) for compliance in (20.0, 15.0)]
    assert ends[0] < found["resonance_vertical_hz"] < ends[1]
    assert 0.3 < found["resonance_vertical_sd_hz"] < 1.5
    assert found["resonance_lateral_hz"] > 0.0
    assert 0.0 < found["probability_in_window"] < 1.0
    assert found["verdict"] == "suits"


def test_a_figure_measured_at_10_hz_goes_straight_into_the_textbook_formula(run_json):
    found = run_json(
        "match", "--effective-mass", "12", "--cartridge-mass", "6", "--compliance", "10",
        "--compliance-at", "10",
    )  # fmt: skip
    assert found["resonance_vertical_hz"] == pytest.approx(11.86, abs=0.006)


def test_a_missing_measuring_frequency_is_wider_and_not_an_error(run_json):
    known, unknown = run_json(*QUICK), run_json(*JOB, "--compliance", "10")
    assert unknown["resonance_vertical_sd_hz"] > 1.5 * known["resonance_vertical_sd_hz"]


def test_the_text_starts_with_the_verdict_and_ends_with_the_cautions(run):
    code, out, _ = run(*QUICK)
    assert code == 0
    assert out.startswith("Cartridge and arm suit each other")
    assert "The maker's own range always wins" in out
    assert "unknown, needs --screw" in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_why_prints_formula_inputs_and_source(run):
    out = run(*QUICK, "--why")[1]
    assert "1000 / (2 pi sqrt(M C))" in out
    assert "source: textbook" in out


def test_a_screw_is_chosen_from_the_thicknesses(run_json):
    assert run_json(*QUICK, "--screw", "2:2.5")["screw_length_mm"] == 8.0


def test_an_added_weight_counts_with_its_distance_squared(run_json):
    plain = run_json(*QUICK)["total_effective_mass_g"]
    added = run_json(*QUICK, "--added", "4:115", "--effective-length", "230")
    assert added["total_effective_mass_g"] == pytest.approx(plain + 1.0)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([*JOB, "--compliance", "10e-6"], "That would be 10 um/mN"),
        ([*QUICK, "--added", "4:115"], "--added needs --effective-length"),
        ([*JOB, "--compliance", "10", "--compliance-at", "soft"], "'soft' is not known"),
        ([*QUICK, "--window", "12:8"], "try 8:12"),
    ],
)
def test_bad_input_ends_with_2_and_names_what_would_work(run, arguments, message):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert message in err


def test_the_chart_is_written_once_and_never_over_a_file(run, tmp_path):
    path = tmp_path / "match.svg"
    assert run(*QUICK, "--plot", str(path))[0] == 0
    assert b"<svg" in path.read_bytes()
    code, _, err = run(*QUICK, "--plot", str(path))
    assert code == 2
    assert "--force" in err
