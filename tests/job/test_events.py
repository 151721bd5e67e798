"""Events: their plain form, and undo and redo without limit."""

import json
import types
import typing
from dataclasses import MISSING, fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from groovewright.audio.measures import NUMBER_KEYS, WORD_KEYS
from groovewright.job import Described, Looked, Moved, Redone, Undone, effective, fold, from_plain, to_plain
from groovewright.job.events import KINDS, STEP_KINDS
from groovewright.job.heard import CURVE_SERIES, CrosstalkHeard, Curve, Finding, LadderHeard, Listened
from groovewright.job.records import RECORDS
from groovewright.quantities import GrooveRange, InputError

NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
GROOVES = st.tuples(st.floats(20, 100), st.floats(102, 210)).map(lambda pair: GrooveRange(*pair))


def values_of(annotation):
    """Return a strategy for a field's type: every type that events and records have."""
    if typing.get_origin(annotation) in (typing.Union, types.UnionType):
        return st.one_of(*map(values_of, typing.get_args(annotation)))
    if typing.get_origin(annotation) is tuple:
        return st.lists(values_of(typing.get_args(annotation)[0]), max_size=3).map(tuple)
    plain = {float: NUMBERS, str: st.text(max_size=8), bool: st.booleans(), type(None): st.none()}
    return {**plain, int: st.integers(), GrooveRange: GROOVES}[annotation]


def filled(kind):
    """Return a strategy for a record or step with every field set; impossible ones are left out."""
    hints = typing.get_type_hints(kind)
    values = st.fixed_dictionaries({entry.name: values_of(hints[entry.name]) for entry in fields(kind)})

    def build(fill):
        try:
            return kind(**fill)
        except InputError:
            return None

    return values.map(build).filter(lambda made: made is not None)


FINDINGS = st.lists(
    st.one_of(
        st.builds(Finding, st.sampled_from(WORD_KEYS), st.sampled_from(["correct", "can't tell"])),
        st.builds(
            Finding,
            st.sampled_from(NUMBER_KEYS),
            NUMBERS,
            NUMBERS,
            st.lists(st.text(max_size=8), max_size=2).map(tuple),
            st.text(max_size=8),
        ),
    ),
    max_size=4,
    unique_by=lambda finding: finding.key,
).map(tuple)
CURVES = st.tuples(
    st.sampled_from(sorted(CURVE_SERIES)), st.text(max_size=8), st.lists(NUMBERS, min_size=1, max_size=4)
).map(
    lambda made: Curve(
        made[0], made[1], "left", tuple((name, tuple(made[2])) for name in CURVE_SERIES[made[0]][:2])
    )
)
LADDERS = st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), min_size=1, max_size=3).map(
    lambda rungs: LadderHeard(1000.0, "left", ("a",), *(tuple(column) for column in zip(*rungs, strict=True)))
)
HEARD = st.builds(
    Listened,
    st.text(max_size=8),
    as_found=st.booleans(),
    findings=FINDINGS,
    withheld=st.lists(
        st.tuples(st.sampled_from(NUMBER_KEYS), st.text(max_size=8)), max_size=2, unique_by=lambda p: p[0]
    ).map(tuple),
    warnings=st.lists(st.text(max_size=8), max_size=2).map(tuple),
    crosstalk=st.lists(filled(CrosstalkHeard), max_size=2).map(tuple),
    tracking_ability=st.lists(LADDERS, max_size=2).map(tuple),
    curves=st.lists(CURVES, max_size=2).map(tuple),
)
STEPS = st.one_of(HEARD, *(filled(kind) for kind in STEP_KINDS.values() if kind is not Listened))
DESCRIBED = st.sampled_from(sorted(RECORDS)).flatmap(
    lambda section: filled(RECORDS[section]).map(lambda record: Described(section, record))
)
WORK = st.one_of(STEPS, DESCRIBED)
LOGS = st.lists(st.one_of(WORK, st.just(Undone()), st.just(Redone())), max_size=12)


@given(st.one_of(WORK, st.just(Undone()), st.just(Redone())))
def test_an_event_survives_its_plain_form_and_json(event):
    plain = to_plain(event)
    assert plain["kind"] in KINDS
    assert from_plain(plain) == event
    # as a record keeper or another program would pass it on
    assert from_plain(json.loads(json.dumps(plain, allow_nan=False))) == event


def test_the_demo_survives_its_plain_form(demo_log):
    assert tuple(from_plain(json.loads(json.dumps(to_plain(event)))) for event in demo_log) == demo_log


@pytest.mark.parametrize(
    "plain",
    [
        {},
        {"kind": "lookd", "outer": 0.1},
        {"kind": "look", "outr": 0.1},
        {"kind": "moved", "slide_mm": 1.0},
        {"kind": None},
        {"kind": ["look"]},
        {"kind": "described"},
        {"kind": "described", "section": "arm"},
        {"kind": "described", "section": "amr", "record": {}},
        {"kind": "described", "section": "arm", "record": None},
        {"kind": "described", "section": "arm", "record": "abc"},
        {"kind": "described", "section": "arm", "record": {"nme": "x"}},
        {"kind": "described", "section": ["arm"], "record": {}},
        {"kind": "described", "section": "aim", "record": {"grooves": None}},
        {"kind": "described", "section": "aim", "record": {"grooves": {"inner_mm": 146.0, "outer_mm": 60.0}}},
    ],
)
def test_a_plain_form_that_can_not_be_read_is_bad_input(plain):
    with pytest.raises(InputError):
        from_plain(plain)


def test_a_misspelt_kind_is_told_the_nearest():
    with pytest.raises(InputError, match="did you mean 'look'"):
        from_plain({"kind": "lok"})


@given(LOGS, st.lists(WORK, min_size=1, max_size=6))
def test_undo_takes_back_as_many_steps_as_there_are_undos(log, work):
    before = effective(log)
    counting = (*before, *work)
    for undone in range(len(counting) + 3):
        left = effective([*log, *work, *[Undone()] * undone])
        assert left == counting[: max(0, len(counting) - undone)]


@given(LOGS, st.lists(WORK, min_size=1, max_size=6), st.integers(0, 12), st.integers(0, 12))
def test_redo_brings_back_what_was_undone_and_no_more(log, work, undone, redone):
    counting = effective([*log, *work])
    taken = min(undone, len(counting))
    back = effective([*log, *work, *[Undone()] * undone, *[Redone()] * redone])
    assert back == counting[: len(counting) - taken + min(redone, taken)]


@given(LOGS, WORK, WORK)
def test_a_new_step_after_an_undo_ends_what_could_be_redone(log, old, new):
    assert effective([*log, old, Undone(), new, Redone(), Redone()]) == (*effective(log), new)


@given(LOGS)
def test_what_counts_is_free_of_undo_and_counts_again_as_it_is(log):
    counting = effective(log)
    assert not any(isinstance(event, Undone | Redone) for event in counting)
    assert effective(counting) == counting


@given(LOGS)
def test_the_fold_is_pure_and_sees_only_what_counts(log):
    log = tuple(log)
    kept = tuple(log)
    state = fold(log)
    assert fold(log) == state
    assert log == kept
    assert fold(effective(log)) == state


@given(LOGS)
def test_looks_and_moves_are_folded_in_order(log):
    expected = tuple(event for event in effective(log) if isinstance(event, Looked | Moved))
    assert fold(tuple(log)).squaring == expected


@given(LOGS)
def test_every_event_can_be_kept_apart_by_its_value(log):
    # stages are worked out once for each state: states are keys
    assert hash(fold(tuple(log))) == hash(fold(effective(log)))


@given(LOGS, DESCRIBED)
def test_what_is_described_anew_replaces_what_was(log, described):
    state = fold((*log, described))
    assert getattr(state, described.section) == described.record
    assert fold((*log, described, Undone())) == fold(tuple(log))


def test_every_field_of_a_record_has_a_default():
    # a section of a job file may name any of its keys or none
    for kind in RECORDS.values():
        assert all(
            entry.default is not MISSING or entry.default_factory is not MISSING for entry in fields(kind)
        )
