"""What a recording of a class holds, and the course that the class really took by its journal, cue by cue.

Invariant: a sound is one cue only, and every cue of the course and every sound is accounted for.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from floorclock.clock.class_clock import ClassClock
from floorclock.clock.cues import Cue, CueName
from floorclock.clock.events import PartBegun, Paused, Resumed, Skipped, Stretched
from floorclock.clock.state import ClassState
from floorclock.journal.reading import JournalReading, read_journal
from floorclock.journal.replay import replay
from floorclock.sound.cueset import CueSet
from floorclock.sound.samples import RATE
from tests.sound.pulse_rig import LOUD, Recording, rise_s

SILENCE_S = 0.15
"""The longest that a sound may go on after a key that ends it."""
ANSWER_MS = 300
"""A cue so soon after a key can only sound once the key is in the journal: it answers the key, and is judged by itself."""
NEAR_S = 0.25
PIECE = RATE * 30 // 1000
MOVES = (PartBegun, Paused, Resumed, Skipped, Stretched)


@dataclass(frozen=True, slots=True)
class Heard:
    """One sound of a recording: when it began on the monotonic clock, what it is, its length, how much was left out."""

    at_s: float
    name: CueName
    length_s: float
    hole_ms: float

    @property
    def end_s(self) -> float:
        """When it was over."""
        return self.at_s + self.length_s


@dataclass(frozen=True, slots=True)
class Due:
    """One cue of the course. `answers` a key that was pressed just before it; `stretch` of the class clock between pauses."""

    at_s: float
    name: CueName
    answers: bool
    stretch: int


@dataclass(frozen=True)
class Matched:
    """The cues of the course against what was heard: errors as (milliseconds late, cue)."""

    errors: list[tuple[float, Due]]
    found: list[Heard]
    missing: list[Due]
    extra: list[Heard]
    cut: list[Heard]
    """Sounds of no cue that began within SILENCE_S after a key and were cut off by it: what the buffer held already."""
    overlong: list[Heard]


class Course:
    """The course of a running or ended class by its journal, on the monotonic clock."""

    def __init__(self, home: Path) -> None:
        reading = read_journal(next((home / "classes").glob("*.jsonl")))
        assert reading.header is not None
        self.events = reading.events
        self.state: ClassState = replay(reading.header, reading.events)
        self.starts = list(_starts(reading))

    def when_s(self, class_ms: int) -> tuple[float, int]:
        """The monotonic time of a class time, and the stretch of the clock it lies in. A first instant belongs to its stretch."""
        at = max((k for k, (from_ms, _) in enumerate(self.starts) if from_ms <= class_ms), default=0)
        from_ms, from_s = self.starts[at]
        return from_s + (class_ms - from_ms) / 1000, at

    def now_ms(self) -> int:
        """The class time now, while it runs."""
        clock = ClassClock()
        clock.run_from(self.starts[-1][0], round(self.starts[-1][1] * 1e9))
        return clock.at(time.monotonic_ns())

    def cues(self, after_ms: int = -1, through_ms: int = 3_600_000) -> Iterator[Cue]:
        """The cues in a window, as things stand."""
        return self.state.cues_between(after_ms, through_ms)

    def due(self) -> list[Due]:
        """Every cue that came about."""
        return [self._due(cue) for cue in self.cues()]

    def _due(self, cue: Cue) -> Due:
        at_s, stretch = self.when_s(cue.at_ms)
        moved = (event.at_ms for event in self.events if isinstance(event, MOVES))
        return Due(at_s, cue.name, any(0 <= cue.at_ms - at_ms < ANSWER_MS for at_ms in moved), stretch)


def _starts(reading: JournalReading) -> Iterator[tuple[int, float]]:
    """(class time, monotonic time) of every moment from which the class clock ran, by the journal's wall times.

    The clock is set going just before the wall time is taken, which is kept in whole milliseconds, cut off.
    """
    wall_less_monotonic = time.time() - time.monotonic()
    begun = False
    for event, wall in zip(reading.events, reading.walls, strict=True):
        if isinstance(event, Resumed) or (isinstance(event, PartBegun) and not begun):
            assert wall is not None
            begun = True
            yield event.at_ms, wall.timestamp() + 0.0005 - wall_less_monotonic


def named(recording: Recording, first: int, cues: CueSet) -> CueName:
    """Which cue begins at a loud frame: the one that its first 30 ms are most like."""

    def likeness(name: CueName) -> float:
        sound = np.asarray(cues[name])
        begin = first - round(rise_s(sound) * RATE)
        piece, wanted = recording.samples[begin : begin + PIECE].astype(float), sound[:PIECE].astype(float)
        if begin < 0 or len(piece) < PIECE:
            return -1.0
        return float(piece @ wanted / (np.linalg.norm(piece) * np.linalg.norm(wanted)))

    return max(CueName, key=likeness)


def listen(recording: Recording, cues: CueSet) -> list[Heard]:
    """What a recording holds."""
    heard = []
    for first, last in recording.sounds():
        name = named(recording, first, cues)
        rise = rise_s(np.asarray(cues[name]))
        hole_ms = left_out_ms(recording, cues, name, first, last)
        heard.append(Heard(recording.heard_s(first) - rise, name, rise + (last - first) / RATE, hole_ms))
    return heard


def left_out_ms(recording: Recording, cues: CueSet, name: CueName, first: int, last: int) -> float:
    """How much of a sound is nothing at all where its cue is loud: a buffer ran dry in it."""
    sound = np.asarray(cues[name])
    begin = first - round(rise_s(sound) * RATE)
    wanted, got = sound[: last + 1 - begin], recording.samples[begin : begin + len(sound)][: last + 1 - begin]
    return float(np.count_nonzero((np.abs(wanted[: len(got)]) > LOUD) & (got == 0)) * 1000 / RATE)


def matched(course: Sequence[Due], sounds: Sequence[Heard], keys_s: Sequence[float], cues: CueSet) -> Matched:
    """Each cue of the course with the sound of its name that lies nearest; a sound is one cue only."""
    left = list(sounds)
    errors, taken, missing = [], [], []
    for due in course:
        near = [heard for heard in left if heard.name is due.name and abs(heard.at_s - due.at_s) < NEAR_S]
        if not near:
            missing.append(due)
            continue
        found = min(near, key=lambda heard: abs(heard.at_s - due.at_s))
        left.remove(found)
        taken.append(found)
        errors.append((1000 * (found.at_s - due.at_s), due))
    cut = [heard for heard in left if any(at_s <= heard.at_s and heard.end_s < at_s + SILENCE_S for at_s in keys_s)]
    extra = [heard for heard in left if heard not in cut]
    overlong = [heard for heard in sounds if heard.length_s > len(cues[heard.name]) / RATE + 0.01]
    return Matched(errors, taken, missing, extra, cut, overlong)
