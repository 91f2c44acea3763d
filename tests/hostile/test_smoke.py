"""A few cases of each attack that needs no terminal and no server; `make hostile` runs thousands."""

from __future__ import annotations

import pytest

from tests.hostile.files import PURE
from tests.hostile.harness import run

CASES = {"journal_values": 4, "sounds": 8, "archives": 8}
SEED = 1


@pytest.mark.parametrize("name", PURE)
def test_what_is_wrong_with_a_file_costs_that_file_alone(name: str) -> None:
    broken = "\n".join(filter(None, run(PURE[name], name, SEED, range(CASES.get(name, 12)))))
    assert not broken, broken
