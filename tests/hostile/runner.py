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
from collections.abc import Callable
from pathlib import Path
from random import Random
from types import FrameType

from tests.hostile.commands import Broken

Attack = Callable[[Random, Path], None]
LONGEST_CASE_S = 180


def _too_long(number: int, frame: FrameType | None) -> None:
    raise Broken(f"still going after {LONGEST_CASE_S} s")


def run_case(attack: Attack, name: str, seed: int, case: int) -> str:
    """Runs one case; what broke, in words, and how to see it again; empty where nothing did."""
    folder = Path(tempfile.mkdtemp(prefix="floorclock-case-"))
    signal.signal(signal.SIGALRM, _too_long)
    signal.alarm(LONGEST_CASE_S)
    try:
        attack(Random(f"{name}/{seed}/{case}"), folder)
    except Broken as broken:
        words = str(broken)
    except Exception:  # noqa: BLE001 - whatever an attack provokes is what it is for
        words = traceback.format_exc(limit=-6)
    else:
        words = ""
    finally:
        signal.alarm(0)
        shutil.rmtree(folder, ignore_errors=True)
    return words and f"python -m tests.hostile {name} --seed {seed} --case {case}\n{words[-1_500:]}"


def run(attack: Attack, name: str, seed: int, *, most: int, budget_s: float = math.inf, first: int = 0) -> tuple[int, list[str]]:
    """Runs cases until there were enough, or the time is up: how many, and what broke."""
    ends, failures, case = time.monotonic() + budget_s, list[str](), first
    while case < first + most and time.monotonic() < ends:
        failures += filter(None, [run_case(attack, name, seed, case)])
        case += 1
    return case - first, failures
