"""What the values of a journal may be, looked at once, where they come in.

Invariant: whoever holds an event or a header from a journal need not check it again: every value is of its kind and within what
a class could have, and no text holds a character that a terminal or a screen could take for a command.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from math import isfinite
from typing import TYPE_CHECKING

from floorclock.clock.events import ScoreEntered
from floorclock.plan.names import is_refused
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Load, Target

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

DAY_MS = 86_400_000
MOST_MS = 10**12
"""A machine may have been away for years."""
MOST_COUNTED = 10**6
LONGEST_TEXT = 4_000
_WITHIN: Mapping[str, tuple[float, float]] = {
    "at_ms": (0, MOST_MS), "away_ms": (0, MOST_MS), "jump_ms": (0, MOST_MS),
    "delta_ms": (-DAY_MS, DAY_MS), "count_in_ms": (0, DAY_MS), "lead_ms": (0, DAY_MS), "margin_ms": (0, DAY_MS),
    "split_ms": (0, DAY_MS), "time_ms": (0, MOST_MS), "rest_margin_ms": (0, DAY_MS), "length_ms": (0, DAY_MS),
    "effort": (0, 10), "group": (1, MOST_COUNTED), "forgotten": (0, MOST_COUNTED), "speed": (1e-6, 1e6),
}  # fmt: skip
"""The smallest and the largest number of a name; any other name counts something from 0."""
WHOLE_PART = -1
_MADE: Mapping[str, type] = {"Target": Target, "Load": Load}
_KINDS: Mapping[str, tuple[type, ...]] = {"int": (int,), "str": (str,), "bool": (bool,), "float": (int, float)}


def check_values(record: DataclassInstance) -> None:
    """Looks at every value of an event or of a header. A plan may be as long as it likes."""
    for part in fields(record):
        name, written, value = part.name, str(part.type), getattr(record, part.name)
        whole_part = isinstance(record, ScoreEntered) and name == "interval" and value == WHOLE_PART
        plan = name == "session_text" and isinstance(value, str)
        if written == "Athlete":
            _athlete(value)
        elif written == "Roster":
            _texts("title", value.title)
            for athlete in value.athletes:
                _athlete(athlete)
        elif written == "tuple[int, ...]":
            for number in value:
                _plain(name, "int", number)
        elif not (whole_part or plan or written == "datetime"):
            _plain(name, written, value)


def _athlete(athlete: object) -> None:
    if not isinstance(athlete, Athlete):
        raise ValueError("no athlete")
    _texts("athlete", athlete.name, athlete.key, athlete.level, athlete.note, *athlete.experienced, *athlete.avoid)
    _texts("options", *athlete.options, *athlete.options.values(), *athlete.targets, *athlete.loads, *athlete.best)
    _plain("team", "int | None", athlete.team)
    if not athlete.name:
        raise ValueError("an athlete without a name")
    _plain("group", "int", athlete.group)
    _plain("rest_margin_ms", "int | None", athlete.rest_margin_ms)


def _plain(name: str, written: str, value: object) -> None:
    kind = written.removesuffix(" | None")
    if value is None and kind != written:
        return
    if kind in _MADE:
        if not isinstance(value, _MADE[kind]):
            raise ValueError(f"{name} is of the wrong kind")
        return
    if not isinstance(value, _KINDS[kind]) or (isinstance(value, bool) and kind != "bool"):
        raise ValueError(f"{name} is of the wrong kind")
    if isinstance(value, str):
        _texts(name, value)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        low, high = _WITHIN.get(name, (0, MOST_COUNTED))
        if not isfinite(value) or not low <= value <= high:
            raise ValueError(f"{name} is out of range")


def _texts(name: str, *values: object) -> None:
    for value in values:
        if not isinstance(value, str) or len(value) > LONGEST_TEXT or any(is_refused(letter) for letter in value):
            raise ValueError(f"{name} is no text that can be shown")
