from __future__ import annotations

import pytest

from floorclock.tui.floor.dialogs import Confirm
from tests.tui.floor.dialogs.floor_behind import NAUGHTY_NAMES, UNANSWERED, answer_to, look_at


def asked() -> Confirm:
    return Confirm("End the class?", "Two parts are still to come.", "ends the class")


@pytest.mark.parametrize(
    ("key", "answer"), [("enter", True), ("escape", False), ("y", UNANSWERED), ("left", UNANSWERED), ("f2", UNANSWERED)]
)
async def test_only_enter_is_a_yes(key: str, answer: object) -> None:
    assert await answer_to(asked(), key) is answer


async def test_it_shows_the_question_the_detail_and_what_enter_does() -> None:
    words = "\n".join(await look_at(asked(), size=(40, 12)))
    assert "End the class?" in words
    assert "Two parts are still to come." in words
    assert "Enter ends the class" in words
    assert "Esc no" in words


@pytest.mark.parametrize("name", NAUGHTY_NAMES[:4])
async def test_a_name_in_the_question_is_shown_as_it_is(name: str) -> None:
    assert name in (await look_at(Confirm(f"Send {name} home?", "", "goes home")))[0]
