from __future__ import annotations

import pytest

from floorclock.tui.floor.dialogs.pages import AskMargin, Confirm, ResumeQuestion
from tests.odd_names import A_FEW
from tests.tui.floor.dialogs.floor_behind import UNANSWERED, answer_to, look_at, typed, words_of


def asked() -> Confirm:
    return Confirm("End the class?", "Two parts are still to come.", "ends the class")


@pytest.mark.parametrize(
    ("key", "answer"), [("enter", True), ("escape", None), ("y", UNANSWERED), ("left", UNANSWERED), ("f2", UNANSWERED)]
)
async def test_only_enter_is_a_yes(key: str, answer: object) -> None:
    assert await answer_to(asked(), key) is answer


async def test_it_shows_the_question_the_detail_and_what_enter_does() -> None:
    words = await words_of(asked(), size=(40, 12))
    assert "End the class?" in words
    assert "Two parts are still to come." in words
    assert "Enter ends the class" in words
    assert "Esc no" in words


@pytest.mark.parametrize("name", A_FEW[:4])
async def test_a_name_in_the_question_is_shown_as_it_is(name: str) -> None:
    assert name in (await look_at(Confirm(f"Send {name} home?", "", "goes home")))[0]


def margin(current_ms: int = 15_000) -> AskMargin:
    return AskMargin(current_ms, "for this part")


@pytest.mark.parametrize(
    ("text", "margin_ms"),
    [
        ("", 15_000),
        ("15", 15_000),
        ("0:20", 20_000),
        ("1:30", 90_000),
        ("12.5", 12_500),
        ("0", 0),
        ("20s", 20_000),
        ("10:00", 600_000),
    ],
)
async def test_a_margin_is_read_as_a_coach_writes_it(text: str, margin_ms: int) -> None:
    assert await answer_to(margin(), *typed(text), "enter") == margin_ms


@pytest.mark.parametrize(
    ("keys", "margin_ms"),
    [
        (("up",), 16_000),
        (("down", "down"), 13_000),
        (("pageup",), 20_000),
        (("pagedown", "pagedown", "pagedown", "pagedown"), 0),
        (("3", "0", "up"), 31_000),
        (("x", "up", "backspace", "7"), 7_000),
        (("1", "0", "colon", "0", "0", "up"), 600_000),
    ],
)
async def test_arrows_change_it_by_seconds_and_stay_in_bounds(keys: tuple[str, ...], margin_ms: int) -> None:
    assert await answer_to(margin(), *keys, "enter") == margin_ms


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("soon", "`soon` is no duration"),
        ("-5", "`-5` is no duration"),
        ("10:01", "is too long"),
        ("1:99", "after a colon come two digits"),
    ],
)
async def test_what_is_no_margin_is_refused_in_words(text: str, says: str) -> None:
    words = await words_of(margin(), *typed(text), "enter")
    assert says in words


async def test_nothing_typed_is_refused() -> None:
    assert "! nothing typed" in await words_of(margin(), "backspace", "enter")


async def test_the_message_goes_with_the_next_key() -> None:
    assert "! " not in await words_of(margin(), "x", "enter", "backspace")


async def test_it_says_whose_margin_it_is_and_what_it_is_now() -> None:
    lines = await look_at(margin(), size=(60, 20))
    assert lines[0].startswith(" Rest margin for this part")
    assert "now 0:15" in lines[1]


def carry_on() -> ResumeQuestion:
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
    assert await answer_to(carry_on(), *keys) == answer


@pytest.mark.parametrize("size", [(80, 24), (46, 12)])
async def test_it_says_how_long_and_both_places(size: tuple[int, int]) -> None:
    words = await words_of(carry_on(), size=size)
    assert "away for 3 min 20 s" in words
    assert "round 3, 0:41 left" in words
    assert "round 4, 0:21 left" in words
