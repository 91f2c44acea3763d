"""Pictures of whole screens, compared with those that somebody looked at and accepted."""

from __future__ import annotations

from typing import Protocol

import pytest
from textual.pilot import Pilot

from floorclock.tui.review.app import ReviewApp
from tests.tui.review.sample_reviews import RememberedSource, as_told, big_class, small_class


class Compare(Protocol):
    """What the `snap_compare` fixture is."""

    def __call__(self, app: ReviewApp, *, terminal_size: tuple[int, int], run_before: object) -> bool: ...


@pytest.fixture
def compare(snap_compare: Compare) -> Compare:
    return snap_compare


def after(*keys: str) -> object:
    async def run(pilot: Pilot[int]) -> None:
        await pilot.pause()
        await pilot.press(*keys)
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()

    return run


def app(source: RememberedSource) -> ReviewApp:
    return ReviewApp(source.digest(), source)


def test_the_class_at_a_glance_on_a_wide_screen(compare: Compare) -> None:
    """Left the parts with their stations, right who to talk to; signs before every flag."""
    assert compare(app(RememberedSource(as_told(small_class()))), terminal_size=(160, 45), run_before=after())


def test_the_rest_picture_on_a_small_screen(compare: Compare) -> None:
    """Plates with ! where the rest was under the margin, / and dots elsewhere; the chosen name stands out. The last rounds."""
    assert compare(
        app(RememberedSource(as_told(big_class(12, 16)))), terminal_size=(80, 24), run_before=after("2", "down", *["right"] * 9)
    )


def test_an_athlete_with_rounds_to_come(compare: Compare) -> None:
    """Full points for splits, open ones with a bar for rounds to come, a line for the margin; the table below says the same."""
    assert compare(
        app(RememberedSource(as_told(big_class(9, 6, run_of=3), (4, 5, 6)))),
        terminal_size=(160, 45),
        run_before=after("3", *["right"] * 8),
    )
