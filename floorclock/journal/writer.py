"""Writes the journal of a running class, on a thread of its own, and says of each event when it is kept.

Invariant: events reach the disk in the order they were appended, each once, and each is told once, in that order: durable once
the disk said so, not durable when it refused the event or does not answer. A disk that refuses stops no class: its events stay in
memory, first in line, and go to the disk before any later one.

`JournalWriter` has the thread, the lock and the heartbeat. `Saver` has the lines on their way; it is given the time.
"""

from __future__ import annotations

import contextlib
import errno
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Self

from floorclock.clock.events import ClassEnded, Event
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.beat import Beat, beat_path, is_held, remove_beat, write_beat
from floorclock.journal.disk import Disk, disk_words
from floorclock.journal.files import KeptFile
from floorclock.journal.lock import ClassLock, tidy
from floorclock.journal.reading import Header, JournalReading, event_line, header_line, read_bytes

RETRY_S = 1.0
"""How often a disk that refused is tried again."""
_TAKES_NOTHING_NEW = (errno.EROFS, errno.ENOSPC, errno.EDQUOT)
"""A disk that is full or read-only: a class that was interrupted goes on all the same, and is locked as soon as it can be."""
BEAT_SYNC_S = 10.0
"""How often a heartbeat is forced to the disk: a tap that comes in just then waits for one sync more."""
PATIENCE_S = 2.0
"""A disk that takes longer than this does not answer; the class does not wait for it."""
NO_ANSWER = "the disk does not answer"

OnWritten = Callable[[int, Event, bool], None]
"""Told `(seq, event, durable)` once an event, in order. On another thread than the caller's own; must not raise."""
OnTrouble = Callable[[str | None], None]
"""Told what is wrong with the disk (`disk full`), and None when it works again. As `OnWritten`."""


@dataclass(frozen=True, slots=True)
class QueuedLine:
    """One line on its way to the journal; the header has no event."""

    seq: int
    event: Event | None
    data: bytes


class Saver:
    """The lines of one journal on their way to its file."""

    def __init__(self, file: KeptFile, on_written: OnWritten, on_trouble: OnTrouble, retry_s: float) -> None:
        self.trouble: str | None = None
        self.defect: Exception | None = None
        self._file = file
        self._on_written = on_written
        self._on_trouble = on_trouble
        self._retry_s = retry_s
        self.unsaved: tuple[QueuedLine, ...] = ()
        """What is not on the disk yet."""
        self._next_try_s = float("-inf")
        self._busy_since_s: float | None = None
        self._telling = threading.RLock()
        # Whoever tells holds it, from the disk's answer to the last word about it: nothing is told twice or past its turn.
        self._told_seq = 0

    def wait_s(self, now_s: float) -> float | None:
        """How long to wait for new lines before the disk is to be tried again; None for ever."""
        return max(0.0, self._next_try_s - now_s) if self.unsaved else None

    def save(self, fresh: Sequence[QueuedLine], now_s: float, *, last_chance: bool = False) -> None:
        """Takes new lines. Tries the disk with everything that waits, unless it refused a moment ago."""
        self.unsaved += tuple(fresh)
        if not self.unsaved:
            return
        if self.trouble is not None and now_s < self._next_try_s and not last_chance:
            self._tell(fresh, durable=False)
            return
        self._busy_since_s = now_s
        try:
            self._file.append(b"".join(line.data for line in self.unsaved))
        except OSError as error:
            self._next_try_s = now_s + self._retry_s
            self._answered(self.unsaved, disk_words(error))
        else:
            self._answered((), None)

    def notice_silence(self, waiting: Sequence[QueuedLine], now_s: float) -> None:
        """Tells what waits for a disk that does not answer, as not durable. May be called while `save` runs elsewhere."""
        with self._telling:
            since_s = self._busy_since_s
            if since_s is not None and now_s - since_s >= PATIENCE_S:
                self._tell_trouble(NO_ANSWER)
                self._tell((*self.unsaved, *waiting), durable=False)

    def occupy(self, work: Callable[[], object], now_s: float) -> None:
        """Lets something else use the disk on this thread. A disk that hangs in it is noticed as if it hung in `save`."""
        self._busy_since_s = now_s
        try:
            work()
        finally:
            with self._telling:
                self._busy_since_s = None
                if self.trouble == NO_ANSWER and not self.unsaved:
                    self._tell_trouble(None)

    def _answered(self, unsaved: tuple[QueuedLine, ...], trouble: str | None) -> None:
        """The disk answered: tells everything that it was asked to keep. Trouble is told before what it troubles."""
        with self._telling:
            asked, self.unsaved, self._busy_since_s = self.unsaved, unsaved, None
            if trouble is not None:
                self._tell_trouble(trouble)
            self._tell(asked, durable=trouble is None)
            self._tell_trouble(trouble)

    def close(self) -> None:
        """Lets the file go."""
        self._file.close()

    def _tell(self, lines: Sequence[QueuedLine], *, durable: bool) -> None:
        with self._telling:
            for line in lines:
                if line.event is not None and line.seq > self._told_seq:
                    self._told_seq = line.seq
                    self._guarded(self._on_written, line.seq, line.event, durable)

    def _tell_trouble(self, words: str | None) -> None:
        with self._telling:
            if words != self.trouble:
                self.trouble = words
                self._guarded(self._on_trouble, words)

    def _guarded(self, listener: Callable[..., None], *told: object) -> None:
        """A documented guard: a listener that fails must not keep later events from the disk. `defect` keeps what it raised."""
        try:
            listener(*told)
        except Exception as error:  # noqa: BLE001
            self.defect = self.defect or error


class JournalWriter:
    """The journal of one class, open for writing and locked for every other floor.

    While the disk refuses, `trouble` says why. `reading` is what the journal held when it was opened again. `followed`: at the
    last heartbeat, another process followed the class.
    """

    def __init__(
        self,
        path: Path,
        header: Header,
        *,
        on_written: OnWritten,
        on_trouble: OnTrouble = lambda words: None,
        disk: Disk | None = None,
        retry_s: float = RETRY_S,
    ) -> None:
        """Begins the journal of a new class. A disk that refuses it is trouble, not an end.

        Raises:
            WrongUsage: there is a journal already.
            ResourceError: another floor has the class, or the disk knows no locks.
        """
        try:
            lock = ClassLock.take(path)
        except OSError:
            # Nobody else can have a class that does not exist yet; the thread tries again.
            lock = None
        if path.exists():
            if lock:
                lock.release()
            raise WrongUsage(f"there is a journal {path} already")
        saver = Saver(KeptFile(path, disk or Disk(), header_line(header)), on_written, on_trouble, retry_s)
        # Nothing to add, but the journal is to be there from the start.
        self._start(path, lock, saver, None, QueuedLine(0, None, b""))

    @classmethod
    def reopen(
        cls,
        path: Path,
        *,
        on_written: OnWritten,
        on_trouble: OnTrouble = lambda words: None,
        disk: Disk | None = None,
        retry_s: float = RETRY_S,
    ) -> Self:
        """Goes on with the journal of an interrupted class, after its last whole line; what is torn there is saved aside.

        Fold `reading` and nothing read before: it was read under the lock.

        Raises:
            NotFound: there is no such journal, or it does not say what the class started from.
            ResourceError: another floor has the class, or the disk does not give the journal.
        """
        if not path.is_file():
            raise NotFound(f"there is no journal {path}")
        lock = None
        try:
            lock = ClassLock.take(path)
        except OSError as error:
            if error.errno not in _TAKES_NOTHING_NEW:
                raise ResourceError(f"the class {path.stem} cannot be opened: {disk_words(error)}") from error
        with contextlib.ExitStack() as unless_read:
            if lock:
                unless_read.callback(lock.release)
            try:
                data = path.read_bytes()
            except OSError as error:
                raise ResourceError(f"the journal {path} cannot be read: {disk_words(error)}") from error
            reading = read_bytes(data)
            if reading.header is None:
                raise NotFound(f"the journal {path} does not say what the class started from, so it cannot go on")
            unless_read.pop_all()
        good = reading.good_length
        saver = Saver(KeptFile(path, disk or Disk(), data[:good], data[good:]), on_written, on_trouble, retry_s)
        writer = cls.__new__(cls)
        # A last line without its end gets it before anything follows.
        writer._start(path, lock, saver, reading, *([QueuedLine(0, None, b"\n")] if reading.ends_open else []))
        return writer

    def _start(
        self, path: Path, lock: ClassLock | None, saver: Saver, reading: JournalReading | None, *first: QueuedLine
    ) -> None:
        self.path = path
        self.reading = reading
        self.followed = False
        self._lock, self._saver = lock, saver
        self._wake = threading.Condition()
        self._queue = deque(first)
        self._beat: Beat | None = None
        self._beat_synced_s = float("-inf")
        self._closing = self._ended = False
        self._next_seq = reading.next_seq if reading else 1
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why the disk refuses, in a few words; None while it works."""
        return self._saver.trouble

    def append(self, event: Event, wall: datetime) -> None:
        """Takes an event on its way to the disk. Comes back at once; any thread may call it.

        Raises:
            WrongUsage: the journal is closed.
        """
        with self._wake:
            if self._closing:
                raise WrongUsage("the journal is closed")
            self._queue.append(QueuedLine(self._next_seq, event, event_line(self._next_seq, event, wall)))
            self._next_seq += 1
            self._ended = self._ended or isinstance(event, ClassEnded)
            self._wake.notify()
        if self._saver.trouble == NO_ANSWER:
            self._notice_silence()

    def beat(self, beat: Beat) -> None:
        """Takes note of where the class clock stands, and of a disk that does not answer.

        Call it about once a second, and whenever the clock takes another course.
        """
        with self._wake:
            self._beat = beat
            self._wake.notify()
        self._notice_silence()

    def close(self, timeout_s: float = 5.0) -> int:
        """Writes what is on its way, then lets the class go. Gives the number of events that never reached the disk.

        Events still on their way are told as ever before this returns. A second call changes nothing.

        Raises:
            Exception: whatever a listener raised, once everything is done.
        """
        with self._wake:
            self._closing = True
            self._wake.notify()
        self._thread.join(timeout_s)
        with self._wake:
            unsaved = (*self._saver.unsaved, *self._queue)
        defect, self._saver.defect = self._saver.defect, None
        if defect is not None:
            raise defect
        return sum(line.event is not None for line in unsaved)

    def _notice_silence(self) -> None:
        with self._wake:
            waiting = tuple(self._queue)
        self._saver.notice_silence(waiting, time.monotonic())

    def _run(self) -> None:
        closing = False
        while not closing:
            with self._wake:
                self._wake.wait_for(lambda: self._queue or self._beat or self._closing, self._saver.wait_s(time.monotonic()))
                fresh, beat, closing = tuple(self._queue), self._beat, self._closing
                self._queue.clear()
                self._beat = None
            if self._lock is None:
                self._take_lock()
            # All that came while the disk was busy goes in one write and one sync.
            self._saver.save(fresh, time.monotonic(), last_chance=closing)
            if beat is not None:
                self._write_beat(beat)
        self._let_go()

    def _write_beat(self, taken: Beat) -> None:
        now_s = time.monotonic()
        sync = now_s - self._beat_synced_s >= BEAT_SYNC_S
        if sync:
            self._beat_synced_s = now_s

        def beat() -> None:
            path = beat_path(self.path)
            write_beat(path, taken, sync=sync)
            self.followed = is_held(path)
            if self._lock is not None and not self._lock.is_in_place():
                # Its file was taken away: others would not find it.
                self._lock.release()
                self._take_lock()

        self._saver.occupy(beat, now_s)

    def _take_lock(self) -> None:
        self._lock = None
        with contextlib.suppress(OSError, ResourceError):
            self._lock = ClassLock.take(self.path)

    def _let_go(self) -> None:
        self._saver.close()
        if self._ended and not self._saver.unsaved:
            remove_beat(beat_path(self.path))
        if self._lock is not None:
            self._lock.release()
        # Now nobody waits for the disk any more.
        tidy(self.path.parent)
