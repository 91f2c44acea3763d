"""Events go to the journal and come back as they were."""

from __future__ import annotations

import json
from dataclasses import MISSING, fields
from fractions import Fraction
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.clock.events import EVENTS, Event, event_from_dict
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Load, LoadUnit, Target, Unit

words = st.text(max_size=12)
fractions = st.fractions(min_value=0, max_value=10**6, max_denominator=10**6)
targets = st.builds(
    Target,
    fractions,
    st.sampled_from(Unit),
    st.fractions(-100, 100, max_denominator=100),
    amounts=st.lists(fractions, max_size=3).map(tuple),
    each_side=st.booleans(),
)
loads = st.builds(Load, fractions, st.sampled_from(LoadUnit))
athletes = st.builds(
    Athlete,
    name=words,
    key=words,
    level=words,
    options=st.dictionaries(words, words, max_size=3),
    targets=st.dictionaries(words, targets, max_size=3),
    experienced=st.frozensets(words, max_size=3),
    group=st.integers(1, 40),
    rest_margin_ms=st.none() | st.integers(0, 10**6),
    loads=st.dictionaries(words, loads, max_size=2),
    best=st.dictionaries(words, loads, max_size=2),
    avoid=st.frozensets(words, max_size=2),
    team=st.none() | st.integers(1, 20),
    note=words,
)
times = st.integers(-(10**7), 10**9)
VALUES: dict[Any, st.SearchStrategy[Any]] = {
    int: times,
    str: words,
    Target: targets,
    Load: loads,
    Athlete: athletes,
    int | None: st.none() | times,
    bool: st.booleans(),
    tuple[int, ...]: st.lists(times).map(tuple),
    float | None: st.none() | st.floats(0, 10),
}


def any_event(kind: type[Event]) -> st.SearchStrategy[Event]:
    hints = get_type_hints(kind)
    return st.builds(kind, **{field.name: VALUES[hints[field.name]] for field in fields(kind)})


@pytest.mark.parametrize("name", sorted(EVENTS))
@given(extra=st.dictionaries(words.map(lambda word: f"x {word}"), words, max_size=2), data=st.data())
def test_an_event_comes_back_from_json_as_it_was_whatever_other_keys_are_there(
    name: str, extra: dict[str, str], data: st.DataObject
) -> None:
    event = data.draw(any_event(EVENTS[name]))
    line = json.dumps({**event.to_dict(), **extra})
    assert json.loads(line)["event"] == name
    assert event_from_dict(json.loads(line)) == event


def test_there_are_twenty_six_kinds_of_event_each_with_a_name_of_its_own() -> None:
    assert len(EVENTS) == len(Event.__subclasses__()) == 26
    assert len({cls.__name__ for cls in EVENTS.values()}) == 26


def test_an_unknown_event_or_a_missing_name_is_a_key_error() -> None:
    for values in ({"event": "landed on the moon", "at_ms": 0}, {"at_ms": 0}):
        with pytest.raises(KeyError):
            event_from_dict(values)


@pytest.mark.parametrize("name", sorted(EVENTS))
def test_a_missing_value_is_a_type_error_unless_it_has_a_default(name: str) -> None:
    kind = EVENTS[name]
    sample = {
        "target": {"amount": "1", "unit": "reps"},
        "load": {"amount": "1", "unit": "kg"},
        "athlete": {"name": "Ilka"} if name == "joined" else "Ilka",
    }
    needed = {field.name: sample.get(field.name, 1) for field in fields(kind) if field.default is MISSING}
    assert event_from_dict({"event": name, **needed}).at_ms == 1
    for left_out in needed:
        with pytest.raises(TypeError):
            event_from_dict({"event": name, **{key: value for key, value in needed.items() if key != left_out}})


def test_an_amount_that_is_no_number_is_a_value_error() -> None:
    target = {"amount": "many", "unit": "reps"}
    with pytest.raises(ValueError, match="many"):
        event_from_dict({"event": "target", "at_ms": 0, "athlete": "Ilka", "move": "row", "target": target})


def test_a_target_keeps_its_exact_amount() -> None:
    event = EVENTS["target"](at_ms=0, athlete="Ilka", move="row", target=Target(Fraction(1, 3), Unit.METRES))  # type: ignore[call-arg]
    assert event.to_dict()["target"] == {"amount": "1/3", "unit": "m", "step": "0"}
