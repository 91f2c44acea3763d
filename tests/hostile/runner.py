"""Runs attacks case by case: each with dice of its own, so that one case can be seen again by itself.

Invariant: a case follows from (attack, seed, number) and takes a bounded time; what it made on the disk is gone after it.
"""

from __future__ import annotations

import math
import shutil
import signal
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType

from tests.hostile.commands import Broken

Attack = Callable[[Random, Path], None]
LONGEST_CASE_S = 180


@dataclass
class Tally:
    """What came of an attack: how many cases were run, and what broke by its case."""

    name: str
    seed: int
    runs: int = 0
    failures: dict[int, str] = field(default_factory=dict)

    def again(self, case: int) -> str:
        """What to type to see a case again."""
        return f"python -m tests.hostile {self.name} --seed {self.seed} --case {case}"


def run_case(attack: Attack, name: str, seed: int, case: int) -> str:
    """Runs one case; what broke, in words, empty where nothing did."""
    folder = Path(tempfile.mkdtemp(prefix="floorclock-case-"))
    try:
        with _at_most(LONGEST_CASE_S):
            attack(Random(f"{name}/{seed}/{case}"), folder)
    except Broken as broken:
        return str(broken)
    except Exception:  # noqa: BLE001 - whatever an attack provokes is what it is for
        return traceback.format_exc(limit=-6)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return ""


def run(attack: Attack, name: str, seed: int, *, most: int, budget_s: float = math.inf, first: int = 0) -> Tally:
    """Runs cases until there were enough, or the time is up."""
    tally, ends = Tally(name, seed), time.monotonic() + budget_s
    for case in range(first, first + most):
        if time.monotonic() > ends:
            break
        tally.runs += 1
        words = run_case(attack, name, seed, case)
        if words:
            tally.failures[case] = words
    return tally


@contextmanager
def _at_most(seconds: int) -> Iterator[None]:
    """A case that hangs is a failure, not the end of the run."""

    def too_long(number: int, frame: FrameType | None) -> None:
        raise Broken(f"still going after {seconds} s")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
