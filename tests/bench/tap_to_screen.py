"""From a tap's key to its row on the screen: 40 athletes, the clock in tenths, the journal with every fsync; bursts of taps;
and storms of them while everybody is forecast anew, against a floor without forecasts.

A tap's time ends with the first bytes that change the athlete's row. A bare Textual app that echoes a key is measured in
turns with it. Afterwards the journal is read: every tap once, stamped when its key was written.
"""

from __future__ import annotations

import os
import random
import signal
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from floorclock.clock.events import Tapped
from floorclock.journal.reading import read_journal
from tests.bench.common import BARE, TITLE, Figure, Picture, Program, bench_roster, played, quantile, watch
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
STORM_FROM_S, STORM_S = 1.5, 2.0
"""The class is fitted from then on, in an interval of which everybody's last split is known."""
STORM_MOST_TIMES = 1.3

Tap = tuple[str, int]
"""Athlete and interval."""


class Rig:
    """A floor, a picture of what is on it, the bare app beside it, and what was seen of the keys that were written."""

    def __init__(self, home: Path, *more: str) -> None:
        self.keys = {athlete.name: athlete.key for athlete in bench_roster(PEOPLE).athletes}
        self.chance = random.Random(1)
        self.one_by_one_s: dict[Tap, float] = {}
        self.burst_s: dict[Tap, float] = {}
        self.floor_ms: list[float] = []
        self.bare_ms: list[float] = []
        self.disk_ms: list[float] = []
        self.picture = Picture(WIDTH, HEIGHT)
        self.bare = Program(BARE, home=home)
        self.began_file = home / "began"
        self.disk = os.open(home / "disk", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
        floor = played(PEOPLE, EVERY_S, "--began", str(self.began_file), *more)
        self.floor = Program(floor, width=WIDTH, height=HEIGHT, home=home)

    def start(self) -> None:
        """Waits for both, and begins the class."""
        self.bare.wait_for(BARE_TITLE)
        self.picture.feed(self.floor.wait_for(TITLE)[1])
        self.idle_until(time.monotonic() + 1.0)
        self.began_s = self.floor.press("\r")
        self.idle_until(self.began_s + 1.0)
        # The row of every athlete, from the name to where the next one's cell begins.
        places = {name: place for name in self.keys if (place := self.picture.find(name)) is not None}
        assert len(places) == PEOPLE, f"only {len(places)} athletes are in sight"
        edges = [*sorted({x for _, x in places.values()}), WIDTH + 6]
        self.cells = {name: (y, slice(x, edges[edges.index(x) + 1] - 6)) for name, (y, x) in places.items()}

    def idle_until(self, until_s: float) -> None:
        """Reads both up to a time."""
        watch((self.floor, self.bare), until_s, lambda app, data: self.picture.feed(data) if app is self.floor else None)

    def tap(self, name: str, interval: int) -> None:
        """One tap, timed to the change of its row."""
        y, columns = self.cells[name]
        before = self.picture.rows[y][columns]
        at_s = self.one_by_one_s[name, interval] = self.floor.press(self.keys[name])
        while (left_s := at_s + GIVE_UP_S - time.monotonic()) > 0:
            data = self.floor.read(left_s)
            now_s = time.monotonic()
            self.picture.feed(data)
            if self.picture.rows[y][columns] != before:
                self.floor_ms.append(1000 * (now_s - at_s))
                return

    def echo(self) -> None:
        """One key to the bare app, timed to its echo; and one line to the disk: no tap can be faster than that."""
        wanted, seen = f"key {len(self.bare_ms) + 1}.".encode(), b""
        at_s = self.bare.press("x")
        while wanted not in seen:
            seen += self.bare.read(GIVE_UP_S)
        self.bare_ms.append(1000 * (time.monotonic() - at_s))
        at_s = time.monotonic()
        os.write(self.disk, b"x" * LINE_BYTES)
        os.fsync(self.disk)
        self.disk_ms.append(1000 * (time.monotonic() - at_s))

    def one_by_one(self, interval: int) -> None:
        """Everybody taps once, the bare app gets a key in between, at times that have nothing to do with the clock's."""
        from_s = self.began_s + interval * EVERY_S + GRACE_S + 0.3
        step_s = (EVERY_S - GRACE_S - 0.8) / PEOPLE
        for at, name in enumerate(self.chance.sample(list(self.keys), PEOPLE)):
            self.idle_until(from_s + (at + 0.4 * self.chance.random()) * step_s)
            self.tap(name, interval)
            self.idle_until(from_s + (at + 0.5 + 0.4 * self.chance.random()) * step_s)
            self.echo()

    def burst(self, interval: int) -> None:
        """Everybody taps within a third of a second, nobody waits."""
        from_s = self.began_s + interval * EVERY_S + GRACE_S + 1.0
        for at, name in enumerate(self.chance.sample(list(self.keys), PEOPLE)):
            self.idle_until(from_s + at * BURST_S / PEOPLE)
            self.burst_s[name, interval] = self.floor.press(self.keys[name])
        self.idle_until(from_s + BURST_S + 2.0)

    def storm(self, interval: int) -> None:
        """Everybody taps within two seconds, each timed to its row, while the class is being fitted."""
        from_s = self.began_s + interval * EVERY_S + STORM_FROM_S
        for at, name in enumerate(self.chance.sample(list(self.keys), PEOPLE)):
            self.idle_until(from_s + (at + 0.4 * self.chance.random()) * STORM_S / PEOPLE)
            self.tap(name, interval)

    def end(self) -> None:
        """Says goodbye, so that the floor tells when the class began."""
        self.floor.end(signal.SIGTERM)
        self.bare.end()
        os.close(self.disk)


def figures(quick: bool = False) -> Iterator[Figure]:
    """Times to the screen, what was lost, and how truly the taps were stamped."""
    intervals, bursts = (1, 1) if quick else (5, 4)
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        rig = Rig(home)
        try:
            rig.start()
            for interval in range(intervals):
                rig.one_by_one(interval)
            for interval in range(intervals, intervals + bursts):
                rig.burst(interval)
        finally:
            rig.end()
        began_s = int(rig.began_file.read_text(encoding="utf-8")) / 1e9
        written = read_journal(next((home / "classes").glob("*.jsonl"))).events
    stamped = [((tap.athlete, tap.at_ms // (1000 * EVERY_S)), tap.at_ms) for tap in written if isinstance(tap, Tapped)]
    first_ms = dict(reversed(stamped))
    pressed = rig.one_by_one_s | rig.burst_s
    late_ms, late_in_burst_ms = (
        [first_ms[tap] - 1000 * (at_s - began_s) for tap, at_s in taps.items() if tap in first_ms]
        for taps in (rig.one_by_one_s, rig.burst_s)
    )
    shown = f"tap to its row on the screen, {PEOPLE} athletes"
    for name, share, most in (("p50", 0.5, P50_MS), ("p95", 0.95, P95_MS), ("worst", 1.0, None)):
        ms, bare_ms = quantile(rig.floor_ms, share), quantile(rig.bare_ms, share)
        yield Figure(what=f"{shown}, {name}", value=ms, unit="ms", baseline=bare_ms, most=most)
        yield Figure(what=f"  of it a bare write and fsync, {name}", value=quantile(rig.disk_ms, share), unit="ms")
    unseen = len(rig.one_by_one_s) - len(rig.floor_ms)
    yield Figure(what=f"taps that never showed, of {len(rig.one_by_one_s)}", value=unseen, unit="taps", most=0)
    lost, wrong = len(pressed.keys() - first_ms.keys()), len(stamped) - len(pressed.keys() & first_ms.keys())
    yield Figure(what=f"taps lost, {len(rig.burst_s)} of them in bursts of 40 in 0.3 s", value=lost, unit="taps", most=0)
    yield Figure(what="taps doubled or invented", value=wrong, unit="taps", most=0)
    for how, late in (("", late_ms), (" in bursts", late_in_burst_ms)):
        yield Figure(what=f"split stamped after its key was written, p95{how}", value=quantile(late, 0.95), unit="ms")
    with_ms, without_ms = storms_ms(intervals), storms_ms(intervals, "--no-forecasts")
    for name, share, most in (("p50", 0.5, None), ("p99", 0.99, STORM_MOST_TIMES)):
        what = f"in a storm at an interval's start, by a floor without forecasts, {name}"
        value, baseline = quantile(with_ms, share), quantile(without_ms, share)
        yield Figure(what=what, value=value, unit="ms", baseline=baseline, most_times=most)


def storms_ms(intervals: int, *more: str) -> list[float]:
    """The times of all taps of some storms, from the second interval on."""
    with tempfile.TemporaryDirectory() as folder:
        rig = Rig(Path(folder), *more)
        try:
            rig.start()
            for interval in range(intervals + 1):
                rig.storm(interval)
        finally:
            rig.end()
    return rig.floor_ms[PEOPLE:]
