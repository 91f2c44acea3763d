"""What giving an advice means as events, and what takes it back.

Invariant: the events to take it back leave the athlete with the work they had; a yes to a guarded move stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from floorclock.clock.events import OptionChosen, TargetChanged
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.work import Station, Target

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

Change = TargetChanged | OptionChosen


@dataclass(frozen=True, slots=True)
class Giving:
    """An advice as events: `changes` give it, `back` undo them in order; work `before` and `after` at its station.

    `round` is the first round that it is for.
    """

    athlete: str
    station: Station
    before: Assignment
    after: Assignment
    changes: tuple[Change, ...]
    back: tuple[Change, ...]
    round: int = 1

    def still_stands(self, state: ClassState) -> bool:
        """Whether nobody has changed the work since."""
        athlete = state.athletes.get(self.athlete)
        return athlete is not None and assign(athlete, self.station) == self.after

    @property
    def needs_yes(self) -> bool:
        """Whether it leads to a guarded move that nobody has allowed this athlete."""
        return self.after.gated and self.after.move != self.before.move


def giving(state: ClassState, advice: Advice, at_ms: int) -> Giving:
    """The events of an advice at a class time, as the class stands."""
    athlete = state.athletes[advice.athlete]
    station = state.part(advice.part).stations[advice.station]
    before = assign(athlete, station)
    changed, changes, back = athlete, list[Change](), list[Change]()
    if advice.way == "option":
        changes.append(OptionChosen(at_ms=at_ms, athlete=athlete.name, move=station.move, option=advice.option))
        was = athlete.options.get(station.move, "")
        back.append(OptionChosen(at_ms=at_ms, athlete=athlete.name, move=station.move, option=was))
        changed = replace(changed, options={**changed.options, station.move: advice.option})
    work = assign(changed, station)
    if advice.target is not None and work.target != advice.target:
        changes.append(TargetChanged(at_ms=at_ms, athlete=athlete.name, move=work.move, target=advice.target))
        old = athlete.targets.get(work.move) or work.target
        if old is not None:
            back.insert(0, TargetChanged(at_ms=at_ms, athlete=athlete.name, move=work.move, target=old))
        changed = _with_target(changed, work.move, advice.target)
    return Giving(athlete.name, station, before, assign(changed, station), tuple(changes), tuple(back), advice.round)


def at_time(changes: Sequence[Change], at_ms: int) -> tuple[Change, ...]:
    """The same changes at another class time."""
    return tuple(replace(change, at_ms=at_ms) for change in changes)


def _with_target(athlete: Athlete, move: str, target: Target) -> Athlete:
    return replace(athlete, targets={**athlete.targets, move: target})
