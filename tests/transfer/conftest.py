"""A filled data folder, made once for all tests of a run and copied for each."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.transfer.records import records_at


@pytest.fixture(scope="session")
def _made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("records")
    return records_at(folder / "home", folder / "plans")


@pytest.fixture
def records(_made: Path, tmp_path: Path) -> Path:
    """A data folder with something of everything."""
    return Path(shutil.copytree(_made, tmp_path / "records"))
