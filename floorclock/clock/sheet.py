"""The run sheet: every interval and every cue of a session, minute by minute, before anybody has tapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from floorclock.clock.timeline import Interval, IntervalKind, PartTimeline, part_timeline, station_index
from floorclock.plan.durations import seconds
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, Session, Windowed
from floorclock.plan.work import Station, Unit, amount_said, station_names


@dataclass(frozen=True, slots=True)
class SheetPart:
    """One part on the sheet, with the start groups that its lanes are for."""

    part: AnyPart
    timeline: PartTimeline
    groups: tuple[int, ...]


def run_sheet(session: Session, athletes: Sequence[Athlete] = ()) -> tuple[SheetPart, ...]:
    """The parts of a session with their timelines, for the start groups of these athletes (one group without any)."""
    groups = tuple(sorted({athlete.group for athlete in athletes})) or (1,)
    return tuple(SheetPart(part, part_timeline(part, session, groups), groups) for part in session.parts)


def station_words(part: AnyPart, interval: Interval, group: int) -> tuple[str | None, str | None]:
    """(station, target) of a start group in an interval, as a coach says them; None where there is none."""
    if interval.window < 0 or not part.stations:
        return None, None
    if not isinstance(part, Windowed):
        return " + ".join(station_names(part.stations)), None
    index = station_index(part, interval.window, group)
    station = part.stations[index]
    return station_names(part.stations)[index], goal_words(station, interval.round) or None


def goal_words(station: Station, round_number: int) -> str:
    """What is to be done at a station in a round, with its load: `14 reps`, `5 reps at 70 %`; empty where nothing is said."""
    if station.items:
        return " + ".join(f"{item.move} {goal_words(item, round_number)}".strip() for item in station.items)
    goal, target = "", station.target
    if target is not None:
        plain = target.unit is Unit.REPS and not (target.each_side or target.most or target.levels)
        goal = target.plan_words() if target.levels else target.words(round_number)
        if plain and target.upper is None:
            goal = amount_said(target.in_round(round_number), target.unit)
    load = station.load.plan_words() if station.load is not None else ""
    return f"{goal} at {load}" if goal and load else goal or load


def sheet_json(sheet: Sequence[SheetPart]) -> dict[str, Any]:
    """The sheet as `sheet --json` prints it. Times in seconds from the start of each part; the count-in lies before 0."""
    return {"parts": [_part_json(item) for item in sheet]}


def _part_json(item: SheetPart) -> dict[str, Any]:
    intervals = [_interval_json(item, interval) for interval in item.timeline.intervals]
    if item.timeline.count_in_ms:
        ready = {"start_s": -seconds(item.timeline.count_in_ms), "end_s": 0, "kind": "ready"}
        intervals.insert(0, {**ready, "round": None, "set": None, "station": None, "target": None})
    return {
        "kind": item.part.kind,
        "title": item.part.title,
        "time_s": seconds(planned_ms(item)),
        "intervals": intervals,
        "cues": [{"at_s": seconds(cue.at_ms), "cue": str(cue.name)} for cue in item.timeline.cues],
    }


def planned_ms(item: SheetPart) -> int:
    """How long the plan says a part takes, without its count-in: an open part its advisory time, or nothing."""
    if item.part.kind == "open":
        return item.timeline.intervals[-1].end_ms if item.timeline.intervals else 0
    return item.timeline.length_ms or 0


def _interval_json(item: SheetPart, interval: Interval) -> dict[str, Any]:
    station, target = station_words(item.part, interval, item.groups[0])
    at_work = interval.window >= 0
    values: dict[str, Any] = {
        "start_s": seconds(interval.start_ms),
        "end_s": seconds(interval.end_ms),
        "kind": str(interval.kind),
        "round": interval.round if interval.kind is not IntervalKind.READY else None,
        "set": interval.window + 1 if at_work else None,
        "station": station,
        "target": target,
    }
    if len(item.groups) > 1 and at_work:
        words = [(group, *station_words(item.part, interval, group)) for group in item.groups]
        values["lanes"] = [{"group": group, "station": name, "target": goal} for group, name, goal in words]
    return values
