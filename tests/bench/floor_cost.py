"""What a running floor costs, against a bare Textual app over the same time: CPU of a working minute, memory after an hour.

In the working minute every athlete taps once. The hour is played in a minute, with athletes who tap by themselves.
All programs run side by side, so that whatever else the machine does meets them alike.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.bench.common import BARE, TITLE, Figure, Program, bench_roster, medians, played, watch
from tests.bench.floor_bare import TITLE as BARE_TITLE

MOST_TIMES = 1.0
WARM_UP_S = 3.0
HOUR_S = 3600
SETTLED_S = 4.0
"""By then every module is loaded and every cache of fixed size is in use."""
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


def memory(seconds: float) -> Iterator[Figure]:
    """Memory at the end of the hour, and by how much it grew."""
    playing = played(24, 60, "--rate", str(HOUR_S / seconds), "--by-itself")
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        bare, floor = (stack.enter_context(Program(program, home=home)) for program in (BARE, playing))
        bare.wait_for(BARE_TITLE)
        floor.wait_for(TITLE)
        began_s = time.monotonic()
        watch((bare, floor), began_s + SETTLED_S)
        before = {program: program.rss_mb() for program in (bare, floor)}
        watch((bare, floor), began_s + seconds)
        after = {program: program.rss_mb() for program in (bare, floor)}
    yield Figure(what="memory after an hour's class, 24 athletes", value=after[floor], unit="MB", baseline=after[bare])
    yield Figure(what="memory gained in that hour", value=after[floor] - before[floor], unit="MB")
    yield Figure(what="memory gained by the bare app meanwhile", value=after[bare] - before[bare], unit="MB")


def figures(quick: bool = False) -> Iterator[Figure]:
    """The floor against the bare app; with more athletes on a larger screen, and with nobody tapping, for comparison."""
    percent = medians([one_minute(10 if quick else 60) for _ in range(1 if quick else 2)])
    for at, name in enumerate(FLOORS):
        most = MOST_TIMES if at == 0 else None
        what = f"CPU of a working minute, {name}"
        yield Figure(what=what, value=percent[name], unit="%", baseline=percent["bare"], most_times=most)
    yield from memory(15 if quick else 60)
