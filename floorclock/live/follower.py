"""Follows a class that runs in another process of this machine, by its journal and its heartbeat. Knows no screen.

Invariant: a follower only reads. Its state is the fold of every whole line of the journal, brought to the class time that the
heartbeat gives; where it was brought past something that turns out to have happened before, it is folded anew.
"""

from __future__ import annotations

import os
from enum import StrEnum
from itertools import count
from pathlib import Path

from floorclock.clock.events import Event, Tapped
from floorclock.clock.fold import apply
from floorclock.clock.state import ClassState
from floorclock.errors import ResourceError
from floorclock.journal.beat import Beat, beat_of, beat_path, hold_beat, read_record
from floorclock.journal.disk import open_file, read_words
from floorclock.journal.reading import Header, read_bytes
from floorclock.journal.replay import replay
from floorclock.live.conductor import Clock

SILENT_NS = 3_500_000_000
"""A heartbeat comes every second; after this long without one, nobody drives the class."""
_UNEVEN_MS = 2
"""Two heartbeats of one running clock may differ by their rounding."""


class FollowStatus(StrEnum):
    """How a followed class stands."""

    RUNNING = "running"
    SILENT = "silent"
    """No heartbeat: its floor is gone, or stuck. The class stands where the last heartbeat left it."""
    ENDED = "ended"
    GONE = "gone"
    """There is no journal, or none that says what the class started from."""


class Follower:
    """One class, followed. `look` as often as it is to be up to date: where nothing is new, that costs next to nothing.

    `version` grows with every event, and `state` is another one after the class had to be folded anew.
    """

    def __init__(self, journal: Path, clock: Clock) -> None:
        self.path = journal
        self.state: ClassState | None = None
        self.version = 0
        self._clock = clock
        self._beat_path = beat_path(journal)
        self._record = b""
        self._beat: Beat | None = None
        self._held: int | None = None
        self._start_over()

    def _start_over(self) -> None:
        self._file: tuple[int, int] | None = None
        self._data = b""
        self._header: Header | None = None
        self._events: list[Event] = []
        self._next_seq = 0

    @property
    def status(self) -> FollowStatus:
        """How the class stands, by the last look."""
        if self.state is None or self._file is None:
            return FollowStatus.GONE
        if self.state.ended_by_coach:
            return FollowStatus.ENDED
        return FollowStatus.RUNNING if self._is_driven(self._clock.monotonic_ns()) else FollowStatus.SILENT

    def look(self) -> bool:
        """Takes whatever is new, and then brings the state to now; whether anything was.

        Raises:
            InputProblems: this version cannot read the plan of the class.
            ResourceError: the disk does not give the journal.
        """
        if self._held is None:
            self._held = hold_beat(self._beat_path)
        came = self._read_on()
        record = read_record(self._beat_path)
        if record != self._record and (beat := beat_of(record)) is not None:
            self._record, self._beat, came = record, beat, True
        if came:
            self.bring_to_now()
        return came

    def bring_to_now(self) -> None:
        """Lets the time pass that has passed since the last look."""
        if self.state is None or self._beat is None:
            return
        now_ns = self._clock.monotonic_ns()
        now_ms = self._beat.at(now_ns) if self._is_driven(now_ns) else self._beat.class_ms
        ahead_of_ms = self.state.now_ms - _UNEVEN_MS
        if now_ms < ahead_of_ms and all(event.at_ms < ahead_of_ms for event in self._events):
            self._fold_anew()
        self.state.advance(now_ms)

    def close(self) -> None:
        """Follows no longer."""
        if self._held is not None:
            os.close(self._held)
            self._held = None

    def _is_driven(self, now_ns: int) -> bool:
        # A heartbeat from before the machine was started again stands ahead of now.
        return self._beat is not None and 0 <= now_ns - self._beat.mono_ns <= SILENT_NS

    def _read_on(self) -> bool:
        """Takes what was added to the journal; whether that was anything."""
        try:
            there = self.path.stat()
        except OSError:
            came, self._file = self._file is not None, None
            return came
        if (there.st_dev, there.st_ino) != self._file or there.st_size < len(self._data):
            # Replaced by another file, or lines went back that the disk never took.
            self._start_over()
        elif there.st_size == len(self._data):
            return False
        try:
            with open_file(self.path) as file:
                found = os.fstat(file.fileno())
                self._file = found.st_dev, found.st_ino
                file.seek(len(self._data))
                data = file.read()
        except FileNotFoundError:
            return False
        except OSError as error:
            raise ResourceError(f"the journal {self.path} cannot be read: {read_words(error)}") from error
        # A line that is only being written waits for its end.
        lines = data[: data.rfind(b"\n") + 1]
        if lines:
            self._take(lines)
        return bool(lines)

    def _take(self, lines: bytes) -> None:
        """Takes whole lines that are new; what is not simply the next events has the whole journal read."""
        self._data += lines
        fresh = read_bytes(lines)
        plain = all(seq == wanted for seq, wanted in zip(fresh.seqs, count(self._next_seq), strict=False))
        if self._header is not None and plain and fresh.seqs:
            self._next_seq = fresh.next_seq
            self._fold(fresh.events)
            return
        whole = read_bytes(self._data)
        self._header, self._events, self._next_seq = whole.header, list(whole.events), whole.next_seq
        if self._header is not None:
            self._fold_anew()

    def _fold(self, events: tuple[Event, ...]) -> None:
        assert self.state is not None
        self._events += events
        # A tap is judged by its stamp, however late it is folded; all else may change what time brought about since.
        if any(event.at_ms < self.state.now_ms and not isinstance(event, Tapped) for event in events):
            self._fold_anew()
            return
        for event in events:
            apply(self.state, event)
            self.version += 1

    def _fold_anew(self) -> None:
        assert self._header is not None
        self.state = replay(self._header, self._events)
        self.version += 1
