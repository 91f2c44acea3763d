"""An advice as the events that give it and take it back, and the words that say what was given.

Invariant: amounts are those of the round that comes next at the station, also where the target climbs from round to round; the
events that take an advice back leave the athlete with the work they had.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from floorclock.clock.events import OptionChosen, TargetChanged
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment, assign
from floorclock.plan.work import Station, Target, amount_said

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

Change = TargetChanged | OptionChosen


@dataclass(frozen=True, slots=True)
class AdviceEvents:
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

    def said(self, work: Assignment) -> str:
        """Work with its target in that round: `step-up 8 reps`."""
        return f"{work.move} {full_target(work.target, self.round)}".strip()

    @property
    def needs_yes(self) -> bool:
        """Whether it leads to a guarded move that nobody has allowed this athlete."""
        return self.after.gated and self.after.move != self.before.move


def giving(state: ClassState, advice: Advice) -> AdviceEvents:
    """The events of an advice as the class stands; their class time is that of the sending."""
    athlete = state.athletes[advice.athlete]
    station = state.part(advice.part).stations[advice.station]
    before = assign(athlete, station)
    changed, changes, back = athlete, list[Change](), list[Change]()
    if advice.way == "option":
        changes.append(OptionChosen(at_ms=0, athlete=athlete.name, move=station.move, option=advice.option))
        was = athlete.options.get(station.move, "")
        back.append(OptionChosen(at_ms=0, athlete=athlete.name, move=station.move, option=was))
        changed = replace(changed, options={**changed.options, station.move: advice.option})
    work = assign(changed, station)
    given = next((item for item in work.items if item.move == advice.item), work)
    target = advice.item_target or advice.target
    if target is not None and given.target != target:
        own = station.own(given.move)
        changes.append(TargetChanged(at_ms=0, athlete=athlete.name, move=own, target=target))
        old = athlete.targets.get(own) or given.target
        if old is not None:
            back.insert(0, TargetChanged(at_ms=0, athlete=athlete.name, move=own, target=old))
        changed = replace(changed, targets={**changed.targets, own: target})
    return AdviceEvents(athlete.name, station, before, assign(changed, station), tuple(changes), tuple(back), advice.round)


def full_target(target: Target | None, round_number: int) -> str:
    """`8 reps`, `200 m`, `8 reps each side`; empty without a target."""
    return "" if target is None else amount_said(target.in_round(round_number), target.unit, target.sides)


def answer_words(found: AdviceEvents) -> str:
    """What was changed: `Sefa: step-up 8 reps, was 10; Shift+F2 undoes it`."""
    before, was = found.before, found.said(found.before)
    if found.after.move == before.move:
        was = before.target.words(found.round) if before.target is not None else "without a target"
    return f"{found.athlete}: {found.said(found.after)}, was {was}; Shift+F2 undoes it"
