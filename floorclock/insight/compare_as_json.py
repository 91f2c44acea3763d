"""Two classes beside each other for other programs: JSON-ready values.

Invariant: seconds are numbers, every key is always there, None where nothing is known; instants are RFC 3339 with the offset of
the place, weeks ISO 8601 (`2026-W09`, from Monday on).
"""

from __future__ import annotations

from typing import Any

from floorclock.insight.compare import AthleteChange, Comparison, MoveChange, ResultChange
from floorclock.insight.intervals import SHARE
from floorclock.insight.json_values import amount_value, change_values, number, result_values
from floorclock.journal.instants import instant_text
from floorclock.store.answers import ClassLine


def compare_json(found: Comparison) -> dict[str, Any]:
    """The values of `compare --json`; below 0 is faster, or fewer seconds.

    `{"before": {"id", "started", "session", "athletes"}, "after": {...}, "same_session", "share",
    "whole": CHANGE | null, "moves": [{"move", "unit", **CHANGE}],
    "tested", "told", "expected_by_chance",
    "athletes": [{"name", "says", "change": CHANGE | null, "not_finished": [before, after],
    "moves": [{"move", "unit", "rounds", "amount_before", "amount_after",
    "before_s_per_unit", "after_s_per_unit", "percent", "at_target_s", "says", "change": CHANGE | null}]}],
    "results": [{"name", "part", "time_s", "before": RESULT, "after": RESULT}], "only_before": [...], "only_after": [...]}`

    CHANGE is `{"percent", "low", "high", "n"}`, the span of a `share` of cases; `n` counts rounds for an athlete, athletes for
    `whole` and `moves`. RESULT is `{"choice", "time_s", "rounds", "reps", "not_finished"}`.
    """
    return {
        "before": _line(found.before),
        "after": _line(found.after),
        "same_session": found.same_session,
        "share": SHARE,
        "whole": change_values(found.whole),
        "moves": [{"move": move, "unit": str(unit), **(change_values(one) or {})} for (move, unit), one in found.by_move.items()],
        "tested": found.tested,
        "told": sum(one.change is not None and one.change.is_told for one in found.athletes),
        "expected_by_chance": round(found.by_chance, 2),
        "athletes": [_athlete_change(one) for one in found.athletes],
        "results": [_result_change(one) for one in found.results],
        "only_before": list(found.only_before),
        "only_after": list(found.only_after),
    }


def _line(one: ClassLine) -> dict[str, Any]:
    return {"id": one.id, "started": instant_text(one.started), "session": one.session, "athletes": one.athletes}


def _athlete_change(one: AthleteChange) -> dict[str, Any]:
    return {
        "name": one.name,
        "says": str(one.way),
        "change": change_values(one.change),
        "not_finished": list(one.not_finished),
        "moves": [_move_change(here) for here in one.moves],
    }


def _move_change(one: MoveChange) -> dict[str, Any]:
    return {
        "move": one.move,
        "unit": str(one.unit),
        "rounds": one.rounds,
        "amount_before": amount_value(one.amount_before),
        "amount_after": amount_value(one.amount_after),
        "before_s_per_unit": number(one.before_s, 4),
        "after_s_per_unit": number(one.after_s, 4),
        "percent": number(one.percent),
        "at_target_s": number(one.at_target_s),
        "says": str(one.way),
        "change": change_values(one.change),
    }


def _result_change(one: ResultChange) -> dict[str, Any]:
    return {
        "name": one.name,
        "part": one.title,
        "time_s": number(one.time_s, 3),
        "before": result_values(one.before),
        "after": result_values(one.after),
    }
