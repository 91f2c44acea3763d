"""A second screen beside a real floor: how far its state is behind what the floor shows of a tap, and what it costs."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

from floorclock.live.conductor import SystemClock
from floorclock.live.follower import Follower
from floorclock.tui.wall import LOOK_S
from tests.bench.common import (
    BARE,
    COMMAND,
    HOUR,
    TITLE,
    WARM_UP_S,
    Figure,
    Program,
    bench_roster,
    cpu_percents,
    play,
    quantile,
    run_command,
)
from tests.bench.floor_bare import TITLE as BARE_TITLE

PEOPLE = 40


def behind_ms(floor: Program, follower: Follower) -> Iterator[float]:
    """For each tap, how much later than the floor's row the follower's state has it; below zero where it is sooner."""
    for athlete in bench_roster(PEOPLE).athletes:
        floor.press(athlete.key)
        shown_s = followed_s = 0.0
        next_look_s = time.monotonic()
        while not (shown_s and followed_s):
            if "✓".encode() in floor.read(next_look_s - time.monotonic()):
                shown_s = shown_s or time.monotonic()
            if time.monotonic() >= next_look_s:
                next_look_s += LOOK_S
                follower.look()
                if follower.state is not None and (athlete.name, 0) in follower.state.runs[-1].marks:
                    followed_s = followed_s or time.monotonic()
        yield 1000 * (followed_s - shown_s)
        play([floor], 0.237)


def figures(quick: bool = False) -> Iterator[Figure]:
    """The lines of the table."""
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        home = Path(name)
        floor = stack.enter_context(Program(run_command(home, HOUR, PEOPLE), home=home))
        floor.wait_for(TITLE)
        floor.press("\r")
        play([floor], WARM_UP_S)
        follower = Follower(next(home.glob("classes/*.jsonl")), SystemClock())
        follower.look()
        behind = list(behind_ms(floor, follower))
        for share, most in ((0.5, None), (0.95, 15)):
            what = f"second screen: state behind the floor's picture, p{100 * share:.0f}"
            yield Figure(what, quantile(behind, share), "ms", most=most)
        wall, bare = (stack.enter_context(Program(words, home=home)) for words in (("-c", COMMAND, "wall"), BARE))
        wall.wait_for("close")
        bare.wait_for(BARE_TITLE)
        play([floor, wall, bare], 3)
        _, percent, bare_percent = cpu_percents([floor, wall, bare], 4 if quick else 20)
        yield Figure("second screen: CPU, and by a bare app's", percent, "%", baseline=bare_percent)
        yield Figure("second screen: CPU over a bare app's", percent - bare_percent, "%", most=1)
