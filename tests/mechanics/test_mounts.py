"""Which stages apply to which mount, in the instrument and in a job's plan."""

import pytest

from groovewright.job import Described, fold, plan
from groovewright.job.plan import STAGES
from groovewright.job.records import Arm, Cartridge
from groovewright.mechanics.mounts import FIXED_HEADSHELLS, MOUNTS


def stages_of(headshell):
    arm = Arm(
        headshell=headshell, pivot_to_spindle_mm=222.0, effective_length_mm=239.3, offset_angle_deg=23.0
    )
    cartridge = Cartridge(force_min_gf=1.6, force_max_gf=2.0)
    planned = plan(fold((Described("arm", arm), Described("cartridge_in", cartridge))))
    return {report.stage: report for report in planned.stages}


def test_every_reason_belongs_to_a_stage_and_every_skipped_stage_has_one():
    for mount in MOUNTS.values():
        assert set(mount.reasons) <= set(STAGES)
        assert set(mount.skipped) <= set(mount.reasons)


@pytest.mark.parametrize("headshell", MOUNTS)
def test_a_job_says_what_does_not_apply_and_why(headshell):
    stages, mount = stages_of(headshell), MOUNTS[headshell]
    for stage in mount.skipped:
        assert stages[stage].status == "not-needed"
        assert stages[stage].sentence == mount.reasons[stage]
    assert (stages["square"].status == "not-needed") == (headshell in FIXED_HEADSHELLS)
    assert stages["weigh"].status == "open"


@pytest.mark.parametrize("headshell", ["plug-in", "moulded-in"])
def test_height_and_azimuth_are_not_asked_for_where_they_are_fixed(headshell):
    rows = dict(stages_of(headshell)["level"].rows)
    assert rows["height, azimuth"] == MOUNTS[headshell].reasons["level"]
    assert "azimuth" not in rows
    assert "anti-skating" in rows
