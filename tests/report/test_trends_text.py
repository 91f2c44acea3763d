"""A coach's view over weeks on a terminal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from rich.cells import cell_len

from floorclock.insight.intervals import Course, wilson
from floorclock.insight.tallies import NOBODY, Tally
from floorclock.insight.trends import Ranked, StationCourse, Trends, WeekTally
from floorclock.report.trends_text import print_trends
from tests.report.printing import printed

HELD = Tally(cases=20, flagged=8, fading=3, tight=6, not_finished=1)


def ranked(name: str, move: str = "", flagged: int = 30) -> Ranked:
    tally = Tally(cases=40, flagged=flagged, fading=9, tight=flagged, not_finished=2)
    return Ranked(
        session=name,
        part="The locks" if move else "",
        move=move,
        classes=4,
        tally=tally,
        flagged=wilson(flagged, 40),
        shrunk=flagged / 40,
        drift_percent=1.234 if move else None,
    )


def some_trends() -> Trends:
    weeks = tuple(
        WeekTally(
            monday=date(2026, 3, 2) + timedelta(weeks=week),
            classes=week % 3,
            visits=10 * (week % 3),
            tally=HELD if week % 3 else NOBODY,
        )
        for week in range(12)
    )
    return Trends(
        since=date(2026, 3, 2),
        until=None,
        classes=12,
        visits=120,
        people=23,
        tally=HELD,
        weeks=weeks,
        held=Course(0.2, 77, 0.03, 12),
        sessions=(ranked("Three locks"), ranked("Two bridges", flagged=9)),
        stations=tuple(ranked("Three locks", f"move {number}", 30 - number) for number in range(9)),
        too_few_sessions=1,
        too_few_stations=0,
        courses=(
            StationCourse(
                session="Three locks", part="The locks", move="swing", course=Course(3.21, 77, 0.01, 12), not_finished=2
            ),
            StationCourse(session="Three locks", part="The locks", move="row", course=Course(-1.0, 77, 0.5, 12)),
        ),
    )


def test_what_a_coach_looks_for_is_there() -> None:
    text = printed(lambda console: print_trends(some_trends(), console), 80)
    flowing = " ".join(text.split())
    assert "12 classes, 120 visits of 23 people" in text
    assert "held margin and pace in 12 of 20 cases; 3 fading, 6 tight, 1 not finished" in text
    assert "visits  ·▄█·▄█·▄█·▄█   the tallest is 20" in text
    assert "held    ·▅▅·▅▅·▅▅·▅▅   the tallest is all of them" in text
    assert "more hold: +20 in 100 over 77 days (12 classes, each with others of its session; by chance in 3 of 100)" in flowing
    assert "Sessions (1 with under 10 cases left out)" in text
    assert "Three locks     40  75 % (65 to 83)       9     30         2" in text
    assert "Stations, the hardest 6 of 9" in text
    assert "move 0 (The locks)" in text
    assert "move 7" not in text
    assert "swing (The locks): easier, +3.2 s of rest in 77 days; 2 not finished are in no rest" in flowing
    assert "1 of 2 stations changed; by chance alone about 0.2 would." in flowing


def test_too_little_is_called_so() -> None:
    bare = replace(some_trends(), held=None, sessions=(), stations=(), courses=())
    text = printed(lambda console: print_trends(bare, console), 80)
    assert "whether more hold: too little to tell" in text
    assert "Sessions: too little to tell (1 with under 10 cases left out)" in text
    assert "Stations: too little to tell" in text
    assert "Too little to tell: it takes 6 classes of one session." in text


def test_an_empty_time_is_said_in_two_lines() -> None:
    empty = replace(some_trends(), classes=0, visits=0, people=0, tally=NOBODY, weeks=())
    lines = printed(lambda console: print_trends(empty, console), 80).splitlines()
    assert lines == ["Trends, from 2026-03-02 on", "0 classes, 0 visits of 0 people"]


@pytest.mark.parametrize("width", [40, 80, 120])
def test_it_fits_any_width_and_titles_are_data(width: int) -> None:
    strange = replace(some_trends(), sessions=(ranked("[i]" + "A very long title " * 3),))
    text = printed(lambda console: print_trends(strange, console), width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "[i]A very" in text
    assert "75 % (65 to 83)" in text
    assert "…" not in text
