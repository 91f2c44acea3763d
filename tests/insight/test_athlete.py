"""An athlete's page from classes that went through a journal, and from rows made by hand."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from floorclock.insight import as_json
from floorclock.insight.athlete import GOES_ON, MoveHistory, PaceVerdict, athlete_page, even_paces, flags_of, middle_pace_s
from floorclock.insight.history import loads_of, prior_of
from floorclock.pace.flags import Flag
from floorclock.pace.load import SessionLoad, week_load
from floorclock.pace.stats import median
from floorclock.plan.work import LoadUnit, Unit
from floorclock.store.indexing import bring_up_to_date
from floorclock.store.questions import class_rows
from floorclock.store.rows import AttendanceRow
from floorclock.store.store import Store
from tests.insight.conftest import WEEKS, Shared
from tests.insight.season import FIRST, Person, record, season
from tests.store.sample_rows import EVENING, LATER, a_class, lift, pace, result

TODAY = FIRST.date() + timedelta(weeks=WEEKS)
Own = tuple[Store, Path]


def way_of(move: MoveHistory) -> PaceVerdict | None:
    return None if move.trend is None else move.trend.says


def test_who_gets_faster_and_who_does_not_is_told(shared: Shared) -> None:
    ways = {
        name: {move.move: way_of(move) for move in athlete_page(shared[0], name, TODAY).moves} for name in ("Ilka", "Sefa", "Teo")
    }
    assert ways["Ilka"]["swing"] is PaceVerdict.FASTER
    assert ways["Sefa"]["swing"] is PaceVerdict.SLOWER
    # Drawn so that nothing changes.
    assert ways["Teo"]["swing"] is PaceVerdict.UNTOLD


def test_the_change_is_the_one_that_was_put_in(shared: Shared) -> None:
    swing = athlete_page(shared[0], "Ilka", TODAY).moves[0]
    assert (swing.move, swing.unit, swing.classes) == ("swing", Unit.REPS, WEEKS)
    assert swing.trend is not None
    assert swing.trend.days == 7 * (WEEKS - 1)
    assert swing.trend.percent == pytest.approx(100 * (0.988 ** (WEEKS - 1) - 1), abs=2.5)


def test_a_point_is_what_the_splits_of_its_class_say(shared: Shared) -> None:
    store, ids = shared
    point = next(point for point in athlete_page(store, "Noor", TODAY).moves[0].points if point.class_ == ids[0])
    rows = class_rows(store, ids[0])
    assert rows is not None
    here = [split for split in rows.splits if split.athlete == "Noor" and split.move == "swing"]
    taken = [split.split_ms for split in here if split.split_ms is not None]
    assert point.median_split_ms == median(taken)
    assert point.least_rest_ms == min(60_000 - split_ms for split_ms in taken)
    assert (point.amount, point.flags) == (Fraction(14), ())
    assert point.s_per_unit == pytest.approx(median(taken) / 14_000, rel=0.03)


def test_who_was_untapped_is_in_no_figure(own: Own) -> None:
    store, home = own
    record(home, FIRST, {"Ilka": Person(), "Odd": Person(tapped=0.0)})
    bring_up_to_date(home, store)
    page = athlete_page(store, "Odd", TODAY)
    assert [row.timed for row in page.classes] == [False]
    assert (page.held.timed, page.held.held, page.moves) == (0, 0, ())
    assert [result.time_ms for result in page.results] == [300_000]


def test_held_and_flagged_classes_are_counted(shared: Shared) -> None:
    page = athlete_page(shared[0], "Runa", TODAY)
    assert (page.held.timed, page.held.held, page.held.not_finished) == (WEEKS, 0, WEEKS)
    calm = athlete_page(shared[0], "Teo", TODAY)
    assert page.with_flag(Flag.NOT_FINISHED) == WEEKS
    assert calm.held.held == sum(not row.flags for row in calm.classes) > WEEKS / 2


def test_load_of_a_week_is_that_of_the_journals(own: Own) -> None:
    store, home = own
    for days in (0, 2, 3, 8):
        record(home, FIRST + timedelta(days=days), {"Ilka": Person(effort=5.0 + days / 2), "Bram": Person(effort=None)})
    bring_up_to_date(home, store)
    today = FIRST.date() + timedelta(days=9)
    page, unrated = athlete_page(store, "Ilka", today), athlete_page(store, "Bram", today)
    week = loads_of(store, ["Ilka"], FIRST.date() + timedelta(days=6))["Ilka"]
    first, second = page.weeks
    assert (first.load, first.monotony, first.strain) == (week.load, week.monotony, week.strain)
    assert (first.week, first.classes, first.rest_days) == ("2026-W10", 3, 4)
    assert first.monotony is not None
    # Days to come are no days of rest, and say nothing of how even a week was.
    assert (second.monotony, second.because, second.rest_days) == (None, GOES_ON, 2)
    assert "3 classes of the week without an effort" in unrated.weeks[0].because


def test_the_prior_behind_the_next_target_is_that_of_a_class_that_begins(own: Own) -> None:
    store, home = own
    people = {"Sefa": Person(pace=1.45), "Teo": Person(pace=0.5), "Noor": Person(pace=1.22)}
    season(home, store, people, 4)
    found: dict[str, Any] = {
        name: {move.move: move.next_target for move in athlete_page(store, name, TODAY, home=home).moves}["swing"]
        for name in people
    }
    assert all(prior_of(store, [name])[name, "swing", Unit.REPS].classes == 4 for name in people)
    assert {name: target.way for name, target in found.items()} == {"Sefa": "less", "Teo": "more", "Noor": "keep"}
    assert found["Sefa"].target < found["Noor"].target == 14 < found["Teo"].target <= Fraction(84, 5)
    assert "4 classes: about" in found["Sefa"].because
    assert found["Noor"].because == "4 classes: the plan will do"


def test_a_page_goes_back_a_year_unless_more_is_asked(store: Store) -> None:
    store.put([a_class(number, "Ilka") for number in (0, 100, 400)])
    today = (EVENING + 400 * LATER).date()
    page = athlete_page(store, "Ilka", today)
    assert ([row.id[-4:] for row in page.classes], page.in_all.classes) == (["0064", "0190"], 3)
    assert len(athlete_page(store, "Ilka", today, date(2020, 1, 1)).classes) == 3
    assert len(athlete_page(store, "Ilka", today, date.min).moves[0].points) == 3
    page = athlete_page(store, "Ilka", EVENING.date())
    assert page.classes[0].started == EVENING
    # One class has no trend.
    assert page.moves[0].trend is None


def test_two_spellings_in_one_class_are_one_class(store: Store) -> None:
    twice = replace(
        a_class(0, "Ilka", "ilka"),
        attendance=(AttendanceRow(name="Ilka", minutes=20.0), AttendanceRow(name="ilka", minutes=50.0, effort=4.0)),
    )
    store.put([twice])
    store.same({"ilka": "Ilka"})
    page = athlete_page(store, "Ilka", EVENING.date())
    assert [(row.minutes, row.effort, row.load) for row in page.classes] == [(50.0, 4.0, 200.0)]
    assert page.weeks[0].classes == 1
    expected = week_load([(EVENING.date(), SessionLoad(name="", effort=4.0, minutes=50.0))], EVENING.date()).load
    assert page.weeks[0].load == expected == 200.0


def test_another_target_is_no_other_pace(store: Store) -> None:
    # The same person: a tenth of 10 reps is setting up, so 20 reps take 1.9 times as long.
    rows = [
        a_class(
            number,
            paces=(replace(pace("Ilka"), amount=Fraction(amount), drift=0.0, level=math.log(split_s / amount)),),
            attendance=(AttendanceRow(name="Ilka", minutes=50.0),),
        )
        for number, (amount, split_s) in enumerate([(10, 20.0)] * 4 + [(20, 38.0)] * 4)
    ]
    store.put(rows)
    move = athlete_page(store, "Ilka", (EVENING + 9 * LATER).date()).moves[0]
    assert [point.s_per_unit for point in move.points] == pytest.approx([2.0] * 4 + [1.9] * 4)
    assert even_paces(move.points) == pytest.approx([1.9] * 8)
    assert way_of(move) is PaceVerdict.UNTOLD


def test_a_pace_is_that_of_the_middle_round_and_bits_are_flags() -> None:
    row = replace(pace("Ilka"), level=math.log(2), drift=0.1, rounds=5)
    assert middle_pace_s(row) == pytest.approx(2 * math.exp(0.2))
    assert middle_pace_s(replace(row, drift=None)) == pytest.approx(2)
    assert middle_pace_s(replace(row, level=None)) is None
    assert flags_of(0b1101) == (Flag.NOT_FINISHED, Flag.TIGHT, Flag.FADING)


def test_the_json_has_the_shape_that_programs_rely_on(shared: Shared, shared_home: Path) -> None:
    found = as_json(athlete_page(shared[0], "Ilka", TODAY, home=shared_home))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert list(found) == [
        "name", "spellings", "in_all", "since", "until", "classes", "held", "moves", "weeks", "results", "lifts", "load_unit"
    ]  # fmt: skip
    assert list(found["in_all"]) == ["classes", "first", "last"]
    assert list(found["classes"][0]) == ["id", "session", "started", "minutes", "effort", "load", "timed", "flags"]
    assert found["held"].keys() == {"timed", "held", "fading", "tight", "not_finished"}
    move = found["moves"][0]
    assert list(move) == ["move", "unit", "points", "trend", "next_target"]
    assert list(move["points"][0]) == [
        "class", "started", "amount", "median_split_s", "s_per_unit", "least_rest_s", "drift_percent_per_round", "flags"
    ]  # fmt: skip
    assert list(move["trend"]) == ["says", "percent", "days", "classes", "p"]
    assert list(move["next_target"]) == ["target", "unit", "step", "sides", "words", "way", "because"]
    assert found["weeks"][0].keys() >= {"week", "monday", "classes", "load", "monotony", "strain", "because", "rest_days"}
    assert found["results"][0].keys() == {
        "class", "started", "session", "part", "kind", "choice", "time_s", "rounds", "reps", "not_finished", "score_unit",
        "scores",
    }  # fmt: skip
    assert [row["started"] for row in found["classes"]] == sorted(row["started"] for row in found["classes"])


def test_loads_and_scores_are_kept_over_weeks(store: Store) -> None:
    in_pounds = replace(lift("Ilka"), amount=Fraction(2_646), heaviest=Fraction(265, 2), unit=LoadUnit.LB)
    counted = replace(result("Ilka"), score_unit="reps", scores=((0, Fraction(14)), (2, Fraction(25, 2))))
    store.put(
        [
            a_class(0, "Ilka", lifts=(in_pounds,)),
            a_class(7, "Ilka", results=(counted,)),
            a_class(8, "Ilka", lifts=(lift("Ilka", heaviest=70, shared_by=2),)),
        ]
    )
    page = athlete_page(store, "Ilka", (EVENING + 9 * LATER).date())
    [squat] = page.lifts
    assert (squat.move, squat.unit) == ("squat", "kg")
    assert [(round(float(point.heaviest), 2), float(point.reps), point.shared_by) for point in squat.points] == [
        (60.1, 20, 1), (60, 20, 1), (70, 20, 2)
    ]  # fmt: skip
    # 1 lb = 0.45359237 kg: 2,646 lb are 1,200.2 kg. What two lifted together is nobody's own.
    assert [round(float(week.volume_load), 1) for week in page.weeks] == [1200.2, 1200.0]
    assert as_json(page)["results"][1]["scores"] == [14, 12.5]
