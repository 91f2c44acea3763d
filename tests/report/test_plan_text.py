"""A plan on paper: what it comes to, its run sheet with every cue, its brief with every caution."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest

from floorclock.clock.sheet import run_sheet
from floorclock.clock.state import ClassState, new_state
from floorclock.digest.words import SAFETY
from floorclock.live.plan_files import Plan, read_plan
from floorclock.plan.check import PlanCheck, check_files
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Untapped
from floorclock.report.plan_text import print_brief, print_check, print_page, print_sheet
from floorclock.tui.floor.present_work import brief_pages
from tests.clock.classes import harbour, session_of
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES, SESSIONS, session, source
from tests.plan.shipped import session_of as written
from tests.report.printing import printed

UNEVEN = b"""\
session: '[b]Uneven[/]'
class_time: 5:00
kit: {bell: 1}
parts:
  - kind: rotation
    title: '[red]Quay'
    every: 1:00
    for: 7:00
    stations:
      - {move: swing, target: 14 reps, kit: bell}
      - {move: row, target: 200 m}
      - rest
"""
TWO = b"roster: x\nathletes: [{name: Ilka}, {name: Bram}]\n"


def pages_of(state: ClassState) -> list[tuple[str, Sequence[tuple[str, str]]]]:
    return [(page.title, page.lines) for page in brief_pages(state)]


def text_of(check: PlanCheck, width: int = 100) -> str:
    return printed(lambda console: print_check(check, console), width)


@pytest.mark.parametrize("roster", ROSTER_NAMES)
@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_part_stands_there_with_its_time(name: str, roster: str) -> None:
    check = check_files(source(name), name, source(roster), roster)
    text = text_of(check)
    assert check.title in text
    assert [part.title for part in check.parts if part.title not in text] == []
    assert ("Nothing to mend." in text) is all(problem.severity == "note" for problem in check.problems)
    assert ("To think about:" in text) is any(problem.severity == "warning" for problem in check.problems)


def test_the_harbour_comes_to_fifty_minutes() -> None:
    text = text_of(check_files(source("harbour.yaml"), "harbour.yaml", source("harbour-roster.yaml"), "harbour-roster.yaml"))
    assert "in all 50:00 and 0:20 of count-ins, in a class of 1:00:00" in text
    # 5 rounds of 14 swings, 10 jumps and 10 push-ups; 4 rounds of 40 m and 15 sit-ups: worked out by hand from the file.
    for words in ("kettlebell swing 70", "box jump 50", "push-up 50", "one-hand carry 160 m", "sit-up 60"):
        assert words in text


def test_stations_that_get_one_round_more_are_named() -> None:
    text = text_of(check_files(UNEVEN, "plan.yaml", TWO, "who.yaml"))
    assert "swing 3, row 2, rest 2" in text


def test_kit_that_is_short_is_shown_with_what_there_is() -> None:
    text = text_of(check_files(UNEVEN, "plan.yaml", TWO, "who.yaml"))
    assert "bell 2 of 1" in text
    assert "To think about:" in text
    assert "plan.yaml:" in text


def test_markup_in_a_plan_is_text() -> None:
    text = text_of(check_files(UNEVEN, "plan.yaml"))
    assert "[b]Uneven[/]" in text
    assert "[red]Quay" in text


def test_a_warning_stays_on_one_line_whatever_the_width() -> None:
    check = check_files(UNEVEN, "plan.yaml", TWO, "who.yaml")
    lines = text_of(check, width=40).splitlines()
    warnings = [str(problem) for problem in check.problems if problem.severity == "warning"]
    assert warnings
    assert [warning for warning in warnings if warning not in lines] == []


def test_a_plan_that_cannot_be_read_has_nothing_to_print() -> None:
    assert text_of(check_files(b"session: x\nparts: 3\n", "plan.yaml")).strip() == ""


ROW = re.compile(r"^ *(-?[\d:]+(?:\.\d+)?) +(\d+:[\d:]+(?:\.\d+)?)", re.MULTILINE)


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_interval_is_one_line_in_order(name: str) -> None:
    plan = session(name)
    sheet = run_sheet(plan)
    text = printed(lambda console: print_sheet(plan.title, sheet, console), 200)
    intervals = sum(len(item.timeline.intervals) + bool(item.timeline.count_in_ms) for item in sheet)
    assert len(ROW.findall(text)) == intervals
    assert [part.title for part in plan.parts if part.title not in text] == []


def test_a_rotation_says_where_everybody_is_in_every_minute() -> None:
    people = [Athlete(name="Ilka"), Athlete(name="Bram", group=2), Athlete(name="Noor", group=3)]
    text = printed(lambda console: print_sheet("A day", run_sheet(session_of(harbour(rounds=1)), people), console), 200)
    lines = [line for line in text.splitlines() if re.match(r" *\d:00 +\d:00", line)]
    assert len(lines) == 3
    assert all(name in text for name in ("group 1", "group 2", "group 3"))
    for line in lines:
        for what in ("kettlebell swing 14 reps", "step-up 10 reps", "rest"):
            assert what in line


def test_cues_stand_with_the_interval_they_fall_into() -> None:
    text = printed(lambda console: print_sheet("A day", run_sheet(session_of(harbour(rounds=1))), console), 200)
    first = next(line for line in text.splitlines() if re.match(r" *0:00 +1:00", line))
    assert "0:00 go" in first
    assert "0:50 last ten" in first
    assert "0:57 three pips" in first
    ready = next(line for line in text.splitlines() if "get ready" in line)
    assert "-0:03 three pips" in ready


def test_a_part_without_a_time_has_no_table() -> None:
    plan = written("  - {kind: open, title: Rest as needed}\n")
    text = printed(lambda console: print_sheet(plan.title, run_sheet(plan), console), 80)
    assert text.splitlines()[-1] == "   the coach ends it"
    assert "from" not in text


def test_beats_are_counted_and_not_listed() -> None:
    plan = written("  - {kind: paced, title: Beat, move: step-up, beat: 90 per minute, time: 2:00}\n")
    text = printed(lambda console: print_sheet(plan.title, run_sheet(plan), console), 200)
    # 90 beats a minute for 2 minutes, the first at 0: 180.
    assert "180 x pace" in text
    assert len(text.splitlines()) < 12


def test_markup_on_a_sheet_is_text() -> None:
    plan = written("  - {kind: amrap, title: '[b]Tide[/]', time: 2:00, work: [{move: '[red]row', target: 10 reps}]}\n")
    text = printed(lambda console: print_sheet("[/]", run_sheet(plan), console), 200)
    assert "[b]Tide[/]" in text
    assert "[red]row" in text
    assert text.startswith("[/]")


def test_the_page_has_every_part_with_its_stations_and_who_starts_where() -> None:
    plan = read_plan(SESSIONS / "harbour.yaml", SESSIONS / "harbour-roster.yaml")
    text = printed(lambda console: print_page(plan, run_sheet(plan.session, plan.roster.athletes), console), 90)
    lines = [line.strip() for line in text.splitlines()]
    assert "2  The harbour   rotation   20:00   after a count-in of 0:10" in lines
    assert "kettlebell swing 14 reps | box jump 10 reps | push-up 10 reps | rest" in lines
    assert "box jump: Sefa, Odd, Runa, Kasimir" in lines
    # An A4 page has 297 mm, and a line of 12 points 4.2 mm.
    assert len(lines) < 60


def page(plan: str, *athletes: Athlete) -> list[str]:
    made = Plan(file="", text="", session=written(plan), roster=Roster(title="Here", athletes=athletes))
    text = printed(lambda console: print_page(made, run_sheet(made.session, athletes), console), 120)
    return [line.strip() for line in text.splitlines()]


def test_the_page_says_the_work_of_all_rounds_and_what_is_done_once() -> None:
    lines = page(
        "  - {kind: rotation, title: Lift, every: 2:00, rounds: 3, stations: [{move: squat, target: 5-3-1 reps, load: 60 kg}]}\n"
        "  - {kind: amrap, title: Ours, time: 5:00, work: [{move: swing, target: 20}], buy_in: [{move: row, target: 500 m}]}\n"
        "  - {kind: paced, title: Lengths, shuttle: {distance: 20 m, start: 8 km/h, step: 0.5 km/h, stage: 1:00, count: 3}}\n"
    )
    assert "squat 5-3-1 at 60 kg" in lines
    assert lines[lines.index("first: row 500 m") + 1] == "each round: swing 20 reps"
    assert "20 m lengths, 3 stages, 8 to 9 km/h | run" in lines
    # 7, 7 and 8 lengths at 8, 8.5 and 9 km/h: 63 s, 59.3 s and 64 s, in all 186.3 s.
    assert "3  Lengths   paced   3:06   after a count-in of 0:10" in lines


def test_the_page_says_when_each_wave_starts() -> None:
    lines = page(
        "  - {kind: for_time, title: Machines, cap: 9:00, wave_every: 2:30, work: [{move: row, target: 500 m}]}\n",
        Athlete(name="Ilka"),
        Athlete(name="Bram", group=3),
    )
    assert lines[lines.index("wave 1, at 0:00: Ilka") + 1] == "wave 3, at 5:00: Bram"


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_everything_that_hurts_is_said_on_the_page_of_its_part(name: str) -> None:
    plan = session(name)
    text = printed(lambda console: print_brief(plan.title, pages_of(new_state(plan, ())), console), 2_000)
    for part in plan.parts:
        assert part.title in text
        for caution in (part.caution, *(station.caution for _, station in part.moves())):
            if caution:
                assert f"! {caution}" in text
        for _, station in part.moves():
            assert station.move in text
            assert not station.guarded or f"{station.move}: only with the coach's yes" in text
    assert text.count(SAFETY) == sum(not isinstance(part, Untapped) for part in plan.parts)


def test_lines_are_wrapped_and_not_cut() -> None:
    words = "mind the gap " * 20
    text = printed(lambda console: print_brief("x", [("Part", (("caution", words.strip()),))], console), 40)
    assert text.count("mind") == 20
    assert max(len(line) for line in text.splitlines()) <= 40


def test_markup_on_a_page_is_text() -> None:
    page = ("[b]Part[/]", (("heading", "[red]x"), ("text", "[/]"), ("hint", "[@click=app.quit]y[/]")))
    text = printed(lambda console: print_brief("[/]", [page], console))
    assert all(words in text for words in ("[b]Part[/]", "[red]x", "[/]", "[@click=app.quit]y[/]"))


def test_with_a_roster_who_starts_where_stands_there() -> None:
    plan = read_plan(SESSIONS / "harbour.yaml", SESSIONS / "harbour-roster.yaml")
    state = new_state(plan.session, plan.roster.athletes)
    text = printed(lambda console: print_brief(plan.session.title, pages_of(state), console), 2_000)
    assert "who starts where" in text
    assert "kettlebell swing: Ilka, Bram, Noor, Tove" in text
