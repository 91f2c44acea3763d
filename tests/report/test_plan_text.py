"""A plan on paper: what it comes to, its run sheet with every cue, its brief with every caution."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest

from floorclock.clock.sheet import run_sheet
from floorclock.clock.state import ClassState, new_state
from floorclock.digest.words import SAFETY
from floorclock.live.plan_files import Plan
from floorclock.plan.check import PlanCheck, check_files
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Untapped
from floorclock.report.plan_text import print_brief, print_check, print_page, print_sheet
from floorclock.tui.floor.present_work import brief_pages
from tests.plan import shipped
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES, session, session_of, source
from tests.report.printing import as_printed, lines_of, printed

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
EVERY_KIND = """\
  - {kind: open, title: Rest as needed}
  - kind: rotation
    title: '[b]Quay[/]'
    every: 1:00
    rounds: 1
    stations: [{move: '[red]row', target: 200 m}, {move: swing, target: 14}]
  - {kind: rotation, title: Lift, every: 2:00, rounds: 3, stations: [{move: squat, target: 5-3-1 reps, load: 60 kg}]}
  - {kind: paced, title: Beat, move: step-up, beat: 90 per minute, time: 2:00}
  - {kind: paced, title: Lengths, shuttle: {distance: 20 m, start: 8 km/h, step: 0.5 km/h, stage: 1:00, count: 3}}
  - {kind: amrap, title: Ours, time: 5:00, work: [{move: swing, target: 20}], buy_in: [{move: row, target: 500 m}]}
  - {kind: for_time, title: Machines, cap: 9:00, wave_every: 2:30, work: [{move: row, target: 500 m}]}
"""


def check_of(check: PlanCheck, width: int = 100) -> str:
    return printed(lambda console: print_check(check, console), width)


@pytest.mark.parametrize("roster", ROSTER_NAMES)
@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_part_stands_in_the_check_with_its_time(name: str, roster: str) -> None:
    check = check_files(source(name), name, source(roster), roster)
    text = check_of(check)
    assert check.title in text
    assert [part.title for part in check.parts if part.title not in text] == []
    assert ("Nothing to mend." in text) is all(problem.severity == "note" for problem in check.problems)
    assert ("To think about:" in text) is any(problem.severity == "warning" for problem in check.problems)


def test_the_harbour_comes_to_fifty_minutes() -> None:
    text = check_of(check_files(source("harbour.yaml"), "harbour.yaml", source("harbour-roster.yaml"), "harbour-roster.yaml"))
    assert "in all 50:00 and 0:20 of count-ins, in a class of 1:00:00" in text
    # 5 rounds of 14 swings, 10 jumps and 10 push-ups; 4 rounds of 40 m and 15 sit-ups: worked out by hand from the file.
    for words in ("kettlebell swing 70", "box jump 50", "push-up 50", "one-hand carry 160 m", "sit-up 60"):
        assert words in text


def test_a_plan_with_much_to_think_about_is_told_all_of_it() -> None:
    """Stations with a round more are named, kit that is short stands with what there is, each finding on a line of its own."""
    check = check_files(UNEVEN, "plan.yaml", TWO, "who.yaml")
    assert lines_of(check_of(check)) == as_printed("check")
    lines = check_of(check, width=40).splitlines()
    warnings = [str(problem) for problem in check.problems if problem.severity == "warning"]
    assert warnings
    assert [warning for warning in warnings if warning not in lines] == []


def test_a_plan_that_cannot_be_read_has_nothing_to_print() -> None:
    assert check_of(check_files(b"session: x\nparts: 3\n", "plan.yaml")).strip() == ""


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_interval_is_one_line_of_the_sheet_in_order(name: str) -> None:
    plan = session(name)
    sheet = run_sheet(plan)
    text = printed(lambda console: print_sheet(plan.title, sheet, console), 200)
    intervals = sum(len(item.timeline.intervals) + bool(item.timeline.count_in_ms) for item in sheet)
    assert len(re.findall(r"^ *(-?[\d:]+(?:\.\d+)?) +(\d+:[\d:]+(?:\.\d+)?)", text, re.MULTILINE)) == intervals
    assert [part.title for part in plan.parts if part.title not in text] == []


def test_a_plan_of_every_kind_as_a_sheet_and_as_one_page() -> None:
    """Where each group is in every minute, cues beside the interval that they fall into; who starts where, and when each wave.

    90 beats a minute for 2 minutes, the first at 0, are 180: counted, not listed. 7, 7 and 8 lengths at 8, 8.5 and 9 km/h take
    63 s, 59.3 s and 64 s, in all 3:06.
    """
    people = (Athlete(name="Ilka"), Athlete(name="Bram", group=2), Athlete(name="Noor", group=3))
    plan = Plan(file="", text="", session=session_of(EVERY_KIND), roster=Roster(title="Here", athletes=people))
    sheet = run_sheet(plan.session, people)
    assert lines_of(printed(lambda console: print_sheet("[/]", sheet, console), 140)) == as_printed("sheet")
    assert lines_of(printed(lambda console: print_page(plan, sheet, console), 120)) == as_printed("sheet-page")


def test_the_page_of_the_harbour_is_one_sheet_of_paper() -> None:
    plan = shipped.plan("harbour.yaml")
    lines = printed(lambda console: print_page(plan, run_sheet(plan.session, plan.roster.athletes), console), 90).splitlines()
    # An A4 page has 297 mm, and a line of 12 points 4.2 mm.
    assert len(lines) < 60
    assert "box jump: Sefa, Odd, Runa, Kasimir" in [line.strip() for line in lines]


def brief_of(title: str, pages: Sequence[tuple[str, Sequence[tuple[str, str]]]], width: int = 2_000) -> str:
    return printed(lambda console: print_brief(title, pages, console), width)


def pages_of(state: ClassState) -> list[tuple[str, Sequence[tuple[str, str]]]]:
    return [(page.title, page.lines) for page in brief_pages(state)]


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_everything_that_hurts_is_said_on_the_page_of_its_part(name: str) -> None:
    plan = session(name)
    text = brief_of(plan.title, pages_of(new_state(plan, ())))
    for part in plan.parts:
        assert part.title in text
        for caution in (part.caution, *(station.caution for _, station in part.moves())):
            if caution:
                assert f"! {caution}" in text
        for _, station in part.moves():
            assert station.move in text
            assert not station.guarded or f"{station.move}: only with the coach's yes" in text
    assert text.count(SAFETY) == sum(not isinstance(part, Untapped) for part in plan.parts)


def test_lines_of_a_brief_are_wrapped_and_not_cut_and_markup_is_text() -> None:
    text = brief_of("x", [("Part", (("caution", ("mind the gap " * 20).strip()),))], 40)
    assert text.count("mind") == 20
    assert max(len(line) for line in text.splitlines()) <= 40
    text = brief_of("[/]", [("[b]Part[/]", (("heading", "[red]x"), ("text", "[/]"), ("hint", "[@click=app.quit]y[/]")))])
    assert all(words in text for words in ("[b]Part[/]", "[red]x", "[/]", "[@click=app.quit]y[/]"))


def test_with_a_roster_who_starts_where_stands_in_the_brief() -> None:
    plan = shipped.plan("harbour.yaml")
    text = brief_of(plan.session.title, pages_of(new_state(plan.session, plan.roster.athletes)))
    assert "who starts where" in text
    assert "kettlebell swing: Ilka, Bram, Noor, Tove" in text
