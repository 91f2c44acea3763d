"""What history says of a plan: targets for everybody before a class, the records that `check` asks for; and one athlete's next.

Invariant: before a class, only what differs from the plan and only where there is a history; who has none does the plan as
written. For one athlete the answer is the same one, move by move, for the plan and the roster of the last class in which they did
the move; without that record there is none. Chances are those of `pace.largest.Rounds`, as advice has them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any, ClassVar

from floorclock.clock.splits import Coming
from floorclock.clock.state import ClassState, new_state
from floorclock.clock.tally import whole_part
from floorclock.errors import FloorclockError
from floorclock.insight.as_json import ANSWER, Amount
from floorclock.insight.history import prior_of
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.reading import read_journal
from floorclock.journal.replay import recorded_session
from floorclock.live.plan_files import Plan
from floorclock.pace.advice import IN_DOUBT, Advice, Way, by_station, targets_from_history
from floorclock.pace.largest import LIKELY_ENOUGH, Rounds, as_target
from floorclock.pace.model.forecast import AthletePace, Forecast, fit_class
from floorclock.pace.prior import Prior, prior_from
from floorclock.plan.findings import EVEN, Chance, Records
from floorclock.plan.names import counted
from floorclock.plan.roster import Roster
from floorclock.plan.session import Session, Windowed
from floorclock.plan.work import Target, Unit, station_names
from floorclock.store.questions import Visit, past_classes
from floorclock.store.store import Store

CONFIDENCE = 90
"""In percent, as where a session says nothing."""
Key = tuple[str, Unit | None]
"""(move, unit)."""


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
    for part, station, name, slots, advice in _advised(state, tuple(state.athletes), prior):
        if advice is not None and advice.way is not Way.KEEP:
            found.append(_planned(name, part.title, station, as_target(slots[0], slots[0].amount), advice))
    return PlannedTargets(targets=tuple(found))


def _advised(
    state: ClassState, names: Sequence[str], prior: Prior
) -> Iterator[tuple[Windowed, str, str, list[Coming], Advice | None]]:
    """Part, station, name, all the work there and what history says of it, for all work that has a target; None: do the plan."""
    for index, part in enumerate(state.session.parts):
        if not isinstance(part, Windowed):
            continue
        run, stations = state.planned_run(index), station_names(part.stations)
        for name in names:
            whole = tuple(whole_part(state, run, name))
            made = {
                advice.station: advice
                for advice in targets_from_history(part, whole, prior, state.session.confidence, state.athletes[name])
            }
            for station, slots in by_station(whole).items():
                yield part, stations[station], name, slots, made.get(station)


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
        because=_because(advice),
        planned_words=_said(planned),
        by_round=bool(planned.amounts if target is None else target.amounts),
        sides=planned.sides if target is None else target.sides,
        target_words=_words(advice.option, target),
    )


def _because(advice: Advice) -> str:
    return f"{advice.because}{IN_DOUBT if advice.chance < LIKELY_ENOUGH else ''}"


def _words(option: str, target: Target | None) -> str:
    return " ".join(word for word in (option, _said(target) if target else "") if word)


def _said(target: Target) -> str:
    return target.plan_words() if target.amounts else target.words()


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTarget:
    """What to give next time the plan is that of the last class with the move, and why: what `floorclock targets` says of it.

    `target` of `unit` is for round 1, of both sides together where `sides` is 2, and `step` more in each round after it; None for
    an option that has none. `words` say it with unit, sides, ladder or list of rounds. `way` is whether this is less, more or the
    same as that plan had.
    """

    target: Amount[Fraction | None]
    unit: Unit
    step: Amount[Fraction]
    sides: int
    words: str
    way: Way
    because: str


def next_targets(store: Store, home: Path, history: Sequence[Visit], before: datetime | None = None) -> dict[Key, NextTarget]:
    """The next target for each move that one athlete was tapped at, by the plan of the last class with it.

    Nothing of a move whose class has no record in this data folder, or one that cannot be read.

    Args:
        store: an open store.
        home: the data folder with the records.
        history: the classes the athlete was in, the oldest first.
        before: classes from then on are left out of what is known of them.

    Raises:
        ResourceError: the store refuses.
    """
    found: dict[Key, NextTarget] = {}
    seen: set[Key] = set()
    for here in reversed(history):
        tapped = {(row.move, row.unit): row.name for row in here.paces if row.tapped and row.unit is not None}
        missing = {key: name for key, name in tapped.items() if key not in seen}
        seen.update(missing)
        state = _planned_state(home, here.class_id) if missing else None
        if state is None:
            continue
        names = tuple(name for name in dict.fromkeys(missing.values()) if name in state.athletes)
        # The others count: what people usually lose from round to round is drawn from everybody who was there.
        prior = prior_of(store, tuple(state.athletes), before=before)
        for _, _, name, slots, advice in _advised(state, names, prior):
            key = (slots[0].move, slots[0].unit)
            known = prior.get((name, *key))
            if key in missing and known is not None:
                found[key] = _next(slots[0], advice, known.classes)
    return found


def _planned_state(home: Path, class_id: str) -> ClassState | None:
    """A recorded class before its first event; None where its record or its plan cannot be read."""
    try:
        header = read_journal(home / "classes" / f"{class_id}{JOURNAL_SUFFIX}").header
        return None if header is None else new_state(recorded_session(header), header.roster.athletes)
    except FloorclockError:
        return None


def _next(first: Coming, advice: Advice | None, classes: int) -> NextTarget:
    planned = as_target(first, first.amount)
    target = planned if advice is None else advice.target
    return NextTarget(
        target=None if target is None else target.amount,
        unit=(target or planned).unit,
        step=(target or planned).step,
        sides=(target or planned).sides,
        words=_words(advice.option if advice else "", target),
        way=Way.KEEP if advice is None else advice.way,
        because=f"{counted(classes, 'class')}: the plan will do" if advice is None else _because(advice),
    )


def rounds_ahead(pace: AthletePace, slots: Sequence[Coming]) -> dict[int, Rounds]:
    """What each station would be like as it was; all at once, which is much cheaper than one by one."""
    worked = [slot for slot in slots if slot.amount > 0]
    ahead: dict[int, list[Forecast]] = {}
    for forecast in pace.forecasts(worked):
        if forecast is not None:
            ahead.setdefault(forecast.slot.station, []).append(forecast)
    return {number: Rounds(tuple(here), CONFIDENCE / 100) for number, here in ahead.items()}


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
    first = next((forecast.slot.round for forecast in rounds.ahead if forecast.chance_tight() > 1 - EVEN), None)
    return Chance(rounds.chance(rounds.next.amount), first)
