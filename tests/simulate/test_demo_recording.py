"""What the demo job says was heard is what the reader really hears in the simulated recording."""

from importlib import resources

import numpy as np
import pytest

from groovewright.audio import assess, hear_recording
from groovewright.job import fold, log_from_toml
from groovewright.job.recording import heard_as_found, last_heard, listened_from
from groovewright.simulate.demo_recording import (
    AS_FOUND,
    AS_SET,
    CHAIN,
    LOAD_OHM,
    LOAD_PF,
    RATE_HZ,
    demo_bands,
    demo_recording,
)
from groovewright.simulate.recording import write_recording


@pytest.fixture(scope="module")
def state():
    text = resources.files("groovewright.demo").joinpath("fernhill.toml").read_bytes()
    return fold(log_from_toml(text, "fernhill.toml"))


@pytest.mark.parametrize("as_found", [True, False], ids=["as found", "as set"])
def test_the_findings_of_the_demo_job_can_be_heard_again(as_found, state, tmp_path):
    kept = heard_as_found(state) if as_found else last_heard(state)
    path = tmp_path / kept.file
    write_recording(path, demo_recording(as_found=as_found), rate_hz=RATE_HZ)
    again = listened_from(assess(hear_recording(path, demo_bands())), as_found=as_found)
    assert [finding.key for finding in again.findings] == [finding.key for finding in kept.findings]
    for new, old in zip(again.findings, kept.findings, strict=True):
        if old.sd is None:
            assert new == old
        else:  # another processor rounds differently, in digits that mean nothing
            assert new.value == pytest.approx(old.value, abs=0.02 * old.sd + 1e-6), old.key
            assert new.sd == pytest.approx(old.sd, rel=0.02), old.key
    assert (again.withheld, again.warnings, again.band_list) == (kept.withheld, kept.warnings, kept.band_list)
    for new, old in zip(again.curves, kept.curves, strict=True):
        for (name, points), (_, before) in zip(new.series, old.series, strict=True):
            np.testing.assert_allclose(points, before, rtol=2e-3, atol=2e-2, err_msg=f"{old.band}, {name}")


def test_what_is_kept_is_the_truth_of_the_forward_model(state):
    for kept, truth in ((heard_as_found(state), AS_FOUND), (last_heard(state), AS_SET)):
        found = {finding.key: finding.value for finding in kept.findings}
        assert found["polarity"] == ("one reversed" if truth.right_reversed else "correct")
        assert found["leads"] == "correct"
        assert found["speed_error_percent"] == pytest.approx(truth.speed_error_percent, abs=0.002)
        assert found["eccentricity_mm"] == pytest.approx(truth.eccentricity_mm, abs=0.01)
        assert found["balance_db"] == pytest.approx(20.0 * np.log10(truth.left_gain), abs=0.02)
        assert found["resonance_lateral_hz"] == pytest.approx(truth.lateral_resonance[0], rel=0.02)
        assert found["resonance_vertical_q"] == pytest.approx(truth.vertical_resonance[1], rel=0.1)
        assert found["tracking_error_deg"] == pytest.approx(truth.yaw_deg, abs=0.15)
        # lean and electrical crosstalk of opposite signs are one and the same (docs/listen.md)
        electrical = np.degrees(np.real(truth.right_to_left - truth.left_to_right)) / 2.0
        assert found["azimuth_deg"] == pytest.approx(truth.azimuth_deg + electrical, abs=0.1)


def test_the_load_of_the_recording_is_that_of_the_demo_job(state):
    cartridge, phono = state.cartridge_in, state.phono
    assert CHAIN.resistance_ohm.value == cartridge.resistance_ohm
    assert CHAIN.inductance_mH.value == cartridge.inductance_mH
    assert CHAIN.cable_pF.value == phono.cable_pF
    assert LOAD_OHM in phono.offered_ohm
    assert LOAD_PF in phono.offered_pF
