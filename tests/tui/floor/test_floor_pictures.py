"""Pictures of whole floors, compared with those that somebody looked at and accepted."""

from __future__ import annotations

from typing import Protocol

import pytest
from textual.pilot import Pilot

from tests.tui.floor.sample_views import floor_view
from tests.tui.floor.stage_app import StageApp


class Compare(Protocol):
    """What the `snap_compare` fixture is."""

    def __call__(self, app: StageApp, *, terminal_size: tuple[int, int], run_before: object) -> bool: ...


@pytest.fixture
def compare(snap_compare: Compare) -> Compare:
    return snap_compare


async def settle(pilot: Pilot[None]) -> None:
    await pilot.pause()


def test_a_class_at_work_on_a_wall(compare: Compare) -> None:
    """First the yellow 0:27, then the moves with their targets in letters, then COACH in vermillion, then the board."""
    assert compare(StageApp(floor_view(24)), terminal_size=(160, 45), run_before=settle)


def test_a_rest_on_a_small_screen(compare: Compare) -> None:
    """Striped blue digits and the word REST; nobody is marked as at work; the board is on its first page of two."""
    assert compare(StageApp(floor_view(24, "rest", lane=True)), terminal_size=(80, 24), run_before=settle)


def test_a_part_explained_before_it_starts(compare: Compare) -> None:
    """GET READY in green; the brief below it over all the width, its cautions with a mark; then the board."""
    assert compare(StageApp(floor_view(14, "ready", brief=True)), terminal_size=(100, 30), run_before=settle)
