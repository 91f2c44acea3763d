"""What history says of a plan: targets for everybody before a class, the records that `check` asks for; and one athlete's next.

Invariant: before a class, only what differs from the plan and only where there is a history; who has none does the plan as
written. For one athlete the answer is that of `pace.advice.targets_from_history` too, move by move: the rounds, the interval and
the margin are those of the last class in which they did the move. Chances are those of `pace.largest.Rounds`, as advice has them.

The records do not say which moves are guarded, which options a station has or how little it may come to: the plan does, so
`floorclock targets` with the plan goes before what is said of one athlete.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Any, ClassVar

from floorclock.clock.splits import Coming, Split
from floorclock.clock.state import new_state
from floorclock.clock.tally import whole_part
from floorclock.insight.as_json import ANSWER, Amount
from floorclock.insight.history import prior_of
from floorclock.live.plan_files import Plan
from floorclock.pace.advice import IN_DOUBT, Advice, Way, by_station, targets_from_history
from floorclock.pace.largest import LIKELY_ENOUGH, Rounds, as_target
from floorclock.pace.model.forecast import AthletePace, Forecast, fit_class
from floorclock.pace.prior import PastClass, prior_from
from floorclock.plan.findings import EVEN, Chance, Records
from floorclock.plan.roster import Roster
from floorclock.plan.session import Rotation, Session, Windowed
from floorclock.plan.work import Station, Target, Unit, station_names
from floorclock.store.questions import past_classes
from floorclock.store.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTarget:
    """One athlete at one station of a part: what the plan gives them, and what their history advises; amounts in round 1,
    of both sides together where `sides` is 2.

    `move` is the one that the target is for: theirs at the station.
    `target` is None where only an option would hold. `planned_words` and `target_words` say both with unit and ladder.
    """

    name: str
    part: str
    station: str
    move: str
    planned: Amount[Fraction]
    target: Amount[Fraction | None]
    unit: Unit
    option: str | None
    because: str
    planned_words: str
    target_words: str
    sides: int = 1
    by_round: bool = False
    """The words list the rounds: `20-16-12`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTargets:
    """In the order of the plan, then of the board: only what differs from the plan."""

    targets: tuple[PlannedTarget, ...]
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER


def planned_targets(plan: Plan, store: Store) -> PlannedTargets:
    """What earlier classes advise for this plan and roster.

    Raises:
        ResourceError: the store refuses.
    """
    state = new_state(plan.session, plan.roster.athletes)
    prior = prior_of(store, tuple(state.athletes))
    found = []
    for index, part in enumerate(plan.session.parts):
        if not isinstance(part, Windowed):
            continue
        run, names = state.planned_run(index), station_names(part.stations)
        for athlete in state.athletes:
            whole = tuple(whole_part(state, run, athlete))
            for advice in targets_from_history(part, whole, prior, plan.session.confidence, state.athletes[athlete]):
                first = next((slot for slot in whole if slot.station == advice.station), None)
                if advice.way is not Way.KEEP and first is not None:
                    planned = as_target(first, first.amount)
                    found.append(_planned(athlete, part.title, names[advice.station], planned, advice))
    return PlannedTargets(targets=tuple(found))


def _planned(name: str, part: str, station: str, planned: Target, advice: Advice) -> PlannedTarget:
    target = advice.target
    return PlannedTarget(
        name=name,
        part=part,
        station=station,
        move=advice.move,
        planned=planned.amount,
        target=None if target is None else target.amount,
        unit=planned.unit if target is None else target.unit,
        option=advice.option or None,
        because=advice.because,
        planned_words=_said(planned),
        by_round=bool(planned.amounts if target is None else target.amounts),
        sides=planned.sides if target is None else target.sides,
        target_words=" ".join(word for word in (advice.option, _said(target) if target else "") if word),
    )


def _said(target: Target) -> str:
    return target.plan_words() if target.amounts else target.words()


CONFIDENCE = 90
"""In percent, as where a session says nothing."""
LEAST_FOR_A_LADDER = 3

Key = tuple[str, Unit | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTarget:
    """What to give next time, and why: `target` of `unit` in round 1, None for an option that has none, and `step` more in each
    round after it. `way` is whether this is less, more or the same as they had last.
    """

    target: Amount[Fraction | None]
    unit: Unit
    step: Amount[Fraction]
    way: Way
    because: str


def next_targets(past: Sequence[PastClass]) -> dict[Key, NextTarget]:
    """The next target for each move that one athlete was tapped at in some last classes, the newest class first.

    Args:
        past: their splits, as `store.questions.past_classes` gives them, all under one name.
    """
    # What was done, whatever was changed afterwards: the target to go on from is that of the last split.
    prior = prior_from([PastClass(day=here.day, splits=here.splits) for here in past])
    slots = [slot for own in _last_work(past).values() for slot in own]
    if not slots:
        return {}
    stations = by_station(slots)
    part = Rotation(
        title="",
        every_ms=slots[0].window_ms,
        rounds=max(slot.round for slot in slots),
        work=tuple(Station(own[0].move, Target(own[0].amount, own[0].unit, own[0].step)) for own in stations.values()),
    )
    pace = fit_class((), prior).pace_of(slots[0].athlete, ())
    advised = {made.station: made for made in targets_from_history(part, slots, prior, CONFIDENCE, pace=pace)}
    found: dict[Key, NextTarget] = {}
    for number, rounds in rounds_ahead(pace, slots).items():
        first = rounds.next
        known = prior[first.athlete, first.move, first.unit]
        found[first.move, first.unit] = _told(advised.get(number), first, rounds.chance(first.amount), known.classes)
    return found


def rounds_ahead(pace: AthletePace, slots: Sequence[Coming]) -> dict[int, Rounds]:
    """What each station would be like as it was; all at once, which is much cheaper than one by one."""
    worked = [slot for slot in slots if slot.amount > 0]
    ahead: dict[int, list[Forecast]] = {}
    for forecast in pace.forecasts(worked):
        if forecast is not None:
            ahead.setdefault(forecast.slot.station, []).append(forecast)
    return {number: Rounds(tuple(here), CONFIDENCE / 100) for number, here in ahead.items()}


def _told(advice: Advice | None, last: Coming, chance: float, classes: int) -> NextTarget:
    if advice is not None:
        target = advice.target
        step = last.step if target is None else target.step
        amount = None if target is None else target.amount
        unit = last.unit if target is None else target.unit
        doubt = IN_DOUBT if advice.chance < LIKELY_ENOUGH else ""
        return NextTarget(target=amount, unit=unit, step=step, way=advice.way, because=f"{advice.because}{doubt}")
    counted = f"{classes} class{'es' * (classes != 1)}"
    likely = f"{counted}: the last target keeps the margin in every round in {100 * chance:.0f} of 100 cases"
    return NextTarget(target=last.amount, unit=last.unit, step=last.step, way=Way.KEEP, because=likely)


def _last_work(past: Sequence[PastClass]) -> dict[Key, list[Coming]]:
    """For each move, the whole work at the station where they did it last; stations are numbered anew."""
    found: dict[Key, list[Coming]] = {}
    for here in past:
        places: dict[Key, tuple[int, int]] = {}
        for split in here.splits:
            if split.split_ms is not None and split.amount and split.unit is not None:
                place = places.get((split.move, split.unit), (0, 0))
                places[split.move, split.unit] = max(place, (split.part, split.station))
        for key, place in places.items():
            if key not in found:
                own = [split for split in here.splits if (split.part, split.station) == place and (split.move, split.unit) == key]
                found[key] = _slots(len(found), [split for split in own if split.split_ms is not None], len(own))
    return found


def _slots(number: int, here: Sequence[Split], intervals: int) -> list[Coming]:
    last = max(here, key=lambda split: split.round)
    count = max(intervals, last.round)
    step = _step(here)
    amount = last.amount or Fraction(0)
    assert last.unit is not None
    return [
        Coming(
            athlete=last.athlete,
            part=0,
            interval=number * count + round_ - 1,
            round=round_,
            station=number,
            window_ms=last.window_ms,
            margin_ms=last.margin_ms,
            move=last.move,
            amount=max(Fraction(0), amount + step * (round_ - last.round)),
            unit=last.unit,
            step=step,
        )
        for round_ in range(1, count + 1)
    ]


def _step(here: Sequence[Split]) -> Fraction:
    """What a ladder adds with each round; 0 where the amounts are no ladder: a target that was changed is none."""
    rows = sorted(here, key=lambda row: row.round)
    steps = {
        ((later.amount or 0) - (row.amount or 0)) / Fraction(later.round - row.round)
        for row, later in pairwise(rows)
        if later.round > row.round
    }
    return steps.pop() if len(rows) >= LEAST_FOR_A_LADDER and len(steps) == 1 else Fraction(0)


def plan_records(session: Session, roster: Roster, store: Store, today: date) -> Records:
    """What the last classes of these people say of this plan.

    Raises:
        ResourceError: the store refuses.
    """
    state = new_state(session, roster.athletes)
    past = past_classes(store, tuple(state.athletes))
    last: dict[tuple[str, str], date] = {}
    for here in past:
        for split in here.splits:
            last[split.athlete, split.move] = max(here.day, last.get((split.athlete, split.move), here.day))
    prior = prior_from(past)
    pace = fit_class((), prior)
    chances = {}
    for number, part in enumerate(session.parts):
        if not isinstance(part, Windowed):
            continue
        run = state.planned_run(number)
        for athlete in state.athletes:
            known = [slot for slot in whole_part(state, run, athlete) if (athlete, slot.move, slot.unit) in prior]
            ahead = rounds_ahead(pace.pace_of(athlete, ()), known)
            chances.update({(number, station, athlete): _chance(rounds) for station, rounds in ahead.items()})
    return Records(today=today, people=frozenset(name for name, _ in last), last_done=last, chances=chances)


def _chance(rounds: Rounds) -> Chance:
    first = next((one.slot.round for one in rounds.ahead if one.chance_tight() > 1 - EVEN), None)
    return Chance(rounds.chance(rounds.next.amount), first)
