"""The brief to print: it says what the wall says, and the board's sheet is one A4 page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from floorclock.clock.state import ClassState, new_state
from floorclock.digest.brief import brief_of
from floorclock.digest.words import STOP
from floorclock.report.brief_page import brief_html
from tests.plan import shipped
from tests.plan.shipped import SESSION_NAMES
from tests.report.markup import Page, text_of
from tests.report.test_real_browser import BROWSER, browse

A4 = re.compile(rb"MediaBox *\[0 0 59[45][.\d]* 84[12][.\d]*\]")


def class_of(name: str, roster: str = "full-house.csv") -> ClassState:
    plan = shipped.plan(name, roster)
    return new_state(plan.session, plan.roster.athletes)


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_everything_of_the_brief_is_on_a_page_that_asks_for_nothing(name: str) -> None:
    state = class_of(name)
    page = Page(brief_html(state))
    text = " ".join(text_of(page.one("body")).split())
    for part in brief_of(state):
        for _, words in (*part.lines, *part.starts):
            assert " ".join(words.split()) in text
    assert text.count(STOP) == 2, "on the brief, and on the board"


def test_the_whole_stands_first_and_the_board_last() -> None:
    page = Page(brief_html(class_of("harbour.yaml", "harbour-roster.yaml")))
    rows = [" ".join(line.split()) for line in text_of(page.one("table")).splitlines() if line.strip()]
    assert rows[2:4] == [
        "0:00 Warm-up and brief about 12 min",
        "12:10 The harbour every minute on the minute, 20 intervals over 4 stations",
    ]
    board = text_of(page.one("article"))
    assert (
        board.index("The harbour")
        < board.index("kettlebell swing")
        < board.index("box jump: Sefa")
        < board.index("Carry and sit")
    )
    assert "done with 15 s left of every 1:00" in board
    assert "Warm-up" not in board


@pytest.mark.skipif(BROWSER is None, reason="no browser on this machine")
@pytest.mark.parametrize("name", SESSION_NAMES)
def test_the_board_is_one_a4_page(name: str, tmp_path: Path) -> None:
    (tmp_path / "out.html").write_text(brief_html(class_of(name)), encoding="utf-8")
    paper = tmp_path / "out.pdf"
    browse(tmp_path, (tmp_path / "out.html").as_uri(), f"--print-to-pdf={paper}", "--no-pdf-header-footer")
    assert len(A4.findall(paper.read_bytes())) == 1
