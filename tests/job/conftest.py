from importlib import resources

import pytest

from groovewright.job import log_from_toml


@pytest.fixture(scope="session")
def demo_text():
    """The bundled demo job."""
    return resources.files("groovewright.demo").joinpath("fernhill.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def demo_log(demo_text):
    return log_from_toml(demo_text.encode(), "fernhill.toml")
