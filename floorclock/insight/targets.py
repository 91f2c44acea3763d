"""Targets before a class: what earlier classes say that each athlete can hold today.

Invariant: only what differs from the plan, and only where there is a history; who has none does the plan as written.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from floorclock.clock.state import new_state
from floorclock.clock.tally import whole_part
from floorclock.insight.history import prior_of
from floorclock.live.plan_files import Plan
from floorclock.pace.advice import Advice, Way, targets_from_history
from floorclock.plan.session import Intervals, Rotation
from floorclock.plan.work import Target, station_names


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTarget:
    """One athlete at one station of a part: what the plan gives them, and what their history advises."""

    athlete: str
    part: str
    station: str
    planned: Target
    advice: Advice


def planned_targets(plan: Plan, home: Path) -> tuple[PlannedTarget, ...]:
    """What earlier classes advise for this plan and roster, in the order of the plan, then of the board."""
    state = new_state(plan.session, plan.roster.athletes)
    prior = prior_of(home, tuple(state.athletes))
    found = []
    for index, part in enumerate(plan.session.parts):
        if not isinstance(part, Rotation | Intervals):
            continue
        run, names = state.planned_run(index), station_names(part.stations)
        for athlete in state.athletes:
            whole = tuple(whole_part(state, run, athlete))
            for advice in targets_from_history(part, whole, prior, plan.session.confidence, state.athletes[athlete]):
                first = next((slot for slot in whole if slot.station == advice.station), None)
                if advice.way is Way.KEEP or first is None:
                    continue
                planned = Target(first.amount - first.step * (first.round - 1), first.unit, first.step)
                found.append(
                    PlannedTarget(athlete=athlete, part=part.title, station=names[advice.station], planned=planned, advice=advice)
                )
    return tuple(found)


def targets_json(planned: tuple[PlannedTarget, ...]) -> dict[str, Any]:
    """The values of `targets --json`: amounts in round 1, as numbers."""
    return {"targets": [_one_json(one) for one in planned]}


def _one_json(one: PlannedTarget) -> dict[str, Any]:
    target = one.advice.target
    return {
        "name": one.athlete,
        "part": one.part,
        "station": one.station,
        "planned": float(one.planned.amount),
        "target": None if target is None else float(target.amount),
        "unit": str(one.planned.unit if target is None else target.unit),
        "option": one.advice.option or None,
        "because": one.advice.because,
    }
