"""Targets, steps, lengths, speeds, beats, counts and flags."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.plan.durations import UnreadableError
from floorclock.plan.fields import one_of
from floorclock.plan.quantities import (
    MOST,
    bounded_duration_ms,
    parse_beat,
    parse_count,
    parse_flag,
    parse_least,
    parse_length_mm,
    parse_percent,
    parse_speed_kmh,
    parse_step,
    parse_target,
    shuttles_nearest,
)
from floorclock.plan.work import Target, Unit
from tests.checks.reading import rows


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("14 reps", 14, Unit.REPS),
        ("14", 14, Unit.REPS),
        ("1 rep", 1, Unit.REPS),
        ("017", 17, Unit.REPS),
        ("200 m", 200, Unit.METRES),
        ("200m", 200, Unit.METRES),
        ("0.4 km", 400, Unit.METRES),
        ("2.5 m", Fraction(5, 2), Unit.METRES),
        ("12 cal", 12, Unit.CALORIES),
        ("0:40", 40, Unit.SECONDS),
        ("40 s", 40, Unit.SECONDS),
        ("1.5 min", 90, Unit.SECONDS),
    ],
)
def test_a_target_is_read_exactly_and_a_least_amount_as_well(text: str, amount: int | Fraction, unit: Unit) -> None:
    assert parse_target(text) == Target(Fraction(amount), unit)
    assert parse_least(text) == (amount, unit if text.strip("0123456789") else None)


def test_a_least_amount_without_a_unit_may_be_a_fraction() -> None:
    assert parse_least("1.5") == (Fraction(3, 2), None)


@pytest.mark.parametrize(
    ("text", "amounts", "unit", "words"),
    [
        ("21-15-9 reps", [21, 15, 9, 9], Unit.REPS, ["21", "15", "9", "9"]),
        ("2-4-6-4-2", [2, 4, 6, 4], Unit.REPS, ["2", "4", "6", "4"]),
        ("500-400 m", [500, 400, 400], Unit.METRES, ["500 m", "400 m", "400 m"]),
        ("10 reps each side", [20, 20], Unit.REPS, ["10 each side"]),
        ("0:30 each side", [60], Unit.SECONDS, ["0:30 each side"]),
        ("8 to 10 cal", [8], Unit.CALORIES, ["8 to 10 cal"]),
        ("8 cal to 10 cal", [8], Unit.CALORIES, ["8 to 10 cal"]),
        ("max reps", [0], Unit.REPS, ["max reps"]),
        ("max cal in 0:40", [0], Unit.CALORIES, ["max cal in 0:40"]),
    ],
)
def test_targets_are_read_as_a_coach_writes_them(text: str, amounts: list[int], unit: Unit, words: list[str]) -> None:
    target = parse_target(text)
    assert target.unit is unit
    assert [target.in_round(number) for number in range(1, len(amounts) + 1)] == amounts
    assert [target.words(number) for number in range(1, len(words) + 1)] == words


@pytest.mark.parametrize(
    ("text", "step", "unit"),
    [
        ("1", 1, None),
        ("-1", -1, None),
        ("+2 reps", 2, Unit.REPS),
        ("5 m", 5, Unit.METRES),
        ("0:05", 5, Unit.SECONDS),
        ("-0:05", -5, Unit.SECONDS),
    ],
)
def test_a_ladder_can_rise_and_fall(text: str, step: int, unit: Unit | None) -> None:
    assert parse_step(text) == (Fraction(step), unit)


@pytest.mark.parametrize(
    ("text", "mm"), [("1.40 m", 1400), ("140 cm", 1400), ("1400 mm", 1400), ("55 in", 1397), ("0.02 km", 20_000)]
)
def test_a_length_needs_its_unit_and_is_exact(text: str, mm: int) -> None:
    """55 in = 1397 mm: an inch is exactly 25.4 mm (international yard and pound agreement of 1959, from memory, very sure)."""
    assert parse_length_mm(text) == mm


REFUSED: list[tuple[Callable[[str], object], list[str]]] = [
    (parse_target, ["", "0", "0 m", "-5 reps", "2.5 reps", "many", "1e3", "200 yd", "100001", "100 km 1", "25:00:00", "9" * 99]),
    (
        parse_target,
        ["10-8-", "21-15-9 stones", "10 to 8 cal", "8 m to 10 cal", "max", "max weight", "5-4 reps each side", "0-1 reps"],
    ),
    (parse_least, ["", "0", "-1", "0 m", "few", "2.5 reps", "6 yd", "100001", "1:61"]),
    (parse_length_mm, ["1.40", "9999 km"]),
    (parse_speed_kmh, ["8.5 m/s", "900", "0"]),
    (parse_beat, ["1000", "0", "96 per hour"]),
    (parse_count, ["5.0", "0x10", "10001", "-1", "five"]),
    (parse_flag, ["maybe", "1", "y"]),
    (one_of("finish", "round").parse, ["lap"]),
]


@pytest.mark.parametrize(("parse", "text"), [(parse, text) for parse, texts in REFUSED for text in texts])
def test_what_is_out_of_bounds_or_means_nothing_is_refused_with_a_way_out(parse: Callable[[str], object], text: str) -> None:
    with pytest.raises(UnreadableError) as refused:
        parse(text)
    assert refused.value.hint


def test_counts_flags_beats_and_speeds_are_read_as_written() -> None:
    assert [parse_count(text) for text in ("8", "08", "017")] == [8, 8, 17]
    assert [parse_flag(text) for text in ("true", "Yes", "ON", "false", "no", "off")] == [True, True, True, False, False, False]
    assert [parse_beat(text) for text in ("96 per minute", "96", "96/min", "92.5")] == [96, 96, 96, Fraction(185, 2)]
    assert [parse_speed_kmh(text) for text in ("8.5 km/h", "8.5")] == [Fraction(17, 2), Fraction(17, 2)]
    assert [one_of("finish", "round").parse(text) for text in ("finish", "round")] == ["finish", "round"]


def test_a_duration_out_of_bounds_says_the_bound() -> None:
    with pytest.raises(UnreadableError, match="at most 5:00"):
        bounded_duration_ms("6:00", 0, 300_000)
    with pytest.raises(UnreadableError, match="at least 0:01"):
        bounded_duration_ms("0", 1000, 300_000)


def test_shuttles_nearest_to_a_minute_are_within_one_of_the_published_table() -> None:
    """Speeds and lengths: Leger et al. 1988; the table's shuttles per level are from memory and round up here and there."""
    table = rows("shuttle.csv")
    assert len(table) == 42
    for row in table:
        speed = Fraction(row["speed_kmh"])
        ours = shuttles_nearest(Fraction(20), speed, 60_000)
        each_ms = 72_000 / speed
        assert 0 <= int(row["shuttles"]) - ours <= 1
        assert all(abs(ours * each_ms - 60_000) <= abs(other * each_ms - 60_000) for other in (ours - 1, ours + 1))
    assert shuttles_nearest(Fraction(20), Fraction(1, 2), 1000) == 1


@given(st.text(max_size=60))
def test_any_text_is_a_target_within_bounds_or_a_plain_refusal(text: str) -> None:
    target, hint = None, ""
    try:
        target = parse_target(text)
    except UnreadableError as refusal:
        hint = refusal.hint
    assert hint or (target is not None and 0 < target.amount <= MOST[target.unit])


@pytest.mark.parametrize("text", ["90", "90%", "90 %", " 90  % ", "090"])
def test_a_percentage_is_the_same_with_and_without_its_sign(text: str) -> None:
    assert parse_percent(text, 50, 99) == 90


@pytest.mark.parametrize(
    ("text", "hint"),
    [("49", "at least 50 %"), ("100 %", "at most 99 %"), ("0.9", "90 %"), ("ninety", "90 %"), ("%", "90 %"), ("90 %%", "90 %")],
)
def test_what_is_no_percentage_is_refused_with_a_way_out(text: str, hint: str) -> None:
    with pytest.raises(UnreadableError) as refused:
        parse_percent(text, 50, 99)
    assert hint in refused.value.hint
    assert refused.value.message.startswith(f"`{text}` is ")
