"""How soon a day's classes are in the index, and what a rebuild takes for each class; invented classes, as journals.

A class is 20 athletes of a gym, 5 stations and 9 rounds, with a tap missing here and there and an effort from everybody. The
baseline reads the same journals by `json.loads` alone. There is no bound on a rebuild: it may take minutes, and be interrupted.
"""

from __future__ import annotations

import json
import random
import tempfile
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter

from floorclock.clock.events import ClassEnded, EffortRated, Event, NotFinished, PartBegun, Tapped
from floorclock.plan.roster import Athlete, Roster
from floorclock.store.indexing import bring_up_to_date, rebuild
from floorclock.store.store import open_store
from tests.bench.common import Figure, rotation, took_ms
from tests.journal.sample_class import journal_of, sample_header

MOST_DAY_MS = 1_000.0
MOST_NOTHING_NEW_MS = 30.0
FIRST = datetime(2016, 1, 4, 6, 30, tzinfo=UTC)
A_DAY = 8
PLANS = 12
ATHLETES, STATIONS, ROUNDS = 20, 5, 9
GO_MS = 10_000
MOVES = ("step-up", "kettlebell swing", "row", "sit-up", "box jump", "farmer carry", "squat", "press", "plank", "ring row")


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


def invent(home: Path, starts: Sequence[datetime], gym: Sequence[str]) -> None:
    """A data folder gets a class for each start, with people of a gym; the plans go round."""
    folder = home / "classes"
    folder.mkdir(parents=True, exist_ok=True)
    for number, started in enumerate(starts):
        draw = random.Random(f"{started}")
        names = sorted(draw.sample(gym, ATHLETES))
        people = tuple(Athlete(name=name, group=place % STATIONS + 1) for place, name in enumerate(names))
        class_id, title = f"{started:%Y%m%d-%H%M}-{number % 65_536:04x}", f"Harbour {number % PLANS:02d}"
        moves = [MOVES[(number % PLANS + place) % len(MOVES)] for place in range(STATIONS)]
        work = [f"move: {move}, target: {8 + place} reps" for place, move in enumerate(moves)]
        header = sample_header(
            class_id,
            started=started,
            session=title,
            session_text=rotation(ROUNDS, work, title=title, margin="12s"),
            roster=Roster(title="Bench", athletes=people),
            rest_margin_ms=None,
        )
        end_ms = GO_MS + STATIONS * ROUNDS * 60_000 + 5_000
        tapped = sorted((event for name in names for event in taps(draw, name)), key=lambda event: event.at_ms)
        rated = [EffortRated(at_ms=end_ms, athlete=name, effort=float(draw.randint(3, 9))) for name in names]
        events: list[Event] = [PartBegun(at_ms=GO_MS, part=0), *tapped, ClassEnded(at_ms=end_ms), *rated]
        (folder / f"{class_id}.jsonl").write_bytes(journal_of(header, events))


def read_ms(home: Path, newest: int) -> float:
    """How long the newest journals take to be read line by line."""
    journals = sorted((home / "classes").glob("*.jsonl"))[-newest:]
    return took_ms(lambda: [json.loads(line) for path in journals for line in path.read_bytes().splitlines()], clock=perf_counter)


def figures(quick: bool = False) -> Iterator[Figure]:
    """A rebuild, a new day, and nothing new."""
    count = 24 if quick else 400
    gym = [f"Athlete {number:03d}" for number in range(120)]
    starts = [FIRST + timedelta(days=number // A_DAY, hours=number % A_DAY) for number in range(count + A_DAY)]
    with tempfile.TemporaryDirectory() as folder, open_store(f"sqlite:///{folder}/store.sqlite3", "home") as store:
        home = Path(folder) / "home"
        invent(home, starts[:count], gym)
        all_ms, read_all_ms = took_ms(lambda: rebuild(home, store), clock=perf_counter), read_ms(home, count)
        invent(home, starts[count:], gym)
        day_ms, nothing_ms = (took_ms(lambda: bring_up_to_date(home, store), clock=perf_counter) for _ in range(2))
        read_day_ms = read_ms(home, A_DAY)
    yield Figure(f"index made anew of {count} classes, a class", all_ms / count, "ms", baseline=read_all_ms / count)
    yield Figure(f"a day of {A_DAY} classes into the index", day_ms, "ms", baseline=read_day_ms, most=MOST_DAY_MS)
    yield Figure("index with nothing new", nothing_ms, "ms", most=MOST_NOTHING_NEW_MS)
