import json
from importlib import resources

import pytest

from groovewright.cli import main


@pytest.fixture
def run(capsys):
    """Run the command line; return exit code, standard output and standard error."""

    def go(*arguments):
        with pytest.raises(SystemExit) as stop:
            main([str(argument) for argument in arguments])
        printed = capsys.readouterr()
        return stop.value.code, printed.out, printed.err

    return go


@pytest.fixture
def run_json(run):
    """Run a command that succeeds with ``--json``; return what it printed."""

    def go(*arguments):
        code, out, err = run(*arguments, "--json")
        assert (code, err) == (0, "")
        return json.loads(out)

    return go


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty folder to work in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def demo_job():
    """The bundled demo job as bytes."""
    return resources.files("groovewright.demo").joinpath("fernhill.toml").read_bytes()
