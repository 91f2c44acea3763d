"""Commands, typed as a coach types them."""

from __future__ import annotations

import pytest

from tests.commands import Shell, typed_here


@pytest.fixture
def shell() -> Shell:
    """Types commands in this process."""
    return typed_here
