"""The brief on the wall: parts by key, and a clock of three minutes that is read, not counted."""

from __future__ import annotations

import pytest

from floorclock.clock.state import new_state
from floorclock.tui.brief import BriefApp, BriefClock, brief_words
from tests.plan.shipped import session


@pytest.mark.parametrize(
    ("gone_s", "words"),
    [(0, "3:00"), (0.1, "3:00"), (1, "2:59"), (179.2, "0:01"), (180, "0:00"), (180.9, "0:00"), (181, "+0:01"), (245.5, "+1:05")],
)
def test_what_is_left_is_rounded_up_and_what_is_over_has_a_plus(gone_s: float, words: str) -> None:
    assert brief_words(gone_s) == words


async def test_the_clock_runs_beside_the_parts_and_begins_again_by_key() -> None:
    app = BriefApp(new_state(session("harbour.yaml"), ()))
    now = [10.0]
    app.clock = BriefClock(lambda: now[0])
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.clock.value == "3:00"
        now[0] += 62
        await pilot.pause(0.3)
        assert app.clock.value == "1:58"
        await pilot.press("right")
        assert app.at == 1
        assert app.panel.size.height > 17, "the brief keeps nearly all of the wall"
        await pilot.press("t")
        assert app.clock.value == "3:00"
