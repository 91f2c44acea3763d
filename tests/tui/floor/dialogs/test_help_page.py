from __future__ import annotations

import pytest

from floorclock.tui.floor.commands import help_lines
from floorclock.tui.floor.dialogs.help_page import HelpPage
from tests.odd_names import A_FEW
from tests.tui.floor.dialogs.floor_behind import UNANSWERED, answer_to, look_at, opened, words_of

KEYS = [
    *(("the class", key, f"class does {key}") for key in ("space", "right", "left", "+", "-", "End")),
    *(("people", key, f"people do {key}") for key in ("a to z", "Backspace", "Enter", "Ins")),
    *(("the coach", key, f"coach does {key}") for key in ("F2", "F3", "F9", "?")),
]
TAPS = ("i", "7", "space")


@pytest.mark.parametrize("key", ["question_mark", "escape", "enter", "f2", "tab", "backspace", *TAPS])
async def test_any_key_closes_it_and_what_could_be_a_tap_is_passed_on_once(key: str) -> None:
    async with opened(HelpPage(KEYS), key) as (app, _):
        assert app.answers == [None]
        assert [passed.key for passed in app.passed] == ([key] if key in TAPS else [])


async def test_all_keys_are_on_one_page_at_80x24() -> None:
    words = await words_of(HelpPage(KEYS))
    assert all(does in words for _, _, does in KEYS)
    assert all(group in words for group in ("the class", "people", "the coach"))
    assert "more:" not in words


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (160, 45)])
async def test_the_floors_own_keys_are_never_cut_and_all_within_reach(size: tuple[int, int]) -> None:
    seen = await words_of(HelpPage(help_lines()), size=size) + await words_of(HelpPage(help_lines()), "end", size=size)
    assert all(does in seen for _, _, does in help_lines())


async def test_on_a_wide_floor_all_of_them_are_on_one_page() -> None:
    assert "more:" not in await words_of(HelpPage(help_lines()), size=(160, 45))


async def test_at_40x12_it_scrolls_from_the_first_key_to_the_last() -> None:
    first = await words_of(HelpPage(KEYS), size=(40, 12))
    last = await words_of(HelpPage(KEYS), "end", "down", size=(40, 12))
    assert KEYS[0][2] in first
    assert KEYS[-1][2] not in first
    assert "more: 1 to 10 of 17" in first
    assert KEYS[-1][2] in last
    assert await words_of(HelpPage(KEYS), "pagedown", "up", "pageup", "home", size=(40, 12)) == first


@pytest.mark.parametrize("key", ["up", "down", "pageup", "pagedown", "home", "end"])
async def test_scroll_keys_leave_it_open(key: str) -> None:
    assert await answer_to(HelpPage(KEYS), key) is UNANSWERED


async def test_brackets_are_only_text() -> None:
    words = await words_of(HelpPage([("g [/]", "[", A_FEW[2])]))
    assert "g [/]" in words
    assert A_FEW[2] in words


async def test_no_keys_make_an_empty_page() -> None:
    assert (await look_at(HelpPage([])))[0].strip() == "All keys"
