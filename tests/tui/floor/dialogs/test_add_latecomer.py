from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest
from textual import events

from floorclock.plan.roster import Athlete
from floorclock.tui.floor.dialogs.add_latecomer import AddLatecomer
from floorclock.tui.floor.dialogs.dialog import Field
from tests.tui.floor.dialogs.floor_behind import answer_to, opened, typed, words_of

GROUPS = {1: "5 here", 2: "4 here"}


def new(name: str, key: str = "", group: int = 1) -> Athlete:
    return Athlete(name=name, key=key, group=group)


def form(groups: Mapping[int, str] = GROUPS) -> AddLatecomer:
    return AddLatecomer(("Bram", "Ásta"), ("b", "á"), groups, 1)


ANSWERS = {
    "a name is enough": (typed("Sefa Lind"), new("Sefa Lind")),
    "tab goes to the key and the group": ((*typed("Sefa"), "tab", "s", "tab", "2"), new("Sefa", "s", 2)),
    "up and shift+tab go back": (("tab", "s", "up", *typed("Sefa"), "shift+tab", "2"), new("Sefa", "s", 2)),
    "a second letter takes the place of the first as tap key": ((*typed("Sefa"), "down", "s", "f"), new("Sefa", "f")),
    "editing keys edit": ((*typed("Sefka"), "left", "backspace", "end", "x", "backspace", "home", "delete", "S"), new("Sefa")),
    "the cursor goes to the field that is wrong": ((*typed("Bram"), "tab", "s", "enter", *typed(" B")), new("Bram B", "s")),
}


@pytest.mark.parametrize(("keys", "answer"), ANSWERS.values(), ids=ANSWERS.keys())
async def test_what_is_typed_is_who_comes(keys: Sequence[str], answer: Athlete) -> None:
    assert await answer_to(form(), *keys, "enter") == answer


async def test_the_group_that_fits_is_offered() -> None:
    assert await answer_to(AddLatecomer((), (), GROUPS, 2), *typed("Sefa"), "enter") == new("Sefa", group=2)


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
    assert says in await words_of(form(), *keys)


async def test_with_one_start_group_nobody_is_asked_for_it() -> None:
    words = await words_of(form({}))
    assert "group" not in words
    assert await answer_to(form({}), *typed("Sefa"), "tab", "tab", "x", "enter") == new("Sefax")


@pytest.mark.parametrize("name", ["[/]", "[@click=app.quit]Oda[/]", "山田 太郎", "محمد"])
async def test_any_name_can_be_pasted(name: str) -> None:
    async with opened(form(), size=(40, 12)) as (app, pilot):
        app.post_message(events.Paste(f"{name}\n"))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.answers == [new(name)]


async def test_a_pasted_control_character_is_refused_in_words() -> None:
    dialog = form()
    async with opened(dialog) as (app, pilot):
        app.post_message(events.Paste("Se\x07fa"))
        await pilot.pause()
        assert dialog.said == "what was pasted holds control characters: nothing taken"
        assert dialog.query_one("#name", Field).value == ""


async def test_a_decomposed_name_is_the_composed_one() -> None:
    dialog = form()
    async with opened(dialog) as (app, pilot):
        app.post_message(events.Paste("A\u0301sta"))
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.answers == []
        assert "is here already" in dialog.said
