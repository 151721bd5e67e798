"""Photographs as steps of a job: the estimator takes them with their own uncertainty."""

from dataclasses import dataclass
from functools import partial

import pytest

from groovewright.geometry import alignment_for_nulls
from groovewright.job import Described, fold, from_plain, to_plain
from groovewright.job.document import log_from_toml
from groovewright.job.events import AntiskatingSet, LeanRead, Looked, RakeRead, Weighed
from groovewright.job.photo import UNCHECKED, photo_lean, photo_look, photo_rake
from groovewright.job.records import Aim, Arm
from groovewright.job.stages.level import level
from groovewright.quantities import CannotBeDoneError, InputError, Reading
from groovewright.sheets.identity import SheetIdentity
from groovewright.simulate.bench import by_photo, photo_errors, play_many, play_with_tool
from groovewright.squaring import Goal, Hand
from groovewright.vision import Sight
from groovewright.vision.flag import FlagView

STATE = fold((Described("arm", Arm(name="Fernhill F9", pivot_to_spindle_mm=222.0)),))
IDENTITY = SheetIdentity("two-point", 120.89, 66.0)


@dataclass(frozen=True)
class Read:
    """As much of a photo's reading as a job looks at."""

    null: str = "outer"
    identity: SheetIdentity | None = IDENTITY
    sights: tuple[Sight, ...] = (Sight("flag", 0.31, 0.04, 0.0),)
    warnings: tuple[str, ...] = ()
    method: str = "flag"
    flag: FlagView | None = None


def test_a_photo_makes_a_look_with_its_own_uncertainty_and_says_what_it_was_read_from():
    look, warnings = photo_look([Read()], STATE)
    assert (look.outer, look.inner, look.reading_sd_deg) == (0.31, None, 0.04)
    assert look.read_from == "a photo, flag"
    assert warnings == ()
    assert from_plain(to_plain(look)) == look


def test_photos_of_one_state_are_fused_into_one_look():
    inner = SheetIdentity("two-point", 66.0, 120.89)
    pair = [Read("inner", inner, (Sight("flag", yaw, 0.06, 0.0),)) for yaw in (-0.50, -0.42)]
    look, _ = photo_look(pair, STATE)
    assert look.inner == pytest.approx(-0.46)
    assert look.reading_sd_deg == pytest.approx(0.06 / 2**0.5, abs=1e-4)  # mean of two independent readings
    assert look.read_from == "2 photos, flag"


def test_a_sheet_for_other_nulls_is_refused_by_both_pairs_of_numbers():
    other = Read(identity=SheetIdentity("two-point", 116.60, 63.10))
    with pytest.raises(
        CannotBeDoneError, match=r"at 63.10 and 116.60 mm, and this job's are at 66.00 and 120.89"
    ):
        photo_look([other], STATE)
    look, warnings = photo_look([Read(identity=None)], STATE)
    assert look.outer == 0.31
    assert warnings == (UNCHECKED,)
    shifted = fold(
        (
            Described("arm", Arm(pivot_to_spindle_mm=222.0)),
            Described("aim", Aim(null_inner_mm=63.1, null_outer_mm=116.6)),
        )
    )
    assert photo_look([other], shifted)[0].outer == 0.31


def test_photos_of_both_nulls_are_not_one_state():
    with pytest.raises(InputError, match="different nulls"):
        photo_look([Read(), Read("inner", SheetIdentity("two-point", 66.0, 120.89))], STATE)


def test_old_looks_still_load_and_job_files_say_where_a_look_came_from():
    assert from_plain({"kind": "look", "outer": 0.2, "inner": None, "reading_sd_deg": None}) == Looked(0.2)
    text = b"""[[step]]
look = { outer = 0.42, reading_sd_deg = 0.05, read_from = "a photo, flag" }
[[step]]
lean = { lean_deg = 0.8, sd_deg = 0.1, read_from = "a photo" }
"""
    assert log_from_toml(text, "job.toml") == (
        Looked(0.42, None, 0.05, "a photo, flag"), LeanRead(0.8, 0.1, "a photo"),
    )  # fmt: skip


def test_rake_goes_in_as_the_standard_counts_it():
    # 92 degrees of the trade are a rake of -2 (docs/mechanics.md)
    assert photo_rake(Reading(92.0, 0.3)) == RakeRead(-2.0, 0.3, None, "a photo")


@pytest.mark.parametrize(("lean", "verdict", "said"), [
    (Reading(0.1, 0.12), "upright", "as well as they were read"),
    (Reading(1.2, 0.15), "leans", "leans 1.2 deg clockwise"),
    (Reading(-1.2, 0.15), "leans", "farther from the spindle"),
])  # fmt: skip
def test_the_body_s_lean_is_judged_where_no_crosstalk_was_read(lean, verdict, said):
    arm = Described("arm", Arm(pivot_to_spindle_mm=222.0))
    report = level(fold((arm, Weighed(1.8), AntiskatingSet("dial at 1.8"), photo_lean(lean))))
    assert report.values["azimuth_verdict"] == verdict
    assert report.values["azimuth_deg"] == lean.value
    assert any("from its reflection" in value for _, value in report.rows)
    assert said in report.sentence


def test_with_the_camera_s_reading_a_bench_is_square_after_one_move_and_three_at_the_most():
    """With the errors of rendered photographs of the flag; moves of 0.1 mm and 0.1 degree."""
    read = by_photo(photo_errors())
    goal = Goal(0.25, 0.1, Hand(0.1, 0.1))
    aim = alignment_for_nulls(222.0, 65.998, 120.891)
    games = play_many(partial(play_with_tool, read=read), aim, goal, count=200, seed=5)
    moves = sorted(game.moves for game in games)
    assert moves[100] <= 1
    assert moves[190] <= 3
    assert sum(game.error_deg <= 0.25 for game in games) / len(games) >= 0.95
