"""Amounts that a coach would say."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.splits import Split
from floorclock.pace.sayable import Steps, above, at_most, below, changed, in_a_row, rests_words
from floorclock.plan.work import Unit, amount_said
from tests.pace.taps import NOT_FINISHED, UNTAPPED, split

amounts = st.fractions(min_value=Fraction(1, 100), max_value=5_000, max_denominator=100)
units = st.sampled_from(Unit)


@pytest.mark.parametrize(
    ("amount", "unit", "expected"),
    [
        ("13.7", Unit.REPS, 13),
        ("19.9", Unit.REPS, 19),
        ("23", Unit.REPS, 22),
        ("39.9", Unit.REPS, 38),
        ("40", Unit.REPS, 40),
        ("47", Unit.REPS, 45),
        ("7.5", Unit.METRES, 7),
        ("44", Unit.METRES, 40),
        ("187", Unit.METRES, 180),
        ("240", Unit.METRES, 225),
        ("999", Unit.METRES, 950),
        ("12.8", Unit.CALORIES, 12),
        ("43", Unit.CALORIES, 43),
        ("8.2", Unit.SECONDS, 8),
        ("38", Unit.SECONDS, 35),
        ("1", Unit.WHOLE, 1),
        ("0.4", Unit.REPS, 0),
        ("-3", Unit.REPS, 0),
    ],
)
def test_rounded_down_to_what_a_coach_counts_in(amount: str, unit: Unit, expected: int) -> None:
    assert at_most(Fraction(amount), unit) == expected
    assert at_most(float(amount), unit) == expected


@pytest.mark.parametrize(
    ("amount", "unit", "under", "over"),
    [
        (14, Unit.REPS, 13, 15),
        (20, Unit.REPS, 19, 22),
        (40, Unit.REPS, 38, 45),
        (200, Unit.METRES, 190, 225),
        (1, Unit.REPS, 0, 2),
        (1, Unit.WHOLE, "9/10", "11/10"),
    ],
)
def test_the_next_amounts_to_say(amount: int, unit: Unit, under: int | str, over: int | str) -> None:
    assert (below(Fraction(amount), unit), above(Fraction(amount), unit)) == (Fraction(under), Fraction(over))


@given(amounts, units)
def test_neighbours_are_sayable_and_nothing_lies_between(amount: Fraction, unit: Unit) -> None:
    under, over = below(amount, unit), above(amount, unit)
    assert under < amount < over
    assert at_most(under, unit) == under
    assert at_most(over, unit) == over
    assert below(over, unit) == at_most(amount, unit)


@pytest.mark.parametrize(
    ("amount", "unit", "words"),
    [
        (8, Unit.REPS, "8 reps"),
        (1, Unit.REPS, "1 rep"),
        (40, Unit.METRES, "40 m"),
        (12, Unit.CALORIES, "12 cal"),
        (40, Unit.SECONDS, "0:40"),
    ],
)
def test_it_is_said_with_its_unit(amount: int, unit: Unit, words: str) -> None:
    assert amount_said(Fraction(amount), unit) == words


EVEN: Steps = {(0, "swing"): Fraction(0)}
LADDER: Steps = {(0, "swing"): Fraction(2)}


def test_of_two_sides_the_amount_is_said_of_one() -> None:
    assert at_most(Fraction(19), Unit.REPS, 2) == 18
    assert below(Fraction(16), Unit.REPS, 2) == 14
    assert above(Fraction(16), Unit.REPS, 2) == 18
    assert amount_said(Fraction(18), Unit.REPS, 2) == "9 reps each side"
    assert amount_said(Fraction(2), Unit.REPS, 2) == "1 rep each side"


def row(*work: tuple[float | str, int], move: str = "swing") -> list[Split]:
    """Rests with the amounts of their rounds."""
    return [split(rest, round_number=number, amount=amount, move=move) for number, (rest, amount) in enumerate(work, start=1)]


@pytest.mark.parametrize(
    ("splits", "steps", "words"),
    [
        ([], EVEN, ""),
        (row((18.9, 14), (15.2, 14)), EVEN, "rest 18, 15 s"),
        (row((18, 14), (15, 14), (22, 11), (15, 11)), EVEN, "rest 18, 15 | 22, 15 s"),
        (row((18, 14), (UNTAPPED, 11), (22, 11)), EVEN, "rest 18, ? | 22 s"),
        (row((18, 14), (NOT_FINISHED, 14), (22, 11)), EVEN, "rest 18, not finished | 22 s"),
        (row((18, 10), (16, 12), (14, 14)), LADDER, "rest 18, 16, 14 s"),
        (row((18, 10), (16, 12), (20, 12)), LADDER, "rest 18, 16 | 20 s"),
        (row((18, 10), (16, 12)), {}, "rest 18, 16 s"),
        ([*row((18, 14)), split(30, round_number=2, move="deadlift")], EVEN, "rest 18 | 30 s"),
    ],
)
def test_a_bar_stands_where_the_target_or_the_move_changed(splits: list[Split], steps: Steps, words: str) -> None:
    assert rests_words(splits, steps, 4) == words


def test_only_the_latest_are_said_and_none_begins_with_a_bar() -> None:
    splits = row((18, 14), (15, 14), (22, 11), (15, 11))
    assert changed(splits, EVEN) == (False, False, True, False)
    assert rests_words(splits, EVEN, 2) == "rest 22, 15 s"


def test_those_without_a_split_can_be_left_out_and_the_bar_stays() -> None:
    splits = row((18, 14), (UNTAPPED, 14), (NOT_FINISHED, 11), (20, 11))
    assert rests_words(splits, EVEN, 4, not_finished=None) == "rest 18 | 20 s"


def test_words_without_marks_are_parted_by_commas() -> None:
    assert in_a_row(["24", "?", "12"], [False, False, True]) == "24, ? | 12"
