"""The level command as a script and as a person use it."""

import numpy as np
import pytest

QUICK = ["level", "--pivot-to-spindle", "222", "--force-gf", "1.8"]


def test_json_has_the_keys_that_a_script_relies_on(run_json):
    found = run_json(*QUICK, "--crosstalk-db", "-29.1", "-28.4", "--rake-deg", "0.5")
    skating = dict(map(tuple, found["skating_mN"]))
    # 0.325 (middle of 0.25 to 0.4) x 1.8 gf x 9.80665 x 0.4024 and 0.3733: sines computed with high precision
    assert skating[60.325] == pytest.approx(0.325 * 1.8 * 9.80665 * 0.4024, abs=0.001)
    assert skating[90.0] == pytest.approx(0.325 * 1.8 * 9.80665 * 0.3733, abs=0.001)
    assert min(skating.values()) < found["antiskating_mN"] < max(skating.values())
    assert found["height_change_mm"] > 0.0
    assert 0.0 < found["azimuth_deg"] < 3.0
    assert found["azimuth_sd_deg"] > 0.0
    assert found["azimuth_side_known"] is False


def test_what_is_missing_is_null_and_its_sentence_says_what_it_needs(run_json):
    found = run_json("level", "--pivot-to-spindle", "222")
    for key in ("skating_mN", "antiskating_mN", "height_change_mm", "azimuth_deg", "azimuth_sd_deg"):
        assert found[key] is None
    for name in ("skating", "height", "azimuth"):
        assert found[f"{name}_verdict"] == "unknown"
        assert "needs" in found[f"{name}_sentence"]


def test_friction_scales_the_skating(run_json):
    low, high = (run_json(*QUICK, "--friction", f"{mu}:{mu}") for mu in (0.2, 0.4))
    assert high["antiskating_mN"] == pytest.approx(2.0 * low["antiskating_mN"])
    assert high["antiskating_sd_mN"] == pytest.approx(0.0, abs=1e-12)


def test_a_thread_and_weight_gets_its_notch(run_json):
    notches = ["--thread-weight", "2.5", "--notch", "15", "--notch", "20", "--notch", "25"]
    found = run_json(*QUICK, *notches)
    forces = np.array([15.0, 20.0, 25.0]) * 2.5 * 9.80665 / found["effective_length_mm"]
    best = int(np.argmin(np.abs(forces - found["antiskating_mN"])))
    assert found["antiskating_step"].startswith(f"notch {best + 1}")


def test_two_settings_and_complex_readings_find_the_side(run_json):
    # lean 2.2 deg with electrical crosstalk of 0.012j both ways: magnitudes at 2.2 and at 3.2 deg
    levels = [20 * np.log10(abs(np.tan(np.radians(a)) + 0.012j)) for a in (2.2, 3.2)]
    before, after = ([f"{level:.3f}"] * 2 for level in levels)
    crosstalk = ["--crosstalk-db", *before, "--crosstalk-sd-db", "0.1"]
    two = run_json(*QUICK, *crosstalk, "--crosstalk-after-db", *after, "--leaned-deg", "1")
    phase = np.degrees(np.angle(np.tan(np.radians(2.2)) + 0.012j))
    phases = ["--crosstalk-phase-deg", f"{180 - phase:.2f}", f"{phase:.2f}"]
    polar = run_json(*QUICK, *crosstalk, *phases)
    for found in (two, polar):
        assert found["azimuth_side_known"] is True
        assert found["azimuth_deg"] == pytest.approx(2.2, abs=2.0 * found["azimuth_sd_deg"])


def test_other_records_and_arms_are_cases_of_the_same(run_json):
    for grooves in ("25cm", "17cm"):
        found = run_json(*QUICK, "--grooves", grooves)
        assert found["skating_mN"][0][1] > 0.0
    straight = run_json("level", "--pivot-to-spindle", "230", "--effective-length", "214", "--force-gf", "4")
    assert straight["skating_mN"][0][1] < 0.0


def test_a_mono_cartridge_has_no_azimuth_from_crosstalk(run_json):
    found = run_json(*QUICK, "--mono", "--crosstalk-db", "-29", "-29")
    assert found["azimuth_deg"] is None
    assert "mono" in found["azimuth_sentence"]


def test_the_text_says_verdicts_first_then_numbers_then_why(run):
    code, out, _ = run(*QUICK, "--crosstalk-db", "-29.1", "-28.4", "--record-mm", "1.2:2.3", "--why")
    assert code == 0
    assert out.startswith("Set the anti-skating to")
    assert out.index("Set the") < out.index("Skating force") < out.index("Why")
    assert "IEC 60098:2020" in out
    assert "Stylus guard on" in out
    assert "changes the rake by +0.26 deg" in out  # asin(1.1 / 239.3)
    assert max(len(line) for line in out.splitlines()) <= 80


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["level", "--pivot-to-spindle", "222", "--force-gf", "17.6"], "Is 17.6 in mN?"),
        ([*QUICK, "--crosstalk-db", "29.1", "28.4"], "That would be -29.1 dB"),
        ([*QUICK, "--friction", "0.4:0.25"], "try 0.25:0.4"),
        ([*QUICK, "--friction", "25:40"], "Is 25 in percent?"),
        ([*QUICK, "--thread-weight", "2.5"], "belong together"),
        ([*QUICK, "--crosstalk-after-db", "-29", "-28"], "--crosstalk-db is missing"),
        ([*QUICK, "--crosstalk-db", "-29", "-28", "--crosstalk-after-db", "-29", "-28"], "--leaned-deg"),
        ([*QUICK, "--rake-deg", "92"], "That would be -2 deg"),
        ([*QUICK, "--effective-length", "9.4"], "inches"),
    ],
)
def test_bad_input_ends_with_2_and_names_what_would_work(run, arguments, message):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert message in err
