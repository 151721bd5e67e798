"""The weigh command as a script and as a person use it."""

import pytest

QUICK = ["weigh", "--range", "1.6:2.0", "--reading", "1.83", "--reading", "1.86"]


def test_json_has_the_keys_that_a_script_relies_on(run_json):
    found = run_json(*QUICK)
    assert found["force_gf"] == pytest.approx(1.845)
    assert found["force_mN"] == pytest.approx(1.845 * 9.80665)  # standard gravity
    assert found["force_sd_mN"] > 0.0
    assert found["turn_counterweight_turns"] is None
    assert found["verdict"] == "right"


def test_forces_in_millinewton_give_the_same_answer(run_json):
    arguments = ["weigh", "--unit", "mN", "--range", "15.69064:19.6133"]
    for reading in (1.83, 1.86):
        arguments += ["--reading", str(reading * 9.80665)]
    assert run_json(*arguments)["force_gf"] == pytest.approx(run_json(*QUICK)["force_gf"])


def test_a_thread_turns_what_is_missing_into_turns(run_json):
    thread = ["--thread", "1.0", "--counterweight-mass", "100", "--effective-length", "250"]
    found = run_json("weigh", "--range", "1.6:2.0", "--reading", "1.5", *thread)
    # 100 g by 1 mm on 250 mm is 0.4 gf for a turn; 0.3 gf are missing
    assert found["turn_counterweight_turns"] == pytest.approx(0.75)
    assert found["verdict"] == "too-light"
    assert "in (towards the bearing)" in found["sentence"]


def test_a_check_mass_corrects_the_scale(run_json):
    found = run_json(*QUICK, "--check-mass", "2.0:2.05", "--check-mass", "2.0:2.05")
    assert found["gauge_gain"] == pytest.approx(2.0 / 2.05)
    assert found["force_gf"] == pytest.approx(1.845 * 2.0 / 2.05)


def test_outside_the_makers_range_the_verdict_never_blesses(run_json):
    for reading, code in (("2.05", "too-heavy"), ("1.55", "too-light")):
        assert run_json("weigh", "--range", "1.6:2.0", "--reading", reading)["verdict"] == code


def test_drift_is_named_against_the_force_as_found(run_json):
    assert run_json(*QUICK, "--as-found", "2.1")["drift_verdict"] == "drifted"
    assert run_json(*QUICK, "--as-found", "1.85")["drift_verdict"] == "steady"


def test_the_text_says_what_is_assumed_and_what_is_missing(run):
    code, out, _ = run(*QUICK, "--pan-above-record", "3", "--why")
    assert code == 0
    assert "needs --slope" in out
    assert "needs --check-mass" in out
    assert "maker's own range always wins" in out
    assert "3rd CGPM" in out
    assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["weigh", "--range", "1.6:2.0", "--reading", "18"], "Is 18 in mN?"),
        (["weigh", "--range", "1.6:2.0", "--unit", "mN", "--reading", "1.8"], "Is 1.6 in gf?"),
        (["weigh", "--range", "2.0:1.6", "--reading", "1.8"], "try 1.6:2"),
        ([*QUICK, "--target", "2.3"], "always wins"),
        ([*QUICK, "--thread", "1.0"], "--counterweight-mass and --effective-length"),
        ([*QUICK, "--check-mass", "2:2", "--check-mass", "5:5"], "one mass"),
        ([*QUICK, "--check-mass", "2:0.2"], "no calibration"),
    ],
)
def test_bad_input_ends_with_2_and_names_what_would_work(run, arguments, message):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert message in err
