"""Targets from earlier classes, offered while nobody works: before the class, and before a later part.

Invariant: what is offered is only for the part that comes next, only what differs from the plan, and nothing that was offered and
answered.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from floorclock.clock.splits import Coming
from floorclock.clock.state import ClassState
from floorclock.clock.tally import whole_part
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, Untapped, Windowed
from floorclock.tui.floor.advice import full_target, giving
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.view import OfferView

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

STILL = (Phase.READY, Phase.OPEN, Phase.BETWEEN)


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
