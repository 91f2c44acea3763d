"""A class that runs in a process of its own and can be killed: `python -m tests.journal.running_class JOURNAL [SEED]`.

Begins the journal, or goes on with it, and prints the number of each event once it is told durable, at once and unbuffered.
Events come in bursts with pauses of 0 to 2 ms between them.
"""

from __future__ import annotations

import os
import random
import sys
import time
from pathlib import Path

from floorclock.clock.events import Event
from floorclock.journal.beat import Beat
from floorclock.journal.writer import JournalWriter
from tests.journal.sample_class import WALL, event_numbered, sample_header


def _told(seq: int, event: Event, durable: bool) -> None:
    if durable and event == event_numbered(seq):
        os.write(1, b"%d\n" % seq)


def main(path: Path, seed: int) -> None:
    """Runs until it is killed."""
    chance = random.Random(seed)
    if path.exists():
        writer = JournalWriter.reopen(path, on_written=_told)
    else:
        writer = JournalWriter(path, sample_header(path.stem), on_written=_told)
    seq = writer.reading.next_seq if writer.reading else 1
    os.write(1, b"open\n")
    while True:
        for _ in range(chance.randint(1, 6)):
            assert writer.append(event_numbered(seq), WALL) == seq
            seq += 1
        writer.beat(Beat(seq * 10, WALL))
        time.sleep(chance.random() * 0.002)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)
