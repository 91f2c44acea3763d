"""The chances of a class on a terminal, on a page and in a picture: numbers first, shade second."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len

from floorclock.clock.state import new_state
from floorclock.insight.rehearsals import Rehearsals
from floorclock.live.plan_files import Plan, read_plan
from floorclock.plan.tried import read_tries, with_targets
from floorclock.report.rehearsal_page import chance_picture, rehearsal_html, rehearsal_picture
from floorclock.report.rehearsal_text import print_rehearsals
from floorclock.simulate.many import rehearse_many
from tests.plan.shipped import SESSIONS
from tests.report.markup import Page, text_of
from tests.report.printing import printed, shapes, texts

FULL, QUAYS = SESSIONS / "full-house.csv", SESSIONS / "harbour.yaml"


def played(session: Path = QUAYS, *tries: str) -> Rehearsals:
    plan: Plan = read_plan(session, FULL)
    tried = read_tries(tries, plan.session)
    return Rehearsals(
        session=plan.session.title,
        margin_ms=plan.session.rest_margin_ms,
        class_time_ms=plan.session.class_time_ms,
        as_planned=rehearse_many(new_state(plan.session, plan.roster.athletes), {}, 200, 1),
        tried=rehearse_many(new_state(with_targets(plan.session, tried), plan.roster.athletes), {}, 200, 1) if tried else None,
        tried_words="swing 11" if tried else "",
    )


def shown(found: Rehearsals, width: int) -> str:
    return printed(lambda console: print_rehearsals(found, console), width)


@pytest.fixture(scope="module")
def compared() -> Rehearsals:
    return played(QUAYS, "kettlebell swing=11")


@pytest.mark.parametrize("width", [60, 80, 160])
def test_it_fits_the_terminal_and_says_every_chance_without_colour(compared: Rehearsals, width: int) -> None:
    lines = shown(compared, width).splitlines()
    assert max(cell_len(line.rstrip()) for line in lines) <= width
    first = compared.as_planned.parts[0].athletes[0]
    row = " ".join(line for line in lines if line.startswith(f"{first.name} ~"))
    for at in first.stations:
        assert all(f" {round(100 * chance)} " in f"{row} " for chance in at.chances if chance >= 0.01)


def test_a_station_with_two_rounds_is_named_in_full(compared: Rehearsals) -> None:
    """`push-…` over two narrow columns said nothing, with half of the terminal empty beside it."""
    part = compared.as_planned.parts[0]
    short = [
        replace(one, stations=tuple(replace(at, rounds=at.rounds[:2], chances=at.chances[:2]) for at in one.stations))
        for one in part.athletes
    ]
    found = replace(compared, as_planned=replace(compared.as_planned, parts=(replace(part, athletes=tuple(short)),)), tried=None)
    lines = shown(found, 80).splitlines()
    assert any("box jump" in line and "push-up" in line for line in lines)
    rounds = next(line for line in lines if line.startswith("round"))
    first = next(line for line in lines if line.startswith("Ilka ~"))
    assert first.rstrip()[rounds.rindex("2")].isdigit() or first[rounds.rindex("2")] == "·"


def test_where_there_are_no_chances_nothing_explains_them() -> None:
    text = shown(played(SESSIONS / "gull-shuttles.yaml"), 80)
    assert "less than the margin" not in text


def test_rounds_that_do_not_fit_beside_each_other_follow_below(compared: Rehearsals) -> None:
    narrow, wide = (shown(compared, width).count("\nround") for width in (40, 120))
    assert wide == 1
    assert narrow > 1


def test_what_is_tried_stands_in_a_line_of_its_own_under_the_athlete(compared: Rehearsals) -> None:
    lines = shown(compared, 120).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith("Ilka ~"))
    assert lines[at + 1].startswith("      ")
    assert len(lines[at + 1].split()) == 5 + 1, "the rounds at the swing, and any"


def test_the_page_is_whole_and_asks_for_nothing(compared: Rehearsals) -> None:
    html = rehearsal_html(compared)
    page = Page(html)
    assert text_of(page.one("title")) == "Rehearsed: Five trips round the harbour"
    assert any("default-src 'none'" in meta.get("content", "") for meta in page.all("meta"))
    (table,) = [table for table in page.all("table") if "less than the margin" in text_of(table)]
    assert all(athlete.name in text_of(table) for athlete in compared.as_planned.parts[0].athletes)
    assert " > " in text_of(table)


def test_the_picture_fills_a_cell_by_its_chance_and_hatches_what_is_tried(compared: Rehearsals) -> None:
    part, tried = next(iter(compared.parts))
    before, after = chance_picture(part, None), chance_picture(part, tried)
    assert shapes(before, "s-tight") == 0
    assert shapes(after, "s-tight") > 0
    assert {"Ilka ~", "the class", "any", "kettlebell swing"} <= set(texts(before))
    assert rehearsal_picture(compared).png().startswith(b"\x89PNG")


@pytest.mark.parametrize("name", ["lantern-minutes.yaml", "quarry-pairs.yaml", "gull-shuttles.yaml", "tide-ladder.yaml"])
def test_every_shipped_session_can_be_shown(name: str) -> None:
    found = played(SESSIONS / name)
    assert found.session in shown(found, 80)
    Page(rehearsal_html(found))
    assert texts(rehearsal_picture(found))[0] == found.session
