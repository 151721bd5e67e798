"""A job file gives the commands the options that it knows."""

import json

import pytest

from groovewright.cli.app import main

JOB = """
[arm]
pivot_to_spindle_mm = 222.0
effective_mass_g = 11.0
[cartridge_in]
kind = "moving-magnet"
stylus = "fine line"
mass_g = 6.5
fastener_mass_g = 1.0
force_min_gf = 1.6
force_max_gf = 2.0
compliance_um_per_mN = 10.0
compliance_at = 100
inductance_mH = 500.0
resistance_ohm = 800.0
[phono]
load_ohm = 47000.0
load_pF = 200.0
[[step]]
weighed = { force_gf = 1.83 }
[[step]]
weighed = { force_gf = 1.86 }
[[step]]
crosstalk = { left_to_right_db = -28.0, right_to_left_db = -26.0 }
"""

SAME_BY_HAND = {
    "match": "--effective-mass 11 --cartridge-mass 6.5 --fastener-mass 1 --compliance 10 --compliance-at 100",
    "weigh": "--range 1.6:2.0 --reading 1.83 --reading 1.86",
    "load": "--inductance-mH 500 --resistance-ohm 800 --load-ohm 47000 --load-pF 200",
    "level": "--pivot-to-spindle 222 --force-gf 1.845 --profile line --crosstalk-db -28 -26 --crosstalk-sd-db 0.5",
}


def printed(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main([*arguments, "--json"])
    assert ended.value.code == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("command", SAME_BY_HAND)
def test_a_job_file_gives_what_the_same_options_give(command, tmp_path, capsys):
    job = tmp_path / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    assert printed(capsys, command, str(job)) == printed(capsys, command, *SAME_BY_HAND[command].split())


def test_options_after_the_job_file_win(tmp_path, capsys):
    job = tmp_path / "job.toml"
    job.write_text(JOB, encoding="utf-8")
    heavier = printed(capsys, "match", str(job), "--effective-mass", "25")
    assert heavier["resonance_vertical_hz"] < printed(capsys, "match", str(job))["resonance_vertical_hz"]


def test_what_the_job_does_not_know_is_asked_for(tmp_path, capsys):
    job = tmp_path / "job.toml"
    job.write_text("[arm]\npivot_to_spindle_mm = 222.0\n", encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["match", str(job)])
    assert ended.value.code == 2
    assert "--effective-mass" in capsys.readouterr().err
