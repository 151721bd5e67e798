"""What holds for every test: no test may touch the person's own record."""

import platformdirs
import pytest


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path, monkeypatch):
    """Keep the user's data directory inside the test's own folder."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: tmp_path / "data" / "groovewright")
