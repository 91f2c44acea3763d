"""What a split costs in a class of 60 intervals and in one of 400: rehearsed, folded again, and shown as CSV and as a review.

The baseline of each figure is the same on the short class, so that a ratio of one is a cost that does not grow with the class.
"""

from __future__ import annotations

import math
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from floorclock.journal.reading import read_journal
from floorclock.journal.replay import replay
from floorclock.journal.shelf import Shelf
from floorclock.live.afterwards import recorded_digest
from floorclock.live.conductor import ManualClock, SystemClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import read_plan
from floorclock.simulate.coach import InventedAthletes, play
from tests.bench.common import Figure

SHORT, LONG, ATHLETES = 60, 400, 20
MOST_TIMES = 1.5
TIMES = 3
"""The best of so many counts: the short class is folded in some hundredths of a second."""
MOVES = ("kettlebell swing, target: 14 reps", "step-up, target: 10 reps", "row, target: 100 m", "burpee, target: 6 reps")


def costs(intervals: int, home: Path) -> dict[str, float]:
    """CPU microseconds for each split, by what is done with the class."""
    stations = ", ".join(f"{{move: {move}}}" for move in MOVES)
    part = f"{{kind: rotation, every: 1:00, rounds: {intervals // len(MOVES)}, stations: [{stations}]}}"
    home.mkdir()
    (home / "plan.yaml").write_text(f"session: Long\nrest_margin: 0:15\nparts: [{part}]\n", "utf-8")
    (home / "who.csv").write_text("name\n" + "".join(f"Athlete {number}\n" for number in range(ATHLETES)), "utf-8")
    plan, clock = read_plan(home / "plan.yaml", home / "who.csv"), ManualClock(SystemClock().wall())
    opened = start_class(plan, home, clock, rehearsal=True)
    athletes, found = InventedAthletes(opened.roster, 1), {}

    def took(what: str, work: Callable[[], object], times: int = TIMES) -> None:
        found[what] = math.inf
        for _ in range(times):
            began_s = time.process_time()
            work()
            found[what] = min(found[what], (time.process_time() - began_s) / (intervals * ATHLETES) * 1e6)

    took("rehearse", lambda: play(opened.conductor, clock, athletes, opened.settle), times=1)
    opened.close()
    journal = Shelf(home).latest()
    reading = read_journal(journal)
    took("fold again", lambda: reading.header and replay(reading.header, reading.events))
    took("digest without a forecast (CSV)", lambda: recorded_digest(journal, forecast=False))
    took("digest with a forecast (review)", lambda: recorded_digest(journal))
    return found


def figures() -> Iterator[Figure]:
    """A line for each thing that is done with a class."""
    with tempfile.TemporaryDirectory() as folder:
        short, long = (costs(intervals, Path(folder) / str(intervals)) for intervals in (SHORT, LONG))
    for what, value in long.items():
        yield Figure(what=f"{what}, a split of {LONG}", value=value, unit="us", baseline=short[what], most_times=MOST_TIMES)
