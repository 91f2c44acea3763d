"""The JSON Schema, tried with a general validator on what a YAML 1.2 loader makes of the files."""

from __future__ import annotations

import io
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from floorclock.plan.read_moves import usual_moves
from floorclock.plan.read_session import read_session
from floorclock.plan.schema import session_schema
from tests.plan.shipped import SESSION_NAMES, source
from tests.plan.test_read_session import EVERYTHING, part

SCHEMA = session_schema(usual_moves())
VALIDATOR = Draft202012Validator(SCHEMA)


def as_an_editor_sees_it(text: str) -> Any:
    loader = YAML(typ="safe", pure=True)
    loader.version = (1, 2)
    return loader.load(io.StringIO(text))


def complaints(text: str) -> list[str]:
    return [error.message for error in VALIDATOR.iter_errors(as_an_editor_sees_it(text))]


def test_the_schema_is_a_valid_one_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_an_editor_completes_the_usual_moves_and_takes_any_other() -> None:
    completed, anything = SCHEMA["$defs"]["Move"]["anyOf"]
    assert {"box jump", "farmer carry", "row"} <= set(completed["enum"])
    assert "enum" not in anything
    assert [SCHEMA["$defs"][name]["properties"]["move"]["$ref"] for name in ("Station", "Option")] == ["#/$defs/Move"] * 2
    assert complaints(part("{kind: rotation, every: 60, rounds: 1, stations: [{move: a move of ours}]}")) == []


@pytest.mark.parametrize("name", SESSION_NAMES)
def test_every_shipped_session_is_valid(name: str) -> None:
    assert complaints(source(name).decode()) == []


def test_every_key_of_the_format_is_valid() -> None:
    assert complaints(EVERYTHING) == []


@pytest.mark.parametrize(
    "text",
    [
        part("{kind: intervals, work: 20, rest: 10, sets: 8, stations: [{move: a, target: 14}]}"),
        part("{kind: paced, beat: 96, time: 180}"),
        "session: 2024\ncues: {half: true}\nparts: [{kind: open, time: 720, notes: [1]}]\n",
        part("{kind: rotation, every: 60, rounds: 5, stations: [rest, {move: a, target: {start: 5, step: -1}}]}"),
        "session: x\nconfidence: 85\nparts: [{kind: open}]\n",
        part("{kind: rotation, every: 60, rounds: 5, stations: [{move: a, target: 9, least: 6}]}"),
    ],
)
def test_numbers_stand_where_an_editor_sees_numbers(text: str) -> None:
    made, problems = read_session(text, "plan.yaml")
    assert made is not None, problems
    assert complaints(text) == []


MISTAKES = [
    "session: x\n",
    "session: x\nparts: []\n",
    "session: x\nclass_tim: 60:00\nparts: [{kind: open}]\n",
    "session: x\nclass_time: 1:60\nparts: [{kind: open}]\n",
    "session: x\nclass_time:\nparts: [{kind: open}]\n",
    "session: x\nclass_time: -5\nparts: [{kind: open}]\n",
    "session: x\nkit: {box: lots}\nparts: [{kind: open}]\n",
    "session: x\nroom: {screen: 1.40, farthest: 12 m}\nparts: [{kind: open}]\n",
    "session: x\ncues: {half: maybe}\nparts: [{kind: open}]\n",
    part("{kind: opn}"),
    part("{title: x}"),
    part("{kind: rotation, every: 1:00, stations: [{move: a}]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, for: 5:00, stations: [{move: a}]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: []}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: [rst]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: [{mov: a}]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: [{move: a, target: many}]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: [{move: a, options: [{name: b}]}]}"),
    part("{kind: intervals, work: 0:20, rest: 0:10, stations: [{move: a}]}"),
    part("{kind: rotation, every: 1:00, rounds: 5, stations: [{move: a, target: 9, least: few}]}"),
    "session: x\nconfidence: 49\nparts: [{kind: open}]\n",
    "session: x\nconfidence: high\nparts: [{kind: open}]\n",
    part("{kind: for_time, cap: 9:00, work: [rest]}"),
    part("{kind: for_time, cap: 9:00, tap: lap, work: [{move: a}]}"),
    part("{kind: amrap, time: 9:00}"),
    part("{kind: paced, beat: 96}"),
    part("{kind: paced, shuttle: {distance: 20 m}}"),
    part("{kind: paced, shuttle: {distance: 20, stages: [{speed: 8, shuttles: 7}]}}"),
]


@pytest.mark.parametrize("text", MISTAKES)
def test_a_typical_mistake_is_seen_by_the_schema_and_by_the_reader(text: str) -> None:
    assert complaints(text)
    assert read_session(text, "plan.yaml")[0] is None
