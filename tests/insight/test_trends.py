"""A coach's view over weeks: counted on both databases, and compared with counting by hand."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from floorclock.insight.as_json import as_json
from floorclock.insight.trends import LEAST_CASES, held_trend, ranked_sessions, shrunk, station_trends, trends, weeks_of
from floorclock.pace.flags import Flag
from floorclock.store.questions import StationOf, class_rows
from floorclock.store.rows import BITS, ClassRows, PaceRow
from floorclock.store.store import Store
from floorclock.store.tallies import COUNTED, ClassTally, StationTally, Tally, class_tallies, people_there, station_tallies, total
from tests.insight.conftest import PEOPLE, WEEKS, Shared
from tests.store import conftest as store_fixtures
from tests.store.sample_rows import EVENING, LATER, a_class, pace, station

kind = store_fixtures.kind
"""Tallies are counted in SQL: on both databases."""


def flagged(name: str, *flags: Flag, station: int = 0, tapped: int = 5) -> PaceRow:
    return replace(
        pace(name, station=station, move="swing" if station == 0 else "row", tapped=tapped),
        flags=sum(BITS[flag] for flag in flags),
        not_finished=int(Flag.NOT_FINISHED in flags),
    )


def classed(number: int, paces: Sequence[PaceRow], session: str = "Three locks", **changes: object) -> ClassRows:
    names = sorted({row.name for row in paces})
    places = (station(), station(move="row", number=1))
    return a_class(number, *names, paces=tuple(paces), stations=places, session=session, splits=(), results=(), **changes)


def some_classes() -> list[ClassRows]:
    return [
        classed(0, [flagged("Ilka"), flagged("Ilka", Flag.TIGHT, station=1), flagged("Bram", Flag.FADING, Flag.TIGHT)]),
        classed(7, [flagged("Ilka"), flagged("Bram", Flag.NOT_FINISHED, tapped=0), flagged("Noor", tapped=0)]),
        classed(8, [flagged("Ilka", Flag.TIGHT)], session="Two bridges"),
        classed(9, [flagged("Sefa", Flag.TIGHT)], rehearsal=True),
    ]


def test_cases_are_athletes_who_were_measured(store: Store) -> None:
    store.put(some_classes())
    found = class_tallies(store, None, None)
    assert [(tally.athletes, total([tally])) for tally in found] == [
        (2, Tally(cases=2, held=0, fading=1, tight=2, not_finished=0)),
        # Noor was never tapped: she is in no share.
        (3, Tally(cases=2, held=1, fading=0, tight=0, not_finished=1)),
        (1, Tally(cases=1, held=0, fading=0, tight=1, not_finished=0)),
    ]
    assert found[0].started == EVENING
    assert people_there(store, None, None) == 3


def test_stations_are_counted_over_the_classes_of_a_session(store: Store) -> None:
    store.put(some_classes())
    found = {(tally.session, tally.move): (tally.classes, total([tally])) for tally in station_tallies(store, None, None)}
    assert found == {
        ("Three locks", "swing"): (2, Tally(cases=4, held=2, fading=1, tight=1, not_finished=1)),
        ("Three locks", "row"): (1, Tally(cases=1, held=0, fading=0, tight=1, not_finished=0)),
        ("Two bridges", "swing"): (1, Tally(cases=1, held=0, fading=0, tight=1, not_finished=0)),
    }


def test_an_option_taken_half_way_makes_no_second_athlete(store: Store) -> None:
    both = [flagged("Ilka", Flag.TIGHT), replace(flagged("Ilka"), move="deadlift")]
    store.put([classed(0, both)])
    assert total(station_tallies(store, None, None)) == Tally(cases=1, held=0, fading=0, tight=1, not_finished=0)


def test_days_bound_what_is_counted(store: Store) -> None:
    store.put(some_classes())
    day = EVENING.date()
    assert trends(store, since=day + timedelta(days=3)).classes == 2
    assert trends(store, since=day, until=day + timedelta(days=8)).classes == 2
    assert trends(store, until=day).classes == 0
    assert trends(store, date.min, date.max).classes == 3


def test_counts_of_the_season_are_those_of_its_paces(shared: Shared) -> None:
    store, ids = shared
    found = trends(store)
    cases = dict.fromkeys(COUNTED, 0)
    measured = held = 0
    for id_ in ids:
        raised: dict[str, int] = {}
        rows = class_rows(store, id_)
        assert rows is not None
        for row in rows.paces:
            if row.tapped or row.not_finished:
                raised[row.name] = raised.get(row.name, 0) | row.flags
        measured += len(raised)
        held += sum(not bits for bits in raised.values())
        for flag in COUNTED:
            cases[flag] += sum(bool(bits & BITS[flag]) for bits in raised.values())
    assert (found.all.cases, found.all.held) == (measured, held)
    assert (found.all.fading, found.all.tight, found.all.not_finished) == tuple(cases[flag] for flag in COUNTED)
    assert (found.classes, found.visits, found.people) == (WEEKS, WEEKS * len(PEOPLE), len(PEOPLE))


def test_the_hardest_station_of_the_season_comes_first(shared: Shared) -> None:
    found = trends(shared[0])
    assert [session.session for session in found.sessions] == ["Two bridges", "Three locks"]
    assert (found.stations[0].session, found.stations[0].move) == ("Two bridges", "row")
    row = found.stations[0]
    low, high = proportion_confint(row.flagged, row.cases, alpha=0.2, method="wilson")
    assert (row.low, row.high) == pytest.approx((low, high))
    # Everybody was drawn to slow by half a per cent a round or more.
    assert all(one.drift_percent_per_round is not None and -1 < one.drift_percent_per_round < 4 for one in found.stations)


def a_tally(name: str, count: int, of: int) -> StationTally:
    counts = {"cases": of, "held": of - count, "fading": 0, "tight": count, "not_finished": 0}
    return StationTally(session=name, part="", move="", classes=1, **counts)


def test_few_cases_do_not_lead() -> None:
    some = [a_tally("few", 10, 10), a_tally("many", 190, 200), a_tally("calm", 10, 300), a_tally("one", 1, 1)]
    found = ranked_sessions(some)
    assert [session.session for session in found] == ["many", "few", "calm"]
    assert all(session.cases >= LEAST_CASES for session in found)


def test_a_share_is_drawn_towards_all_as_by_a_beta_prior() -> None:
    # The mean of a beta posterior whose prior is worth ten cases.
    assert shrunk(3, 12, 0.2) == pytest.approx(stats.beta(3 + 2, 9 + 8).mean())
    assert shrunk(0, 10_000, 0.9) == pytest.approx(0, abs=1e-3)


def class_tally(days: float, held: int, of: int, session: str = "Three locks") -> ClassTally:
    counts = {"cases": of, "held": held, "fading": 0, "tight": of - held, "not_finished": 0}
    started = EVENING + timedelta(days=days)
    return ClassTally(class_id=f"{days}", started=started, session=session, athletes=of + 1, **counts)


def test_weeks_go_on_where_nobody_came() -> None:
    weeks = weeks_of([class_tally(0, 4, 10), class_tally(3, 8, 10), class_tally(15, 2, 4)])
    assert [(one.week, one.classes, one.visits) for one in weeks] == [("2026-W10", 2, 22), ("2026-W11", 0, 0), ("2026-W12", 1, 5)]
    assert [one.held_share for one in weeks] == [0.6, None, None]
    assert weeks_of([]) == ()


def test_a_week_is_that_of_the_place() -> None:
    late = replace(class_tally(0, 1, 6), started=datetime.fromisoformat("2026-03-09T00:30:00+02:00"))
    week = weeks_of([late])[0]
    assert (week.monday, week.week, week.visits, week.cases) == (date(2026, 3, 9), "2026-W11", 7, 6)


def test_whether_more_hold_is_asked_within_each_session() -> None:
    # Each session gets easier; the hard one comes later, so that over all weeks fewer seem to hold.
    easy = [class_tally(7 * week, 12 + week, 20, "easy") for week in range(5)]
    hard = [class_tally(7 * week, 1 + week, 20, "hard") for week in range(5, 10)]
    found = held_trend([*easy, *hard])
    assert found is not None
    assert found.says == "rises"
    assert found.change > 0


def test_too_few_classes_tell_nothing_of_who_holds() -> None:
    assert held_trend([class_tally(7 * week, week, 10) for week in range(5)]) is None
    # Six sessions, each once: there is nothing to compare.
    assert held_trend([class_tally(7 * week, week, 10, f"session {week}") for week in range(6)]) is None
    # Classes of four athletes make no share.
    assert held_trend([class_tally(7 * week, 1, 4) for week in range(9)]) is None


def fared(rests_s: Sequence[float | None], session: str = "Three locks", not_finished: int = 0) -> list[StationOf]:
    return [
        StationOf(
            class_id=f"{number}",
            started=EVENING + 7 * number * LATER,
            session=session,
            station=replace(
                station(), median_rest_ms=None if rest is None else 1000 * rest, not_finished=not_finished, part_title="The locks"
            ),
        )
        for number, rest in enumerate(rests_s)
    ]


def test_a_station_gets_easier_or_harder_or_cannot_be_told() -> None:
    up = [10.0, 12.0, 11.5, 13.0, 14.0, 15.0, 16.0]
    rests: dict[str, list[float | None]] = {
        "up": [*up],
        "down": [20.0, 19.0, 18.5, 18.0, 16.0, 15.0],
        "flat": [10.0, 12.0, 9.0, 13.0, 10.5, 11.0],
        "short": [10.0, 11.0, None, 12.0, 13.0, 14.0],
    }
    found = station_trends([split for name, here in rests.items() for split in fared(here, name, not_finished=1)])
    assert [(station.session, station.says, station.not_finished) for station in found] == [
        ("up", "easier", 7),
        ("down", "harder", 6),
        ("flat", "too close to call", 6),
    ]
    assert found[0].rest_change_s == pytest.approx(6 * float(stats.theilslopes(up).slope))


def test_an_empty_store_has_no_trends(store: Store) -> None:
    found = trends(store)
    assert (found.classes, found.people, found.weeks, found.held_trend) == (0, 0, (), None)
    assert (found.sessions, found.stations, found.station_trends) == ((), (), ())
    assert as_json(found)["all"]["cases"] == 0


def test_the_json_has_the_shape_that_programs_rely_on(shared: Shared) -> None:
    found = as_json(trends(shared[0], since=date(2026, 3, 1)))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert list(found) == [
        "since", "until", "classes", "visits", "people", "all", "share", "weeks", "held_trend", "sessions", "stations",
        "too_few", "station_trends", "expected_by_chance",
    ]  # fmt: skip
    tally = {"cases", "held", "fading", "tight", "not_finished"}
    assert found["all"].keys() == tally
    assert found["weeks"][0].keys() == tally | {"week", "monday", "classes", "visits", "held_share"}
    assert list(found["held_trend"]) == ["says", "change", "days", "classes", "p"]
    shares = tally | {"session", "classes", "flagged_share", "low", "high", "ranked_by"}
    assert found["sessions"][0].keys() == shares
    assert found["stations"][0].keys() == shares | {"part", "move", "drift_percent_per_round"}
    assert found["station_trends"][0].keys() == {
        "session", "part", "move", "says", "rest_change_s", "days", "classes", "p", "not_finished"
    }  # fmt: skip
    assert (found["since"], found["until"]) == ("2026-03-01", None)
