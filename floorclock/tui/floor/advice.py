"""An advice as the events that give it, and the advice of earlier classes, offered before the class and before a later part.

Invariant: amounts are those of the round that comes next at the station, also where the target climbs from round to round; the
events that take an advice back leave the athlete with the work they had. What is offered is only for the part that comes next,
only what differs from the plan, and nothing that was offered and answered.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from floorclock.clock.events import OptionChosen, TargetChanged
from floorclock.clock.splits import Coming
from floorclock.clock.state import ClassState
from floorclock.clock.tally import whole_part
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.session import AnyPart, Untapped, Windowed
from floorclock.plan.work import Station, Target, amount_said
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.view import OfferView

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

Change = TargetChanged | OptionChosen
STILL = (Phase.READY, Phase.OPEN, Phase.BETWEEN)


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


class Offers:
    """The offers of one class. The screen asks for a `question` whenever one is due, and brings its answer back."""

    def __init__(self, state: ClassState) -> None:
        self._state = state
        self.prior = NO_PRIOR
        self._asked: tuple[object, ...] = ()
        self._part: int | None = None
        self._found: tuple[Advice, ...] = ()
        self._answered: set[tuple[str, int, int]] = set()

    def question(self, here: Moment, version: int) -> Callable[[], tuple[Advice, ...]] | None:
        """What to work out now, on a thread: it has all that it needs. None where it is known already, or nobody asks.

        `version` counts the events folded so far.
        """
        part = self._coming_part(here)
        if part != self._part:
            self._part, self._found = part, ()
        asked = (part, version, id(self.prior))
        if part is None or not self.prior or asked == self._asked:
            return None
        self._asked = asked
        run = self._state.planned_run(part)
        known = {name for name, _, _ in self.prior}
        people = [
            (athlete, tuple(whole_part(self._state, run, athlete.name)))
            for athlete in self._state.present
            if athlete.name in known
        ]
        return partial(_from_history, run.part, self._state.session.confidence, self.prior, people)

    def take(self, found: tuple[Advice, ...]) -> None:
        """The answer to the last question."""
        self._found = found

    @property
    def standing(self) -> tuple[Advice, ...]:
        """What is offered now."""
        here = {athlete.name for athlete in self._state.present}
        return tuple(
            advice
            for advice in self._found
            if advice.part == self._part and advice.athlete in here and _place(advice) not in self._answered
        )

    @property
    def words(self) -> str:
        """The offer in one line; empty where there is none."""
        count = len(self.standing)
        return f"{count} from earlier classes" if count else ""

    def lines(self) -> tuple[OfferView, ...]:
        """What is offered, for the dialog."""
        found = ((advice, giving(self._state, advice)) for advice in self.standing)
        return tuple(
            OfferView(
                advice.athlete,
                given.after.move if given.after.move == given.before.move else f"{given.before.move}: {advice.option}",
                full_target(given.before.target, advice.round),
                full_target(given.after.target, advice.round),
                advice.because,
            )
            for advice, given in found
        )

    def answered(self, offered: tuple[Advice, ...]) -> None:
        """The coach has decided about these: they are not offered again."""
        self._answered |= {_place(advice) for advice in offered}

    def _coming_part(self, here: Moment) -> int | None:
        if here.phase not in STILL or self._state.next_part is None:
            return None
        coming = range(self._state.next_part, len(self._state.session.parts))
        ahead = next((index for index in coming if not isinstance(self._state.part(index), Untapped)), None)
        return ahead if ahead is not None and isinstance(self._state.part(ahead), Windowed) else None


def _place(advice: Advice) -> tuple[str, int, int]:
    return advice.athlete, advice.part, advice.station


def _from_history(
    part: AnyPart, confidence: int, prior: Prior, people: Sequence[tuple[Athlete, Sequence[Coming]]]
) -> tuple[Advice, ...]:
    """What earlier classes advise, athlete by athlete. Brings numpy along: for a thread."""
    from floorclock.pace.advice import Way, targets_from_history

    found = (advice for athlete, whole in people for advice in targets_from_history(part, whole, prior, confidence, athlete))
    return tuple(advice for advice in found if advice.way is not Way.KEEP)
