"""Targets before a class: what earlier classes say that each athlete can hold today.

Invariant: only what differs from the plan, and only where there is a history; who has none does the plan as written.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, ClassVar

from floorclock.clock.state import new_state
from floorclock.clock.tally import whole_part
from floorclock.insight.as_json import ANSWER, Amount
from floorclock.insight.history import prior_of
from floorclock.live.plan_files import Plan
from floorclock.pace.advice import Advice, Way, targets_from_history
from floorclock.plan.session import Intervals, Rotation
from floorclock.plan.work import Target, Unit, station_names
from floorclock.store.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTarget:
    """One athlete at one station of a part: what the plan gives them, and what their history advises; amounts in round 1.

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
        if not isinstance(part, Rotation | Intervals):
            continue
        run, names = state.planned_run(index), station_names(part.stations)
        for athlete in state.athletes:
            whole = tuple(whole_part(state, run, athlete))
            for advice in targets_from_history(part, whole, prior, plan.session.confidence, state.athletes[athlete]):
                first = next((slot for slot in whole if slot.station == advice.station), None)
                if advice.way is not Way.KEEP and first is not None:
                    planned = Target(first.amount - first.step * (first.round - 1), first.unit, first.step)
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
        planned_words=planned.words(),
        target_words=" ".join(word for word in (advice.option, target.words() if target else "") if word),
    )
