"""Load: effort times minutes, and a week of it, with what is not defined said in words."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from floorclock.clock.events import ClassEnded, EffortRated, Event, Joined, Left, PartBegun, Paused, Resumed, Skipped
from floorclock.clock.fold import apply, fold
from floorclock.clock.state import ClassState
from floorclock.pace.load import SessionLoad, WeekLoad, session_loads, week_load
from floorclock.plan.roster import Athlete
from floorclock.plan.session import OpenPart
from tests.checks.reading import rows
from tests.clock.classes import BRAM, ILKA, NOOR, harbour, state_of

# Foster 1998, Medicine and Science in Sports and Exercise 30:1164-1168; Foster et al. 2001, Journal of Strength and
# Conditioning Research 15:109-115. No published week with numbers was found: the rows are computed from the formula, to six
# digits, with the closed form of k equal days as an independent check.
FOSTER = rows("foster.csv")
MONOTONY_DIGIT, STRAIN_DIGIT = 6e-7, 6e-5
"""Half of the last digit that the rows hold (six and four decimals), and a little."""
SUNDAY = date(2026, 11, 22)


def rated(effort: float | None, minutes: float = 60.0) -> SessionLoad:
    return SessionLoad(name="Ilka", effort=effort, minutes=minutes)


def week_of(*loads: SessionLoad | None) -> WeekLoad:
    """A week from its days, Monday first; None is a day without a class."""
    days = [SUNDAY - timedelta(days=6 - number) for number in range(7)]
    return week_load([(day, one) for day, one in zip(days, loads, strict=True) if one is not None], SUNDAY)


DAYS = [row for row in FOSTER if row["case"] == "example_week" and row["day_or_k"] != "TOTAL"]
EXAMPLE = [rated(float(row["rpe"]), float(row["minutes"])) if float(row["minutes"]) else None for row in DAYS]


def test_each_session_of_the_example_week_has_its_load() -> None:
    assert [0.0 if one is None else one.load for one in EXAMPLE] == [float(row["load"]) for row in DAYS]
    # The published arithmetic for one session: an hour at 7.
    assert rated(7).load == 420


def test_the_example_week_has_its_sum_monotony_and_strain() -> None:
    total = next(row for row in FOSTER if row["day_or_k"] == "TOTAL")
    week = week_of(*EXAMPLE)
    assert week.load == float(total["load"])
    assert week.monotony == pytest.approx(float(total["monotony_sample"]), abs=MONOTONY_DIGIT)
    assert week.strain == pytest.approx(float(total["strain_sample"]), abs=STRAIN_DIGIT)
    assert (week.rest_days, week.unrated, week.because) == (2, 0, "")


@pytest.mark.parametrize("row", [row for row in FOSTER if row["case"] == "k_equal_days"], ids=lambda row: row["day_or_k"])
def test_k_equal_days_and_rest_have_the_monotony_of_the_closed_form(row: dict[str, str]) -> None:
    k = int(row["day_or_k"])
    week = week_of(*[rated(5, 20)] * k, *[None] * (7 - k))
    assert week.load == float(row["load"])
    assert week.rest_days == 7 - k
    if row["monotony_sample"] == "undefined":
        assert (week.monotony, week.strain) == (None, None)
        assert week.because == "every day had the same load, so monotony and strain have no value"
        return
    assert week.monotony == pytest.approx(float(row["monotony_sample"]), abs=MONOTONY_DIGIT)
    assert week.strain == pytest.approx(float(row["strain_sample"]), abs=STRAIN_DIGIT)
    assert week.monotony == pytest.approx(math.sqrt(6 * k / (7 * (7 - k))), rel=1e-12)


def test_a_week_without_any_class_has_no_monotony_and_says_why() -> None:
    week = week_of(*[None] * 7)
    assert (week.load, week.monotony, week.strain, week.rest_days) == (0, None, None, 7)
    assert week.because == "no load in these seven days, so monotony and strain have no value"


def test_a_class_that_was_not_rated_is_unknown_and_no_rest() -> None:
    week = week_of(rated(5), None, rated(None), None, rated(None), None, None)
    assert week.load == 300
    assert week.rest_days == 4
    assert (week.monotony, week.strain, week.unrated) == (None, None, 2)
    assert week.because == "2 classes of the week without an effort, so the week is not known in full"


def test_an_effort_of_nothing_is_a_load_of_nothing_and_no_day_of_rest() -> None:
    week = week_of(rated(0), rated(4), *[None] * 5)
    assert week.load == 240
    assert week.rest_days == 5
    assert week.monotony == pytest.approx(1 / math.sqrt(7), rel=1e-12)


def test_two_classes_on_one_day_add_up_and_other_days_are_left_out() -> None:
    classes = [
        (SUNDAY, rated(5)),
        (SUNDAY, rated(2, 30)),
        (SUNDAY - timedelta(days=7), rated(9)),
        (SUNDAY + timedelta(days=1), rated(9)),
    ]
    week = week_load(classes, SUNDAY)
    assert [day.load for day in week.days] == [0, 0, 0, 0, 0, 0, 360]
    assert [day.day.day for day in week.days] == [16, 17, 18, 19, 20, 21, 22]
    assert week.load == 360


# A class: a warm-up of 5 minutes, a count-in of 10 s, three rounds of three minutes, and a part to cool down.
PARTS = (OpenPart(title="Warm-up"), harbour(), OpenPart(title="Cool down"))
GO = 300_000 + 10_000
WORK = 9 * 60_000


def begun(*events: Event) -> ClassState:
    state = state_of(*PARTS, athletes=(ILKA, BRAM, NOOR))
    return fold(state, [PartBegun(at_ms=0, part=0), PartBegun(at_ms=300_000, part=1), *events])


def minutes(state: ClassState) -> dict[str, float]:
    return {one.name: one.minutes for one in session_loads(state)}


def test_everybody_has_the_minutes_from_the_first_part_to_the_end_of_the_last() -> None:
    state = begun(ClassEnded(at_ms=GO + WORK + 120_000), EffortRated(at_ms=GO + WORK + 120_000, athlete="Bram", effort=6))
    assert session_loads(state) == (
        SessionLoad(name="Ilka", effort=None, minutes=(GO + WORK + 120_000) / 60_000),
        SessionLoad(name="Bram", effort=6, minutes=(GO + WORK + 120_000) / 60_000),
        SessionLoad(name="Noor", effort=None, minutes=(GO + WORK + 120_000) / 60_000),
    )
    assert [one.load for one in session_loads(state)] == [None, pytest.approx(6 * 16 + 1), None]


def test_a_class_that_runs_is_counted_up_to_now_and_one_not_begun_not_at_all() -> None:
    assert minutes(state_of(*PARTS)) == {"Ilka": 0}
    state = begun()
    state.advance(GO)
    assert minutes(state)["Ilka"] == GO / 60_000


def test_what_is_rated_long_after_the_class_makes_it_no_longer() -> None:
    state = begun(ClassEnded(at_ms=GO + WORK))
    before = minutes(state)
    apply(state, EffortRated(at_ms=GO + WORK + 3_600_000, athlete="Ilka", effort=4))
    assert minutes(state) == before


ODA = Joined(at_ms=GO + 90_000, athlete=Athlete(name="Oda", key="o"))
LEFT = Left(at_ms=GO + 130_000, athlete="Bram")


@pytest.mark.parametrize(
    ("events", "ended_ms", "name", "here_ms"),
    [
        # The class clock stands while the class is paused: the next event comes at the same class time, however long that was.
        ([Paused(at_ms=GO + 60_000), Resumed(at_ms=GO + 60_000, count_in_ms=3_000)], GO + 120_000, "Ilka", GO + 120_000),
        ([ODA], GO + WORK, "Oda", WORK - 120_000),
        ([ODA], GO + WORK, "Ilka", GO + WORK),
        # The second interval ran from 0:30 to 1:30, the third is hers.
        ([Skipped(at_ms=GO + 30_000), replace(ODA, at_ms=GO + 40_000)], GO + 300_000, "Oda", 210_000),
        ([LEFT], GO + WORK, "Bram", GO + 120_000),
        ([LEFT, Joined(at_ms=GO + 310_000, athlete=BRAM)], GO + WORK, "Bram", GO + 120_000 + WORK - 360_000),
    ],
    ids=[
        "a pause is not counted",
        "a latecomer counts from their first interval",
        "and changes nothing for the others",
        "after a skip from where the class really was",
        "who left counts until their last interval",
        "and who came back again from then",
    ],
)
def test_minutes_are_those_somebody_was_there(events: list[Event], ended_ms: int, name: str, here_ms: int) -> None:
    assert minutes(begun(*events, ClassEnded(at_ms=ended_ms)))[name] == pytest.approx(here_ms / 60_000)


def test_who_was_taken_off_the_board_before_the_class_was_not_in_it() -> None:
    state = state_of(*PARTS, athletes=(ILKA, BRAM))
    fold(state, [Left(at_ms=0, athlete="Bram"), PartBegun(at_ms=0, part=0), ClassEnded(at_ms=600_000)])
    assert minutes(state) == {"Ilka": 10, "Bram": 0}
