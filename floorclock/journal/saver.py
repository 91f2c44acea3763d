"""Gets lines onto the disk and says what became of them. Is given the time; the thread that drives it is the writer's.

Invariant: each event is told once, in order: durable once the disk said so, not durable when the disk refused it or does not
answer. Lines that were refused stay first in line and go to the disk before any later one.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorclock.clock.events import Event
from floorclock.journal.disk import disk_words
from floorclock.journal.files import KeptFile

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
