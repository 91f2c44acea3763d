"""The target to give next time: one answer, asked for a plan or for one athlete."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from floorclock.insight import targets
from floorclock.insight.athlete import athlete_page
from floorclock.insight.targets import NextTarget, planned_targets
from floorclock.store.store import Store
from tests.insight.season import FIRST, Person, plan_of, season

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
