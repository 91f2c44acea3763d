"""Rests in a row, as they are said, with a bar where the target changed."""

from __future__ import annotations

from fractions import Fraction

import pytest

from floorclock.clock.splits import Split
from floorclock.pace.rests import Steps, changed, in_a_row, rests_words
from tests.pace.taps import NOT_FINISHED, UNTAPPED, split

EVEN: Steps = {(0, "swing"): Fraction(0)}
LADDER: Steps = {(0, "swing"): Fraction(2)}


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
