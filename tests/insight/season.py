"""Weeks of invented classes, recorded as if they had been timed on paper: whoever is in them gets faster, slower or stays."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from random import Random

from floorclock.clock.events import EffortRated
from floorclock.live.afterwards import add_event
from floorclock.live.plan_files import Plan
from floorclock.store.indexing import bring_up_to_date
from floorclock.store.store import Store
from floorclock.transfer.paper import IntakeSheet, PaperResult, PaperSplit, record_intake
from tests.opened_classes import plan_at

FIRST = datetime(2026, 3, 2, 18, 30, tzinfo=timezone(timedelta(hours=1)))
"""A Monday."""
LOCKS = """\
session: Three locks
class_time: 60:00
rest_margin: 0:15
count_in: 0:10
parts:
  - kind: rotation
    title: The locks
    every: 1:00
    rounds: 5
    stations:
      - {move: swing, target: 14 reps}
      - {move: step-up, target: 12 reps}
      - rest
  - {kind: open, title: Drink, time: 2:00}
  - kind: for_time
    title: Carry
    cap: 9:00
    rounds: 3
    work: [{move: carry, target: 40 m}]
"""
BRIDGES = """\
session: Two bridges
class_time: 60:00
rest_margin: 0:15
count_in: 0:10
parts:
  - kind: rotation
    title: The bridges
    every: 1:00
    rounds: 5
    stations:
      - {move: swing, target: 16 reps}
      - {move: row, target: 200 m}
"""
SETTING_UP_S = 4.0
SECONDS_EACH = {"swing": 1.9, "step-up": 2.5, "row": 0.2}
ROUNDS = 5
INTERVAL_S = 60


@dataclass(frozen=True, kw_only=True)
class Person:
    """`pace` is a factor on every split, `weekly` its change a week, `drift` a round; `tapped` the share of rounds tapped."""

    pace: float = 1.0
    weekly: float = 0.0
    drift: float = 0.005
    noise: float = 0.03
    effort: float | None = 6.0
    tapped: float = 1.0
    not_finished: frozenset[int] = field(default_factory=frozenset)
    """Rounds at the first station that they did not finish."""


def plan_of(folder: Path, session: str, names: Sequence[str]) -> Plan:
    """The plan of a session for these people."""
    return plan_at(folder, session, f"roster: Season\nathletes: [{', '.join(names)}]\n")


def record(
    home: Path, started: datetime, people: Mapping[str, Person], session: str = LOCKS, *, seed: int = 1, hard: float = 1.0
) -> str:
    """Records one class of these people and gives its id; `hard` is a factor on everybody's splits."""
    plan = plan_of(home.parent / "plans", session, list(people))
    weeks = (started - FIRST).days / 7
    splits: list[PaperSplit] = []
    results: list[PaperResult] = []
    rotation = plan.session.parts[0]
    for name, person in people.items():
        dice = Random(f"{seed} {started} {name}")
        today = hard * person.pace * (1 + person.weekly) ** weeks
        for round_ in range(1, ROUNDS + 1):
            for place, station in enumerate(rotation.stations):
                if station.is_rest or dice.random() >= person.tapped:
                    continue
                assert station.target is not None
                seconds = SETTING_UP_S + SECONDS_EACH[station.move] * float(station.target.amount)
                seconds *= today * (1 + person.drift) ** (round_ - 1) * math.exp(dice.gauss(0, person.noise))
                finished = seconds < INTERVAL_S and not (place == 0 and round_ in person.not_finished)
                split_ms = round(1000 * seconds) if finished else None
                interval = (round_ - 1) * len(rotation.stations) + place
                splits.append(PaperSplit(athlete=name, part=0, interval=interval, split_ms=split_ms, move=station.move))
        if session == LOCKS:
            results.append(PaperResult(athlete=name, part=2, time_ms=round(300_000 * today)))
    splits.sort(key=lambda one: one.interval)
    class_id = record_intake(IntakeSheet(splits=tuple(splits), results=tuple(results)), plan, home, started)
    efforts = [EffortRated(at_ms=0, athlete=name, effort=who.effort) for name, who in people.items() if who.effort is not None]
    for effort in efforts:
        add_event(home / "classes" / f"{class_id}.jsonl", effort)
    return class_id


def season(home: Path, store: Store, people: Mapping[str, Person], weeks: int, sessions: Sequence[str] = (LOCKS,)) -> list[str]:
    """A class a week, the sessions in turn, put into the store; their ids."""
    ids = [record(home, FIRST + timedelta(weeks=week), people, sessions[week % len(sessions)]) for week in range(weeks)]
    bring_up_to_date(home, store)
    return ids
