"""Opens a class: reads the plan, takes the lock, starts the journal, and puts the conductor in front of it.

Invariant: a class that is open here is open nowhere else, and what a closed one had taken is on disk.
"""

from __future__ import annotations

import asyncio
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from floorclock import __version__
from floorclock.clock.events import Event, Paused
from floorclock.clock.state import ClassState, new_state
from floorclock.errors import InputProblems
from floorclock.journal.beat import Beat, beat_path, read_beat
from floorclock.journal.home import new_journal_path
from floorclock.journal.instants import instant_or_none, instant_text
from floorclock.journal.reading import Header, JournalReading
from floorclock.journal.replay import replay
from floorclock.journal.writer import JournalWriter
from floorclock.live.conductor import Clock, Conductor, NoSound, Sound
from floorclock.live.plan_files import Plan
from floorclock.plan.cue_choice import chosen_cues
from floorclock.plan.roster import Roster, give_keys
from floorclock.plan.session import Session


class EventQueue:
    """Passes written events on to the thread that folds them: an event loop, or whoever calls `drain`.

    With each goes whether the disk has it; once a disk that refused has taken everything, that is passed on in its turn.
    """

    def __init__(self) -> None:
        self.folds: Callable[[Event, bool], None] = lambda event, saved: None
        self.all_saved: Callable[[], None] = lambda: None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._waiting: deque[Callable[[], None]] = deque()
        self._arrived = threading.Event()

    def attach(self, loop: asyncio.AbstractEventLoop) -> None:
        """From now on a loop folds; what waited comes first."""
        self._loop = loop
        self.drain()

    def take(self, seq: int, event: Event, durable: bool) -> None:
        """An event is written, or the disk refuses and the class goes on. Called on the journal's thread."""
        self._pass_on(lambda: self.folds(event, durable))

    def trouble(self, words: str | None) -> None:
        """What is wrong with the disk; None when it has taken everything. Called on the journal's thread."""
        if words is None:
            self._pass_on(lambda: self.all_saved())

    def _pass_on(self, told: Callable[[], None]) -> None:
        self._waiting.append(told)
        self._arrived.set()
        if self._loop is not None:
            # A loop that has just been closed folds no more; the event is on the disk all the same.
            with suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self.drain)

    def wait(self) -> None:
        """Waits for something to drain."""
        self._arrived.wait()
        self._arrived.clear()

    def drain(self) -> None:
        """Folds everything that has been told, in order."""
        while self._waiting:
            self._waiting.popleft()()


@dataclass(kw_only=True)
class OpenClass:
    """A class that is open here. Attach `queue` to whoever folds, `close` it in the end."""

    path: Path
    roster: Roster
    started: datetime
    conductor: Conductor
    writer: JournalWriter
    queue: EventQueue
    away_ms: int | None = None
    damage: int = 0

    @property
    def id(self) -> str:
        """The name of the class."""
        return self.path.stem

    @property
    def session(self) -> Session:
        """Its plan, with the cues that were chosen for it."""
        return self.conductor.state.session

    @property
    def trouble(self) -> str:
        """What is wrong with the disk, in a few words; empty when all is well."""
        return self.writer.trouble or ""

    def beat(self) -> None:
        """Notes where the class clock stands, for a machine that dies and for a second screen."""
        clock, now_ns = self.conductor.class_clock, self.conductor.clock.monotonic_ns()
        class_ms = clock.at(now_ns)
        # The very instant of that millisecond, so that one beat never contradicts another.
        mono_ns = clock.when(class_ms) if clock.running else now_ns
        rate = clock.rate if clock.running else 0.0
        self.writer.beat(Beat(class_ms, self.conductor.clock.wall(), mono_ns, rate))

    def settle(self) -> None:
        """Waits until everything that was sent has been written and folded. For a class without an event loop."""
        while self.conductor.on_their_way:
            self.queue.wait()
            self.queue.drain()

    def close(self) -> int:
        """Writes what is on its way; gives the number of events that the disk never took.

        A class of which no part was begun leaves no record.
        """
        lost = self.writer.close()
        begun = self.conductor.state.runs or self.conductor.on_their_way
        if self.writer.reading is None and not begun:
            self.path.unlink(missing_ok=True)
            beat_path(self.path).unlink(missing_ok=True)
        return lost


def start_class(
    plan: Plan,
    home: Path,
    clock: Clock,
    sound: Sound | None = None,
    *,
    rate: float = 1.0,
    rehearsal: bool = False,
    margin_ms: int | None = None,
    cues: str = "",
) -> OpenClass:
    """Opens a new class. `cues` changes which cues sound (`plan.cue_choice`).

    Raises:
        UnreadableError: a word of `cues` is no choice.
        ResourceError: the data folder cannot be made.
    """
    session = replace(plan.session, cues=chosen_cues(cues, plan.session.cues))
    started = clock.wall()
    path = new_journal_path(home, started)
    header = Header(
        id=path.stem,
        started=started,
        session=plan.session.title,
        session_file=plan.file,
        session_text=plan.text,
        roster=Roster(title=plan.roster.title, athletes=give_keys(plan.roster.athletes)),
        rehearsal=rehearsal or rate != 1.0,
        speed=rate,
        rest_margin_ms=margin_ms,
        cues=cues,
        version=__version__,
    )
    queue = EventQueue()
    writer = JournalWriter(path, header, on_written=queue.take, on_trouble=queue.trouble)
    state = new_state(session, plan.roster.athletes, margin_ms)
    return _opened(header, state, clock, sound, writer, queue)


def resume_class(path: Path, clock: Clock, sound: Sound | None = None) -> OpenClass:
    """Opens an interrupted class where it stopped, paused, with every event that its journal holds.

    Raises:
        InputProblems: this version cannot read its plan.
        NotFound: the journal does not say what the class started from.
        ResourceError: another floor has the class, or the disk does not give it.
    """
    queue = EventQueue()
    beat = read_beat(beat_path(path))
    writer = JournalWriter.reopen(path, on_written=queue.take, on_trouble=queue.trouble)
    reading = writer.reading
    assert reading is not None
    assert reading.header is not None
    try:
        state = replay(reading.header, reading.events)
    except InputProblems:
        writer.close()
        raise
    stopped_ms, stopped_at = _where_it_stopped(reading, state, beat)
    state.advance(stopped_ms)
    opened = _opened(reading.header, state, clock, sound, writer, queue)
    opened.damage = len(reading.damage)
    if state.runs and not state.over and stopped_at is not None:
        opened.away_ms = max(0, round((clock.wall() - stopped_at).total_seconds() * 1000))
        if not state.paused:
            opened.conductor.send(Paused(at_ms=state.now_ms, interrupted=instant_text(stopped_at)))
    return opened


def _opened(
    header: Header, state: ClassState, clock: Clock, sound: Sound | None, writer: JournalWriter, queue: EventQueue
) -> OpenClass:
    conductor = Conductor(state, clock, writer, sound or NoSound(), rate=header.speed)
    queue.folds, queue.all_saved = conductor.written, conductor.all_saved
    return OpenClass(
        path=writer.path, roster=header.roster, started=header.started, conductor=conductor, writer=writer, queue=queue
    )


def _where_it_stopped(reading: JournalReading, state: ClassState, beat: Beat | None) -> tuple[int, datetime | None]:
    """The last class time that is known of an interrupted class, and the wall time then.

    There is no such wall time where the coach had paused: the class waits for them, however long the machine was away.
    """
    assert reading.header is not None
    if state.paused:
        # A floor that died while it asked is asked about again, from where the class really stopped.
        pause = next((event for event in reversed(reading.events) if isinstance(event, Paused)), None)
        return state.now_ms, instant_or_none(pause.interrupted) if pause is not None else None
    last = next((wall for wall in reversed(reading.walls) if wall is not None), reading.header.started)
    if beat is None or state.over or beat.class_ms < state.now_ms:
        return state.now_ms, last
    return beat.class_ms, beat.wall
