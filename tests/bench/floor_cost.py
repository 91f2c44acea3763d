"""What a running floor costs, against a bare Textual app over the same time: CPU of a working minute, memory after an hour.

In the working minute every athlete taps once. The hour is played in a minute, and everybody taps in each minute of it.
All programs run side by side, so that whatever else the machine does meets them alike.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from tests.bench.common import (
    BARE,
    HOUR,
    TITLE,
    WARM_UP_S,
    Figure,
    Program,
    bench_roster,
    cpu_percents,
    medians,
    play,
    run_command,
)
from tests.bench.floor_bare import TITLE as BARE_TITLE

MOST_TIMES = 1.0
HOUR_MINUTES, SETTLED_MINUTES = 60, 4
"""After the latter every module is loaded and every cache of fixed size is in use."""
UNTOUCHED = "24 athletes, nobody taps"
FLOORS = {"24 athletes, 160x45": (24, 160, 45), "40 athletes, 240x67": (40, 240, 67), UNTOUCHED: (24, 160, 45)}


def one_minute(seconds: float) -> dict[str, float]:
    """CPU percent of the bare app and of every floor over the same time."""
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        bare = stack.enter_context(Program(BARE, home=home))
        programs, keys = {"bare": bare}, list[tuple[float, Program, str]]()
        for name, (people, width, height) in FLOORS.items():
            words = run_command(home / name, HOUR, people)
            floor = programs[name] = stack.enter_context(Program(words, width=width, height=height, home=home / name))
            keys += taps(floor, people, seconds) if name != UNTOUCHED else []
        bare.wait_for(BARE_TITLE)
        for name in FLOORS:
            programs[name].wait_for(TITLE)
        for name in FLOORS:
            programs[name].press("\r")
        everything = list(programs.values())
        play(everything, WARM_UP_S)
        return dict(zip(programs, cpu_percents(everything, seconds, keys), strict=True))


def taps(floor: Program, people: int, seconds: float, from_s: float = 0.0) -> list[tuple[float, Program, str]]:
    """The key of every athlete once, spread over the middle of the time."""
    athletes = bench_roster(people).athletes
    return [(from_s + seconds * (0.2 + 0.6 * at / people), floor, one.key) for at, one in enumerate(athletes)]


def memory(seconds: float) -> Iterator[Figure]:
    """Memory at the end of the hour, and by how much it grew."""
    minute_s, held_mb = seconds / HOUR_MINUTES, list[tuple[float, float]]()
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        words = run_command(home, HOUR, 24, "--speed", str(60 / minute_s))
        with Program(BARE, home=home) as bare, Program(words, home=home) as floor:
            bare.wait_for(BARE_TITLE)
            floor.wait_for(TITLE)
            floor.press("\r")
            for minutes in (SETTLED_MINUTES, HOUR_MINUTES - SETTLED_MINUTES):
                keys = [key for minute in range(minutes) for key in taps(floor, 24, minute_s, minute * minute_s)]
                play((bare, floor), minutes * minute_s, keys)
                held_mb.append((bare.rss_mb(), floor.rss_mb()))
    (bare_before, floor_before), (bare_after, floor_after) = held_mb
    yield Figure("memory after an hour's class, 24 athletes", floor_after, "MB", baseline=bare_after)
    yield Figure("memory gained in that hour", floor_after - floor_before, "MB")
    yield Figure("memory gained by the bare app meanwhile", bare_after - bare_before, "MB")


def figures(quick: bool = False) -> Iterator[Figure]:
    """The floor against the bare app; with more athletes on a larger screen, and with nobody tapping, for comparison."""
    percent = medians([one_minute(10 if quick else 60) for _ in range(1 if quick else 2)])
    for at, name in enumerate(FLOORS):
        most = None if at else MOST_TIMES
        yield Figure(f"CPU of a working minute, {name}", percent[name], "%", baseline=percent["bare"], most_times=most)
    yield from memory(15 if quick else 60)
