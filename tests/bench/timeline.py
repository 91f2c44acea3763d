"""Timelines of any length: the time per interval stays flat. Run with `python -m tests.bench.timeline`.

Prints the time per interval from 100 to 100,000 intervals as a ratio of that at 1,000; exits 1 where one is above 2.
What is left of a slope is memory: a hundred thousand intervals no longer fit into the processor's cache.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial

from floorclock.clock.timeline import PartTimeline, part_timeline
from floorclock.plan.session import Intervals, Rotation, Session
from floorclock.plan.work import REST, Station

SIZES = (100, 1_000, 10_000, 100_000)
MOST = 2.0
STATIONS = (Station(move="kettlebell swing"), Station(move="step-up"), REST)


def rotation(count: int) -> PartTimeline:
    """A rotation of so many intervals."""
    part = Rotation(title="Long", every_ms=60_000, for_ms=count * 60_000, work=STATIONS)
    return part_timeline(part, Session(title="Long", parts=(part,)), (1, 2, 3))


def sets(count: int) -> PartTimeline:
    """Work and rest, so many intervals of both."""
    part = Intervals(title="Long", work_ms=20_000, rest_ms=10_000, sets=count // 2, work=STATIONS, final_rest=True)
    return part_timeline(part, Session(title="Long", parts=(part,)))


def stretched(made: PartTimeline) -> PartTimeline:
    """The same with its first interval longer: everything moves."""
    return made.stretched(0, 10_000)


def look_up(made: PartTimeline) -> None:
    """What is due in a hundred windows near the end."""
    length = made.length_ms or 0
    for k in range(100):
        made.cues_between(length - 1_000 * k, length - 1_000 * k + 250)
        made.interval_at(length - 1_000 * k - 1)


def best_s(action: Callable[[], object], least_s: float = 0.15, least_calls: int = 6) -> float:
    """The shortest processor time of one call, over enough calls to miss whatever else the machine does."""
    best, spent, calls = float("inf"), 0.0, 0
    while spent < least_s or calls < least_calls:
        calls += 1
        began = time.process_time()
        action()
        took = time.process_time() - began
        best, spent = min(best, took), spent + took
    return best


def report(title: str, per_interval: bool, measure: Callable[[int], Callable[[], object]]) -> bool:
    """Prints one row; True when it is flat."""
    taken = {size: best_s(measure(size)) / (size if per_interval else 1) for size in SIZES}
    ratios = {size: taken[size] / taken[1_000] for size in SIZES}
    words = "   ".join(f"{size:>7,}: {ratios[size]:5.2f}" for size in SIZES)
    print(f"{title:<28} {words}   ({taken[1_000] * 1e6:.2f} us)")
    return all(ratio <= MOST for ratio in ratios.values())


def main() -> int:
    """Measures and prints; the exit status."""
    flat = [
        report("rotation, per interval", True, lambda size: partial(rotation, size)),
        report("work and rest, per interval", True, lambda size: partial(sets, size)),
        report("stretched, per interval", True, lambda size: partial(stretched, rotation(size))),
        report("100 windows looked up", False, lambda size: partial(look_up, rotation(size))),
    ]
    print("flat" if all(flat) else f"not flat: a ratio is above {MOST}")
    return 0 if all(flat) else 1


if __name__ == "__main__":
    sys.exit(main())
