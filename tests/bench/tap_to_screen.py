"""From a tap's key to its row on the screen: 40 athletes, the clock in tenths, the journal with every fsync; and bursts of taps.

A tap's time ends with the first bytes that change the athlete's row. A bare Textual app that echoes a key is measured in
turns with it. Afterwards the journal is read: every tap once, stamped when its key was written.
`python -m tests.bench.tap_to_screen [--intervals 5] [--bursts 4]`
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from floorclock.clock.events import Tapped
from floorclock.journal.reading import read_journal
from tests.bench.common import BARE, TITLE, Figure, Picture, Program, bench_roster, played, print_table, quantile, watch
from tests.bench.floor_bare import TITLE as BARE_TITLE

PEOPLE = 40
EVERY_S = 10
WIDTH, HEIGHT = 160, 45
GRACE_S = 2.0
"""A tap within this time after a boundary may speak of the interval before it (`tap_grace`)."""
BURST_S = 0.3
GIVE_UP_S = 1.0
LINE_BYTES = 120
P50_MS, P95_MS = 4.0, 15.0


@dataclass
class Pressed:
    """The keys that were written: (athlete, interval, monotonic seconds), and what was seen of them, in milliseconds."""

    taps: list[tuple[str, int, float]] = field(default_factory=list)
    bursts: list[tuple[str, int, float]] = field(default_factory=list)
    floor_ms: list[float] = field(default_factory=list)
    bare_ms: list[float] = field(default_factory=list)
    disk_ms: list[float] = field(default_factory=list)
    unseen: int = 0


class Rig:
    """A floor, a picture of what is on it, and the bare app beside it."""

    def __init__(self, home: Path, seed: int) -> None:
        self.people = bench_roster(PEOPLE).athletes
        self.chance = random.Random(seed)
        self.pressed = Pressed()
        self.picture = Picture(WIDTH, HEIGHT)
        self.bare = Program(BARE, home=home)
        self.began_file = home / "began"
        self.disk = os.open(home / "disk", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        self.floor = Program(played(PEOPLE, EVERY_S, "--began", str(self.began_file)), width=WIDTH, height=HEIGHT, home=home)
        self.began_s = 0.0
        self.cells: dict[str, tuple[int, slice]] = {}

    def start(self) -> None:
        """Waits for both, and begins the class."""
        self.bare.wait_for(BARE_TITLE)
        self.picture.feed(self.floor.wait_for(TITLE)[1])
        self.idle_until(time.monotonic() + 1.0)
        self.began_s = self.floor.press("\r")
        self.idle_until(self.began_s + 1.0)
        self.cells = self._cells()

    def _cells(self) -> dict[str, tuple[int, slice]]:
        """The row of every athlete, from the name to where the next one's cell begins."""
        found = {athlete.name: self.picture.find(athlete.name) for athlete in self.people}
        places = {name: place for name, place in found.items() if place is not None}
        assert len(places) == PEOPLE, f"only {len(places)} athletes are in sight"
        edges = [*sorted({x for _, x in places.values()}), WIDTH + 6]
        return {name: (y, slice(x, edges[edges.index(x) + 1] - 6)) for name, (y, x) in places.items()}

    def idle_until(self, until_s: float) -> None:
        """Reads both up to a time."""
        watch((self.floor, self.bare), until_s, lambda one, data: self.picture.feed(data) if one is self.floor else None)

    def shuffled(self) -> list[str]:
        """Everybody, in another order every time."""
        return self.chance.sample([athlete.name for athlete in self.people], PEOPLE)

    def tap(self, name: str, interval: int) -> None:
        """One tap, timed to the change of its row."""
        key = next(athlete.key for athlete in self.people if athlete.name == name)
        y, columns = self.cells[name]
        before = self.picture.rows[y][columns]
        at_s = self.floor.press(key)
        self.pressed.taps.append((name, interval, at_s))
        while (left_s := at_s + GIVE_UP_S - time.monotonic()) > 0:
            data = self.floor.read(left_s)
            now_s = time.monotonic()
            self.picture.feed(data)
            if self.picture.rows[y][columns] != before:
                self.pressed.floor_ms.append(1000 * (now_s - at_s))
                return
        self.pressed.unseen += 1

    def echo(self) -> None:
        """One key to the bare app, timed to its echo."""
        wanted = f"key {len(self.pressed.bare_ms) + 1}.".encode()
        at_s = self.bare.press("x")
        seen = b""
        while wanted not in seen:
            seen += self.bare.read(GIVE_UP_S)
        self.pressed.bare_ms.append(1000 * (time.monotonic() - at_s))

    def write(self) -> None:
        """One line to the disk, as the journal writes it: what no tap can be faster than."""
        at_s = time.monotonic()
        os.write(self.disk, b"x" * LINE_BYTES)
        os.fsync(self.disk)
        self.pressed.disk_ms.append(1000 * (time.monotonic() - at_s))

    def one_by_one(self, interval: int) -> None:
        """Everybody taps once, the bare app gets a key in between, at times that have nothing to do with the clock's."""
        from_s = self.began_s + interval * EVERY_S + GRACE_S + 0.3
        step_s = (EVERY_S - GRACE_S - 0.8) / PEOPLE
        for at, name in enumerate(self.shuffled()):
            self.idle_until(from_s + (at + 0.4 * self.chance.random()) * step_s)
            self.tap(name, interval)
            self.idle_until(from_s + (at + 0.5 + 0.4 * self.chance.random()) * step_s)
            self.echo()
            self.write()

    def burst(self, interval: int) -> None:
        """Everybody taps within a third of a second, nobody waits."""
        from_s = self.began_s + interval * EVERY_S + GRACE_S + 1.0
        for at, name in enumerate(self.shuffled()):
            self.idle_until(from_s + at * BURST_S / PEOPLE)
            key = next(athlete.key for athlete in self.people if athlete.name == name)
            self.pressed.bursts.append((name, interval, self.floor.press(key)))
        self.idle_until(from_s + BURST_S + 2.0)

    def end(self) -> None:
        """Says goodbye, so that the floor tells when the class began."""
        self.floor.end(signal.SIGTERM)
        self.bare.end()
        os.close(self.disk)


def play(home: Path, intervals: int, bursts: int) -> tuple[Pressed, Counter[str], list[float], list[float]]:
    """What was pressed; what the journal made of it; how late after the key every tap was stamped, one by one and in bursts."""
    rig = Rig(home, seed=1)
    try:
        rig.start()
        for interval in range(intervals):
            rig.one_by_one(interval)
        for interval in range(intervals, intervals + bursts):
            rig.burst(interval)
    finally:
        rig.end()
    began_s = int(rig.began_file.read_text(encoding="utf-8")) / 1e9
    journal = next((home / "classes").glob("*.jsonl"))
    written = [event for event in read_journal(journal).events if isinstance(event, Tapped)]
    found: dict[tuple[str, int], list[int]] = {}
    for event in written:
        found.setdefault((event.athlete, event.at_ms // (1000 * EVERY_S)), []).append(event.at_ms)
    asked = {(name, interval) for name, interval, _ in (*rig.pressed.taps, *rig.pressed.bursts)}
    counts = Counter(
        lost=len(asked - found.keys()),
        doubled=sum(len(times) - 1 for times in found.values()),
        invented=len(found.keys() - asked),
    )
    late = [
        [found[name, interval][0] - 1000 * (at_s - began_s) for name, interval, at_s in taps if (name, interval) in found]
        for taps in (rig.pressed.taps, rig.pressed.bursts)
    ]
    return rig.pressed, counts, late[0], late[1]


def figures(intervals: int = 5, bursts: int = 4) -> list[Figure]:
    """Times to the screen, what was lost, and how truly the taps were stamped."""
    with tempfile.TemporaryDirectory() as folder:
        pressed, counts, late, late_in_burst = play(Path(folder), intervals, bursts)
    floor, bare = pressed.floor_ms, pressed.bare_ms
    return [
        Figure(
            what=f"tap to its row on the screen, {PEOPLE} athletes, p50",
            value=quantile(floor, 0.5),
            unit="ms",
            baseline=quantile(bare, 0.5),
            most=P50_MS,
        ),
        Figure(what="  p95", value=quantile(floor, 0.95), unit="ms", baseline=quantile(bare, 0.95), most=P95_MS),
        Figure(what="  worst", value=max(floor), unit="ms", baseline=max(bare)),
        Figure(what="  of which a bare write and fsync takes, p50", value=quantile(pressed.disk_ms, 0.5), unit="ms"),
        Figure(what="  p95", value=quantile(pressed.disk_ms, 0.95), unit="ms"),
        Figure(what=f"  taps that never showed, of {len(pressed.taps)}", value=pressed.unseen, unit="taps", most=0),
        Figure(
            what=f"taps lost, {len(pressed.bursts)} of them in bursts of 40 in 0.3 s", value=counts["lost"], unit="taps", most=0
        ),
        Figure(what="taps doubled or invented", value=counts["doubled"] + counts["invented"], unit="taps", most=0),
        Figure(what="split stamped after its key was written, p50", value=quantile(late, 0.5), unit="ms"),
        Figure(what="  p95", value=quantile(late, 0.95), unit="ms"),
        Figure(what="  p95 in bursts", value=quantile(late_in_burst, 0.95), unit="ms"),
    ]


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--intervals", type=int, default=5)
    parser.add_argument("--bursts", type=int, default=4)
    asked = parser.parse_args()
    print_table(figures(asked.intervals, asked.bursts))


if __name__ == "__main__":
    main()
