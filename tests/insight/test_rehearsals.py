"""Rehearsals with what the records tell, and two plans side by side."""

from __future__ import annotations

import json
from pathlib import Path

from floorclock.insight import as_json
from floorclock.insight.rehearsals import (
    ANY,
    Rehearsals,
    chances_of,
    class_row,
    part_words,
    percent,
    places_of,
    rehearsals,
    tried_words,
)
from floorclock.plan.tried import read_tries
from floorclock.store.store import Store
from tests.insight.conftest import PEOPLE
from tests.insight.season import LOCKS, plan_of
from tests.opened_classes import plan_at


def played(store: Store, folder: Path, *tries: str, roster: str = "") -> Rehearsals:
    plan = plan_at(folder, LOCKS, roster) if roster else plan_of(folder, LOCKS, [*PEOPLE, "Zoe"])
    return rehearsals(plan, store, 2_000, 1, read_tries(tries, plan.session), lambda done, of: None)


def test_history_stands_before_usual_paces(shared: tuple[Store, list[str]], tmp_path: Path) -> None:
    """Bram is slow and tires by 3 % a round; Teo is fast. Nobody has a history in the carry's rotation, all in the swing."""
    found = played(shared[0], tmp_path)
    locks, carry = found.as_planned.parts
    chance = {athlete.name: athlete.any for athlete in locks.athletes}
    assert chance["Bram"] > chance["Teo"]
    assert [athlete.name for athlete in locks.athletes if athlete.guessed] == []
    assert all(finish.guessed for finish in carry.finishes), "no class timed the carry by splits"
    assert found.is_guessed
    bram = next(athlete for athlete in locks.athletes if athlete.name == "Bram").stations[0]
    assert bram.chances[-1] > bram.chances[0], "later rounds are the harder ones for somebody who tires"


def test_two_plans_are_played_with_the_same_luck(shared: tuple[Store, list[str]], tmp_path: Path) -> None:
    found = played(shared[0], tmp_path, "swing=8")
    assert found.tried is not None
    assert found.tried_words == "swing 8"
    for before, after in zip(found.as_planned.parts[0].athletes, found.tried.parts[0].athletes, strict=True):
        swing, step_up = zip(before.stations, after.stations, strict=True)
        assert swing[1].any <= swing[0].any
        assert step_up[0] == step_up[1], "what is not tried stays as it was, to the last digit"
    assert found.as_planned.parts[1] == found.tried.parts[1]
    assert tried_words(*list(found.parts)[1]) == []


def test_own_targets_stand_and_are_said(shared: tuple[Store, list[str]], tmp_path: Path) -> None:
    roster = "athletes:\n  - {name: Bram, targets: {swing: 12 reps}}\n  - {name: Teo}\n"
    found = played(shared[0], tmp_path, "swing=8", roster=roster)
    assert found.tried is not None
    assert found.own_targets == ("Bram",)
    assert "own targets in the roster stand: Bram" in found.tried_note
    assert found.tried.parts[0].athletes[0] == found.as_planned.parts[0].athletes[0]


def test_sentences_and_grid_say_what_the_figures_are(shared: tuple[Store, list[str]], tmp_path: Path) -> None:
    found = played(shared[0], tmp_path)
    locks, carry = found.as_planned.parts
    places = places_of(locks)
    assert [(place.heading, place.round) for place in places] == [(move, n) for move in ("swing", "step-up") for n in range(1, 6)]
    mean = class_row(locks)
    assert all(min(chances_of(athlete)[place] for athlete in locks.athletes) <= mean[place] <= 1 for place in places)
    assert chances_of(locks.athletes[0])[ANY] == locks.athletes[0].any
    said = [*part_words(locks), *part_words(carry), *found.hour_words, found.head_words]
    assert any(words.startswith("The last is done after ") for words in said)
    assert any(words.startswith("The hour: ") and words.endswith("in a class of 1:00:00.") for words in said)
    assert [percent(chance) for chance in (0.0, 0.009, 0.01, 0.345, 0.999, 1.0)] == ["·", "·", "1", "34", "99", "99"]


def test_the_answer_is_json(shared: tuple[Store, list[str]], tmp_path: Path) -> None:
    told = json.loads(json.dumps(as_json(played(shared[0], tmp_path))))
    assert set(told) == {"session", "margin_s", "class_time_s", "as_planned", "tried", "tried_words", "own_targets"}
    assert told["margin_s"] == 15
    assert told["tried"] is None
    part = told["as_planned"]["parts"][0]
    assert {"part", "title", "kind", "athletes", "in_trouble"} <= set(part)
    assert set(part["athletes"][0]["stations"][0]) == {"station", "written", "move", "rounds", "chances", "any"}
