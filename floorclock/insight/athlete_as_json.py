"""An athlete's page for other programs: JSON-ready values.

Invariant: seconds are numbers, every key is always there, None where nothing is known; instants are RFC 3339 with the offset of
the place, weeks ISO 8601 (`2026-W09`, from Monday on).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from floorclock.insight.athlete import AthletePage, ClassOfAthlete, WeekOfAthlete
from floorclock.insight.json_values import amount_value, number, result_values, seconds, underscored
from floorclock.insight.moves import MoveHistory, Point, percent
from floorclock.insight.next_target import NextTarget
from floorclock.insight.tallies import COUNTED
from floorclock.journal.instants import instant_text
from floorclock.store.answers import ResultOf


def athlete_json(page: AthletePage) -> dict[str, Any]:
    """The values of `athlete --json`; lists have the oldest first.

    `{"name", "spellings": [...], "in_all": {"classes", "first", "last"}, "since", "until",
    "classes": [{"id", "session", "started", "minutes", "effort", "load", "timed", "flags": [...]}],
    "held": {"timed", "held", "fading", "tight", "not_finished"},
    "moves": [{"move", "unit", "points": [{"class", "started", "amount", "median_split_s", "s_per_unit", "least_rest_s",
    "drift_percent_per_round", "flags": [...]}], "trend": {"says", "percent", "days", "classes", "p"} | null,
    "next_target": {"target", "unit", "step", "way", "because"} | null}],
    "weeks": [{"week", "monday", "classes", "load", "monotony", "strain", "because", "rest_days"}],
    "results": [{"class", "started", "session", "part", "kind", "choice", "time_s", "rounds", "reps", "not_finished"}]}`

    Everything but `in_all` is of the days from `since` to `until`. `s_per_unit` is the pace in the middle round; `trend` has its
    change in per cent over `days` (below 0 is faster), None from too few classes, and `says` `faster`, `slower` or `cannot be
    told`. A `target` of None says that nothing sayable would hold. `held` counts classes; `load` of a week is the sum of what
    was rated, `because` says why there is no monotony.
    """
    return {
        "name": page.name,
        "spellings": list(page.whose.spellings),
        "in_all": {
            "classes": page.whose.classes,
            "first": instant_text(page.whose.first),
            "last": instant_text(page.whose.last),
        },
        "since": page.since.isoformat(),
        "until": page.today.isoformat(),
        "classes": [_class_of_athlete(one) for one in page.classes],
        "held": {"timed": page.timed, "held": page.held, **_page_flags(page)},
        "moves": [_move(one) for one in page.moves],
        "weeks": [_week_of_athlete(one) for one in page.weeks],
        "results": [_result_of(one) for one in page.results],
    }


def _page_flags(page: AthletePage) -> Mapping[str, int]:
    return {underscored(flag): page.with_flag(flag) for flag in COUNTED}


def _class_of_athlete(one: ClassOfAthlete) -> dict[str, Any]:
    return {
        "id": one.id,
        "session": one.session,
        "started": instant_text(one.started),
        "minutes": number(one.minutes),
        "effort": one.effort,
        "load": number(one.load),
        "timed": one.timed,
        "flags": [str(flag) for flag in one.flags],
    }


def _move(one: MoveHistory) -> dict[str, Any]:
    trend = None
    if one.course is not None:
        trend = {
            "says": str(one.way),
            "percent": number(one.change_percent),
            "days": one.course.days,
            "classes": one.course.n,
            "p": number(one.course.p, 4),
        }
    return {
        "move": one.move,
        "unit": None if one.unit is None else str(one.unit),
        "points": [_point(point) for point in one.points],
        "trend": trend,
        "next_target": None if one.next_target is None else _next_target(one.next_target),
    }


def _point(one: Point) -> dict[str, Any]:
    return {
        "class": one.class_id,
        "started": instant_text(one.started),
        "amount": amount_value(one.amount),
        "median_split_s": seconds(one.median_split_ms),
        "s_per_unit": number(one.s_per_unit, 4),
        "least_rest_s": seconds(one.least_rest_ms),
        "drift_percent_per_round": None if one.drift is None else number(percent(one.drift)),
        "flags": [str(flag) for flag in one.flags],
    }


def _next_target(one: NextTarget) -> dict[str, Any]:
    return {
        "target": None if one.target is None else amount_value(one.target.amount),
        "unit": str(one.last.unit),
        "step": amount_value(one.last.step if one.target is None else one.target.step),
        "way": str(one.way),
        "because": one.because,
    }


def _week_of_athlete(one: WeekOfAthlete) -> dict[str, Any]:
    return {
        "week": one.week,
        "monday": one.monday.isoformat(),
        "classes": one.classes,
        "load": number(one.load.load),
        "monotony": number(one.load.monotony),
        "strain": number(one.load.strain),
        "because": one.load.because,
        "rest_days": one.load.rest_days,
    }


def _result_of(one: ResultOf) -> dict[str, Any]:
    return {
        "class": one.class_id,
        "started": instant_text(one.started),
        "session": one.session,
        "part": one.result.title,
        "kind": one.result.kind,
        **result_values(one.result),
    }
