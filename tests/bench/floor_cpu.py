"""What a running floor costs: CPU over a whole working minute, every athlete tapping once, against a bare Textual app.

All programs run side by side over the same minute, so that whatever else the machine does meets them alike.
`python -m tests.bench.floor_cpu [--seconds 60] [--runs 2]`
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path

from tests.bench.common import BARE, TITLE, Figure, Program, bench_roster, medians, played, print_table, watch
from tests.bench.floor_bare import TITLE as BARE_TITLE

MOST_TIMES = 1.0
WARM_UP_S = 3.0
UNTOUCHED = "24 athletes, nobody taps"
FLOORS = {"24 athletes, 160x45": (24, 160, 45), "40 athletes, 240x67": (40, 240, 67), UNTOUCHED: (24, 160, 45)}


def one_minute(seconds: float) -> dict[str, float]:
    """CPU percent of the bare app and of every floor over the same time."""
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        bare = stack.enter_context(Program(BARE, home=home))
        floors = {
            name: stack.enter_context(Program(played(people, 60), width=width, height=height, home=home))
            for name, (people, width, height) in FLOORS.items()
        }
        bare.wait_for(BARE_TITLE)
        for floor in floors.values():
            floor.wait_for(TITLE)
        for floor in floors.values():
            floor.press("\r")
        programs = {"bare": bare, **floors}
        everything = list(programs.values())
        watch(everything, time.monotonic() + WARM_UP_S)
        began_s, before = time.monotonic(), {name: program.cpu_s() for name, program in programs.items()}
        for at_s, name, key in taps(began_s, seconds):
            watch(everything, at_s)
            floors[name].press(key)
        watch(everything, began_s + seconds)
        return {name: 100 * (program.cpu_s() - before[name]) / seconds for name, program in programs.items()}


def taps(began_s: float, seconds: float) -> list[tuple[float, str, str]]:
    """When which floor gets which key: every athlete taps once, spread over the middle of the time."""
    return sorted(
        (began_s + seconds * (0.2 + 0.6 * at / people), name, athlete.key)
        for name, (people, _, _) in FLOORS.items()
        if name != UNTOUCHED
        for at, athlete in enumerate(bench_roster(people).athletes)
    )


def figures(seconds: float = 60, runs: int = 2) -> list[Figure]:
    """The floor against the bare app; with more athletes on a larger screen, and with nobody tapping, for comparison."""
    found = medians([one_minute(seconds) for _ in range(runs)])
    bare = found["bare"]
    return [
        Figure(
            what=f"CPU of a working minute, {name}",
            value=found[name],
            unit="%",
            baseline=bare,
            most_times=MOST_TIMES if at == 0 else None,
        )
        for at, name in enumerate(FLOORS)
    ]


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--runs", type=int, default=2)
    asked = parser.parse_args()
    print_table(figures(asked.seconds, asked.runs))


if __name__ == "__main__":
    main()
