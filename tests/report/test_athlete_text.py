"""An athlete's page on a terminal."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest
from rich.cells import cell_len
from rich.console import Console

from floorclock.digest.words import result_words
from floorclock.insight.athlete import AthletePage, page_of, part_result
from floorclock.insight.targets import NextTarget
from floorclock.pace.advice import Way
from floorclock.pace.flags import Flag
from floorclock.plan.work import Unit
from floorclock.report.athlete_text import print_athlete
from floorclock.store.questions import AthleteLine, InClass
from floorclock.store.rows import BITS, AttendanceRow
from tests.report.printing import printed
from tests.store.sample_rows import lift, pace, result

FIRST = datetime(2026, 3, 2, 18, 30, tzinfo=UTC)
COUNT = 12


def a_page(name: str = "Ilka", *, effort: float | None = 6.0, moves: tuple[str, ...] = ("swing", "row")) -> AthletePage:
    """Twelve classes, one a week: at every move 2 % faster each week, tight in the first."""
    days = [FIRST + timedelta(weeks=week) for week in range(COUNT)]
    row = replace(pace(name), amount=Fraction(14), unit=Unit.REPS, flags=0, drift=0.0, rounds=5, tapped=5, not_finished=0)
    history = [
        InClass(
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


def test_what_a_coach_looks_for_is_there() -> None:
    text = printed(lambda console: print_athlete(a_page(), console), 80)
    assert "Ilka   also written ilka b." in text
    assert "40 classes since 2024-04-01, last seen 2026-05-18; here 12 since 2026-01-01" in text
    assert "held margin and pace in 11 of 12 timed classes; ! tight in 1" in text
    swing = next(line for line in text.splitlines() if line.startswith("swing"))
    assert swing.split() == [
        "swing",
        "1.77",
        "24.7",
        "for",
        "14",
        "▁▁▂▃▃▄▅▆▆▇██",
        "19.7",
        "%",
        "faster",
        "↑",
        "16",
        "each",
        "side",
    ]
    assert "→ lighter" in text
    assert "swing: a reason." in text
    squat = next(line for line in text.splitlines() if line.startswith("squat"))
    assert squat == "squat  20 reps, 1,260 kg  ▄▄▄▄▄▄▅▅▅▅▅▅  60 to 63 kg in 11 weeks"
    assert "classes 111111111111" in text
    assert "2026-W20: 1 class, 6 days of rest, load 300, monotony 0.38, strain 113" in text
    assert "volume load 1,260 kg" in " ".join(text.split())
    assert "2026-W21: 1 class, 0 days of rest, load 300, the week goes on" in text
    assert "Results, the newest; 9 more in --json" in text


def test_it_reads_at_80_columns_and_nearly_fits_24_lines() -> None:
    lines = printed(lambda console: print_athlete(a_page(), console), 80).splitlines()
    assert max(map(cell_len, lines)) <= 80
    # What scrolls off the top of 24 lines is the head; the rest is on one screen.
    assert len(lines) <= 38


@pytest.mark.parametrize("width", [40, 60, 120])
def test_nothing_is_cut_off_at_any_width(width: int) -> None:
    page = a_page(moves=("one-hand kettlebell swing to the eyes", "row"))
    text = printed(lambda console: print_athlete(page, console), width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "…" not in text


def test_no_effort_no_load_and_no_caution_about_it() -> None:
    text = printed(lambda console: print_athlete(a_page(effort=None), console), 80)
    assert "2026-W20: 1 class, 6 days of rest, 1 not rated" in text
    assert "load 300" not in text


def test_a_name_is_data_and_a_plain_terminal_gets_plain_signs() -> None:
    page = a_page("[red]Ilka[/red]")
    out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    print_athlete(page, Console(file=out, width=80, highlight=False, legacy_windows=False))
    out.flush()
    out.seek(0)
    text = out.read()
    assert "[red]Ilka[/red]" in text
    assert "112334566788" in text


def test_who_was_not_there_has_a_short_page() -> None:
    page = replace(a_page(), classes=(), moves=(), weeks=(), results=())
    assert "No class of theirs in these days." in printed(lambda console: print_athlete(page, console), 80)


def test_what_was_reached_is_said_as_after_the_class() -> None:
    found = part_result(result("Ilka"))
    assert result_words(found, found.kind) == "6:41.2"
    assert result_words(replace(found, time_ms=None, rounds=5, reps=3), "amrap") == "5 rounds + 3"
    assert result_words(replace(found, not_finished=True, time_ms=None), found.kind) == "/ not finished: 3 rounds"
