"""What a split costs in a class of 60 intervals and in one of 400: rehearsed, folded again, and shown as CSV and as a review.

The baseline of each figure is the same on the short class, so that a ratio of one is a cost that does not grow with the class.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from floorclock.journal.reading import read_journal
from floorclock.journal.replay import replay
from floorclock.live.afterwards import recorded_digest
from floorclock.live.conductor import ManualClock, SystemClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import Plan
from floorclock.plan.read_session import read_session
from floorclock.simulate.coach import InventedAthletes, play
from tests.bench.common import THREE, Figure, bench_roster, rotation, took_ms

SHORT, LONG, ATHLETES = 60, 400, 20
MOST_TIMES = 1.5
TIMES = 3
"""The best of so many counts: the short class is folded in some hundredths of a second."""
STATIONS = (*THREE, "move: row, target: 100 m")


def costs(intervals: int, home: Path) -> dict[str, float]:
    """CPU microseconds for each split, by what is done with the class."""
    text = rotation(intervals // len(STATIONS), STATIONS)
    session, problems = read_session(text, "plan.yaml")
    assert session is not None, problems
    plan = Plan(file="plan.yaml", text=text, session=session, roster=bench_roster(ATHLETES))
    clock = ManualClock(SystemClock().wall())
    opened = start_class(plan, home, clock, rehearsal=True)
    athletes = InventedAthletes(opened.roster, 1)
    found_ms = {"rehearse": took_ms(lambda: play(opened.conductor, clock, athletes, opened.settle))}
    opened.close()
    reading = read_journal(opened.path)
    again: dict[str, Callable[[], object]] = {
        "fold again": lambda: reading.header and replay(reading.header, reading.events),
        "digest without a forecast (CSV)": lambda: recorded_digest(opened.path, forecast=False),
        "digest with a forecast (review)": lambda: recorded_digest(opened.path),
    }
    found_ms |= {what: took_ms(work, TIMES) for what, work in again.items()}
    return {what: 1000 * ms / (intervals * ATHLETES) for what, ms in found_ms.items()}


def figures() -> Iterator[Figure]:
    """A line for each thing that is done with a class."""
    with tempfile.TemporaryDirectory() as folder:
        short, long = (costs(intervals, Path(folder) / str(intervals)) for intervals in (SHORT, LONG))
    for what, value in long.items():
        yield Figure(f"{what}, a split of {LONG}", value, "us", baseline=short[what], most_times=MOST_TIMES)
