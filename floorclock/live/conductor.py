"""Runs one class: a clock, a journal, a sound output, a state. Knows no screen.

Invariant: an event is in the journal before the state shows it, or the state says that it is not; events are folded in the order
they were sent.
Time is never advanced past an event that is still on its way to the journal, so a recovered class is the same class.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from floorclock.clock.class_clock import NS_PER_MS, ClassClock
from floorclock.clock.cues import Cue, CueName
from floorclock.clock.events import (
    CarriedOn,
    ClassEnded,
    Event,
    PartBegun,
    PartEnded,
    Paused,
    Resumed,
    Skipped,
    Stretched,
    Tapped,
    WentBack,
)
from floorclock.clock.fold import apply
from floorclock.clock.outcome import Outcome
from floorclock.clock.state import ClassState
from floorclock.platform import system

SOUND_AHEAD_MS = 120_000
"""Cues are handed to the sound this long before they are due, so that they sound even while a screen is stuck."""
SLEPT_MS = 2_000
"""The boot-time clock gaining this much on the monotonic one means that the machine slept."""
SOUND_STEP_MS = 5_000
NS_PER_S = 1_000_000_000
CALL_AHEAD_S = 0.3
"""An unforeseen cue is handed on this long before it sounds, so that it sounds whole."""
COUNT_LEAD_MS = round(CALL_AHEAD_S * 1000)
"""The count after a pause begins this much later than the key, so that its first pip comes as sharp as the others."""

_MOVES_TIME = PartBegun | Paused | Resumed | Skipped | WentBack | Stretched | PartEnded | ClassEnded | CarriedOn


class Clock(Protocol):
    """The machine's clocks."""

    def monotonic_ns(self) -> int:
        """Nanoseconds that only grow and stand still while the machine sleeps."""

    def boot_ns(self) -> int:
        """The same, but going on while the machine sleeps."""

    def wall(self) -> datetime:
        """The wall time, with its offset. A label only."""


class SystemClock:
    """The clocks of this machine."""

    def monotonic_ns(self) -> int:
        return time.monotonic_ns()

    def boot_ns(self) -> int:
        return system.boot_ns()

    def wall(self) -> datetime:
        return datetime.now().astimezone()


class ManualClock:
    """A clock that moves when told to, for tests and rehearsals."""

    def __init__(self, wall: datetime) -> None:
        self._ns = self._slept_ns = 0
        self._wall = wall

    def monotonic_ns(self) -> int:
        return self._ns

    def boot_ns(self) -> int:
        return self._ns + self._slept_ns

    def wall(self) -> datetime:
        return self._wall

    def move_ms(self, ms: float) -> None:
        """Lets time pass."""
        self._ns += round(ms * NS_PER_MS)

    def sleep_ms(self, ms: float) -> None:
        """Lets the machine sleep."""
        self._slept_ns += round(ms * NS_PER_MS)


class EventLog(Protocol):
    """Where events are kept. It calls `written` (given to it by its maker) for every event, in order, once it is kept."""

    def append(self, event: Event, wall: datetime) -> None:
        """Takes an event on its way, and comes back at once."""


class Sound(Protocol):
    """What the conductor needs of the sound room."""

    def schedule(self, at_s: float, cue: CueName) -> None:
        """A cue at a monotonic time in seconds."""

    def say(self, ends_at_s: float, words: str) -> None:
        """Words that are over at a monotonic time in seconds."""

    def withdraw(self) -> None:
        """Takes everything back that has not sounded in full."""


class NoSound:
    """A silent class."""

    def schedule(self, at_s: float, cue: CueName) -> None:
        """Nothing sounds."""

    def say(self, ends_at_s: float, words: str) -> None:
        """Nothing is said."""

    def withdraw(self) -> None:
        """Nothing to take back."""


class Conductor:
    """One running class. Everything happens on the caller's thread; `written` must be called there too.

    Listeners: `on_folded(event, outcome)` after each event (`outcome.saved` is false where the disk refused it), `on_cue(cue)`
    for each cue once it is due, `on_slept(ms)` after the machine slept (the class is paused then). `on_their_way` are the events
    that were sent and are not folded yet, `unsaved` those that count but wait for the disk, each in their order.
    """

    def __init__(self, state: ClassState, clock: Clock, journal: EventLog, sound: Sound, *, rate: float = 1.0) -> None:
        self.state = state
        self.clock = clock
        self.journal = journal
        self.sound = sound
        self.class_clock = ClassClock(rate)
        self.class_clock.freeze(state.now_ms)
        self.on_folded: list[Callable[[Event, Outcome], None]] = []
        self.on_cue: list[Callable[[Cue], None]] = []
        self.on_slept: list[Callable[[int], None]] = []
        self.unsaved: list[Event] = []
        self.on_their_way: deque[Event] = deque()
        self._cued_ms = state.now_ms
        self._told: set[Cue] = set()
        self._sounded_runs = len(state.runs)
        self._sounded_ms = state.now_ms
        self._asleep_ns = clock.boot_ns() - clock.monotonic_ns()

    def class_ms(self, mono_ns: int | None = None) -> int:
        """The class time now, or at a monotonic time; one that is still to come is now, whoever claims it."""
        now_ns = self.clock.monotonic_ns()
        return self.class_clock.at(now_ns if mono_ns is None else min(mono_ns, now_ns))

    def stamp(self, mono_ns: int | None = None) -> int:
        """The class time for a command given now: never before what has come about by itself or is on its way."""
        return max(self.class_ms(mono_ns), self.state.now_ms, *(event.at_ms for event in self.on_their_way))

    def send(self, event: Event) -> None:
        """Sends an event to the journal; it is folded when `written` comes back."""
        if self.on_their_way:
            behind = max(ahead.at_ms for ahead in self.on_their_way)
            assert event.at_ms >= behind or isinstance(event, Tapped | CarriedOn), "commands are in order"
        if isinstance(event, PartEnded) and self.state.run is not None and not self.class_clock.running:
            # The end of a part ends its pause too.
            self.class_clock.run_from(event.at_ms, self.clock.monotonic_ns())
        self.on_their_way.append(event)
        self.journal.append(event, self.clock.wall())

    def tap(self, name: str, mono_ns: int | None = None) -> None:
        """A tap, stamped when its bytes were read."""
        self.send(Tapped(at_ms=self.class_ms(mono_ns), athlete=name))

    def begin(self, part: int) -> None:
        """Starts a part; the first one starts the class clock."""
        at_ms = self.stamp()
        if not self.class_clock.running and not self._paused_soon():
            self.class_clock.run_from(at_ms, self.clock.monotonic_ns())
        self.send(PartBegun(at_ms=at_ms, part=part))

    def pause(self, mono_ns: int | None = None) -> None:
        """Stops the class clock where it stood when the key was read; nothing happens before the first part or in a pause."""
        begun = self.state.runs or any(isinstance(event, PartBegun) for event in self.on_their_way)
        if self._paused_soon() or not begun:
            return
        at_ms = self.stamp(mono_ns)
        self.class_clock.freeze(at_ms)
        self.sound.withdraw()
        self.send(Paused(at_ms=at_ms))

    def resume(self, count_in_ms: int) -> None:
        """Lets the class clock run again; nothing happens where it is not paused."""
        if not self._paused_soon():
            return
        at_ms = self.stamp()
        self.class_clock.run_from(at_ms, self.clock.monotonic_ns())
        self._send_resumed(at_ms, count_in_ms)

    def carry_on(self, away_ms: int, jump_ms: int, count_in_ms: int) -> None:
        """Goes on after the class was away: from where it stopped (`jump_ms` 0) or later by `jump_ms`. Comes out of the pause.

        A class that died while it ran is paused first, where it stopped, so that it too comes back with its count.
        """
        self.pause()
        at_ms = self.stamp()
        self.send(CarriedOn(at_ms=at_ms, away_ms=away_ms, jump_ms=jump_ms))
        self.class_clock.run_from(at_ms + jump_ms, self.clock.monotonic_ns())
        self._send_resumed(at_ms, 0 if jump_ms else count_in_ms)

    def _send_resumed(self, at_ms: int, count_in_ms: int) -> None:
        lead_ms = COUNT_LEAD_MS if count_in_ms else 0
        self.send(Resumed(at_ms=at_ms, count_in_ms=count_in_ms, lead_ms=lead_ms))

    def written(self, event: Event, saved: bool = True) -> None:
        """The journal has an event, or holds it until the disk takes it (`saved` false): it is folded now, and told."""
        if self.on_their_way:
            self.on_their_way.popleft()
        moves_time = isinstance(event, _MOVES_TIME)
        if moves_time:
            # Whatever was due by the old course of time is told before it changes.
            self.state.advance(event.at_ms)
            self._tell_cues(event.at_ms)
        outcome = apply(self.state, event)
        if not saved:
            self.unsaved.append(event)
            outcome = replace(outcome, saved=False)
        if moves_time and outcome.took_effect:
            self._rewind_cues(event)
        self._follow_the_state()
        for listener in self.on_folded:
            listener(event, outcome)

    def all_saved(self) -> None:
        """The disk has taken everything that waited for it."""
        self.unsaved.clear()

    def tick(self) -> None:
        """Brings the state to now, tells the cues that came due, hands the coming ones to the sound.

        Call it often; being late loses nothing.
        """
        self._notice_sleep()
        now = self.class_ms()
        # What is stamped before the state's own time, such as a claim that comes late, cannot be waited for any more.
        ahead = (event.at_ms for event in self.on_their_way if event.at_ms >= self.state.now_ms)
        now = min(now, *ahead, now)
        self.state.advance(now)
        self._follow_the_state()
        self._tell_cues(now)
        self._sound_ahead(now)

    def _paused_soon(self) -> bool:
        """Whether the class is paused once everything on its way has been folded."""
        paused = self.state.paused
        for event in self.on_their_way:
            if isinstance(event, Paused):
                paused = True
            elif isinstance(event, Resumed | PartEnded | ClassEnded):
                paused = False
        return paused

    def resound(self) -> None:
        """Hands all coming cues to the sound again, after it was silent."""
        self.sound.withdraw()
        self._sounded_ms, self._sounded_runs = self._cued_ms, len(self.state.runs)
        self._sound_ahead(self._cued_ms)

    def call_attention(self) -> None:
        """Sounds for the coach, as soon as it can, if the plan wants it."""
        if self.state.session.cues.attention and self.class_clock.running:
            self.sound.schedule(self.clock.monotonic_ns() / NS_PER_S + CALL_AHEAD_S, CueName.ATTENTION)

    def _tell_cues(self, through_ms: int) -> None:
        if through_ms <= self._cued_ms or self.state.paused:
            return
        due = [cue for cue in self.state.cues_between(self._cued_ms, through_ms) if cue not in self._told]
        self._cued_ms = through_ms
        self._told = {cue for cue in (*self._told, *due) if cue.at_ms == through_ms}
        for cue in due:
            for listener in self.on_cue:
                listener(cue)

    def _rewind_cues(self, event: Event) -> None:
        jump_ms = event.jump_ms if isinstance(event, CarriedOn) else 0
        if jump_ms:
            self._cued_ms = event.at_ms + jump_ms
        elif self._cued_ms == event.at_ms:
            # Time goes another way from this very instant: a cue at it is due, if it was not told already.
            self._cued_ms -= 1
        self.resound()

    def _follow_the_state(self) -> None:
        if len(self.state.runs) > self._sounded_runs:
            # A part that began by itself: the cues handed on so far knew nothing of it.
            self._sounded_ms = min(self._sounded_ms, self.state.runs[-1].begun_ms)
            self._sounded_runs = len(self.state.runs)
        # After the last part the clock goes on, so that the grace for a late tap comes to its end; the coach stops it.
        if self.state.ended_by_coach and self.class_clock.running:
            self.class_clock.freeze(self.state.now_ms)

    def _sound_ahead(self, now_ms: int) -> None:
        waits = self.state.paused or not self.class_clock.running
        if waits or now_ms + SOUND_AHEAD_MS < self._sounded_ms + SOUND_STEP_MS:
            return
        through = now_ms + SOUND_AHEAD_MS
        for cue in self.state.cues_between(self._sounded_ms, through):
            self.sound.schedule(self.class_clock.when(cue.at_ms) / NS_PER_S, cue.name)
        for ends_at_ms, words in self.state.words_between(self._sounded_ms, through):
            self.sound.say(self.class_clock.when(ends_at_ms) / NS_PER_S, words)
        self._sounded_ms = through

    def _notice_sleep(self) -> None:
        asleep_ns = self.clock.boot_ns() - self.clock.monotonic_ns()
        slept_ms = (asleep_ns - self._asleep_ns) // NS_PER_MS
        if slept_ms < SLEPT_MS:
            return
        self._asleep_ns = asleep_ns
        if self.class_clock.running and not self.state.over:
            self.pause()
            for listener in self.on_slept:
                listener(slept_ms)
