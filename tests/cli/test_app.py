"""Every command alike: short help, an example that works, 80 columns, one JSON object, and how errors end."""

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from importlib import resources
from pathlib import Path

import click
import pytest

from groovewright.audio import parse_band_list
from groovewright.cli import main
from groovewright.cli.app import COMMANDS, root
from groovewright.cli.demo import DEMO_PHOTOS
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.simulate.recording import Flaws, record, write_recording

FULL = Path("/dev/full")

SIDE_A = """
name = "a tone in each channel"
[[band]]
name = "left"
kind = "tone"
channel = "left"
start_s = 0.5
end_s = 4.5
frequency_hz = 1000
[[band]]
name = "right"
kind = "tone"
channel = "right"
start_s = 5.0
end_s = 9.0
frequency_hz = 1000
"""

ENDING = [name for name in COMMANDS if name != "serve"]
"""Commands whose examples can be run here: the bench page does not end (see test_serve.py)."""


def examples(command):
    """Return the examples in a command's help, each as a list of arguments after `groovewright`."""
    lines = re.sub(r"\\\n\s*", "", help_of(command)).splitlines()
    return [shlex.split(line)[1:] for line in lines if line.strip().startswith("groovewright ")]


def help_of(command):
    found = root.get_command(click.Context(root), command)
    with click.Context(found, info_name=command, max_content_width=80) as context:
        return found.get_help(context)


@pytest.fixture
def bench_folder(here, demo_job):
    """A folder with the files that examples speak of."""
    (here / "my-job.toml").write_bytes(demo_job)
    (here / "side-a.toml").write_text(SIDE_A, encoding="utf-8")
    sound = record(parse_band_list(SIDE_A), Flaws(), rate_hz=44_100)
    for name in ("side-a.wav", "clean.wav"):
        write_recording(here / name, sound, rate_hz=44_100)
    for name in DEMO_PHOTOS:
        (here / name).write_bytes(resources.files("groovewright.demo").joinpath(name).read_bytes())
    return here


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_short_help_and_an_example_within_80_columns(name):
    assert re.fullmatch(r"[A-Z].{20,72}\.", COMMANDS[name])
    text = help_of(name)
    assert examples(name), f"the help of {name} has no example"
    assert all(example[0] == name for example in examples(name))
    assert max(map(len, text.splitlines())) <= 80
    # one sentence at least that says what it does
    assert re.search(r"[A-Z][^.]{15,}\.", text.split("Example")[0])


@pytest.mark.parametrize("name", ENDING)
def test_every_example_works_as_it_stands_within_80_columns(name, run, bench_folder):
    for example in examples(name):
        code, text, errors = run(*example)
        assert (code, errors) == (0, "")
        assert text.strip()
        assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("name", ENDING)
def test_every_command_prints_one_json_object_with_json_and_nothing_else(name, run, bench_folder):
    code, text, errors = run(*examples(name)[0], "--json")
    assert (code, errors) == (0, "")
    values = json.loads(text)
    assert isinstance(values, dict)
    assert len(values) >= 3
    # JSON has no NaN and no infinity (RFC 8259, 6); Python would write them
    assert not re.search(r"\b(NaN|Infinity)\b", text)


def test_the_help_lists_every_command_without_importing_any():
    code = (
        "import sys; from groovewright.cli import main\n"
        "try: main(['--help'])\n"
        "except SystemExit: pass\n"
        "print(*sorted(name for name in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for name, line in COMMANDS.items():
        assert re.search(rf"^  {name} +{re.escape(line[:20])}", done.stdout, re.MULTILINE)
        assert f" groovewright.cli.{name} " not in done.stdout
    for heavy in ("scipy", "matplotlib", "typst", "rich"):
        assert f" {heavy} " not in done.stdout


def test_an_unknown_command_names_the_nearest_and_all_that_there_are(run):
    code, text, errors = run("sqare")
    assert (code, text) == (2, "")
    assert "Did you mean 'square'?" in errors
    assert all(name in errors for name in COMMANDS)
    assert errors.count("\n") == 1


def test_an_unknown_option_names_the_nearest(run):
    code, _, errors = run("geometry", "--pivot-to-spindl", "222")
    assert code == 2
    assert "--pivot-to-spindle" in errors
    assert errors.count("\n") == 1


def test_nothing_asked_is_answered_with_the_help(run):
    code, text, errors = run()
    assert (code, text) == (2, "")
    assert errors.startswith("Usage: groovewright")
    assert all(f"  {name} " in errors for name in COMMANDS)


def test_the_version_is_printed(run):
    code, text, _ = run("--version")
    assert code == 0
    assert re.fullmatch(r"groovewright \d+\.\d+\.\d+\n", text)


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (InputError("wrong\nin\x1b[31m two lines"), 2, "groovewright: wrong in [31m two lines\n"),
        (CannotBeDoneError("no way"), 1, "groovewright: no way\n"),
        (click.UsageError("usage"), 2, "groovewright: usage\n"),
        (click.Abort(), 130, "groovewright: interrupted; nothing further was written\n"),
        (KeyboardInterrupt(), 130, "groovewright: interrupted; nothing further was written\n"),
        (OSError(28, "No space left on device"), 2, "groovewright: what is printed can't be read or written: "
         "No space left on device\n"),
        (PermissionError(13, "Permission denied", "x.pdf"), 2, "groovewright: x.pdf can't be read or written: "
         "Permission denied\n"),
    ],
)  # fmt: skip
def test_every_kind_of_error_has_its_exit_code_and_one_line(monkeypatch, run, error, code, line):
    def fail(*_, **__):
        raise error

    monkeypatch.setattr(root, "invoke", fail)
    found, text, errors = run("geometry", "--pivot-to-spindle", "222")
    assert (found, text) == (code, "")
    assert errors.lstrip("\n") == line


def test_a_defect_is_not_hidden_behind_an_exit_code(monkeypatch):
    def fail(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(root, "invoke", fail)
    with pytest.raises(ZeroDivisionError):
        main(["geometry", "--pivot-to-spindle", "222"])


def start(*arguments, **settings):
    return subprocess.Popen(
        [sys.executable, "-m", "groovewright", *arguments], stderr=subprocess.PIPE, **settings
    )


def test_a_closed_pipe_ends_it_silently():
    read_end, write_end = os.pipe()
    os.close(read_end)
    with start("geometry", "--pivot-to-spindle", "222", "--why", stdout=write_end) as process:
        os.close(write_end)
        _, errors = process.communicate(timeout=30)
    assert (process.returncode, errors) == (0, b"")


@pytest.mark.skipif(not FULL.exists(), reason="needs /dev/full")
def test_a_full_disk_is_told_in_one_line():
    with (
        FULL.open("wb") as full,
        start("geometry", "--pivot-to-spindle", "222", stdout=full) as process,
    ):
        _, errors = process.communicate(timeout=30)
    assert process.returncode == 2
    assert errors.count(b"\n") == 1
    assert b"No space left" in errors


def test_an_interrupt_ends_it_with_130_and_one_line(tmp_path):
    # a job file that never comes: a pipe that nobody writes to
    pipe = tmp_path / "job.toml"
    os.mkfifo(pipe)

    # a program that was started in the background by a shell is born with interrupts ignored
    def listen_to_interrupts():
        signal.signal(signal.SIGINT, signal.default_int_handler)

    with start("plan", str(pipe), stdout=subprocess.PIPE, preexec_fn=listen_to_interrupts) as process:
        # opening the other end returns as soon as the program has opened its own
        writer = os.open(pipe, os.O_WRONLY)
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        try:
            text, errors = process.communicate(timeout=30)
        finally:
            process.kill()
            os.close(writer)
    assert (process.returncode, text) == (130, b"")
    assert errors.strip() == b"groovewright: interrupted; nothing further was written"
