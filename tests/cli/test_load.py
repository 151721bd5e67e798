"""The load command as a script and as a person use it."""

from __future__ import annotations

from pathlib import Path

import pytest

COIL = ["load", "--inductance-mH", "500", "--resistance-ohm", "800"]
LOADED = [*COIL, "--load-ohm", "47000", "--load-pF", "200"]
OFFER = ["--offered-pF", "50,100,150,220", "--offered-ohm", "33000,47000,68000"]


def test_json_has_the_keys_that_a_script_relies_on(run_json):
    found = run_json(*LOADED, *OFFER)
    levels = dict(map(tuple, found["response_db"]))
    assert min(levels) == 10.0
    assert max(levels) == 50000.0
    # 0.5 H and 800 ohm into 47 kOhm and 200 pF: computed, confirmed with ngspice
    assert levels[10000.0] == pytest.approx(0.851, abs=0.0006)
    assert levels[12000.0] == pytest.approx(0.767, abs=0.0006)
    assert levels[15000.0] == pytest.approx(-0.089, abs=0.0006)
    assert levels[20000.0] == pytest.approx(-3.207, abs=0.0006)
    assert found["deviation_20_20k_db"] == pytest.approx(3.207, abs=0.0006)
    assert 10000 < found["peak_hz"] < 11000
    assert found["peak_db"] == pytest.approx(0.86, abs=0.01)
    assert found["peak_sd_db"] > 0.0
    assert found["best_load"]["load_ohm"] == 68000.0
    assert found["best_load"]["load_pF"] == 50.0
    assert found["best_load"]["deviation_20_20k_db"] < found["runner_up"]["deviation_20_20k_db"]
    assert dict(map(tuple, found["runner_up"]["response_db"]))[1000.0] == 0.0
    assert found["verdict"] == "outside tolerance"


def test_text_starts_with_one_sentence_and_fits_80_columns(run):
    code, out, _ = run(*LOADED, *OFFER, "--output-mV", "5")
    assert code == 0
    sentence = " ".join(out.split("\n\n")[0].split())
    assert sentence.startswith("Outside tolerance: into 47 kΩ with 200 pF")
    assert sentence.count(".") - sentence.count("0.") - sentence.count("1.") - sentence.count("3.") == 1
    assert max(map(len, out.splitlines())) <= 80


def test_why_gives_formula_and_source_of_each_number(run):
    _, out, _ = run(*LOADED, "--output-mV", "5", "--why")
    why = out.split("\nWhy\n")[1]
    for number in ("response_db", "resonance_hz", "peak_hz", "deviation_20_20k_db", "signal_to_noise_db"):
        assert f"  {number}" in why
    assert why.count("source:") >= 7
    assert "Nyquist" in why
    assert "output = 5 mV rms, reference velocity = 3.54 cm/s rms" in " ".join(why.split())


def test_why_of_a_transformer_names_its_parts_and_claims_no_simple_resonance(run):
    coil = ["--kind", "moving-coil", "--inductance-mH", "0.05", "--resistance-ohm", "12"]
    step = ["--step-up", "10", "--primary-ohm", "2", "--secondary-ohm", "300", "--primary-H", "0.5"]
    _, out, _ = run("load", *coil, *step, "--load-ohm", "47000", "--load-pF", "150", "--why")
    why = " ".join(out.split("\nWhy\n")[1].split())
    assert "n = 10, R_primary = 2 ohm, R_secondary = 300 ohm, L_primary = 0.5 H" in why
    assert "resonance_hz" not in why


def test_what_is_assumed_is_said_and_goes_away_when_given(run_json):
    silent = " ".join(run_json(*LOADED)["assumed"])
    assert "--cable-pF" in silent
    assert "--inductance-sd-percent" in silent
    assert "--iron-loss-ohm" in silent
    given = run_json(
        *LOADED, "--cable-pF", "100", "--inductance-sd-percent", "3", "--iron-loss-ohm", "200000"
    )
    for option in ("--cable-pF", "--inductance-sd-percent", "--iron-loss-ohm"):
        assert option not in " ".join(given["assumed"])


@pytest.mark.parametrize(
    ("arguments", "need"),
    [
        (["load", "--resistance-ohm", "800", "--load-ohm", "47000", "--load-pF", "200"], "--inductance-mH"),
        (["load", "--inductance-mH", "500", "--load-ohm", "47000", "--load-pF", "200"], "--resistance-ohm"),
        ([*COIL, "--load-ohm", "47000"], "--load-pF or --offered-pF"),
        ([*LOADED, "--step-up", "10", "--primary-ohm", "2"], "--primary-H"),
    ],
)
def test_what_is_missing_leaves_the_verdict_unknown_and_is_named(
    run, run_json, arguments: list[str], need: str
):
    found = run_json(*arguments)
    assert found["verdict"].startswith("unknown, needs ")
    assert need in found["verdict"]
    assert found["peak_hz"] is None
    assert found["best_load"] is None
    assert "Unknown, needs" in run(*arguments)[1]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (["--load-pF", "0.2"], "--load-pF: capacitance (0 where there is none) is 0.2 pF"),
        (["--load-pF", "0.2"], "Is 0.2 in nF? That would be 200 pF"),
        (["--load-ohm", "47"], "Is 47 in kilo-ohm? That would be 47000 ohm"),
        (["--inductance-mH", "0.5"], "Is 0.5 in henry? That would be 500 mH"),
        (["--resistance-ohm", "0.8"], "Is 0.8 in kilo-ohm? That would be 800 ohm"),
        (["--output-mV", "0.005"], "Is 0.005 in volt? That would be 5 mV"),
        (["--offered-pF", "50,0.1"], "--offered-pF: capacitance"),
        (["--offered-ohm", "33,47"], "--offered-ohm: load resistance"),
        (["--offered-pF", "50;100"], "not a list of numbers such as 50,100,150"),
        (["--hum", "50"], "not HZ:MICROVOLT such as 50:1.5"),
        (["--load-pF", "nan"], "not a finite number"),
    ],
)
def test_a_wrong_value_is_named_with_its_option_and_what_would_work(run, change: list[str], words: str):
    code, out, err = run(*LOADED, *change)
    assert (code, out) == (2, "")
    assert words in err
    assert "Traceback" not in err


def test_a_moving_coil_brings_the_caution_about_ohmmeters(run_json):
    arguments = [
        "--kind",
        "moving-coil",
        "--inductance-mH",
        "0.05",
        "--resistance-ohm",
        "12",
        "--load-ohm",
        "100",
    ]
    found = run_json("load", *arguments, "--load-pF", "200")
    assert any(caution.startswith("No ohmmeter across a moving coil") for caution in found["cautions"])
    assert found["verdict"] == "within tolerance"
    magnet = run_json(*LOADED)
    assert not any("ohmmeter" in caution for caution in magnet["cautions"])
    assert any("muted or off before a lead" in caution for caution in magnet["cautions"])


def test_a_transformer_steps_the_level_up(run_json):
    coil = [
        "--kind",
        "moving-coil",
        "--inductance-mH",
        "0.05",
        "--resistance-ohm",
        "12",
        "--output-mV",
        "0.3",
    ]
    load = ["--load-ohm", "47000", "--load-pF", "150"]
    step = ["--step-up", "10", "--primary-ohm", "2", "--secondary-ohm", "300", "--primary-H", "0.5"]
    plain = run_json("load", *coil, *load)["levels"]["gain_needed_db"]
    stepped = run_json("load", *coil, *load, *step)["levels"]["gain_needed_db"]
    # 20 dB of turns ratio, less 14 ohm and 3 ohm (300 / n^2) against the reflected 470 ohm: 0.31 dB
    assert plain - stepped == pytest.approx(20.0 - 0.31, abs=0.05)


def test_strapped_coils_resonate_as_half_or_twice_the_inductance(run_json):
    one = run_json(*LOADED)["resonance_hz"]
    # 1 / sqrt(L): textbook
    assert run_json(*LOADED, "--strap", "parallel")["resonance_hz"] == pytest.approx(one * 2**0.5)
    assert run_json(*LOADED, "--strap", "series")["resonance_hz"] == pytest.approx(one / 2**0.5)


def test_levels_say_what_they_need_and_take_78_rpm(run, run_json):
    _, out, _ = run(*LOADED, "--output-mV", "5")
    assert "unknown, needs the overload of the input (--overload-mV)" in " ".join(out.split())
    assert "unknown, needs a measurement at the input (--hum HZ:UV)" in " ".join(out.split())
    microgroove = run_json(*LOADED, "--output-mV", "5")["levels"]
    coarse = run_json(*LOADED, "--output-mV", "5", "--record", "78")["levels"]
    # 50 us instead of 75 us lets more of the treble's noise through
    assert coarse["signal_to_noise_db"] < microgroove["signal_to_noise_db"] - 0.5


def test_rms_reference_gives_3_db_less_sensitivity_than_peak(run_json):
    peak = run_json(*LOADED, "--output-mV", "5")["levels"]["sensitivity_mV_s_per_cm"]
    rms = run_json(*LOADED, "--output-mV", "5", "--reference-is", "rms")["levels"]["sensitivity_mV_s_per_cm"]
    assert peak / rms == pytest.approx(2**0.5)


@pytest.mark.parametrize(("name", "start"), [("a.svg", b"<?xml"), ("a.pdf", b"%PDF"), ("a.png", b"\x89PNG")])
def test_the_plot_is_written_in_the_format_of_its_name(run, tmp_path: Path, name: str, start: bytes):
    path = tmp_path / name
    assert run(*LOADED, *OFFER, "--plot", str(path))[0] == 0
    assert path.read_bytes().startswith(start)


def test_a_plot_that_exists_is_left_and_an_unknown_format_is_refused(run, tmp_path: Path):
    path = tmp_path / "chart.svg"
    path.write_text("mine")
    code, _, err = run(*LOADED, "--plot", str(path))
    assert code == 2
    assert "--force" in err
    assert path.read_text() == "mine"
    code, _, err = run(*LOADED, "--plot", str(tmp_path / "chart.gif"))
    assert code == 2
    assert "svg, pdf, png" in err
