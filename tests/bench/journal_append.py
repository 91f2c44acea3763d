"""How fast the journal takes an event, against a bare write and fsync in the same run; and a thousand killed classes.

`python -m tests.bench.journal_append [--taps N] [--kills N] [--folder F]`: exits 1 when a limit is missed. `F` must be on a
real disk, because a file system in memory makes every fsync free.
"""

from __future__ import annotations

import argparse
import os
import random
import statistics
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from floorclock.clock.events import Event
from floorclock.journal.reading import event_line, read_journal
from floorclock.journal.writer import JournalWriter
from tests.journal.killing import kill_at_random
from tests.journal.sample_class import WALL, event_numbered, sample_header

MOST_TIMES_BARE_P99 = 1.3
FLOOD = 4_000
LIVES_A_CLASS = 10


class Waiting:
    """Waits for one acknowledgement at a time."""

    def __init__(self) -> None:
        self._told = threading.Semaphore(0)

    def written(self, seq: int, event: Event, durable: bool) -> None:
        assert durable, "this disk refuses; nothing was measured"
        self._told.release()

    def wait(self) -> None:
        self._told.acquire()


def percentile(values: list[float], percent: int) -> float:
    """The value below which so many per cent lie."""
    return statistics.quantiles(values, n=100)[percent - 1]


def measure_appends(folder: Path, taps: int) -> bool:
    """Bare and journal in turns, so that what the disk does meanwhile hits both alike."""
    waiting = Waiting()
    path = folder / "20261125-1831-7f3a.jsonl"
    writer = JournalWriter(path, sample_header(path.stem), on_written=waiting.written)
    descriptor = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    bare_ms: list[float] = []
    journal_ms: list[float] = []
    for seq in range(1, taps + 1):
        event = event_numbered(seq)
        data = event_line(seq, event, WALL)
        for turn in random.sample(("bare", "journal"), 2):
            begun = time.perf_counter()
            if turn == "bare":
                os.write(descriptor, data)
                os.fsync(descriptor)
                bare_ms.append((time.perf_counter() - begun) * 1e3)
            else:
                writer.append(event, WALL)
                waiting.wait()
                journal_ms.append((time.perf_counter() - begun) * 1e3)
    os.close(descriptor)
    writer.close()
    assert len(read_journal(path).events) == taps
    print(f"{taps} taps one by one            p50 ms   p99 ms")
    for name, values in (("bare write and fsync", bare_ms), ("journal, to acknowledged", journal_ms)):
        print(f"  {name:26} {percentile(values, 50):8.3f} {percentile(values, 99):8.3f}")
    p50, p99 = (percentile(journal_ms, percent) / percentile(bare_ms, percent) for percent in (50, 99))
    print(f"  {'ratio':26} {p50:8.2f} {p99:8.2f}   (p99 at most {MOST_TIMES_BARE_P99})")
    return p99 <= MOST_TIMES_BARE_P99


def measure_flood(folder: Path) -> None:
    """Everything at once, as when phones flood in."""
    waiting = Waiting()
    path = folder / "20261125-1831-aaaa.jsonl"
    writer = JournalWriter(path, sample_header(path.stem), on_written=waiting.written)
    begun = time.perf_counter()
    taken_us = []
    for seq in range(1, FLOOD + 1):
        before = time.perf_counter()
        writer.append(event_numbered(seq), WALL)
        taken_us.append((time.perf_counter() - before) * 1e6)
    for _ in range(FLOOD):
        waiting.wait()
    seconds = time.perf_counter() - begun
    writer.close()
    print(f"{FLOOD} taps at once: {FLOOD / seconds:,.0f} a second to the disk; an append takes {percentile(taken_us, 50):.0f} us")


def kill_many(folder: Path, kills: int) -> bool:
    """Kills classes at random instants, each class several times, and adds up what was found."""
    sums: Counter[str] = Counter()
    for life in range(kills):
        death = kill_at_random(folder / f"20261125-1832-{life // LIVES_A_CLASS:04x}.jsonl", seed=life)
        sums["acknowledged"] += death.acknowledged
        sums["lost"] += death.lost
        sums["invented"] += death.invented
        sums["damaged"] += death.damaged
        sums["torn"] += death.torn
    print(
        f"{kills} kills: {sums['acknowledged']:,} events acknowledged, {sums['lost']} lost, {sums['invented']} invented, "
        f"{sums['damaged']} lines damaged, {sums['torn']} torn ends"
    )
    return not (sums["lost"] or sums["invented"] or sums["damaged"]) and sums["acknowledged"] > kills


def main() -> None:
    """Measures and says whether the limits are kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--taps", type=int, default=2_000)
    parser.add_argument("--kills", type=int, default=1_000)
    parser.add_argument("--folder", type=Path, default=None)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        folder = Path(name)
        fast = measure_appends(folder, options.taps)
        measure_flood(folder)
        safe = kill_many(folder, options.kills)
    sys.exit(0 if fast and safe else 1)


if __name__ == "__main__":
    main()
