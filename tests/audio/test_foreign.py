"""Recordings that the forward model had no part in (benchmarks/listen_foreign.py has many more)."""

import importlib
from dataclasses import replace

import pytest


@pytest.fixture(scope="module")
def foreign():
    return importlib.import_module("listen_foreign")


def short(foreign):
    """Return tones of 6 s, a pilot of 12 s and sweeps of 12 s, with nothing between them."""
    tones = [replace(part, seconds=6.0, gap_s=0.0) for part in foreign.TONES[:3]]
    pilot = replace(foreign.TONES[3], seconds=12.0, gap_s=0.0)
    return (*tones, pilot, *(replace(part, seconds=12.0, gap_s=0.0) for part in foreign.SWEEPS))


def test_a_list_that_is_off_by_0_3_s_on_16_bits_costs_nothing(foreign):
    case = foreign.Case(
        "",
        parts=short(foreign),
        rate_hz=44_100,
        bits=16,
        offset=0.004,
        level_db=-20.0,
        list_off_s=(0.3, -0.3),
    )
    shares, wrong, _ = foreign.misses_of(case)
    assert {key: share for key, share in shares.items() if share > 1.0} == {}
    assert wrong == []


def test_exchanged_leads_a_reversed_coil_and_the_1976_equaliser_are_told(foreign):
    case = foreign.Case(
        "", parts=short(foreign), replay="replay-1976", swapped=True, reversed_coil="left", speed_percent=1.9
    )
    listening, _ = foreign.heard(case)
    assert listening.measures["leads"].value == "swapped"
    assert listening.measures["polarity"].value == "one reversed"
    assert listening.measures["azimuth_deg"].value.value == pytest.approx(case.lean_deg, abs=0.1)
    assert listening.measures["balance_db"].value.value == pytest.approx(case.balance_db, abs=0.02)


def test_a_dead_channel_or_a_mono_switch_never_makes_the_wires_wrong(foreign):
    for more in ({"dead": "right"}, {"dead": "left"}, {"mono": True}):
        case = foreign.Case("", parts=short(foreign)[:3], only=("speed",), **more)
        _, wrong, _ = foreign.misses_of(case)
        assert wrong == []
