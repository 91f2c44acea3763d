"""How the floor says times and outcomes."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.outcome import Outcome, What
from floorclock.tui.floor.words import clock_words, outcome_words, rest_words, split_words


@pytest.mark.parametrize(
    ("ms", "left", "passed"),
    [
        (0, "0:00", "0:00"),
        (1, "0:01", "0:00"),
        (999, "0:01", "0:00"),
        (1_000, "0:01", "0:01"),
        (59_001, "1:00", "0:59"),
        (60_000, "1:00", "1:00"),
        (3_599_999, "1:00:00", "59:59"),
        (3_600_000, "1:00:00", "1:00:00"),
        (36_061_000, "10:01:01", "10:01:01"),
    ],
)
def test_time_left_rounds_up_and_time_passed_down(ms: int, left: str, passed: str) -> None:
    assert (clock_words(ms), clock_words(ms, up=True)) == (left, passed)


@given(st.integers(0, 100_000_000))
def test_a_time_in_words_is_the_time(ms: int) -> None:
    fields = [int(field) for field in clock_words(ms, up=True).split(":")]
    assert all(field < 60 for field in fields[1:])
    seconds = 0
    for field in fields:
        seconds = seconds * 60 + field
    assert seconds == ms // 1000
    assert clock_words(ms) == clock_words(-(-ms // 1000) * 1000, up=True)


@pytest.mark.parametrize(
    ("ms", "words"), [(0, "0.0"), (31_499, "31.4"), (59_999, "59.9"), (60_000, "1:00.0"), (62_799, "1:02.7")]
)
def test_a_split_is_cut_off_to_tenths_and_never_rounded_up(ms: int, words: str) -> None:
    assert split_words(ms) == words


@given(st.integers(0, 600_000))
def test_rest_in_words_is_never_more_than_there_was(ms: int) -> None:
    assert 0 <= ms - int(rest_words(ms)) * 1000 < 1000


OUTCOMES = [
    (Outcome(What.COUNTED, "Ilka", 31_499, 28_501), "Ilka 31.4, 28 left"),
    (Outcome(What.COUNTED, "Ilka", 62_799), "Ilka 1:02.7 since the start"),
    (Outcome(What.CREDITED, "Ilka", 60_000, 0), "Ilka: finished on the bell"),
    (Outcome(What.ALREADY, "Ilka", 31_499), "Ilka already done at 31.4"),
    (Outcome(What.REFUSED, because="the clock is not running"), "the clock is not running"),
    (Outcome(What.REFUSED, "Ilka", because="that was a rest"), "Ilka: that was a rest"),
    (Outcome(What.NOTHING_TO_TAKE_BACK), "no tap to undo"),
    (Outcome(What.DONE, "Ilka"), ""),
]


@pytest.mark.parametrize(("outcome", "words"), OUTCOMES)
def test_an_outcome_is_said_in_a_line(outcome: Outcome, words: str) -> None:
    assert outcome_words(outcome) == words


@pytest.mark.parametrize("what", [what for what in What if what is not What.DONE])
def test_every_outcome_but_a_plain_done_has_words(what: What) -> None:
    words = outcome_words(Outcome(what, "Ilka", 31_000, 29_000, because="so it is"))
    assert words
    assert "{" not in words
    if what is not What.DONE and not Outcome(what).took_effect:
        assert re.search("nothing|not|no tap|went home|already|once|so it is", words), "it says that nothing came of it"
