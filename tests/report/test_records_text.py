"""Two classes beside each other, and a coach's view over weeks, on a terminal."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from rich.cells import cell_len

from floorclock.insight.compare import Change, Comparison, compare
from floorclock.insight.statistics import wilson
from floorclock.insight.trends import (
    HeldTrend,
    RankedSession,
    RankedStation,
    StationTrend,
    TooFew,
    Trends,
    WeekTally,
)
from floorclock.report.records_text import change_words, print_comparison, print_trends
from floorclock.store.indexing import bring_up_to_date
from floorclock.store.store import open_store
from floorclock.store.tallies import Tally
from tests.insight.season import BRIDGES, FIRST, LOCKS, Person, record
from tests.report.printing import as_printed, lines_of, printed


@pytest.fixture
def found(tmp_path: Path) -> Comparison:
    return _compared(tmp_path, LOCKS)


def _compared(folder: Path, session: str) -> Comparison:
    before = {"Ilka": Person(), "Sefa": Person(), "Noor": Person(), "Odd": Person(tapped=0.0), "Bram": Person()}
    after = {"Ilka": Person(pace=0.8), "Sefa": Person(pace=1.2), "Noor": Person(), "Odd": Person(), "Teo": Person()}
    after["Noor"] = Person(not_finished=frozenset({5}))
    home = folder / "own"
    with open_store(f"sqlite:///{folder / 'own.sqlite3'}", "home") as store:
        ids = [record(home, FIRST, before), record(home, FIRST.replace(day=9), after, session)]
        bring_up_to_date(home, store)
        return compare(store, *ids)


def comparison_of(found: Comparison, width: int = 80) -> str:
    return printed(lambda console: print_comparison(found, console), width)


def test_who_changed_and_who_cannot_be_told(found: Comparison) -> None:
    text = comparison_of(found)
    assert "7 days later" in text
    assert "3 athletes can be compared: 1 faster, 1 slower, 1 too close to call." in " ".join(text.split())
    assert "By chance alone about 0.3 would be called either." in " ".join(text.split())
    assert "The class as a whole: too close to call:" in text
    rows = [line for line in text.splitlines() if line.split(" ")[0] in {"Ilka", "Sefa", "Noor", "Odd"}]
    assert [line.split()[0] for line in rows] == ["Ilka", "Sefa", "Noor", "Odd"]
    assert "% faster (" in rows[0]
    assert "swing -" in rows[0]
    assert "% slower (" in rows[1]
    assert "too close to call" in rows[2]
    assert "too little: under 3 rounds" in rows[3]
    assert "not finished 0, then 1" in text
    assert "-60.0 s" in text
    assert "Only on 2026-03-02: Bram" in text
    assert "Only on 2026-03-09: Teo" in text
    assert "a good or a bad day is in it" in " ".join(text.split())


def test_two_sessions_say_that_only_their_moves_in_common_are_compared(tmp_path: Path) -> None:
    text = comparison_of(_compared(tmp_path, BRIDGES))
    assert text.startswith("Three locks and Two bridges")
    assert "only the moves that both have are compared" in text
    assert "# 14 reps to 16 reps" in " ".join(text.split())


@pytest.mark.parametrize("width", [40, 80, 120])
def test_it_fits_any_width_and_names_are_data(found: Comparison, width: int) -> None:
    strange = replace(found, athletes=(replace(found.athletes[0], name="[b]" + "Liselotte " * 5), *found.athletes[1:]))
    text = comparison_of(strange, width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "[b]Lisel" in text
    assert "…" not in text


def test_nobody_in_common_is_said(found: Comparison) -> None:
    text = comparison_of(replace(found, athletes=(), results=()))
    assert "Nobody was in both" in text


def test_a_change_is_said_with_its_span() -> None:
    assert change_words(Change(percent=-4.88, low=-7.69, high=-1.98, n=10)) == "4.9 % faster (2.0 to 7.7)"
    assert change_words(Change(percent=5.13, low=2.02, high=8.33, n=10)) == "5.1 % slower (2.0 to 8.3)"
    assert change_words(Change(percent=-0.001, low=-1.98, high=2.02, n=10)) == "too close to call: +0.0 % (-2.0 to +2.0)"


HELD = Tally(cases=20, held=12, fading=3, tight=6, not_finished=1)
NOBODY = Tally(cases=0, held=0, fading=0, tight=0, not_finished=0)


def ranked(name: str, flagged: int = 30) -> RankedSession:
    share = wilson(flagged, 40)
    return RankedSession(
        session=name,
        classes=4,
        cases=40,
        held=40 - flagged,
        fading=9,
        tight=flagged,
        not_finished=2,
        flagged_share=share.middle,
        low=share.low,
        high=share.high,
        ranked_by=flagged / 40,
    )


def ranked_station(name: str, move: str, flagged: int) -> RankedStation:
    session = ranked(name, flagged)
    values = {field.name: getattr(session, field.name) for field in fields(session)}
    return RankedStation(**values, part="The locks", move=move, drift_percent_per_round=1.234)


def station_trend(move: str, says: str, change_s: float, not_finished: int = 0) -> StationTrend:
    return StationTrend(
        session="Three locks",
        part="The locks",
        move=move,
        says=says,
        rest_change_s=change_s,
        days=77,
        classes=12,
        p=0.01,
        not_finished=not_finished,
    )


def some_trends() -> Trends:
    weeks = tuple(
        WeekTally(
            week=f"2026-W{10 + week}",
            monday=date(2026, 3, 2) + timedelta(weeks=week),
            classes=week % 3,
            visits=10 * (week % 3),
            held_share=0.6 if week % 3 else None,
            **(HELD if week % 3 else NOBODY).counts(),
        )
        for week in range(12)
    )
    return Trends(
        since=date(2026, 3, 2),
        until=None,
        classes=12,
        visits=120,
        people=23,
        all=HELD,
        weeks=weeks,
        held_trend=HeldTrend(says="rises", change=0.2, days=77, classes=12, p=0.03),
        sessions=(ranked("Three locks"), ranked("Two bridges", 9)),
        stations=tuple(ranked_station("Three locks", f"move {number}", 30 - number) for number in range(9)),
        too_few=TooFew(sessions=1, stations=0),
        station_trends=(station_trend("swing", "easier", 3.21, 2), station_trend("row", "too close to call", -1.0)),
        expected_by_chance=0.2,
    )


def trends_of(found: Trends, width: int = 80) -> str:
    return printed(lambda console: print_trends(found, console), width)


def test_what_a_coach_looks_for_is_there() -> None:
    """Who came and who held, week by week; the hardest sessions and stations, six of each at most, each share with its cases and
    its span; which stations got easier, and how many would by chance.
    """
    assert lines_of(trends_of(some_trends())) == as_printed("trends")


def test_too_little_is_called_so() -> None:
    bare = replace(some_trends(), held_trend=None, sessions=(), stations=(), station_trends=())
    text = trends_of(bare)
    assert "whether more hold: too little to tell" in text
    assert "Sessions: too little to tell (1 with under 10 cases left out)" in text
    assert "Stations: too little to tell" in text
    assert "Too little to tell: it takes 6 classes of one session." in text


def test_an_empty_time_is_said_in_two_lines() -> None:
    empty = replace(some_trends(), classes=0, visits=0, people=0, all=NOBODY, weeks=())
    lines = trends_of(empty).splitlines()
    assert lines == ["Trends, from 2026-03-02 on", "0 classes, 0 visits of 0 people"]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_it_fits_any_width_and_titles_are_data(width: int) -> None:
    strange = replace(some_trends(), sessions=(ranked("[i]" + "A very long title " * 3),))
    text = trends_of(strange, width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "[i]A very" in text
    assert "75 % (65 to 83)" in text
    assert "…" not in text
