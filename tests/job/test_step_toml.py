"""A step as lines of a job file: what is written is read back as the same step."""

import pytest

from groovewright.job.document import log_from_toml
from groovewright.job.events import (
    AntiskatingSet,
    Checked,
    CrosstalkRead,
    LeanRead,
    Looked,
    Moved,
    RakeRead,
    SpeedCounted,
    TiltRead,
    Weighed,
    WeightTurned,
)
from groovewright.job.step_toml import step_toml, with_step
from groovewright.quantities import InputError

STEPS = (
    Looked(0.1234567, "square", 0.05, 'a "photo"\\'), Moved(-3.5, 0.0), Checked("guard-on"), Weighed(1.83, -0.5),
    WeightTurned(0.25), CrosstalkRead(-28.5, -30.0), RakeRead(-1.5, 0.25, None, "a photo"), LeanRead(0.3, 0.1),
    AntiskatingSet("dial at 1.8"), SpeedCounted("33", 4.0, drift="with"), TiltRead(0.1, -0.2),
)  # fmt: skip


@pytest.mark.parametrize("step", STEPS, ids=lambda step: type(step).__name__)
def test_a_step_comes_back_from_its_lines(step):
    assert log_from_toml(step_toml(step).encode(), "job.toml") == (step,)


def test_adding_a_step_changes_nothing_that_was_there():
    written = b'# by hand\n[job]\ntitle = "Fernhill 3"'
    added = with_step(written, "job.toml", Looked(0.5, None, 0.05, "a photo"))
    assert added.startswith(written + b"\n")
    assert log_from_toml(added, "job.toml")[-1] == Looked(0.5, None, 0.05, "a photo")


def test_a_file_that_nothing_can_be_added_to_says_so():
    with pytest.raises(InputError, match=r"write each under its own \[\[step\]\]"):
        with_step(b"step = [{ weighed = { force_gf = 1.8 } }]\n", "job.toml", Weighed(1.9))
