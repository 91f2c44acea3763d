"""Kills a running class and compares what it had acknowledged with what its journal holds."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from floorclock.journal.reading import read_journal
from tests.journal.sample_class import event_numbered

CHECKOUT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Death:
    """What was found after one kill."""

    acknowledged: int
    kept: int
    lost: int
    invented: int
    torn: bool
    damaged: int


def start(path: Path, seed: int) -> subprocess.Popen[bytes]:
    """A class running in a process of its own; comes back once its journal is open."""
    command = [sys.executable, "-m", "tests.journal.running_class", str(path), str(seed)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, cwd=CHECKOUT)
    assert process.stdout is not None
    opened = os.read(process.stdout.fileno(), 5)
    assert opened == b"open\n", "the class did not open its journal"
    return process


def kill_at_random(path: Path, seed: int, longest_s: float = 0.06) -> Death:
    """Runs a class on a journal, new or not, for a random time, kills it with SIGKILL, and reads the journal."""
    process = start(path, seed)
    time.sleep(random.Random(seed).random() * longest_s)
    process.kill()
    told, _ = process.communicate()
    # The last number may have been cut by the kill.
    acknowledged = [int(word) for word in told.rpartition(b"\n")[0].split()]
    reading = read_journal(path) if path.exists() else None
    kept = dict(zip(reading.seqs, reading.events, strict=True)) if reading else {}
    return Death(
        acknowledged=len(acknowledged),
        kept=len(kept),
        lost=sum(1 for seq in acknowledged if kept.get(seq) != event_numbered(seq)),
        invented=sum(1 for seq, event in kept.items() if event != event_numbered(seq))
        + (sorted(kept) != list(range(1, len(kept) + 1))),
        torn=bool(reading and reading.torn),
        damaged=len(reading.damage) if reading else 0,
    )
