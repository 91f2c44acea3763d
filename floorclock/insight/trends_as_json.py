"""A coach's view over weeks for other programs: JSON-ready values.

Invariant: seconds are numbers, every key is always there, None where nothing is known; instants are RFC 3339 with the offset of
the place, weeks ISO 8601 (`2026-W09`, from Monday on).
"""

from __future__ import annotations

from typing import Any

from floorclock.insight.intervals import SHARE_OF_SHARES, Course
from floorclock.insight.json_values import number, tally_values
from floorclock.insight.trends import Ranked, StationCourse, Trends, WeekTally


def trends_json(found: Trends) -> dict[str, Any]:
    """The values of `trends --json`; shares are from 0 to 1.

    `{"since", "until", "classes", "visits", "people", "all": TALLY, "share",
    "weeks": [{"week", "monday", "classes", "visits", "held_share", **TALLY}],
    "held_trend": {"says", "change", "days", "classes", "p"} | null,
    "sessions": [{"session", "classes", **TALLY, "flagged_share", "low", "high", "ranked_by"}],
    "stations": [{"session", "part", "move", "drift_percent_per_round", ... as sessions}],
    "too_few": {"sessions", "stations"},
    "station_trends": [{"session", "part", "move", "says", "rest_change_s", "days", "classes", "p", "not_finished"}],
    "expected_by_chance"}`

    TALLY is `{"cases", "held", "fading", "tight", "not_finished"}`: athletes who were tapped or did not finish, in a class or at
    a station of it. `low` to `high` is the Wilson interval of `flagged_share` for a `share` of cases; the hardest come first,
    by `ranked_by`. `held_share` and `held_trend` are None where there is too little. `until` is not counted any more.
    """
    return {
        "since": None if found.since is None else found.since.isoformat(),
        "until": None if found.until is None else found.until.isoformat(),
        "classes": found.classes,
        "visits": found.visits,
        "people": found.people,
        "all": tally_values(found.tally),
        "share": SHARE_OF_SHARES,
        "weeks": [_week(one) for one in found.weeks],
        "held_trend": _held_trend(found.held),
        "sessions": [_ranked(one) for one in found.sessions],
        "stations": [_ranked_station(one) for one in found.stations],
        "too_few": {"sessions": found.too_few_sessions, "stations": found.too_few_stations},
        "station_trends": [_station_course(one) for one in found.courses],
        "expected_by_chance": round(found.changed_by_chance, 2),
    }


def _week(one: WeekTally) -> dict[str, Any]:
    return {
        "week": one.week,
        "monday": one.monday.isoformat(),
        "classes": one.classes,
        "visits": one.visits,
        "held_share": number(one.held, 3),
        **tally_values(one.tally),
    }


def _held_trend(one: Course | None) -> dict[str, Any] | None:
    if one is None:
        return None
    says = ("rises" if one.change > 0 else "falls") if one.is_told else "cannot be told"
    return {"says": says, "change": number(one.change, 3), "days": one.days, "classes": one.n, "p": number(one.p, 4)}


def _ranked(one: Ranked) -> dict[str, Any]:
    return {
        "session": one.session,
        "classes": one.classes,
        **tally_values(one.tally),
        "flagged_share": number(one.flagged.middle, 3),
        "low": number(one.flagged.low, 3),
        "high": number(one.flagged.high, 3),
        "ranked_by": number(one.shrunk, 3),
    }


def _ranked_station(one: Ranked) -> dict[str, Any]:
    place = {"part": one.part, "move": one.move, "drift_percent_per_round": number(one.drift_percent)}
    return {**_ranked(one), **place}


def _station_course(one: StationCourse) -> dict[str, Any]:
    return {
        "session": one.session,
        "part": one.part,
        "move": one.move,
        "says": one.words,
        "rest_change_s": number(one.course.change),
        "days": one.course.days,
        "classes": one.course.n,
        "p": number(one.course.p, 4),
        "not_finished": one.not_finished,
    }
