from __future__ import annotations

import pytest

from floorclock.tui.floor.dialogs import ResumeQuestion
from tests.tui.floor.dialogs.floor_behind import UNANSWERED, answer_to, look_at


def ask() -> ResumeQuestion:
    return ResumeQuestion("The class was away for 3 min 20 s.", "round 3, 0:41 left", "round 4, 0:21 left")


@pytest.mark.parametrize(
    ("keys", "answer"),
    [
        (("enter",), "stopped"),
        (("down", "enter"), "would_be"),
        (("end", "enter"), "would_be"),
        (("down", "down", "enter"), "would_be"),
        (("down", "up", "enter"), "stopped"),
        (("escape",), None),
        (("a",), UNANSWERED),
        (("left",), UNANSWERED),
    ],
)
async def test_the_coach_decides_where_to_carry_on(keys: tuple[str, ...], answer: object) -> None:
    assert await answer_to(ask(), *keys) == answer


@pytest.mark.parametrize("size", [(80, 24), (46, 12)])
async def test_it_says_how_long_and_both_places(size: tuple[int, int]) -> None:
    words = "\n".join(await look_at(ask(), size=size))
    assert "away for 3 min 20 s" in words
    assert "round 3, 0:41 left" in words
    assert "round 4, 0:21 left" in words
