"""Classes to test with: invented sessions and athletes, and a conductor that hears, lags and remembers."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from fractions import Fraction
from random import Random

from floorclock.clock.cues import Cue, CueName
from floorclock.clock.events import Event, PartBegun, Tapped
from floorclock.clock.fold import apply
from floorclock.clock.outcome import Outcome
from floorclock.clock.state import ClassState, new_state
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.plan.roster import Athlete, give_keys
from floorclock.plan.session import AnyPart, ForTime, Intervals, Rotation, Session
from floorclock.plan.work import REST, Option, Station, Target, Unit

WALL = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


def reps(amount: int, step: int = 0) -> Target:
    """A target in reps."""
    return Target(Fraction(amount), Unit.REPS, Fraction(step))


SWING = Station(move="kettlebell swing", target=reps(14))
STEP = Station(move="step-up", target=reps(10, 1))
LIGHTER = Option(name="lighter", move="kettlebell deadlift", target=reps(12))
ROW = Station(move="row", target=Target(Fraction(200), Unit.METRES))

ILKA = Athlete(name="Ilka", key="i")
BRAM = Athlete(name="Bram", key="b", group=2)
NOOR = Athlete(name="Noor", key="n", group=3)
FORTY = give_keys([Athlete(name=f"Athlete {number}") for number in range(1, 41)])

CARRY = ForTime(title="Carry", cap_ms=300_000, rounds=3, work=(SWING,))
FAST = Intervals(title="Fast", work_ms=20_000, rest_ms=10_000, sets=3, work=(SWING,))


def harbour(rounds: int = 3, every_ms: int = 60_000) -> Rotation:
    """A rotation of two moves and a rest."""
    return Rotation(title="The harbour", every_ms=every_ms, work=(SWING, STEP, REST), rounds=rounds)


def session_of(*parts: AnyPart, count_in_ms: int = 10_000, rest_margin_ms: int = 15_000) -> Session:
    """A session of these parts."""
    return Session(title="A day", parts=parts, count_in_ms=count_in_ms, rest_margin_ms=rest_margin_ms)


def state_of(*parts: AnyPart, athletes: Sequence[Athlete] = (ILKA,), count_in_ms: int = 10_000) -> ClassState:
    """A class before its first event."""
    return new_state(session_of(*parts, count_in_ms=count_in_ms), athletes)


def begun(*parts: AnyPart, athletes: Sequence[Athlete] = (ILKA,), count_in_ms: int = 10_000) -> ClassState:
    """A class whose first part started at class time 0; with a count-in, the go is `count_in_ms` later."""
    state = state_of(*parts, athletes=athletes, count_in_ms=count_in_ms)
    apply(state, PartBegun(at_ms=0, part=0))
    return state


def at_go(*parts: AnyPart) -> ClassState:
    """A class of three whose first part has its go at 0: class time and position are the same."""
    return begun(*parts, athletes=(ILKA, BRAM, NOOR), count_in_ms=0)


def tap(state: ClassState, at_ms: int, name: str = "Ilka") -> Outcome:
    """Folds a tap in."""
    return apply(state, Tapped(at_ms=at_ms, athlete=name))


class HeardSound:
    """A sound output that remembers what is to be heard: withdrawing takes back only what has not begun."""

    def __init__(self, clock: ManualClock, at_class_ms: Callable[[int], int]) -> None:
        self.clock, self.at_class_ms = clock, at_class_ms
        self.calls: list[tuple[float, int, CueName]] = []
        self.words: list[tuple[float, str]] = []

    def say(self, ends_at_s: float, words: str) -> None:
        self.words.append((ends_at_s, words))

    def schedule(self, at_s: float, cue: CueName) -> None:
        self.calls.append((at_s, self.at_class_ms(round(at_s * 1e9)), cue))

    def withdraw(self) -> None:
        now_s = self.clock.monotonic_ns() / 1e9
        self.calls = [call for call in self.calls if call[0] <= now_s]
        self.words = [said for said in self.words if said[0] <= now_s]

    def heard(self, through_class_ms: int) -> set[tuple[int, str]]:
        """What was heard by a class time, as (class time, name)."""
        return {(at_ms, str(cue)) for _, at_ms, cue in self.calls if at_ms <= through_class_ms}


class MemoryJournal:
    """Keeps events in memory and says so at once."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.written: Callable[[Event], None] = lambda event: None

    def append(self, event: Event, wall: datetime) -> None:
        self.events.append(event)
        self.written(event)


class LaggingJournal(MemoryJournal):
    """A journal that says an event is written after a delay of up to `most_ms`, in order."""

    def __init__(self, clock: ManualClock, random: Random, most_ms: int) -> None:
        super().__init__()
        self.clock, self.random, self.most_ms = clock, random, most_ms
        self.waiting: deque[tuple[int, Event]] = deque()

    def append(self, event: Event, wall: datetime) -> None:
        self.events.append(event)
        due_ns = self.clock.monotonic_ns() + self.random.randint(0, self.most_ms * 1_000_000)
        self.waiting.append((due_ns, event))

    def deliver(self, *, everything: bool = False) -> None:
        """Says what is written by now."""
        while self.waiting and (everything or self.waiting[0][0] <= self.clock.monotonic_ns()):
            self.written(self.waiting.popleft()[1])


class Run:
    """A conductor under a manual clock, with everything that it told."""

    def __init__(self, state: ClassState, *, rate: float = 1.0, journal: LaggingJournal | None = None) -> None:
        self.clock = journal.clock if journal else ManualClock(WALL)
        self.journal: MemoryJournal = journal or MemoryJournal()
        self.sound = HeardSound(self.clock, self._class_ms_of)
        self.conductor = Conductor(state, self.clock, self.journal, self.sound, rate=rate)
        self.journal.written = self.conductor.written
        self.told: list[Cue] = []
        self.slept: list[int] = []
        self.outcomes: list[tuple[Event, Outcome]] = []
        self.conductor.on_cue.append(self.told.append)
        self.conductor.on_slept.append(self.slept.append)
        self.conductor.on_folded.append(lambda event, outcome: self.outcomes.append((event, outcome)))

    @property
    def state(self) -> ClassState:
        """The state of the class."""
        return self.conductor.state

    def _class_ms_of(self, mono_ns: int) -> int:
        now_ns = self.clock.monotonic_ns()
        return self.conductor.class_ms(now_ns) + round((mono_ns - now_ns) * self.conductor.class_clock.rate / 1e6)

    def wait(self, ms: float) -> None:
        """Time passes, then the conductor wakes up."""
        self.clock.move_ms(ms)
        if isinstance(self.journal, LaggingJournal):
            self.journal.deliver()
        self.conductor.tick()

    def send(self, kind: type[Event], **values: object) -> None:
        """A command given now."""
        self.conductor.send(kind(at_ms=self.conductor.stamp(), **values))
