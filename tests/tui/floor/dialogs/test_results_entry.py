from __future__ import annotations

from collections.abc import Mapping, Sequence

import pytest

from floorclock.plan.typed_result import ResultKind, TypedResult
from floorclock.tui.floor.dialogs.results_entry import ResultsEntry, ResultSoFar
from tests.odd_names import A_FEW
from tests.tui.floor.dialogs.floor_behind import UNANSWERED, answer_to, look_at, typed, words_of

ROWS = (ResultSoFar("Ilka", "i"), ResultSoFar("Bram", "b", "7+12"), ResultSoFar("Noor", "n"))


def table(kind: ResultKind = "amrap") -> ResultsEntry:
    return ResultsEntry(ROWS, kind, "Results")


ANSWERS: dict[str, tuple[ResultKind, Sequence[str], Mapping[str, TypedResult]]] = {
    "one after the other, and Enter on the last line saves": (
        "amrap",
        (*typed("8+3"), "enter", *typed("9"), "enter", *typed("-"), "enter", "enter"),
        {"Ilka": TypedResult(8, 3), "Bram": TypedResult(9, 0), "Noor": TypedResult()},
    ),
    "who is passed over keeps theirs": ("amrap", ("enter", "down", *typed("5+1"), "f6"), {"Noor": TypedResult(5, 1)}),
    "nothing typed saves nothing": ("amrap", ("f6",), {}),
    "times in a part for time": (
        "for_time",
        (*typed("8:42"), "enter", *typed("3+5"), "enter", *typed("512.5"), "f6"),
        {"Ilka": TypedResult(time_ms=522_000), "Bram": TypedResult(3, 5), "Noor": TypedResult(time_ms=512_500)},
    ),
    "one typed before is offered again": ("amrap", ("8", "enter", "up", "enter", "f6"), {"Ilka": TypedResult(8, 0)}),
    "and can be emptied": ("amrap", ("8", "enter", "up", "backspace", "enter", "f6"), {}),
    "or typed over": ("amrap", ("8", "enter", "up", "7", "tab", "shift+tab", "f6"), {"Ilka": TypedResult(7, 0)}),
}


@pytest.mark.parametrize(("kind", "keys", "answer"), ANSWERS.values(), ids=ANSWERS.keys())
async def test_what_was_typed_is_saved(kind: ResultKind, keys: Sequence[str], answer: Mapping[str, TypedResult]) -> None:
    assert await answer_to(table(kind), *keys) == answer


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [("amrap", "x", "`x` is no result"), ("amrap", "8:42", "`8:42` is no result"), ("for_time", "soon", "`soon` is no duration")],
)
@pytest.mark.parametrize("key", ["enter", "down", "f6", "pagedown"])
async def test_what_is_no_result_holds_the_cursor_and_says_why(kind: ResultKind, text: str, says: str, key: str) -> None:
    dialog = table(kind)
    assert says in await words_of(dialog, *typed(text), key)
    assert dialog.at == 0


async def test_escape_warns_once_before_it_drops_what_was_typed() -> None:
    assert await answer_to(table(), "8", "escape") is UNANSWERED
    assert "F6 saves it, Esc again drops it" in await words_of(table(), "8", "escape")
    assert await answer_to(table(), "8", "escape", "escape") is None
    assert await answer_to(table(), "8", "escape", "enter", "escape") is UNANSWERED
    assert await answer_to(table(), "8", "escape", "f6") == {"Ilka": TypedResult(8, 0)}


async def test_forty_rows_scroll_with_the_cursor_at_40x12() -> None:
    rows = [ResultSoFar(f"{name} {number}", "", "7+12") for number in range(6) for name in A_FEW]
    lines = await look_at(ResultsEntry(rows, "amrap"), *["down"] * 20, size=(40, 12))
    assert any(rows[20].name in line for line in lines)
    assert "0 of 42 entered" in await words_of(ResultsEntry(rows, "amrap"), *["pagedown"] * 9, size=(40, 12))


async def test_nobody_at_all_saves_nothing() -> None:
    assert await answer_to(ResultsEntry([], "amrap"), "down", "enter") == {}


OFFERED = (
    ResultSoFar("Ilka", "i", offered="72.5", shown="Ilka + Wim"),
    ResultSoFar("Bram", "b", offered="60"),
    ResultSoFar("Noor"),
)


def loads() -> ResultsEntry:
    return ResultsEntry(OFFERED, "score")


async def test_what_was_planned_is_taken_by_one_enter_a_person_and_replaced_by_what_is_typed() -> None:
    taken = {"Ilka": TypedResult(score=72.5), "Bram": TypedResult(score=55)}
    assert await answer_to(loads(), "enter", *typed("55"), "enter", "enter", "enter") == taken
    assert await answer_to(loads(), *typed("72.5"), "f6") == {"Ilka": TypedResult(score=72.5)}


async def test_what_is_offered_is_nobodys_number_before_enter() -> None:
    assert await answer_to(loads(), "down", "up", "f6") == {}
    assert await answer_to(loads(), "backspace", "enter", "f6") == {}
    assert await answer_to(loads(), "escape") is None


async def test_a_team_is_named_whole_and_the_last_line_counts_and_is_no_command() -> None:
    lines = await words_of(loads(), "enter")
    assert "Ilka + Wim" in lines
    assert "1 of 3 entered" in lines
    assert "save 1" not in lines


async def test_a_number_that_is_hardly_meant_is_asked_about_once() -> None:
    rounds = ResultsEntry(ROWS, "amrap", most_rounds=108)
    assert "999 rounds" in await words_of(rounds, *typed("999"), "enter")
    assert rounds.at == 0
    rounds = ResultsEntry(ROWS, "amrap", most_rounds=108)
    assert await answer_to(rounds, *typed("999"), "enter", "enter", *typed("108"), "f6") == {
        "Ilka": TypedResult(999, 0),
        "Bram": TypedResult(108, 0),
    }
    assert "725, where 72.5 was planned" in await words_of(loads(), *typed("725"), "enter")
