"""Make the demo's recordings, have them heard, and write what they prove into the demo job file.

Run it after a change of the reader or of the forward model that a test of the demo job reports:
``.venv/bin/python tools/remake_demo_recordings.py``.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

from groovewright.audio import assess, hear_recording
from groovewright.job.heard import Listened
from groovewright.job.recording import listened_from
from groovewright.job.step_toml import step_toml
from groovewright.simulate.demo_recording import RATE_HZ, demo_bands, demo_recording
from groovewright.simulate.recording import write_recording

JOB = Path(__file__).parents[1] / "src" / "groovewright" / "demo" / "fernhill.toml"
COMMENT = "# What 'groovewright listen' heard{}: nobody types this.\n"
STEP = re.compile(
    r"(?:# What 'groovewright listen' heard[^\n]*\n)?\[\[step\]\]\n\[step\.listened\]\n.*?(?=\[\[step\]\]|\Z)",
    re.S,
)


def heard(*, as_found: bool) -> Listened:
    """Return what the demo's recording proves."""
    name = "fernhill-as-found.wav" if as_found else "fernhill-as-set.wav"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        write_recording(path, demo_recording(as_found=as_found), rate_hz=RATE_HZ)
        return listened_from(assess(hear_recording(path, demo_bands())), as_found=as_found)


def main() -> None:
    """Write both steps into the job file, each in its place."""
    text = STEP.sub("", JOB.read_text(encoding="utf-8"))
    found = COMMENT.format(" before anything was changed") + step_toml(heard(as_found=True))
    after = COMMENT.format(" after the move") + step_toml(heard(as_found=False))
    first, second = (
        '[[step]]\nchecked = { what = "leads-off" }',
        "[[step]]\nlook = { outer = -0.2, inner = 0.6 }",
    )
    if first not in text or second not in text:
        sys.exit(f"{JOB}: its steps are not those that this was written for")
    text = text.replace(first, f"{found}\n{first}").replace(second, f"{after}\n{second}")
    JOB.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
