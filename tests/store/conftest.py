"""Every test of the store runs on SQLite and on a real PostgreSQL, each with a site of its own."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from pathlib import Path

import pytest

from floorclock.store.store import Store, open_store
from tests.store.postgres_server import Server, missing, running_server


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One server for all tests of a worker."""
    if words := missing():
        pytest.skip(words)
    with running_server() as running:
        yield running


@pytest.fixture(scope="session")
def shared_database(server: Server) -> str:
    """A database in which each test has a site of its own: making one takes longer than most tests."""
    return server.new_database()


@pytest.fixture(params=["sqlite", "postgresql"])
def kind(request: pytest.FixtureRequest) -> str:
    found: str = request.param
    return found


@pytest.fixture
def url(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A store that others may use too: sites keep it apart."""
    if kind == "sqlite":
        return f"sqlite:///{tmp_path / 'store.sqlite3'}"
    shared: str = request.getfixturevalue("shared_database")
    return shared


@pytest.fixture
def fresh_url(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A store that is not there yet."""
    if kind == "sqlite":
        return f"sqlite:///{tmp_path / 'fresh.sqlite3'}"
    running: Server = request.getfixturevalue("server")
    return running.new_database()


@pytest.fixture
def site() -> str:
    return f"site {secrets.token_hex(4)}"


@pytest.fixture
def store(url: str, site: str) -> Iterator[Store]:
    with open_store(url, site) as opened:
        yield opened
