"""A real floor on a bench class, without a sound device. Played by the benchmarks in a pseudo-terminal.

    python -m tests.bench.floor_played --people 40 --every 10 [--rate 60 --by-itself] [--no-forecasts] [--began FILE]

The class starts with Enter, or, `--by-itself`, at once, with invented athletes who tap. `--began` is told the monotonic
nanoseconds of class time 0, so that a tap's class time can be compared with the moment its key was written.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from floorclock.live.conductor import SystemClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import Plan
from floorclock.plan.read_session import read_session
from floorclock.simulate.coach import DemoAutopilot, InventedAthletes, InventedCoach
from floorclock.tui.base.safe_driver import SafeDriver
from floorclock.tui.floor.app import FloorApp
from floorclock.tui.floor.desk import FloorSettings
from floorclock.tui.floor.outlooks import Outlooks
from floorclock.tui.run import keep_waits_short
from tests.bench.common import bench_roster, bench_session


def main() -> None:
    """Opens the class and shows it until it is told to end."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, required=True)
    parser.add_argument("--every", type=int, required=True)
    parser.add_argument("--rate", type=float, default=1.0)
    parser.add_argument("--by-itself", action="store_true")
    parser.add_argument("--no-forecasts", action="store_true", help="nobody's pace is fitted: what a key costs without it")
    parser.add_argument("--began", type=Path)
    asked = parser.parse_args()
    text = bench_session(asked.every)
    session, problems = read_session(text, "bench.yaml")
    assert session is not None, problems
    roster = bench_roster(asked.people)
    home = Path(os.environ["FLOORCLOCK_HOME"])
    opened = start_class(Plan(file="bench.yaml", text=text, session=session, roster=roster), home, SystemClock(), rate=asked.rate)
    invented = DemoAutopilot(InventedAthletes(roster, 1), InventedCoach(longest_open_ms=8_000))
    autopilot = invented if asked.by_itself else None
    settings = FloorSettings(attach=opened.queue.attach, autopilot=autopilot, beat=opened.beat, driver=SafeDriver)
    if asked.no_forecasts:
        Outlooks._pacing = lambda self, part: None  # type: ignore[method-assign]
    keep_waits_short()
    FloorApp(opened.conductor, settings).run()
    if asked.began is not None:
        asked.began.write_text(str(opened.conductor.class_clock.when(0)), encoding="utf-8")
    opened.close()


if __name__ == "__main__":
    main()
