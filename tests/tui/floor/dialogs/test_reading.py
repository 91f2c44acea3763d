from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.plan.durations import UnreadableError
from floorclock.plan.typed_result import ResultKind, TypedResult, read_result
from floorclock.plan.work import Unit
from floorclock.tui.floor.dialogs.reading import (
    amount_typed,
    full_words,
    nudged,
    read_amount,
    read_new_key,
    read_new_name,
    read_split,
)


@pytest.mark.parametrize(
    ("text", "kind", "result"),
    [
        ("8:42", "for_time", TypedResult(time_ms=522_000)),
        ("8:42.5", "for_time", TypedResult(time_ms=522_500)),
        ("542", "for_time", TypedResult(time_ms=542_000)),
        ("3+5", "for_time", TypedResult(3, 5)),
        ("3+", "for_time", TypedResult(3, 0)),
        ("7+12", "amrap", TypedResult(7, 12)),
        (" 7 + 12 ", "amrap", TypedResult(7, 12)),
        ("7 12", "amrap", TypedResult(7, 12)),
        ("7", "amrap", TypedResult(7, 0)),
        ("+12", "amrap", TypedResult(0, 12)),
        ("2:10", "paced", TypedResult(time_ms=130_000)),
        ("5+3", "paced", TypedResult(5, 3)),
        ("-", "for_time", TypedResult()),
        ("-", "amrap", TypedResult()),
        ("-", "paced", TypedResult()),
    ],
)
def test_a_result_is_read_as_a_coach_writes_it(text: str, kind: ResultKind, result: TypedResult) -> None:
    assert read_result(text, kind) == result


NO_RESULTS: dict[ResultKind, tuple[str, ...]] = {
    "amrap": ("", "+", "8:42", "1000", "7+99999", "x", "7-2", "٣"),
    "for_time": ("", "0", "8:99", "4:00:00"),
    "paced": ("nan", "9" * 400, "9" * 400 + "+1"),
}


@pytest.mark.parametrize(("kind", "text"), [(kind, text) for kind, texts in NO_RESULTS.items() for text in texts])
def test_what_is_no_result_is_refused(kind: ResultKind, text: str) -> None:
    with pytest.raises(UnreadableError):
        read_result(text, kind)


@given(st.integers(0, 999), st.integers(0, 9999))
def test_a_result_shown_is_read_back_the_same(rounds: int, reps: int) -> None:
    assert read_result(TypedResult(rounds, reps).words(), "amrap") == TypedResult(rounds, reps)


@given(st.integers(1, 10_800_000))
def test_a_time_shown_is_read_back_the_same(time_ms: int) -> None:
    assert read_result(TypedResult(time_ms=time_ms).words(), "for_time") == TypedResult(time_ms=time_ms)


@pytest.mark.parametrize(
    ("text", "split_ms"), [("44", 44_000), ("44.5", 44_500), ("44,5", 44_500), ("0:44.5", 44_500), ("1:00", 60_000), ("-", None)]
)
def test_a_split_is_read(text: str, split_ms: int | None) -> None:
    assert read_split(text, 60_000) == split_ms


@pytest.mark.parametrize("text", ["", "0", "61", "1:00.1", "-3", "fast", "1:2"])
def test_a_split_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(UnreadableError):
        read_split(text, 60_000)


def test_a_split_of_an_interval_of_unknown_length_may_be_long() -> None:
    assert read_split("61", None) == 61_000


@pytest.mark.parametrize(
    ("text", "unit", "now", "amount"),
    [
        ("8", Unit.REPS, 14, Fraction(8)),
        ("8 reps", Unit.REPS, 14, Fraction(8)),
        ("-2", Unit.REPS, 14, Fraction(12)),
        ("- 5", Unit.REPS, 14, Fraction(9)),
        ("+1", Unit.REPS, 14, Fraction(15)),
        ("7.5", Unit.CALORIES, 12, Fraction(15, 2)),
        ("7,5", Unit.CALORIES, 12, Fraction(15, 2)),
        ("180", Unit.METRES, 200, Fraction(180)),
        ("0.4 km", Unit.METRES, 200, Fraction(400)),
        ("-20", Unit.METRES, 200, Fraction(180)),
        ("0:30", Unit.SECONDS, 40, Fraction(30)),
        ("30", Unit.SECONDS, 40, Fraction(30)),
        ("-5", Unit.SECONDS, 40, Fraction(35)),
        ("80", Unit.WHOLE, 1, Fraction(4, 5)),
        ("80 %", Unit.WHOLE, 1, Fraction(4, 5)),
        ("-20", Unit.WHOLE, 1, Fraction(4, 5)),
    ],
)
def test_an_amount_is_itself_or_more_or_less_than_now(text: str, unit: Unit, now: int, amount: Fraction) -> None:
    assert read_amount(text, unit, Fraction(now)) == amount


NO_AMOUNTS = {
    Unit.REPS: ("", "0", "-14", "-99", "7.5", "8 m", "many", "9" * 12),
    Unit.METRES: ("1:00",),
    Unit.SECONDS: ("9" * 300,),
    Unit.WHOLE: ("", "0", "201", "some"),
}


@pytest.mark.parametrize(("unit", "text"), [(unit, text) for unit, texts in NO_AMOUNTS.items() for text in texts])
def test_an_amount_that_cannot_be_is_refused(unit: Unit, text: str) -> None:
    with pytest.raises(UnreadableError):
        read_amount(text, unit, Fraction(14))


@pytest.mark.parametrize(
    ("text", "unit", "steps", "then"),
    [
        ("14", Unit.REPS, -1, "13"),
        ("14", Unit.REPS, -5, "9"),
        ("1", Unit.REPS, -1, "1"),
        ("200", Unit.METRES, 1, "205"),
        ("0:40", Unit.SECONDS, -1, "0:35"),
        ("12", Unit.CALORIES, 1, "13"),
        ("-2", Unit.REPS, -1, "11"),
        ("100", Unit.WHOLE, -1, "90"),
        ("10", Unit.WHOLE, -1, "10"),
        ("x", Unit.REPS, 1, "x"),
        ("100000", Unit.REPS, 1, "100000"),
    ],
)
def test_arrows_change_an_amount_by_what_a_coach_would_say(text: str, unit: Unit, steps: int, then: str) -> None:
    assert nudged(text, unit, Fraction(14), steps) == then


@given(st.integers(1, 50_000), st.sampled_from([Unit.REPS, Unit.METRES, Unit.SECONDS]))
def test_an_amount_shown_for_typing_is_read_back_the_same(amount: int, unit: Unit) -> None:
    assert read_amount(amount_typed(Fraction(amount), unit), unit, Fraction(1)) == amount


def test_an_amount_is_said_with_its_unit() -> None:
    assert [full_words(Fraction(40), unit) for unit in Unit] == ["40 reps", "40 m", "40 cal", "0:40", "4000 % of it"]


@pytest.mark.parametrize("text", ["", "  ", "bram", "BRAM", " Bram ", "A\x07b", "a\u202eb", "é" * 61])
def test_a_name_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(UnreadableError):
        read_new_name(text, ("Bram",))


def test_a_key_is_one_free_letter_or_digit_or_nothing() -> None:
    assert read_new_key(" s ", ("b",)) == "s"
    assert read_new_key("B", ("b",)) == "B"
    assert read_new_key("", ("b",)) == ""
    for text in ("b", "?", "ab", "/"):
        with pytest.raises(UnreadableError):
            read_new_key(text, ("b",))
