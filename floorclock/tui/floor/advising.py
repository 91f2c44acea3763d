"""The coach's keys about pace: give the number to change to, take it back, make somebody quiet.

Invariant: a key gives what stood under it when the coach looked: what has just come to stand there is named first, and
given by the second press. What takes an advice back leaves the athlete with the work they had; a yes to a guarded move stays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from floorclock.clock.events import Allowed, Event, Quietened
from floorclock.plan.names import counted
from floorclock.tui.floor.advice import AdviceEvents, answer_words, giving
from floorclock.tui.floor.desk import Desk

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

HELD_NS = 800_000_000
"""Nobody reads a line and presses a key for it in less time."""
QUIET_AGAIN_NS = 8_000_000_000


@dataclass
class Steady:
    """Something that a key acts on, and since when it is the same."""

    what: object = None
    since_ns: int | None = None

    def see(self, what: object, now_ns: int, *, chosen: bool) -> None:
        """It stands on the screen now. What the coach chose themselves is theirs at once."""
        if what != self.what:
            self.what, self.since_ns = what, None if chosen else now_ns

    def sure(self, stamp_ns: int) -> bool:
        """Whether it stood there long enough before the key was read."""
        return self.since_ns is None or stamp_ns - self.since_ns >= HELD_NS


class Advising:
    """The commands about pace of one floor.

    `again` asks for a second press (see `Commands`), `ask_for_a_yes` for the coach's yes to a guarded move.
    """

    def __init__(
        self,
        desk: Desk,
        again: Callable[[str, str], bool],
        ask_for_a_yes: Callable[[AdviceEvents, Callable[[], None]], None],
    ) -> None:
        self._desk, self._conductor = desk, desk.conductor
        self._again, self._ask_for_a_yes = again, ask_for_a_yes
        self._first, self._urgent = Steady(), Steady()
        self._selected = ""
        self._given: list[AdviceEvents] = []
        self._answers: dict[Event, str] = {}
        self._quietened: tuple[str, int] = ("", 0)

    def seen(self) -> None:
        """Notes what stands under the keys, whenever it is shown."""
        now_ns = self._conductor.clock.monotonic_ns()
        selected, calls = self._desk.selected, self._desk.presenter.calls
        first = calls.first
        chosen = selected != self._selected
        self._first.see(first and (first.athlete, first.given, first.advice and first.advice.station), now_ns, chosen=chosen)
        self._urgent.see(calls.most_urgent, now_ns, chosen=chosen)
        self._selected = selected

    def answer_to(self, event: Event) -> str:
        """What to say to an event that one of these keys sent; empty for all others."""
        return self._answers.pop(event, "")

    def give(self, stamp_ns: int) -> None:
        """The first advice that is shown, or that of the chosen athlete."""
        call = self._desk.presenter.calls.first
        if call is None or call.advice is None:
            name = self._desk.selected
            flagged = self._desk.presenter.outlooks.of(name).standing.flag is not None
            why = "no target would help now; F3 changes anything" if flagged else "the target holds"
            self._desk.say(f"nothing to give to {name}: {why}" if name else "nothing to give now", warning=True)
        elif self._first.sure(stamp_ns) or self._again(
            f"give {call.athlete} {call.given}",
            f"first is now {call.athlete}: F2 again gives {call.given} at {call.advice.move}",
        ):
            self.give_advice(call.advice)

    def give_advice(self, advice: Advice) -> None:
        """Gives it, after a question where it leads to a guarded move."""
        state = self._conductor.state
        found = giving(state, advice)
        if not found.changes:
            self._desk.say(f"{advice.athlete} has that already", warning=True)
        elif found.needs_yes:
            self._ask_for_a_yes(found, lambda: self._send(found, allow=True))
        else:
            self._send(found)

    def _send(self, found: AdviceEvents, *, allow: bool = False) -> None:
        answer = answer_words(found)
        if allow:
            self._tell(Allowed(at_ms=0, athlete=found.athlete, move=found.after.move), answer)
        self._desk.presenter.calls.was_given(found.athlete)
        for change in found.changes:
            self._tell(change, answer)
        self._given.append(found)

    def give_all(self, several: Sequence[Advice]) -> None:
        """Gives several at once; one that leads to a guarded move nobody has allowed is left out, and said."""
        state, left_out = self._conductor.state, list[str]()
        given = 0
        for advice in several:
            found = giving(state, advice)
            if found.needs_yes:
                left_out.append(advice.athlete)
                continue
            given += 1
            tail = f"; not {', '.join(left_out)}: guarded, F3 allows it" if left_out else ""
            answer = f"{counted(given, 'target')} given; F3 changes any of them{tail}"
            for change in found.changes:
                self._tell(change, answer)
        if left_out and not given:
            self._desk.say(f"not given: {', '.join(left_out)} ({found.after.move} is guarded, F3 allows it)", warning=True)

    def take_back(self) -> None:
        """What was given last is taken back, as long as nobody has changed it since."""
        if not self._given:
            self._desk.say("nothing given that could be undone", warning=True)
            return
        found = self._given.pop()
        if not found.still_stands(self._conductor.state):
            self._desk.say(f"{found.athlete}'s work was changed since: F3 changes it", warning=True)
            return
        for change in found.back:
            self._tell(change, f"{found.athlete}: {found.said(found.before)} again, as before")

    def quieten(self, stamp_ns: int) -> None:
        """The flags of the chosen athlete, or of the first call, call nobody any more; again, and they do."""
        self._desk.paint()
        state, name = self._conductor.state, self._desk.selected
        last, at_ns = self._quietened
        if not name and last in state.quiet and stamp_ns - at_ns <= QUIET_AGAIN_NS:
            name = last
        elif not name:
            name = self._desk.presenter.calls.most_urgent
            if not name:
                self._desk.say("nobody to mute; Tab selects somebody", warning=True)
                return
            words = f"first is now {name}: F7 again mutes them"
            if not self._urgent.sure(stamp_ns) and not self._again(f"quiet {name}", words):
                return
        self._desk.send_now(Quietened(at_ms=0, athlete=name, quiet=name not in state.quiet))
        self._quietened = (name, stamp_ns)

    def _tell(self, event: Event, answer: str) -> None:
        event = replace(event, at_ms=self._conductor.stamp())
        self._answers[event] = answer
        self._conductor.send(event)
