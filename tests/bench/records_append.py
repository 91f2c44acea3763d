"""How fast a journal takes events, against a bare write and fsync in the same run.

One by one, each acknowledged before the next is sent; 40 at once, as when everybody's phone taps in the same second; and a flood.
The bare baseline of 40 at once is 40 writes with an fsync each: that is what group commit saves.
`python -m tests.bench.records_append [--taps N] [--folder F]`: `F` must be on a real disk, because a file system in memory makes
every fsync free.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
import time
from pathlib import Path
from queue import SimpleQueue
from typing import Final

from floorclock.clock.events import Event
from floorclock.journal.disk import Disk
from floorclock.journal.reading import event_line, read_journal
from floorclock.journal.writer import JournalWriter
from floorclock.tui.run import keep_waits_short
from tests.bench.common import Figure, print_table, quantile
from tests.journal.sample_class import WALL, event_numbered, sample_header

TAPS: Final = 3_000
BURSTS: Final = 150
AT_ONCE: Final = 40
FLOOD: Final = 10_000
MOST_TIMES_P99: Final = 1.3
MOST_SYNCS: Final = 3.0
"""Of a burst: the first tap goes alone or nearly so, the others while the disk is busy with it."""


class CountingDisk(Disk):
    """A real disk that counts its syncs."""

    syncs = 0

    def sync(self, descriptor: int) -> None:
        self.syncs += 1
        super().sync(descriptor)


class Rig:
    """A journal and a bare file on the same disk."""

    def __init__(self, folder: Path) -> None:
        self.disk = CountingDisk()
        self.path = folder / "20261125-1831-7f3a.jsonl"
        self._told: SimpleQueue[int] = SimpleQueue()
        self._seq = 0
        self._bare = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self.writer = JournalWriter(self.path, sample_header(self.path.stem), on_written=self._written, disk=self.disk)

    def _written(self, seq: int, event: Event, durable: bool) -> None:
        assert durable, "this disk refuses; nothing was measured"
        self._told.put(seq)

    def bare_ms(self, count: int = 1) -> float:
        """The same lines written with one fsync each; until the last is on the disk."""
        lines = [event_line(seq, event_numbered(seq), WALL) for seq in range(self._seq + 1, self._seq + count + 1)]
        begun_s = time.perf_counter()
        for line in lines:
            os.write(self._bare, line)
            os.fsync(self._bare)
        return 1_000 * (time.perf_counter() - begun_s)

    def journal_ms(self, count: int = 1) -> float:
        """Events handed over together; until the last is acknowledged."""
        events = [event_numbered(seq) for seq in range(self._seq + 1, self._seq + count + 1)]
        self._seq += count
        begun_s = time.perf_counter()
        for event in events:
            self.writer.append(event, WALL)
        for _ in events:
            self._told.get()
        return 1_000 * (time.perf_counter() - begun_s)

    def close(self) -> None:
        """Ends both, and makes sure that everything is there."""
        self.writer.close()
        os.close(self._bare)
        kept = read_journal(self.path).events
        assert kept == tuple(event_numbered(seq) for seq in range(1, self._seq + 1)), "the journal is not what was sent"


def in_turns(rig: Rig, times: int, count: int, seed: int) -> tuple[list[float], list[float]]:
    """Journal and bare one after the other in a random order, so that what else the disk does hits both alike."""
    chance = random.Random(seed)
    journal_ms, bare_ms = [], []
    for _ in range(times):
        if chance.random() < 0.5:
            journal_ms.append(rig.journal_ms(count))
            bare_ms.append(rig.bare_ms(count))
        else:
            bare_ms.append(rig.bare_ms(count))
            journal_ms.append(rig.journal_ms(count))
    return journal_ms, bare_ms


def figures(taps: int = TAPS, folder: Path | None = None) -> list[Figure]:
    """Appends one by one, in bursts and in a flood."""
    keep_waits_short()
    with tempfile.TemporaryDirectory(dir=folder) as name:
        rig = Rig(Path(name))
        in_turns(rig, 50, 1, 0)
        one_ms, one_bare_ms = in_turns(rig, taps, 1, 1)
        before = rig.disk.syncs
        many_ms, many_bare_ms = in_turns(rig, BURSTS, AT_ONCE, 2)
        syncs = (rig.disk.syncs - before) / BURSTS
        flood_ms = rig.journal_ms(FLOOD)
        rig.close()
    one, many = "one tap, to acknowledged", f"{AT_ONCE} taps at once, to the last acknowledged"
    return [
        Figure(what=f"{one}, p50", value=quantile(one_ms, 0.5), unit="ms", baseline=quantile(one_bare_ms, 0.5)),
        Figure(
            what=f"{one}, p99",
            value=quantile(one_ms, 0.99),
            unit="ms",
            baseline=quantile(one_bare_ms, 0.99),
            most_times=MOST_TIMES_P99,
        ),
        Figure(what=f"{many}, p50", value=quantile(many_ms, 0.5), unit="ms", baseline=quantile(many_bare_ms, 0.5)),
        Figure(what=f"{many}, p99", value=quantile(many_ms, 0.99), unit="ms", baseline=quantile(many_bare_ms, 0.99)),
        Figure(what=f"{AT_ONCE} taps at once, syncs for them", value=syncs, unit="", most=MOST_SYNCS),
        Figure(what="flood, events to the disk", value=FLOOD / flood_ms * 1_000, unit="/s"),
    ]


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--taps", type=int, default=TAPS)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    print_table(figures(asked.taps, asked.folder))


if __name__ == "__main__":
    main()
