"""An athlete's page on a terminal."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest
from rich.cells import cell_len

from floorclock.digest.words import result_words
from floorclock.insight.athlete import AthletePage, page_of, part_result
from floorclock.insight.targets import NextTarget
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.plan.work import Unit
from floorclock.report.athlete_text import print_athlete
from floorclock.store.questions import AthleteLine, Visit
from floorclock.store.rows import BITS, AttendanceRow
from tests.report.printing import as_printed, lines_of, printed
from tests.store.sample_rows import lift, pace, result

FIRST = datetime(2026, 3, 2, 18, 30, tzinfo=UTC)
COUNT = 12


def a_page(name: str = "Ilka", *, effort: float | None = 6.0, moves: tuple[str, ...] = ("swing", "row")) -> AthletePage:
    """Twelve classes, one a week: at every move 2 % faster each week, tight in the first."""
    days = [FIRST + timedelta(weeks=week) for week in range(COUNT)]
    row = replace(pace(name), amount=Fraction(14), unit=Unit.REPS, flags=0, drift=0.0, rounds=5, tapped=5, not_finished=0)
    history = [
        Visit(
            class_id=f"class {week}",
            started=day,
            session="Three locks",
            attendance=(AttendanceRow(name=name, minutes=50, effort=effort),),
            paces=tuple(
                replace(
                    row,
                    move=move,
                    station=station,
                    level=math.log(2.2) - 0.02 * week,
                    flags=BITS[Flag.TIGHT] if week == 0 else 0,
                    median_split_ms=30_800 * 0.98**week,
                )
                for station, move in enumerate(moves)
            ),
            results=(result(name),),
            lifts=(lift(name, heaviest=60 + week // 3),),
        )
        for week, day in enumerate(days)
    ]
    more = NextTarget(
        target=Fraction(32), unit=Unit.REPS, step=Fraction(0), sides=2, words="16 each side", way=Way.MORE, because="a reason"
    )
    option = replace(more, target=None, words="lighter", way=Way.OPTION, because="nothing else would hold")
    targets: dict[tuple[str, Unit | None], NextTarget] = {("swing", Unit.REPS): more, ("row", Unit.REPS): option}
    whose = AthleteLine(name=name, spellings=("ilka b.",), classes=40, first=FIRST - timedelta(days=700), last=days[-1])
    own = {key: target for key, target in targets.items() if key[0] in moves}
    return page_of(whose, date(2026, 1, 1), days[-1].date(), history, own)


def text_of(page: AthletePage, width: int = 80, *, encoding: str = "utf-8") -> str:
    return printed(lambda console: print_athlete(page, console), width, encoding=encoding)


def test_what_a_coach_looks_for_is_there() -> None:
    """Spellings, classes, how often they held and which flags; each move with a picture that rises as they get faster, and
    next time's target with its reason; what they lifted; two weeks in words; the newest results.
    """
    assert lines_of(text_of(a_page())) == as_printed("athlete")


def test_it_reads_at_80_columns_and_nearly_fits_24_lines() -> None:
    lines = text_of(a_page()).splitlines()
    assert max(map(cell_len, lines)) <= 80
    # What scrolls off the top of 24 lines is the head; the rest is on one screen.
    assert len(lines) <= 38


@pytest.mark.parametrize("width", [40, 60, 120])
def test_nothing_is_cut_off_at_any_width(width: int) -> None:
    page = a_page(moves=("one-hand kettlebell swing to the eyes", "row"))
    text = text_of(page, width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "…" not in text


def test_no_effort_no_load_and_no_caution_about_it() -> None:
    text = text_of(a_page(effort=None))
    assert "2026-W20: 1 class, 6 days of rest, 1 not rated" in text
    assert "load 300" not in text


def test_a_name_is_data_and_a_plain_terminal_gets_plain_signs() -> None:
    text = text_of(a_page("[red]Ilka[/red]"), encoding="ascii")
    assert "[red]Ilka[/red]" in text
    assert "112334566788" in text


def test_who_was_not_there_has_a_short_page() -> None:
    page = replace(a_page(), classes=(), moves=(), weeks=(), results=())
    assert "No class of theirs in these days." in text_of(page)


def test_what_was_reached_is_said_as_after_the_class() -> None:
    found = part_result(result("Ilka"))
    assert result_words(found, found.kind) == "6:41.2"
    assert result_words(replace(found, time_ms=None, rounds=5, reps=3), "amrap") == "5 rounds + 3"
    assert result_words(replace(found, not_finished=True, time_ms=None), found.kind) == "/ not finished: 3 rounds"
