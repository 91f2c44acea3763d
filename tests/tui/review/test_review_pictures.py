"""Pictures of whole screens, compared with those that somebody looked at and accepted."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from textual.pilot import Pilot

from floorclock.digest.class_digest import ClassDigest
from floorclock.tui.review.app import ReviewApp
from tests.tui.review.sample_reviews import RememberedSource, as_told, big_class, small_class


@pytest.fixture
def compare(snap_compare: Callable[..., bool]) -> Callable[..., bool]:
    """Compares the review of a class, on a screen of some size, after some keys."""

    def compared(found: ClassDigest, size: tuple[int, int], *keys: str) -> bool:
        async def run(pilot: Pilot[int]) -> None:
            await pilot.pause()
            await pilot.press(*keys)
            await pilot.app.workers.wait_for_complete()
            await pilot.pause()

        return snap_compare(ReviewApp(found, RememberedSource()), terminal_size=size, run_before=run)

    return compared


def test_the_class_at_a_glance_on_a_wide_screen(compare: Callable[..., bool]) -> None:
    """Left the parts with their stations, right who to talk to; signs before every flag."""
    assert compare(as_told(small_class()), (160, 45))


def test_the_rest_picture_on_a_small_screen(compare: Callable[..., bool]) -> None:
    """Plates with ! where the rest was under the margin, / and dots elsewhere; the chosen name stands out. The last rounds."""
    assert compare(as_told(big_class(12, 16)), (80, 24), "2", "down", *["right"] * 9)


def test_an_athlete_with_rounds_to_come(compare: Callable[..., bool]) -> None:
    """Full points for splits, open ones with a bar for rounds to come, a line for the margin; the table below says the same."""
    assert compare(as_told(big_class(9, 6, run_of=3), (4, 5, 6)), (160, 45), "3", *["right"] * 8)
