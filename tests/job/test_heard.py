"""A recording in the job: it survives every form, settles its stage or says what to do, and feeds the others."""

import json
from dataclasses import replace

import pytest

from groovewright.audio import NUMBER_KEYS, TOLERANCES
from groovewright.audio.identity import CORRECT, REVERSED, SWAPPED
from groovewright.job import Moved, Redone, Undone, fold, from_plain, log_from_toml, plan, to_plain
from groovewright.job.events import AntiskatingSet, CrosstalkRead, Described, WeightTurned
from groovewright.job.heard import MOST_POINTS, Finding, LadderHeard, ListenClosed, Listened
from groovewright.job.heard_toml import step_toml, with_step
from groovewright.job.heard_words import NAMES, number_text
from groovewright.job.plan import STAGES
from groovewright.job.recording import heard_as_found, last_heard, readings_of, responses_of, verdicts_of
from groovewright.job.records import Arm
from groovewright.job.stages.listen import NOTHING_HEARD, PUT_RIGHT_AT
from groovewright.quantities import InputError, Reading

WIRES = (
    Finding("leads", CORRECT, None, ("left", "right"), "from left, right"),
    Finding("polarity", CORRECT, None, ("lateral",), "from lateral"),
)


def heard(*findings, **values):
    return Listened("side-a.wav", findings=(*WIRES, *findings), **values)


def number(key, value, sd=0.01):
    return Finding(key, value, sd, ("left", "right"))


def with_wires(leads=CORRECT, polarity=CORRECT, *findings):
    return Listened(
        "side-a.wav",
        findings=(
            Finding("leads", leads, None, (), "why"),
            Finding("polarity", polarity, None, (), "why"),
            *findings,
        ),
    )


@pytest.fixture(scope="module")
def quiet_log(demo_log):
    """The demo without its recordings."""
    return tuple(event for event in demo_log if not isinstance(event, Listened))


def stage_of(log, *more):
    return STAGES["listen"](fold((*log, *more)))


def test_the_recordings_of_the_demo_survive_a_job_file_and_are_small(demo_log):
    recordings = [event for event in demo_log if isinstance(event, Listened)]
    assert [event.as_found for event in recordings] == [True, False]
    for event in recordings:
        text = step_toml(event)
        assert log_from_toml(text.encode(), "one.toml") == (event,)
        assert from_plain(json.loads(json.dumps(to_plain(event), allow_nan=False))) == event
        assert len(text) < 25_000, "docs/job.md: some 20 kB for twenty bands"
        assert all(len(points) <= MOST_POINTS for curve in event.curves for _, points in curve.series)
        assert event.band_list.count("[[band]]") == 10


def test_a_job_file_keeps_every_letter_when_a_recording_is_added(quiet_log):
    content = b'# mine\n[job]\ntitle = "T"\n\n[[step]]\nlook = { outer = 0.1 }  # by eye'
    event = heard(
        number("azimuth_deg", 0.1), band_list='name = "a \\" b"\n\n[[band]]\n', warnings=("it's \x7f",)
    )
    added = with_step(content, "job.toml", event)
    assert added.startswith(content)
    assert log_from_toml(added, "job.toml")[-1] == event
    inline = b"step = [ { look = { outer = 0.1 } } ]\n"
    with pytest.raises(InputError, match=r"nothing can be added to its steps.*\[\[step\]\]"):
        with_step(inline, "job.toml", event)


def test_a_recording_of_very_many_bands_still_fits_into_one_event():
    from groovewright.job.heard import CURVE_SERIES, Curve
    from groovewright.job.heard_curves import MOST_CURVES, kept_curves
    from groovewright.store.plain import body_of

    points = tuple(-0.0001234 for _ in range(MOST_POINTS))
    series = tuple((name, points) for name in CURVE_SERIES["response"])
    many = [Curve("response", f"band {number}", "left", series) for number in range(300)]
    kept = kept_curves(many, {"band 250", "band 7"})
    assert len(kept) == MOST_CURVES
    assert [curve.band for curve in kept[:3]] == ["band 7", "band 250", "band 0"]
    assert len(body_of(heard(curves=kept, band_list="x" * 60_000))) < 256_000


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ("findings = { balanc_db = 1.0 }", "did you mean 'balance_db'"),
        ("findings = { balance_db = 1.0 }", "balance_db has no balance_db_sd"),
        ("findings = { balance_db = nan, balance_db_sd = 0.1 }", "not a finite number"),
        ("findings = { balance_db = 1.0, balance_db_sd = -0.1 }", "0 or more"),
        ('findings = { leads = "sawpped" }', "did you mean 'swapped'"),
        ('heard_on = "14 March"', "year-month-day"),
        ('curves = [ { kind = "respons", frequency_hz = [1.0] } ]', "did you mean 'response'"),
        ('curves = [ { kind = "turn", turn_deg = [1.0, 2.0], percent = [1.0] } ]', "equally long"),
        ('curves = [ { kind = "turn", percent = [1.0] } ]', "without turn_deg"),
        (f'curves = [ {{ kind = "turn", turn_deg = {[1.0] * 73} }} ]', "1 to 72 points"),
        ("tracking_ability = [ { frequency_hz = 1.0, channel = 'left', bands = [], levels_cm_per_s = [] } ]", "for 0"),
        ("crosstalk = [ { frequency_hz = 1000.0 } ]", "missing"),
        ("samples = [1, 2, 3]", "no key 'samples'"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_recording_is_named(values, said):
    text = f'[[step]]\n[step.listened]\nfile = "a.wav"\n{values}\n'
    with pytest.raises(InputError, match=said):
        log_from_toml(text.encode(), "job.toml")


def test_a_recording_without_a_file_name_is_refused():
    with pytest.raises(InputError, match="file is missing"):
        log_from_toml(b"[[step]]\n[step.listened]\nas_found = true\n", "job.toml")


def test_verdicts_are_those_of_the_reader_and_need_no_file(demo_log):
    event = last_heard(fold(demo_log))
    found = {verdict.key: verdict for verdict in verdicts_of(event)}
    assert found["leads"].state.value == "right"
    assert set(readings_of(event)) <= set(NUMBER_KEYS)
    for key, reading in readings_of(event).items():
        if key in TOLERANCES:
            low, high = TOLERANCES[key].low, TOLERANCES[key].high
            assert found[key].probability == pytest.approx(reading.probability_between(low, high))
    assert set(PUT_RIGHT_AT) - {"leads", "polarity", "tracking_ability"} <= set(TOLERANCES)
    assert set(PUT_RIGHT_AT.values()) <= set(STAGES)
    assert set(NAMES) <= {*NUMBER_KEYS, "leads", "polarity"}


def test_without_a_recording_the_stage_asks_for_one_and_warns(quiet_log):
    report = stage_of(quiet_log)
    assert (report.status, report.sentence) == ("open", NOTHING_HEARD)
    cautions = " ".join(report.cautions)
    assert "start low" in cautions
    assert "Headphones off" in cautions


def test_no_test_record_settles_the_stage_as_not_proved_until_it_is_undone(quiet_log):
    closed = stage_of(quiet_log, ListenClosed())
    assert closed.status == "done"
    assert closed.sentence == "Not proved by a recording: no test recording at hand."
    assert closed.values["proved"] is False
    assert stage_of(quiet_log, ListenClosed(), Undone()).status == "open"
    assert stage_of(quiet_log, ListenClosed(), Undone(), Redone()).status == "done"
    assert stage_of(quiet_log, ListenClosed(), heard(number("azimuth_deg", 2.0))).status == "open"


def test_a_recording_as_found_does_not_settle_the_stage(quiet_log):
    report = stage_of(quiet_log, heard(number("azimuth_deg", 1.7), as_found=True))
    assert report.status == "open"
    assert "lean +1.700 deg" in dict(report.rows)["as found"]


def test_a_recording_within_tolerance_proves_the_job(quiet_log):
    report = stage_of(quiet_log, heard(number("azimuth_deg", 0.1), number("speed_error_percent", 0.05)))
    assert report.status == "done"
    assert "4 of 4 findings are within their tolerance, leads and coils among them" in report.sentence
    assert report.values["heard"]["azimuth_deg_sd"] == 0.01
    assert dict(report.rows)["lean"] == "+0.100 deg +- 0.010"


@pytest.mark.parametrize(
    ("event", "move", "stage"),
    [
        (with_wires(SWAPPED, REVERSED, number("azimuth_deg", 3.0)), "exchange the pairs", "mount"),
        (with_wires(CORRECT, REVERSED, number("azimuth_deg", 3.0)), "two leads of either pair", "mount"),
        (heard(number("azimuth_deg", 3.0), number("speed_error_percent", 2.0)), "counter-clockwise", "level"),
        (heard(number("azimuth_deg", -3.0)), "3.0 degrees clockwise", "level"),
        (heard(number("tracking_error_deg", 5.0)), "Square the cartridge", "square"),
    ],
)
def test_the_first_thing_wrong_is_the_next_move_and_names_its_stage(quiet_log, event, move, stage):
    report = stage_of(quiet_log, event)
    assert report.status == "open"
    assert move in report.sentence
    assert report.sentence.endswith(f"(Stage {stage}.)")
    assert stage_of(quiet_log, event, ListenClosed("the owner leaves it")).status == "done"


def test_what_no_bench_can_put_right_is_a_warning_not_a_hurdle(quiet_log):
    report = stage_of(quiet_log, heard(number("eccentricity_mm", 0.4), number("rumble_weighted_db", -30.0)))
    assert report.status == "done"
    assert any("another pressing" in warning for warning in report.warnings)
    assert "Outside: record off centre, rumble, weighted" in report.sentence


def test_a_ladder_asks_for_anti_skating_at_the_level_stage(quiet_log):
    ladder = LadderHeard(
        300.0, "lateral", ("a", "b", "c"), (10.0, 15.0, 20.0), (0.1, 0.2, 0.3), (0.01,) * 3,
        (0.1, 3.0, 9.0), (0.01,) * 3,        None, 15.0, 20.0, 10.0,
    )  # fmt: skip
    report = stage_of(quiet_log, heard(tracking_ability=(ladder,)))
    assert report.status == "open"
    assert "more anti-skating" in report.sentence
    assert report.sentence.endswith("(Stage level.)")


@pytest.mark.parametrize("change", [Moved(0.2, 0.0), WeightTurned(0.1), AntiskatingSet("dial at 2")])
def test_what_was_set_after_a_recording_asks_for_another(quiet_log, change):
    right = heard(number("azimuth_deg", 0.0))
    assert "record again" in stage_of(quiet_log, right, change).sentence
    assert stage_of(quiet_log, right, change).status == "open"
    assert stage_of(quiet_log, right, change, right).status == "done"
    assert stage_of(quiet_log, right, Moved(0.0, 0.0)).status == "done"


def test_a_lean_that_the_mount_fixes_holds_nothing_up(quiet_log):
    arm = replace(fold(quiet_log).arm, headshell="plug-in", effective_length_mm=239.0, offset_angle_deg=23.0)
    assert isinstance(arm, Arm)
    report = stage_of(quiet_log, Described("arm", arm), heard(number("azimuth_deg", 3.0)))
    assert report.status == "done"
    assert any("leans" in warning for warning in report.warnings)


def test_the_level_stage_takes_the_recordings_crosstalk_with_its_phase(demo_log, quiet_log):
    report = STAGES["level"](fold(demo_log))
    truth_deg = 0.25  # simulate/demo_recording.py, with the usual electrical crosstalk beside it
    assert abs(report.values["azimuth_deg"] - truth_deg) < 2.0 * report.values["azimuth_sd_deg"]
    assert "by the recording fernhill-as-set.wav" in dict(report.rows)["crosstalk"]
    assert STAGES["level"](fold(quiet_log)).values["azimuth_deg"] is None
    # what is read later, by levels, counts in its place
    later = STAGES["level"](fold((*demo_log, CrosstalkRead(-28.0, -28.0))))
    assert dict(later.rows)["crosstalk"] == "L into R -28.0 dB, R into L -28.0 dB, +- 0.5"


def test_the_match_stage_shows_what_was_heard_beside_what_it_predicts(demo_log):
    match = STAGES["match"](fold(demo_log))
    heard_hz, sd = match.values["resonance_vertical_heard_hz"], match.values["resonance_vertical_heard_sd_hz"]
    assert heard_hz == pytest.approx(9.0, abs=0.02 * 9.0), "2 % of what the forward model was given"
    assert sd > 0.0
    assert dict(match.rows)["heard, vertical"].startswith("9.00 Hz")
    assert "predicted 8.9 Hz" in dict(STAGES["listen"](fold(demo_log)).rows)["resonance heard, vertical"]


def test_the_response_is_set_against_the_load_of_the_match_stage(demo_log):
    # the demo's sound went through that very load: nothing but the resonance's foot is left above 60 Hz
    import numpy as np

    from groovewright.job.loading import load_curve_db

    state = fold(demo_log)
    for response in responses_of(last_heard(state)):
        rest = response.against(*load_curve_db(state.cartridge_in, state.phono))
        inside = (rest.frequency_hz > 60.0) & (rest.frequency_hz < 14_000.0)
        curve = rest.left_db if rest.left_db is not None else rest.right_db
        assert np.abs(curve[inside]).max() < 0.25
    assert set(STAGES["listen"](state).values["against_load_db"]) == {"left", "right"}


def test_as_found_and_as_set_are_told_apart(demo_log):
    state = fold(demo_log)
    assert heard_as_found(state).file == "fernhill-as-found.wav"
    assert last_heard(state).file == "fernhill-as-set.wav"
    assert plan(state).next_stage == "square"


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        (Reading(9.412, 0.02), "9.412 Hz +- 0.020"),
        (Reading(9.4, 0.0), "9.40 Hz +- 0.01"),
        (Reading(-58.9, 0.66), "-58.90 Hz +- 0.66"),
        (Reading(120.0, 33.0), "120.0 Hz +- 33.0"),
    ],
)
def test_a_number_is_written_with_the_digits_that_its_uncertainty_bears(reading, said):
    assert number_text(reading, "Hz") == said
