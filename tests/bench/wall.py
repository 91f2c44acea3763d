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
from tests.bench.common import BARE, Figure, Program, bench_roster, played, quantile, watch
from tests.bench.floor_bare import TITLE as BARE_TITLE

PEOPLE = 40
WALL = ("-c", "import sys; sys.argv = ['floorclock', 'wall']; from floorclock.cli.app import main; main()")


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
        watch([floor], time.monotonic() + 0.237)


def figures(quick: bool = False) -> Iterator[Figure]:
    """The lines of the table."""
    seconds = 4 if quick else 20
    with tempfile.TemporaryDirectory() as home, ExitStack() as stack:
        floor = stack.enter_context(Program(played(PEOPLE, 60), home=Path(home)))
        floor.wait_for("Enter")
        floor.press("\r")
        watch([floor], time.monotonic() + 2)
        follower = Follower(next(Path(home).glob("classes/*.jsonl")), SystemClock())
        follower.look()
        behind = list(behind_ms(floor, follower))
        yield Figure(what="second screen: state behind the floor's picture, p50", value=quantile(behind, 0.5), unit="ms")
        yield Figure(
            what="second screen: state behind the floor's picture, p95", value=quantile(behind, 0.95), unit="ms", most=15
        )
        programs = [stack.enter_context(Program(command, home=Path(home))) for command in (WALL, BARE)]
        for program, word in zip(programs, ("close", BARE_TITLE), strict=True):
            program.wait_for(word)
        watch([floor, *programs], time.monotonic() + 3)
        before = [program.cpu_s() for program in programs]
        watch([floor, *programs], time.monotonic() + seconds)
        wall, bare = (100 * (program.cpu_s() - was) / seconds for program, was in zip(programs, before, strict=True))
        yield Figure(what="second screen: CPU, and by a bare app's", value=wall, unit="%", baseline=bare)
        yield Figure(what="second screen: CPU over a bare app's", value=wall - bare, unit="%", most=1)
