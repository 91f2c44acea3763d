"""A class that really runs, with taps flowing, in a process that may be killed at any instant.

Invariant: what it tells has happened. Before an event is handed to the journal it is told as `sent`, once the journal called it
durable as `kept`, each by one whole write to a file of its own that outlives the process.

The class is floorclock's own: plan, conductor, journal, and an event loop that folds, as under a floor; only the journal and the
queue are overheard. `live` is a life without a screen; `python -m tests.journal.tapped_class HOME TOLD SEED` is one on the floor.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import os
import random
import sys
import time
from collections.abc import Callable, Mapping, Set
from dataclasses import fields, is_dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from floorclock.clock.events import ClassEnded, Event, Joined, Left, MarginChanged, Regrouped, Skipped, Stretched, TapTakenBack
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.journal.shelf import Shelf
from floorclock.journal.writer import JournalWriter
from floorclock.live import opening
from floorclock.live.conductor import SystemClock
from floorclock.live.opening import EventQueue, OpenClass, resume_class, start_class
from floorclock.live.plan_files import Plan
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete, Roster, give_keys

RATE, FLOOR_RATE = 150.0, 30.0
"""The class clock runs so much faster than the wall, so that a life of a tenth of a second, or one of some seconds on the floor,
sees several rounds."""
BEAT_EVERY_S = 0.02
SESSION = """\
session: Killed on the quay
count_in: 0:03
rest_margin: 0:05
parts:
  - kind: rotation
    title: The quay
    every: 20s
    rounds: 40
    stations: [{move: step-up, target: 8 reps}, {move: row, target: 80 m}, rest]
  - {kind: open, title: Cool down}
"""
ROSTER = Roster(
    title="Forty", athletes=give_keys([Athlete(name=f"Åthlete {number}", group=1 + number % 3) for number in range(40)])
)


def digest(state: ClassState) -> str:
    """Everything in a state but its plan, and what its taps come to, as one short text. The same in every process."""
    parts = {part.name: getattr(state, part.name) for part in fields(state) if part.compare and part.name != "session"}
    return hashlib.sha256(repr(_plain({**parts, "splits": splits(state), "results": results(state)})).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Values whose `repr` is the same in every process: sets in order, no addresses."""
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value).__name__, [(part.name, _plain(getattr(value, part.name))) for part in fields(value)])
    if isinstance(value, Mapping):
        return [(_plain(key), _plain(held)) for key, held in value.items()]
    if isinstance(value, Set):
        return sorted(repr(_plain(held)) for held in value)
    if isinstance(value, list | tuple):
        return [_plain(held) for held in value]
    return value


class Telling:
    """Tells what happens, a line each."""

    def __init__(self, path: Path) -> None:
        self._descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)

    def tell(self, word: str, **values: Any) -> None:
        """One line: a process that is killed has told it or not."""
        os.write(self._descriptor, json.dumps({"word": word, **values}, ensure_ascii=False).encode() + b"\n")


def overhear(telling: Telling) -> None:
    """From here on classes of this process tell what they send and what is kept."""

    class OverheardQueue(EventQueue):
        def take(self, seq: int, event: Event, durable: bool) -> None:
            telling.tell("kept" if durable else "refused", seq=seq)
            super().take(seq, event, durable)

    class OverheardWriter(JournalWriter):
        def append(self, event: Event, wall: datetime) -> None:
            telling.tell("sent", event=event.to_dict())
            super().append(event, wall)

    vars(opening).update(EventQueue=OverheardQueue, JournalWriter=OverheardWriter)


def _plan() -> Plan:
    session, problems = read_session(SESSION, "quay.yaml")
    assert session is not None, problems
    return Plan(file="quay.yaml", text=SESSION, session=session, roster=ROSTER)


PLAN = _plan()
"""Read when this is imported, as a coach's plan is before the class; in a forked process the reader is then there already."""


def opened_in(home: Path, telling: Telling, rate: float) -> OpenClass:
    """The interrupted class of a data folder, found as `resume` finds it, or a new one. Tells how long it took to be there."""
    begun_s = time.perf_counter()
    waiting = Shelf(home).interrupted()
    if not waiting:
        return start_class(PLAN, home, SystemClock(), rate=rate)
    opened = resume_class(waiting[0].path, SystemClock())
    took_ms = (time.perf_counter() - begun_s) * 1000
    state = opened.conductor.state
    telling.tell("reopened", took_ms=took_ms, now_ms=state.now_ms, digest=digest(state), damage=opened.damage)
    return opened


def live(home: Path, told: Path, seed: int, steps: int) -> None:
    """One life of a class: opens it, taps and commands come, and after so many steps the coach ends it."""
    telling = Telling(told)
    overhear(telling)
    telling.tell("born")
    opened = opened_in(home, telling, RATE)
    asyncio.run(_run(opened, random.Random(seed), steps))
    telling.tell("closed", lost=opened.close())


async def _run(opened: OpenClass, chance: random.Random, steps: int) -> None:
    opened.queue.attach(asyncio.get_running_loop())
    conductor = opened.conductor
    if opened.away_ms is not None:
        conductor.carry_on(opened.away_ms, 0, 3_000)
    elif not conductor.state.runs:
        conductor.begin(0)
    last_beat_s = 0.0
    for _ in range(steps):
        _something(opened, chance)
        await asyncio.sleep(chance.choice((0, 0, 0.001, 0.003)) * chance.random())
        conductor.tick()
        if time.monotonic() - last_beat_s >= BEAT_EVERY_S:
            last_beat_s = time.monotonic()
            opened.beat()
    conductor.send(ClassEnded(at_ms=conductor.stamp()))
    while conductor.on_their_way:
        await asyncio.sleep(0.0005)


def _something(opened: OpenClass, chance: random.Random) -> None:
    """What people do in a moment: mostly a few taps, sometimes all phones at once, sometimes the coach."""
    conductor = opened.conductor
    draw = chance.random()
    if draw < 0.88:
        for _ in range(40 if draw < 0.03 else chance.randint(1, 4)):
            conductor.tap(chance.choice(ROSTER.athletes).name)
        return
    if conductor.state.paused:
        conductor.resume(3_000)
        return
    at_ms = conductor.stamp()
    name = chance.choice(ROSTER.athletes).name
    choices: tuple[Callable[[], None], ...] = (
        conductor.pause,
        lambda: conductor.send(TapTakenBack(at_ms=at_ms)),
        lambda: conductor.send(Stretched(at_ms=at_ms, delta_ms=5_000)),
        lambda: conductor.send(MarginChanged(at_ms=at_ms, margin_ms=7_000, athlete=name)),
        lambda: conductor.send(Regrouped(at_ms=at_ms, athlete=name, group=chance.randint(1, 3))),
        lambda: conductor.send(Left(at_ms=at_ms, athlete=name)),
        lambda: conductor.send(Joined(at_ms=at_ms, athlete=Athlete(name=name))),
        lambda: conductor.send(Skipped(at_ms=at_ms)),
    )
    chance.choice(choices)()


def on_the_floor(home: Path, told: Path, seed: int) -> None:
    """A life on the real floor, with invented athletes who tap; until it is told to end."""
    from floorclock.simulate.coach import DemoAutopilot, InventedAthletes, InventedCoach
    from floorclock.tui.base.safe_driver import SafeDriver
    from floorclock.tui.floor.app import FloorApp
    from floorclock.tui.floor.desk import FloorSettings
    from floorclock.tui.run import keep_waits_short

    telling = Telling(told)
    overhear(telling)
    telling.tell("born")
    opened = opened_in(home, telling, FLOOR_RATE)
    if opened.away_ms is not None:
        opened.conductor.carry_on(opened.away_ms, 0, 3_000)
    autopilot = DemoAutopilot(InventedAthletes(opened.roster, seed), InventedCoach(longest_open_ms=8_000))
    settings = FloorSettings(
        attach=opened.queue.attach,
        autopilot=autopilot,
        beat=opened.beat,
        driver=SafeDriver,
        badges=lambda: f"NOT SAVED: {opened.trouble}" if opened.trouble else "",
    )
    keep_waits_short()
    FloorApp(opened.conductor, settings).run()
    telling.tell("closed", lost=opened.close())


if __name__ == "__main__":
    on_the_floor(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
