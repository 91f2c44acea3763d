"""Classes opened on a real journal without a floor, and what is kept of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from floorclock.clock.events import Event, Joined, MarginChanged, NotFinished, Skipped, Stretched, TapTakenBack, TargetChanged
from floorclock.clock.state import ClassState
from floorclock.journal.disk import Disk
from floorclock.journal.reading import Header
from floorclock.journal.writer import JournalWriter, OnTrouble, OnWritten
from floorclock.live import opening
from floorclock.live.conductor import ManualClock
from floorclock.live.opening import OpenClass, resume_class, start_class
from floorclock.live.plan_files import Plan, read_plan
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Target, Unit
from tests.clock.classes import WALL
from tests.journal.sample_class import class_of

SESSION = """\
session: Quay and back
count_in: 0:10
parts:
  - {kind: open, title: Warm-up, time: 2:00}
  - kind: rotation
    title: The quay
    every: 1:00
    rounds: 3
    stations:
      - {move: step-up, target: 10 reps}
      - {move: row, target: 200 m}
      - rest
  - {kind: open, title: Cool down}
"""
ROSTER = "roster: Three\nathletes: [{name: Ilka, key: i}, {name: Bram, key: b, group: 2}, {name: Noor, key: n, group: 3}]\n"


class MovingWallClock(ManualClock):
    """A manual clock whose wall time moves with it, and apart from it while nobody runs the class."""

    def __init__(self, wall: datetime = WALL) -> None:
        super().__init__(wall)
        self.apart = timedelta(0)

    def wall(self) -> datetime:
        return WALL + timedelta(microseconds=self.monotonic_ns() / 1000) + self.apart


def plan_at(folder: Path, session: str = SESSION, roster: str = ROSTER) -> Plan:
    """A plan from its two files."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.yaml").write_text(session, encoding="utf-8")
    (folder / "who.yaml").write_text(roster, encoding="utf-8")
    return read_plan(folder / "plan.yaml", folder / "who.yaml")


@dataclass
class Opened:
    """An open class and the hands on it: everything sent is on its disk before the next line of a test."""

    opened: OpenClass
    clock: MovingWallClock

    @property
    def state(self) -> ClassState:
        """The class."""
        return self.opened.conductor.state

    def wait(self, ms: float) -> None:
        """Time passes; the floor would note where the clock stands."""
        self.clock.move_ms(ms)
        self.opened.conductor.tick()
        self.opened.settle()

    def begin(self) -> None:
        """The next part."""
        assert self.state.next_part is not None
        self.opened.conductor.begin(self.state.next_part)
        self.opened.settle()

    def tap(self, name: str) -> None:
        """A tap now."""
        self.opened.conductor.tap(name)
        self.opened.settle()

    def send(self, kind: type[Event], **values: object) -> None:
        """A command given now."""
        self.opened.conductor.send(kind(at_ms=self.opened.conductor.stamp(), **values))
        self.opened.settle()

    def die(self) -> None:
        """What `kill -9` leaves: the journal as it is, the lock let go, nothing tidied."""
        self.opened.writer.close()


def started(plan: Plan, home: Path, *, clock: MovingWallClock | None = None, margin_ms: int | None = None) -> Opened:
    """A new class."""
    clock = clock or MovingWallClock()
    return Opened(start_class(plan, home, clock, margin_ms=margin_ms), clock)


def resumed(path: Path, clock: MovingWallClock | None = None) -> Opened:
    """An interrupted class, opened again."""
    clock = clock or MovingWallClock()
    opened = Opened(resume_class(path, clock), clock)
    opened.opened.settle()
    return opened


def folded(path: Path, to_ms: int = 0) -> ClassState:
    """The class of a journal, folded again and brought to a class time."""
    state = class_of(path.read_bytes())
    state.advance(to_ms)
    return state


def some_of_everything(one: Opened) -> None:
    """A class with a little of everything that can happen, up to the middle of its second round."""
    one.begin()
    one.wait(45_000)
    one.begin()
    one.wait(10_000 + 33_300)
    one.tap("Ilka")
    one.wait(5_000)
    one.tap("Bram")
    one.tap("Ilka")
    one.opened.conductor.pause()
    one.opened.settle()
    one.wait(20_000)
    one.opened.conductor.resume(3_000)
    one.opened.settle()
    one.wait(30_000)
    one.send(Stretched, delta_ms=10_000)
    one.send(TargetChanged, athlete="Noor", move="row", target=Target(Fraction(150), Unit.METRES))
    one.send(Joined, athlete=Athlete(name="Späte Oda", group=2))
    one.send(MarginChanged, margin_ms=20_000)
    one.wait(20_000)
    one.tap("Noor")
    one.send(TapTakenBack)
    one.wait(5_000)
    one.send(Skipped)
    one.wait(61_000)
    one.tap("Ilka")
    one.send(NotFinished, athlete="Bram", part=1, interval=2)


def use_disk(monkeypatch: pytest.MonkeyPatch, disk: Disk) -> None:
    """Every class opened from here on writes to this disk."""

    def writer(path: Path, header: Header, *, on_written: OnWritten, on_trouble: OnTrouble) -> JournalWriter:
        return JournalWriter(path, header, on_written=on_written, on_trouble=on_trouble, disk=disk, retry_s=0.01)

    monkeypatch.setattr(opening, "JournalWriter", writer)
