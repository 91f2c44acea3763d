"""Two classes beside each other: from journals, and from rows made by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from scipy import stats

from floorclock.clock.splits import Split, Status
from floorclock.errors import NotFound, WrongUsage
from floorclock.insight.as_json import as_json
from floorclock.insight.athlete import PaceVerdict, percent
from floorclock.insight.compare import Comparison, class_named, compare
from floorclock.plan.work import Unit
from floorclock.store.questions import class_ids
from floorclock.store.rows import AttendanceRow, ClassRows
from floorclock.store.store import Store
from tests.insight.conftest import PEOPLE, Shared
from tests.store.sample_rows import a_class, result, split

MIDDLE = {"swing": 30.0, "row": 45.0}


def rounds(name: str, move: str, splits_s: Sequence[float | None], *, station: int = 0, amount: int = 14) -> list[Split]:
    """One athlete at one move; None is an untapped round."""
    return [
        replace(
            split(name, 2 * place + station, split_ms=None if seconds is None else round(1000 * seconds), move=move),
            round=place + 1,
            station=station,
            amount=Fraction(amount),
            unit=Unit.REPS,
        )
        for place, seconds in enumerate(splits_s)
    ]


def taken(number: int, people: Mapping[str, Sequence[Split]], **changes: object) -> ClassRows:
    there = tuple(AttendanceRow(name=name, minutes=50.0) for name in people)
    rows = tuple(row for own in people.values() for row in own)
    return replace(a_class(number), attendance=there, splits=rows, **changes)  # type: ignore[arg-type]


def compared(store: Store, *classes: ClassRows) -> Comparison:
    store.put(classes)
    return compare(store, classes[0].id, classes[1].id)


def of_ilka(store: Store, before: Sequence[Split], after: Sequence[Split]) -> Comparison:
    return compared(store, taken(0, {"Ilka": before}), taken(7, {"Ilka": after}))


def test_who_changed_in_the_season_is_told(shared: Shared) -> None:
    store, ids = shared
    found = compare(store, ids[0], ids[12])
    assert found.same_session
    assert [athlete.name for athlete in found.with_way(PaceVerdict.FASTER)] == ["Ilka"]
    assert [athlete.name for athlete in found.with_way(PaceVerdict.SLOWER)] == ["Sefa"]
    ilka = next(athlete for athlete in found.athletes if athlete.name == "Ilka")
    assert ilka.change is not None
    assert ilka.change.low < 100 * (0.988**12 - 1) < ilka.change.high
    assert (found.tested, found.expected_by_chance) == pytest.approx((len(PEOPLE), 0.6))
    assert {result.name: result.time_s for result in found.results}["Teo"] == 0.0


def test_the_older_class_comes_first_however_they_are_named(shared: Shared) -> None:
    store, ids = shared
    assert compare(store, ids[4], ids[0]) == compare(store, ids[0], ids[4])


def test_the_interval_of_one_move_is_the_paired_test_of_scipy(store: Store) -> None:
    before, after = [30.1, 31.7, 33.0, 32.2, 35.9], [28.8, 31.9, 30.5, 30.8, 33.1]
    found = of_ilka(store, rounds("Ilka", "swing", before), rounds("Ilka", "swing", after))
    change = found.athletes[0].change
    span = stats.ttest_rel([math.log(s) for s in after], [math.log(s) for s in before]).confidence_interval(0.9)
    assert change is not None
    assert (change.low, change.high) == pytest.approx((percent(span.low), percent(span.high)))
    assert found.athletes[0].says is PaceVerdict.FASTER
    move = found.athletes[0].moves[0]
    assert move.before_s_per_unit == pytest.approx(stats.gmean(before) / 14)
    assert move.at_target_s == pytest.approx(stats.gmean(after) - stats.gmean(before))
    assert move.percent == pytest.approx(100 * (stats.gmean(after) / stats.gmean(before) - 1))


def test_the_class_as_a_whole_is_a_paired_test_over_athletes(store: Store) -> None:
    dice = Random(2)
    names = ["Ilka", "Bram", "Noor", "Odd"]
    classes = [
        taken(day, {name: rounds(name, "swing", [30 * math.exp(dice.gauss(0, 0.05)) for _ in range(5)]) for name in names})
        for day in (0, 7)
    ]
    found = compared(store, *classes)
    levels = [
        [math.fsum(math.log(row.split_ms or 0) for row in one.splits if row.athlete == name) / 5 for name in names]
        for one in classes
    ]
    span = stats.ttest_rel(levels[1], levels[0]).confidence_interval(0.9)
    assert found.whole is not None
    assert (found.whole.low, found.whole.high) == pytest.approx((percent(span.low), percent(span.high)))
    assert [(move.move, move.unit) for move in found.moves] == [("swing", Unit.REPS)]
    assert found.moves[0].low == pytest.approx(percent(span.low))


def test_of_people_who_did_not_change_about_a_tenth_is_called_by_chance(store: Store) -> None:
    dice = Random(6)
    names = [f"athlete {number}" for number in range(300)]
    classes = [
        taken(
            day,
            {
                name: [
                    row
                    for station, (move, middle) in enumerate(MIDDLE.items())
                    for row in rounds(name, move, [middle * math.exp(dice.gauss(0, 0.06)) for _ in range(5)], station=station)
                ]
                for name in names
            },
        )
        for day in (0, 7)
    ]
    found = compared(store, *classes)
    told = len(found.with_way(PaceVerdict.FASTER)) + len(found.with_way(PaceVerdict.SLOWER))
    assert found.expected_by_chance == pytest.approx(30)
    # Binomial with 300 and 0.1: a standard deviation of 5.2.
    assert 14 <= told <= 46


@pytest.mark.parametrize(
    ("before", "after", "common"),
    [([30.0, 32.0, 34.2, 36.0, None], [None, 32.1, 34.0, 36.1, 38.0], 3), ([30.0] * 5, [30.3] * 5, 5)],
    ids=["later rounds are slower, and those in common did not change", "a busy hand makes such a difference"],
)
def test_what_is_no_change_is_called_none(
    store: Store, before: list[float | None], after: list[float | None], common: int
) -> None:
    found = of_ilka(store, rounds("Ilka", "swing", before), rounds("Ilka", "swing", after))
    assert found.athletes[0].moves[0].rounds == common
    assert found.athletes[0].says is PaceVerdict.UNTOLD


def test_too_few_rounds_in_common_tell_nothing(store: Store) -> None:
    found = compared(
        store,
        taken(0, {"Ilka": rounds("Ilka", "swing", [30.0, 31.0]), "Bram": rounds("Bram", "swing", [None] * 5)}),
        taken(7, {"Ilka": rounds("Ilka", "swing", [20.0, 21.0]), "Bram": rounds("Bram", "swing", [30.0] * 5)}),
    )
    assert [(athlete.name, athlete.says, len(athlete.moves)) for athlete in found.athletes] == [
        ("Bram", PaceVerdict.TOO_LITTLE, 0),
        ("Ilka", PaceVerdict.TOO_LITTLE, 1),
    ]
    assert (found.tested, found.expected_by_chance, found.whole) == (0, 0, None)


def test_another_target_is_compared_with_its_set_up(store: Store) -> None:
    # A tenth of 10 reps is setting up: 20 reps take 1.9 times as long.
    before = rounds("Ilka", "swing", [20.0, 20.2, 20.1, 19.9], amount=10)
    found = of_ilka(store, before, rounds("Ilka", "swing", [38.0, 37.8, 38.3, 38.0], amount=20))
    move = found.athletes[0].moves[0]
    assert abs(move.percent) < 1
    assert move.says is PaceVerdict.UNTOLD
    assert (move.amount_before, move.amount_after) == (Fraction(10), Fraction(20))


def test_two_sessions_are_compared_at_the_moves_they_share(store: Store) -> None:
    swing = rounds("Ilka", "swing", [30.0, 30.5, 31.0])
    found = compared(
        store,
        taken(0, {"Ilka": [*swing, *rounds("Ilka", "row", [45.0] * 3, station=1)]}, session="Quay and back"),
        taken(7, {"Ilka": rounds("Ilka", "swing", [25.0, 25.5, 25.8], station=1)}, session="Two bridges"),
    )
    assert not found.same_session
    assert [move.move for move in found.athletes[0].moves] == ["swing"]
    assert found.athletes[0].says is PaceVerdict.FASTER


def test_in_one_session_repeated_stations_belong_together_by_place(store: Store) -> None:
    first, second = rounds("Ilka", "swing", [30.0, 30.4, 30.8]), rounds("Ilka", "swing", [40.0, 40.4, 40.8], station=1)
    # The first swing of the later class was not tapped: its second must not stand in for it.
    found = of_ilka(store, [*first, *second], second)
    assert found.athletes[0].moves[0].rounds == 3
    assert found.athletes[0].says is PaceVerdict.UNTOLD


def test_who_came_once_and_who_is_one_person_under_two_spellings(store: Store) -> None:
    ilka, own = rounds("Ilka", "swing", [30.0, 30.5, 31.0]), rounds("ilka", "swing", [25.0, 25.5, 26.0])
    store.put(
        [
            taken(0, {"Ilka": ilka, "Bram": []}, results=(result("Ilka"),)),
            taken(7, {"ilka": own, "Noor": []}, results=(replace(result("ilka"), time_ms=391_200, choice=""),)),
        ]
    )
    store.same({"ilka": "Ilka"})
    ids = class_ids(store)
    found = compare(store, *ids)
    assert (found.only_before, found.only_after) == (("Bram",), ("Noor",))
    assert [(athlete.name, athlete.says) for athlete in found.athletes] == [("Ilka", PaceVerdict.FASTER)]
    # Another choice of work: the times are no change.
    assert [(result.name, result.time_s, result.same_work) for result in found.results] == [("Ilka", None, False)]


def test_rounds_that_were_not_finished_are_counted(store: Store) -> None:
    before = rounds("Ilka", "swing", [30.0, 30.2, 30.1, 30.3])
    after = [*before[:3], replace(before[3], split_ms=None, status=Status.NOT_FINISHED)]
    found = of_ilka(store, before, after)
    assert found.athletes[0].not_finished == (0, 1)
    assert found.athletes[0].moves[0].rounds == 3


def test_a_class_is_named_by_the_start_of_its_id(shared: Shared) -> None:
    store, ids = shared
    assert class_named(store, ids[3][:8]) == ids[3]
    with pytest.raises(NotFound, match=f"{len(ids)} classes begin with 2026"):
        class_named(store, "2026")
    with pytest.raises(NotFound, match="no class 1999"):
        compare(store, ids[0], "1999")
    with pytest.raises(WrongUsage, match="the same class"):
        compare(store, ids[0], ids[0][:8])


def test_the_json_has_the_shape_that_programs_rely_on(shared: Shared) -> None:
    store, ids = shared
    found = as_json(compare(store, ids[0], ids[12]))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert list(found) == [
        "before", "after", "same_session", "share", "whole", "moves", "tested", "told", "expected_by_chance", "athletes",
        "results", "only_before", "only_after",
    ]  # fmt: skip
    assert list(found["before"]) == ["id", "started", "session", "athletes"]
    assert list(found["whole"]) == ["percent", "low", "high", "n"]
    assert found["moves"][0].keys() == {"move", "unit", "percent", "low", "high", "n"}
    athlete = next(athlete for athlete in found["athletes"] if athlete["name"] == "Ilka")
    assert list(athlete) == ["name", "says", "change", "not_finished", "moves"]
    assert athlete["says"] == "faster"
    assert list(athlete["moves"][0]) == [
        "move", "unit", "rounds", "amount_before", "amount_after", "before_s_per_unit", "after_s_per_unit", "percent",
        "at_target_s", "says", "change",
    ]  # fmt: skip
    assert list(found["results"][0]) == ["name", "part", "time_s", "before", "after"]
    assert (found["tested"], found["told"], found["expected_by_chance"]) == (6, 2, 0.6)
