"""How soon a day's classes are in the index, and what a rebuild takes for each class; invented classes, as journals.

A class is 20 athletes of a gym, 5 stations and 9 rounds, with a tap missing here and there and an effort from everybody. The
baseline reads the same journals by `json.loads` alone. There is no bound on a rebuild: it may take minutes, and be interrupted.
"""

from __future__ import annotations

import json
import random
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from floorclock.clock.events import ClassEnded, EffortRated, Event, NotFinished, PartBegun, Tapped
from floorclock.journal.reading import Header, event_line, header_line
from floorclock.plan.roster import Athlete, Roster
from floorclock.store.indexing import bring_up_to_date, rebuild
from floorclock.store.store import open_store
from tests.bench.common import Figure

MOST_DAY_MS = 1_000.0
MOST_NOTHING_NEW_MS = 30.0
FIRST = datetime(2016, 1, 4, 6, 30, tzinfo=UTC)
A_DAY = 8
ATHLETES, STATIONS, ROUNDS = 20, 5, 9
GO_MS = 10_000
MOVES = ("step-up", "kettlebell swing", "row", "sit-up", "box jump", "farmer carry", "squat", "press", "plank", "ring row")


def plan_text(title: str, number: int) -> str:
    """A plan of five stations."""
    head = (
        f"session: {title}\nrest_margin: 0:12\ncount_in: 0\nparts:\n  - kind: rotation\n    title: The harbour\n    every: 1:00\n"
    )
    stations = (f"{{move: {MOVES[(number + place) % len(MOVES)]}, target: {8 + place} reps}}" for place in range(STATIONS))
    return f"{head}    rounds: {ROUNDS}\n    stations: [{', '.join(stations)}]\n"


def taps(draw: random.Random, name: str) -> Iterator[Event]:
    """The class of one athlete."""
    own_ms, drift = draw.uniform(24_000, 44_000), draw.gauss(0.02, 0.02)
    for interval in range(STATIONS * ROUNDS):
        split_ms = min(59_000, round(own_ms * (1 + drift * (interval // STATIONS)) * draw.gauss(1, 0.05)))
        start_ms, chance = GO_MS + interval * 60_000, draw.random()
        if chance < 0.96:
            yield Tapped(at_ms=start_ms + split_ms, athlete=name)
        elif chance < 0.97:
            yield NotFinished(at_ms=start_ms + 59_500, athlete=name, part=0, interval=interval)


def invent(home: Path, starts: Sequence[datetime], gym: Sequence[str], plans: int = 12) -> None:
    """A data folder gets a class for each start, with people of a gym; the plans go round."""
    folder = home / "classes"
    folder.mkdir(parents=True, exist_ok=True)
    for number, started in enumerate(starts):
        draw = random.Random(f"{started}")
        names = sorted(draw.sample(gym, ATHLETES))
        people = tuple(Athlete(name=name, group=place % STATIONS + 1) for place, name in enumerate(names))
        class_id, title = f"{started:%Y%m%d-%H%M}-{number % 65_536:04x}", f"Harbour {number % plans:02d}"
        header = Header(
            id=class_id,
            started=started,
            session=title,
            session_file="harbour.yaml",
            session_text=plan_text(title, number % plans),
            roster=Roster(title="Bench", athletes=people),
            version="0.1.0",
        )
        end_ms = GO_MS + STATIONS * ROUNDS * 60_000 + 5_000
        tapped = sorted((event for name in names for event in taps(draw, name)), key=lambda event: event.at_ms)
        rated = [EffortRated(at_ms=end_ms, athlete=name, effort=float(draw.randint(3, 9))) for name in names]
        events: list[Event] = [PartBegun(at_ms=GO_MS, part=0), *tapped, ClassEnded(at_ms=end_ms), *rated]
        lines = [event_line(seq, event, started + timedelta(milliseconds=event.at_ms)) for seq, event in enumerate(events, 1)]
        (folder / f"{class_id}.jsonl").write_bytes(header_line(header) + b"".join(lines))


def read_ms(home: Path, newest: int) -> float:
    """How long the newest journals take to be read line by line."""
    began_s = time.perf_counter()
    for journal in sorted((home / "classes").glob("*.jsonl"))[-newest:]:
        for line in journal.read_bytes().splitlines():
            json.loads(line)
    return 1_000 * (time.perf_counter() - began_s)


def figures(quick: bool = False) -> Iterator[Figure]:
    """A rebuild, a new day, and nothing new."""
    count = 24 if quick else 400
    gym = [f"Athlete {number:03d}" for number in range(120)]
    starts = [FIRST + timedelta(days=number // A_DAY, hours=number % A_DAY) for number in range(count + A_DAY)]
    with tempfile.TemporaryDirectory() as folder, open_store(f"sqlite:///{folder}/store.sqlite3", "home") as store:
        home = Path(folder) / "home"
        invent(home, starts[:count], gym)
        took_ms = []
        for work in (rebuild, bring_up_to_date, bring_up_to_date):
            began_s = time.perf_counter()
            work(home, store)
            took_ms.append(1_000 * (time.perf_counter() - began_s))
            if work is rebuild:
                all_ms = read_ms(home, count)
                invent(home, starts[count:], gym)
        day_ms = read_ms(home, A_DAY)
    yield Figure(
        what=f"index made anew of {count} classes, a class", value=took_ms[0] / count, unit="ms", baseline=all_ms / count
    )
    yield Figure(what=f"a day of {A_DAY} classes into the index", value=took_ms[1], unit="ms", baseline=day_ms, most=MOST_DAY_MS)
    yield Figure(what="index with nothing new", value=took_ms[2], unit="ms", most=MOST_NOTHING_NEW_MS)
