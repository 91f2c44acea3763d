"""A store, and a season that many tests read."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.store.store import Store, open_store
from tests.insight.season import BRIDGES, LOCKS, Person, season
from tests.store.conftest import server, shared_database, site, store, url

__all__ = ["server", "shared_database", "site", "store", "url"]

PEOPLE = {
    "Ilka": Person(weekly=-0.012, pace=1.05),
    "Bram": Person(pace=1.2, drift=0.03, effort=None),
    "Noor": Person(),
    "Sefa": Person(pace=1.1, weekly=0.012, drift=0.02),
    "Runa": Person(pace=1.05, not_finished=frozenset({4})),
    "Teo": Person(pace=0.9),
}
WEEKS = 14
Shared = tuple[Store, list[str]]
"""A store and the ids of its classes."""


@pytest.fixture
def kind() -> str:
    """The tests of the store ask both databases; what follows from their answers is the same."""
    return "sqlite"


@pytest.fixture
def own(tmp_path: Path) -> Iterator[tuple[Store, Path]]:
    """A store of a test's own, and the data folder that it is filled from."""
    with open_store(f"sqlite:///{tmp_path / 'own.sqlite3'}", "home") as opened:
        yield opened, tmp_path / "own"


@pytest.fixture(scope="session")
def shared_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of `shared`."""
    return tmp_path_factory.mktemp("season") / "home"


@pytest.fixture(scope="session")
def shared(shared_home: Path) -> Iterator[Shared]:
    """Fourteen weeks of two sessions in turn; nobody may write to it. With the ids of the classes."""
    with open_store(f"sqlite:///{shared_home.parent / 'store.sqlite3'}", "home") as opened:
        yield opened, season(shared_home, opened, PEOPLE, WEEKS, (LOCKS, BRIDGES))
