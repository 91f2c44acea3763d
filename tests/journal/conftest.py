"""A journal to be."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Alone in its folder."""
    return tmp_path / "20261125-1831-7f3a.jsonl"
