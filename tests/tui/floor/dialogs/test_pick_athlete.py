from __future__ import annotations

import pytest

from floorclock.plan.roster import SAFE_KEYS, Athlete
from floorclock.tui.floor.dialogs.pick_athlete import PickAthlete
from tests.odd_names import ODD_NAMES
from tests.tui.floor.dialogs.floor_behind import (
    UNANSWERED,
    answer_to,
    look_at,
    opened,
    press,
    shown_lines,
    typed,
    words_of,
)

FIRST = ("Ilka", "Bram", "Noor", "Sefa", "Odd", "Runa", "Teo", "Wim", "Ásta Jóns", "Jarmo")
FORTY = [f"{name} {number}" if number else name for number in range(4) for name in FIRST]
PEOPLE = [Athlete(name=name, key=key) for name, key in zip(FORTY, SAFE_KEYS, strict=False)]


def pick() -> PickAthlete:
    return PickAthlete(PEOPLE, "Who?")


@pytest.mark.parametrize("number", [0, 26, 39])
async def test_a_tap_key_picks_at_once(number: int) -> None:
    assert await answer_to(pick(), PEOPLE[number].key) == FORTY[number]


async def test_a_key_of_nobody_goes_on_to_the_app() -> None:
    async with opened(pick()) as (app, pilot):
        await pilot.press("left_parenthesis", "space")
        await pilot.pause()
        assert app.passed_characters == "( "


async def test_forty_people_are_all_seen_at_80x24_and_leave_the_top_of_the_floor_free() -> None:
    lines = await look_at(pick())
    words = "\n".join(lines)
    assert all(name in words for name in FORTY)
    assert len(lines) <= 14


async def test_at_40x12_everybody_is_reached_by_arrows() -> None:
    dialog = pick()
    async with opened(dialog, size=(40, 12)) as (app, pilot):
        for person in PEOPLE:
            assert any(f"›{person.key} {person.name}" in line for line in shown_lines(dialog, (40, 12))), person.name
            await press(pilot, "right")
        await press(pilot, "left", "enter")
    assert app.answers == [FORTY[-2]]


@pytest.mark.parametrize(
    ("keys", "name"),
    [
        (("enter",), "Ilka"),
        (("down", "enter"), "Odd"),
        (("down", "up", "right", "enter"), "Bram"),
        (("up", "left", "enter"), "Ilka"),
        (("end", "enter"), "Jarmo 3"),
        (("end", "down", "right", "enter"), "Jarmo 3"),
        (("pagedown", "home", "enter"), "Ilka"),
    ],
)
async def test_arrows_and_enter_pick(keys: tuple[str, ...], name: str) -> None:
    assert await answer_to(pick(), *keys) == name


@pytest.mark.parametrize(
    ("text", "name"),
    [("se", "Sefa"), ("SE", "Sefa"), ("asta", "Ásta Jóns"), ("jon", "Ásta Jóns"), ("ilka 3", "Ilka 3"), ("w", "Wim")],
)
async def test_a_slash_starts_typing_a_name(text: str, name: str) -> None:
    assert await answer_to(pick(), "slash", *typed(text), "enter") == name


async def test_typing_says_that_taps_wait_and_what_was_found() -> None:
    words = await words_of(pick(), "slash", "r", "u")
    assert "typing: no taps" in words
    assert "Runa 3" in words
    assert "Ilka" not in words


async def test_a_name_of_nobody_is_said_and_enter_picks_nobody() -> None:
    keys = ("slash", "x", "y")
    assert "! nobody here is called xy" in await words_of(pick(), *keys)
    assert "! nobody to pick" in await words_of(pick(), *keys, "enter")
    assert await answer_to(pick(), *keys, "enter", "backspace", "backspace", "t", "enter") == "Teo"


async def test_while_typing_arrows_move_among_those_found() -> None:
    assert await answer_to(pick(), "slash", "b", "right", "enter") == "Bram 1"
    assert await answer_to(pick(), "slash", "b", "escape") is None


@pytest.mark.parametrize("name", ODD_NAMES)
async def test_any_name_is_picked_whole_though_it_is_shown_cut(name: str) -> None:
    dialog = PickAthlete([Athlete(name=name, key="a"), Athlete(name="Bo", key="b")], "Who?")
    assert await answer_to(dialog, "a", size=(40, 12)) == name


async def test_nobody_at_all_is_no_trap() -> None:
    assert await answer_to(PickAthlete([], "Who?"), "down", "enter") is UNANSWERED
    assert await answer_to(PickAthlete([], "Who?"), "slash", "a", "enter", "escape") is None


async def test_a_click_picks() -> None:
    async with opened(pick(), size=(80, 24)) as (app, pilot):
        await pilot.click("#people", offset=(4, 1))
        await pilot.pause()
        assert app.answers == ["Odd"]


async def test_backspace_in_the_list_takes_back_no_tap_behind_it() -> None:
    async with opened(pick(), "backspace", "backspace", "backspace") as (app, _):
        assert app.passed == []
        assert app.answers == []
