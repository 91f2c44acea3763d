"""Durations as coaches write them; `12:30` and the like are read as minutes and seconds (common practice, no source)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.plan.durations import DAY_MS, UnreadableError, duration_words, parse_duration_ms, shown


@pytest.mark.parametrize(
    ("text", "expected_ms"),
    [
        ("45", 45_000),
        ("0:45", 45_000),
        ("00:45", 45_000),
        ("12:30", 750_000),
        ("90:00", 5_400_000),
        ("1:00:00", 3_600_000),
        ("01:30:05", 5_405_000),
        ("90s", 90_000),
        ("90 s", 90_000),
        ("30 sec", 30_000),
        ("2 min", 120_000),
        ("2min", 120_000),
        ("1.5 min", 90_000),
        ("1.5 h", 5_400_000),
        ("0:07.5", 7_500),
        ("7.25", 7_250),
        ("  0:45 ", 45_000),
        ("017", 17_000),
        ("0", 0),
        ("24:00:00", DAY_MS),
    ],
)
def test_a_duration_is_read_exactly_as_written(text: str, expected_ms: int) -> None:
    assert parse_duration_ms(text) == expected_ms


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", ":45", "1:30.", "1:5", "1:60", "1:003", "9:99", "1:60:00", "1:30:00:00", "1:30s", "1:30\n:00", "٣:٠٠"),
        *("-1:30", "+1:30", "1_0:30", "1e3", "0o17", "0x1F", "nan", "inf", "yes", "~", "2020-01-01", "2 m"),
        *("24:00:01", "9" * 400, "0:00.0001"),
    ],
)
def test_what_could_mean_nothing_or_two_things_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        parse_duration_ms(text)
    assert isinstance(caught.value, ValueError)
    assert caught.value.hint
    assert len(caught.value.message) < 200


def test_a_slip_after_the_colon_is_answered_with_what_it_might_mean() -> None:
    with pytest.raises(UnreadableError, match=r"did you mean 2:00\?"):
        parse_duration_ms("1:60")


@pytest.mark.parametrize(
    ("duration_ms", "words"),
    [
        (45_000, "0:45"),
        (0, "0:00"),
        (750_000, "12:30"),
        (3_600_000, "1:00:00"),
        (7_500, "0:07.5"),
        (-61_000, "-1:01"),
        (1, "0:00.001"),
    ],
)
def test_a_duration_is_said_as_a_coach_would(duration_ms: int, words: str) -> None:
    assert duration_words(duration_ms) == words


@given(st.integers(min_value=0, max_value=DAY_MS))
def test_what_is_said_reads_back_as_the_same_duration(duration_ms: int) -> None:
    assert parse_duration_ms(duration_words(duration_ms)) == duration_ms


@given(st.text(max_size=60))
def test_any_text_is_a_duration_within_a_day_or_a_plain_refusal(text: str) -> None:
    hint, duration_ms = "", 0
    try:
        duration_ms = parse_duration_ms(text)
    except UnreadableError as refusal:
        hint, duration_ms = refusal.hint, -1
    assert hint or 0 <= duration_ms <= DAY_MS


def test_a_quoted_text_is_short_and_harmless_on_a_terminal() -> None:
    assert shown("a\x1b[2Jb\u202ec") == "`a<U+001B>[2Jb<U+202E>c`"
    assert shown("x" * 500) == f"`{'x' * 30}...`"
