"""The check on paper: times, volume and kit of a plan, and what to think about."""

from __future__ import annotations

import pytest

from floorclock.plan.check import PlanCheck, check_files
from floorclock.report.check_text import print_check
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES, source
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
