"""What every test of the commands gets."""

from __future__ import annotations

import pytest

from tests.commands import Shell


@pytest.fixture
def shell(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shell:
    """Types commands in this process, into the store of the data folder."""
    for variable in ("FLOORCLOCK_STORE", "FLOORCLOCK_SITE"):
        monkeypatch.delenv(variable, raising=False)
    return Shell(monkeypatch, capsys)
