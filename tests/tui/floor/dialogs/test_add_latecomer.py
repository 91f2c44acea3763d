from __future__ import annotations

from collections.abc import Mapping

import pytest
from textual import events

from floorclock.plan.roster import Athlete
from floorclock.tui.floor.dialogs.add_latecomer import AddLatecomer
from floorclock.tui.floor.dialogs.dialog import Field
from tests.tui.floor.dialogs.floor_behind import FloorBehind, answer_to, look_at, opened, typed

GROUPS = {1: "5 here", 2: "4 here"}


def new(name: str, key: str, group: int) -> Athlete:
    return Athlete(name=name, key=key, group=group)


def form(groups: Mapping[int, str] = GROUPS) -> AddLatecomer:
    return AddLatecomer(("Bram", "Ásta"), ("b", "á"), groups, 1)


async def test_a_name_and_enter_are_enough() -> None:
    assert await answer_to(form(), *typed("Sefa Lind"), "enter") == new("Sefa Lind", "", 1)


async def test_the_group_that_fits_is_offered() -> None:
    assert await answer_to(AddLatecomer((), (), GROUPS, 2), *typed("Sefa"), "enter") == new("Sefa", "", 2)


async def test_tab_goes_to_the_key_and_the_group() -> None:
    keys = (*typed("Sefa"), "tab", "s", "tab", "2", "enter")
    assert await answer_to(form(), *keys) == new("Sefa", "s", 2)


async def test_up_and_shift_tab_go_back() -> None:
    keys = ("tab", "s", "up", *typed("Sefa"), "shift+tab", "2", "enter")
    assert await answer_to(form(), *keys) == new("Sefa", "s", 2)


async def test_a_second_letter_takes_the_place_of_the_first_as_tap_key() -> None:
    assert await answer_to(form(), *typed("Sefa"), "down", "s", "f", "enter") == new("Sefa", "f", 1)


async def test_editing_keys_edit() -> None:
    keys = (*typed("Sefka"), "left", "backspace", "end", "x", "backspace", "home", "delete", "S", "enter")
    assert await answer_to(form(), *keys) == new("Sefa", "", 1)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        (("enter",), "a latecomer needs a name"),
        (("space", "enter"), "a latecomer needs a name"),
        ((*typed("Bram"), "enter"), "`Bram` is here already (add a letter, such as `Bram B`)"),
        ((*typed("bRAM "), "enter"), "`bRAM` is here already"),
        (("Á", "S", "T", "A", "enter"), "`ÁSTA` is here already"),
        ((*typed("Sefa"), "tab", "b", "enter"), "the key `b` is taken (leave it empty and one is given out)"),
        ((*typed("Sefa"), "tab", "question_mark", "enter"), "`?` is no tap key"),
        ((*typed("Sefa"), "tab", "tab", "9", "enter"), "`9` is no start group (there is 1, 2)"),
        ((*typed("Sefa"), "tab", "tab", "backspace", "enter"), "is no start group"),
    ],
)
async def test_what_cannot_be_is_refused_in_words(keys: tuple[str, ...], says: str) -> None:
    assert says in "\n".join(await look_at(form(), *keys))


async def test_the_cursor_goes_to_the_field_that_is_wrong() -> None:
    keys = (*typed("Bram"), "tab", "s", "enter", *typed(" B"), "enter")
    assert await answer_to(form(), *keys) == new("Bram B", "s", 1)


async def test_with_one_start_group_nobody_is_asked_for_it() -> None:
    words = "\n".join(await look_at(form({})))
    assert "group" not in words
    assert await answer_to(form({}), *typed("Sefa"), "tab", "tab", "x", "enter") == new("Sefax", "", 1)


@pytest.mark.parametrize("name", ["[/]", "[@click=app.quit]Oda[/]", "山田 太郎", "محمد"])
async def test_any_name_can_be_pasted(name: str) -> None:
    app = FloorBehind()
    async with app.run_test(size=(40, 12)) as pilot:
        await opened(pilot, form())
        app.post_message(events.Paste(f"{name}\n"))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.answers == [new(name, "", 1)]


async def test_a_pasted_control_character_is_refused_in_words() -> None:
    dialog = form()
    app = FloorBehind()
    async with app.run_test() as pilot:
        await opened(pilot, dialog)
        app.post_message(events.Paste("Se\x07fa"))
        await pilot.pause()
        assert dialog.said == "what was pasted holds control characters: nothing taken"
        assert dialog.query_one("#name", Field).value == ""


async def test_a_decomposed_name_is_the_composed_one() -> None:
    dialog = form()
    app = FloorBehind()
    async with app.run_test() as pilot:
        await opened(pilot, dialog)
        app.post_message(events.Paste("A\u0301sta"))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.answers == []
        assert "is here already" in dialog.said
