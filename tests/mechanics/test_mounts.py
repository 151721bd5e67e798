"""Which stages apply to which mount."""

import pytest

from groovewright.mechanics.mounts import MOUNT_RULES, STAGES, MountKind, stages_for, why_not


def test_every_kind_has_rules():
    assert set(MOUNT_RULES) == set(MountKind)


def test_a_slotted_headshell_goes_through_every_stage():
    assert stages_for(MountKind.SLOTTED) == STAGES


@pytest.mark.parametrize("kind", [MountKind.PLUG_IN, MountKind.MOULDED_IN])
def test_nothing_is_squared_where_the_geometry_is_fixed_and_the_stage_says_so(kind):
    assert "square" not in stages_for(kind)
    assert "nothing to square" in (why_not(kind, "square") or "")
    assert {"weigh", "level", "listen"} <= set(stages_for(kind))


def test_every_skipped_stage_is_a_stage_and_has_its_reason():
    for kind, rules in MOUNT_RULES.items():
        for stage in rules.skipped:
            assert stage in STAGES
            assert why_not(kind, stage)
        assert set(rules.reasons) <= set(STAGES)
