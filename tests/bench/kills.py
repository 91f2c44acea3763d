"""A thousand classes killed with SIGKILL at random instants while taps flow, and what their journals hold against what they told.

Most are floorclock's own class without a screen, in forked processes; some run on the real floor in a pseudo-terminal.
What is lost, invented or in another state must be nought (`tests/journal/tapped_kills.py`).
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Final

from tests.bench.common import Figure, Program, play, quantile
from tests.journal.tapped_kills import Findings, Judge, WithoutScreen

MOST_MS: Final = 1_000.0
LONGEST_S: Final = 2.5


def on_the_floor(home: Path, told: Path, seed: int) -> bool:
    """A life on the real floor. Death comes from the first look for the class on; nothing ends by itself so soon."""
    arguments = ("-m", "tests.journal.tapped_class", str(home), str(told), str(seed))
    with Program(arguments, home=home) as program:
        while not told.exists():
            program.read(0.001)
        play([program], random.Random(f"death {seed}").random() * LONGEST_S)
    return True


def figures_of(what: str, found: Findings) -> Iterator[Figure]:
    """The figures of some deaths."""
    counts = {"kills": found.kills, "events acknowledged": found.kept, "on the disk and not yet acknowledged": found.unkept}
    counts |= {"torn ends, cut off": found.torn, "states compared": found.states}
    for name, number in counts.items():
        yield Figure(f"{what}: {name}", number, "")
    for name in ("lost", "invented", "damaged", "refused", "other_states"):
        yield Figure(f"{what}: {name.replace('_', ' ')}", getattr(found, name), "", most=0)
    if found.reopened_ms:
        for name, share in (("p50", 0.5), ("p99", 0.99), ("worst", 1.0)):
            yield Figure(f"{what}: opened again, {name}", quantile(found.reopened_ms, share), "ms", most=MOST_MS)


def figures(quick: bool = False) -> Iterator[Figure]:
    """Everything that dies here."""
    with tempfile.TemporaryDirectory() as name:
        without_screen = WithoutScreen()
        without_screen.learn(Path(name))
        for what, ends, kills in (("class", without_screen, 1_000), ("floor", on_the_floor, 20)):
            at = Path(name) / what
            at.mkdir()
            judge, seeds = Judge(at, ends), count(1_000_000)
            # A life that was over before its death is none.
            while judge.found.kills < (kills // 10 if quick else kills):
                judge.one_life(next(seeds))
            yield from figures_of(what, judge.found)
