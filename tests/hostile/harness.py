"""What attacks share: cases with dice of their own, and commands typed at the real entry and judged from outside.

Invariant: a case follows from (attack, seed, number), takes a bounded time, and leaves nothing on the disk. Nothing here knows
the inside of floorclock: a journal is read by `told`, which trusts only its checks.
"""

from __future__ import annotations

import io
import json
import math
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from itertools import takewhile
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any
from unittest import mock
from zlib import crc32

import miniaudio

from tests.commands import Answer, typed_here
from tests.floorclock_command import no_device

LONGEST_CASE_S = 180
SEAL = len(',"check":"00000000"}')
STEERS = {*"\u202a\u202b\u202d\u202e\u2066\u2067\u2068"}
Attack = Callable[[Random, Path], None]
Line = dict[str, Any]


class Broken(AssertionError):
    """Something from outside did more harm than it may."""


def _too_long(number: int, frame: FrameType | None) -> None:
    raise Broken(f"still going after {LONGEST_CASE_S} s")


def run_case(attack: Attack, name: str, seed: int, case: int) -> str:
    """Runs one case; what broke, in words, and how to see it again; empty where nothing did."""
    folder, words = Path(tempfile.mkdtemp(prefix="floorclock-case-")), ""
    signal.signal(signal.SIGALRM, _too_long)
    signal.alarm(LONGEST_CASE_S)
    try:
        attack(Random(f"{name}/{seed}/{case}"), folder)
    except Broken as broken:
        words = str(broken)
    except Exception:  # noqa: BLE001 - whatever an attack provokes is what it is for
        words = traceback.format_exc(limit=-6)
    finally:
        signal.alarm(0)
        shutil.rmtree(folder, ignore_errors=True)
    return words and f"python -m tests.hostile {name} --seed {seed} --case {case}\n{words[-1_500:]}"


def run(attack: Attack, name: str, seed: int, cases: Iterable[int], budget_s: float = math.inf) -> list[str]:
    """Runs cases until the time is up; what broke in each, mostly nothing."""
    ends = time.monotonic() + budget_s
    return [run_case(attack, name, seed, case) for case in takewhile(lambda _: time.monotonic() < ends, cases)]


def sealed(values: Mapping[str, Any]) -> bytes:
    """A line of a journal with the right check, whatever its values are."""
    body = json.dumps(values, ensure_ascii=True, separators=(",", ":")).encode()
    return body[:-1] + b',"check":"%08x"}\n' % crc32(body)


def told(journal: bytes) -> list[Line]:
    """The whole lines of a journal, in their order: the independent reader."""
    lines = []
    for line in journal.splitlines():
        body, seal = line[:-SEAL] + b"}", line[-SEAL:]
        if seal[:-10] == b',"check":"' and seal[-10:-2] == b"%08x" % crc32(body):
            lines.append(json.loads(body))
    return lines


def typed(home: Path, *arguments: str, allowed: tuple[int, ...] = (0, 1, 2, 3), **more: str) -> Answer:
    """Types a command; a defect, a wild status or a character that steers a terminal is harm done."""
    environment = {"FLOORCLOCK_HOME": str(home), "FLOORCLOCK_TRACE": "1", "COLUMNS": "120", **more}
    with (
        mock.patch.dict(os.environ, environment),
        mock.patch.object(sys, "stdin", io.StringIO()),
        mock.patch.object(miniaudio.PlaybackDevice, "__init__", no_device),
    ):
        answer = typed_here(*arguments)
    shown = " ".join(arguments)
    if answer.status not in allowed:
        raise Broken(f"`{shown}` ended with {answer.status}, not one of {allowed}: {answer.err[:600]!r}")
    if "Traceback" in answer.err or "defect of floorclock" in answer.err:
        raise Broken(f"`{shown}` is a defect: {answer.err[-600:]!r}")
    if answer.status == 1 and not answer.err.strip() and not answer.out.strip():
        raise Broken(f"`{shown}` ended with 1 and said nothing")
    for letter in {*answer.out, *answer.err} - set("\n\r\t\a"):
        if unicodedata.category(letter) == "Cc" or letter in STEERS:
            raise Broken(f"`{shown}` printed {letter!r}")
    return answer
