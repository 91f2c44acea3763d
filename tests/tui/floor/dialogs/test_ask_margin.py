from __future__ import annotations

import pytest

from floorclock.tui.floor.dialogs import AskMargin
from tests.tui.floor.dialogs.floor_behind import answer_to, look_at, typed


def ask(current_ms: int = 15_000) -> AskMargin:
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
    assert await answer_to(ask(), *typed(text), "enter") == margin_ms


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
    assert await answer_to(ask(), *keys, "enter") == margin_ms


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("soon", "`soon` is no duration"),
        ("-5", "`-5` is no duration"),
        ("11:00", "is too long"),
        ("1:99", "after a colon come two digits"),
    ],
)
async def test_what_is_no_margin_is_refused_in_words(text: str, says: str) -> None:
    words = "\n".join(await look_at(ask(), *typed(text), "enter"))
    assert says in words


async def test_nothing_typed_is_refused() -> None:
    assert "! nothing typed" in "\n".join(await look_at(ask(), "backspace", "enter"))


async def test_the_message_goes_with_the_next_key() -> None:
    assert "! " not in "\n".join(await look_at(ask(), "x", "enter", "backspace"))


async def test_it_says_whose_margin_it_is_and_what_it_is_now() -> None:
    lines = await look_at(ask(), size=(60, 20))
    assert lines[0].startswith(" Rest margin for this part")
    assert "now 0:15" in lines[1]
