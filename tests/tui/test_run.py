"""What the wall hands to a floor besides its class."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest

from floorclock.plan.work import Unit
from floorclock.tui.floor.view import Shows
from floorclock.tui.run import _prior, _remember_view, _shown_first
from tests.opened_classes import MovingWallClock, plan_at, started


def test_a_floor_is_told_of_earlier_classes_and_never_of_its_own(tmp_path: Path) -> None:
    plan, clock = plan_at(tmp_path / "plan"), MovingWallClock()
    for classes in range(2):
        one = started(plan, tmp_path / "home", clock=clock)
        assert {key[:2] for key in _prior(one.opened)} == ({("Ilka", "step-up")} if classes else set())
        one.begin()
        one.wait(120_000)
        one.begin()
        one.wait(10_000 + 30_000)
        one.tap("Ilka")
        one.wait(60_000)
        one.opened.close()
        clock.move_ms(60 * 60_000)
    again = started(plan, tmp_path / "home", clock=clock)
    assert _prior(again.opened)["Ilka", "step-up", Unit.REPS].classes == 2


@pytest.mark.parametrize(
    ("planned", "remembered", "first"),
    [(None, None, "coach"), (None, "class", "class"), ("coach", "class", "coach"), ("class", None, "class")],
)
def test_a_floor_shows_first_what_the_plan_says_or_else_what_was_shown_last(
    tmp_path: Path, planned: Literal["class", "coach"] | None, remembered: Shows | None, first: str
) -> None:
    if remembered is not None:
        _remember_view(tmp_path, remembered)
    session = plan_at(tmp_path / "plan").session
    assert _shown_first(replace(session, view=planned), tmp_path) == first


def test_importing_the_floor_brings_no_arithmetic_along() -> None:
    program = "import floorclock.tui.floor.app, sys; print('numpy' in sys.modules, 'floorclock.tui.floor.dialogs' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.split() == ["False", "False"]
