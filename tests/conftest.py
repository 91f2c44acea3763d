"""What every test gets: a home of its own, no sound from the loudspeakers, and quiet property tests."""

from __future__ import annotations

from pathlib import Path

import miniaudio
import pytest
from hypothesis import settings
from hypothesis.configuration import set_hypothesis_home_dir

from tests.floorclock_command import no_device

settings.register_profile("floorclock", deadline=None, database=None, print_blob=True, max_examples=50)
settings.load_profile("floorclock")


def pytest_configure(config: pytest.Config) -> None:
    """Whatever the property tests keep goes into the test cache, so that a run leaves nothing else behind."""
    cache = getattr(config, "cache", None)
    if cache is not None:
        set_hypothesis_home_dir(str(cache.mkdir("hypothesis")))


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty data folder: no test sees or changes the records of whoever runs it."""
    folder = tmp_path / "home"
    monkeypatch.setenv("FLOORCLOCK_HOME", str(folder))
    for variable in ("FLOORCLOCK_STORE", "FLOORCLOCK_SITE"):
        monkeypatch.delenv(variable, raising=False)
    return folder


@pytest.fixture(autouse=True)
def silence(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test plays through a real device: opening one fails, as on a machine without sound.

    A test of real sound overrides this fixture in its module.
    """
    monkeypatch.setattr(miniaudio.PlaybackDevice, "__init__", no_device)
