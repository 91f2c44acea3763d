"""The brief on paper: every page of the wall, with its cautions and the safety line."""

from __future__ import annotations

import pytest

from floorclock.clock.state import new_state
from floorclock.digest.words import SAFETY
from floorclock.live.plan_files import read_plan
from floorclock.plan.session import Untapped
from floorclock.report.brief_text import print_brief
from floorclock.tui.floor.present_work import brief_pages
from floorclock.tui.floor.view import BriefView
from tests.plan.shipped import SESSION_NAMES, SESSIONS, session
from tests.report.printing import printed


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_everything_that_hurts_is_said_on_the_page_of_its_part(name: str) -> None:
    plan = session(name)
    text = printed(lambda console: print_brief(plan.title, brief_pages(new_state(plan, ())), console), 2_000)
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
    text = printed(lambda console: print_brief("x", [BriefView("Part", (("caution", words.strip()),))], console), 40)
    assert text.count("mind") == 20
    assert max(len(line) for line in text.splitlines()) <= 40


def test_markup_on_a_page_is_text() -> None:
    page = BriefView("[b]Part[/]", (("heading", "[red]x"), ("text", "[/]"), ("hint", "[@click=app.quit]y[/]")))
    text = printed(lambda console: print_brief("[/]", [page], console))
    assert all(words in text for words in ("[b]Part[/]", "[red]x", "[/]", "[@click=app.quit]y[/]"))


def test_with_a_roster_who_starts_where_stands_there() -> None:
    plan = read_plan(SESSIONS / "harbour.yaml", SESSIONS / "harbour-roster.yaml")
    state = new_state(plan.session, plan.roster.athletes)
    text = printed(lambda console: print_brief(plan.session.title, brief_pages(state), console), 2_000)
    assert "who starts where" in text
    assert "kettlebell swing: Ilka, Bram, Noor, Tove" in text
