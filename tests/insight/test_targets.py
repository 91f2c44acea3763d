"""The target to give next time, for a plan or for one athlete: one answer. What the records say of a roster at a plan."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from floorclock.insight import targets
from floorclock.insight.athlete import athlete_page
from floorclock.insight.targets import NextTarget, plan_records, planned_targets
from floorclock.plan.check import check_plan
from floorclock.plan.read_moves import usual_moves
from floorclock.store.store import Store
from tests.insight.season import BRIDGES, FIRST, Person, plan_of, season

PLAN = """\
session: Both sides
class_time: 60:00
rest_margin: 0:15
parts:
  - kind: rotation
    title: The locks
    every: 1:00
    rounds: 5
    stations:
      - {move: step-up, target: 8 reps each side}
      - {move: swing, target: 18-16-14-12-10 reps}
"""
PEOPLE = {"Sefa": Person(pace=1.45), "Teo": Person(pace=0.5), "Noor": Person(pace=1.15, drift=0.05)}
TODAY = (FIRST + timedelta(weeks=4)).date()
Classes = tuple[Store, Path]


@pytest.fixture
def classes(own: Classes) -> Classes:
    store, home = own
    season(home, store, PEOPLE, 4, (PLAN,))
    return own


def next_of(store: Store, home: Path | None, name: str) -> dict[str, NextTarget]:
    moves = athlete_page(store, name, TODAY, home=home).moves
    return {move.move: move.next_target for move in moves if move.next_target is not None}


def test_an_athletes_page_says_what_the_plan_is_told_of_sides_and_lists(classes: Classes, tmp_path: Path) -> None:
    plan = planned_targets(plan_of(tmp_path / "plans", PLAN, list(PEOPLE)), classes[0]).targets
    assert {one.move for one in plan} == {"step-up", "swing"}
    for name in PEOPLE:
        own = next_of(*classes, name)
        told = {(move, found.words, found.because) for move, found in own.items() if found.way != "keep"}
        assert told == {(one.move, one.target_words, one.because) for one in plan if one.name == name}
    less = next_of(*classes, "Sefa")
    assert less["step-up"].words.endswith(" each side")
    assert less["swing"].words.count("-") == 4


def test_without_the_record_of_the_class_nothing_is_said(classes: Classes) -> None:
    store, home = classes
    assert next_of(store, None, "Sefa") == {}
    for journal in (home / "classes").iterdir():
        journal.unlink()
    assert next_of(store, home, "Sefa") == {}


def test_only_the_last_class_with_a_move_is_looked_into(classes: Classes, monkeypatch: pytest.MonkeyPatch) -> None:
    looked: list[str] = []
    monkeypatch.setattr(targets, "_planned_state", lambda home, class_id: looked.append(class_id))
    assert next_of(*classes, "Teo") == {}
    assert len(looked) == 1


def test_who_will_not_make_it_is_named_with_the_chance_and_the_usual_times_are_silent(
    tmp_path: Path, shared: tuple[Store, list[str]]
) -> None:
    """200 m take Bram 53 s and Teo 40, as their season was made, of 60 with 15 to spare; of a stranger nothing is known."""
    plan = plan_of(tmp_path, BRIDGES, ["Bram", "Teo", "Stranger"])
    records = plan_records(plan.session, plan.roster, shared[0], date(2026, 6, 10))
    assert {key for key in records.chances if key[2] == "Stranger"} == set()
    assert records.chances[0, 1, "Bram"].keeps < 0.05
    assert records.chances[0, 1, "Bram"].first_round == 1
    assert records.chances[0, 1, "Teo"].keeps > 0.6
    assert records.people == {"Bram", "Teo"}
    # Fourteen Mondays from 2 March: the last was 1 June, and a week before that the one with the row was not.
    assert (records.last_done["Teo", "swing"], records.last_done["Teo", "step-up"]) == (date(2026, 6, 1), date(2026, 5, 25))
    problems = check_plan(plan.session, plan.roster, moves=usual_moves(), records=records).problems
    (unlikely,) = [one for one in problems if one.kind == "chance" and "row" in one.message]
    assert unlikely.message.startswith("Bram (")
    assert "will hardly keep the margin at row, from round 1 on" in unlikely.message
    (by_library,) = [one for one in problems if one.kind == "window" and one.path.endswith("[1]")]
    assert by_library.message.startswith("Stranger: 200 m of row")
