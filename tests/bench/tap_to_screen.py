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
from contextlib import contextmanager
from pathlib import Path

from floorclock.clock.events import Tapped
from floorclock.journal.beat import beat_path, read_beat
from floorclock.journal.reading import read_journal
from tests.bench.common import (
    BARE,
    COMMAND,
    THREE,
    TITLE,
    WARM_UP_S,
    Figure,
    Picture,
    Program,
    bench_roster,
    quantile,
    rotation,
    run_command,
    watch,
)
from tests.bench.floor_bare import TITLE as BARE_TITLE

PEOPLE = 40
EVERY_S = 10
WIDTH, HEIGHT = 160, 45
GRACE_S = 2.0
"""A tap within this time after a boundary may speak of the interval before it (`tap_grace`)."""
BURST_S = 0.3
GIVE_UP_S = 1.0
P50_MS, P95_MS = 4.0, 15.0
STORM_FROM_S, STORM_S = 1.5, 2.0
"""The class is fitted from then on, in an interval of which everybody's last split is known."""
STORM_MOST_TIMES = 1.3
NO_FORECASTS = f"from floorclock.tui.floor.outlooks import Outlooks; Outlooks._pacing = lambda self, part: None; {COMMAND}"
"""A floor on which nobody's pace is fitted: what a key costs without it."""

Tap = tuple[str, int]
"""Athlete and interval."""


class Rig:
    """A floor, a picture of what is on it, the bare app beside it, and what was seen of the keys that were written."""

    def __init__(self, floor: Program, bare: Program, disk: int) -> None:
        self.floor, self.bare, self.disk = floor, bare, disk
        self.keys = {athlete.name: athlete.key for athlete in bench_roster(PEOPLE).athletes}
        self.chance = random.Random(1)
        self.one_by_one_s: dict[Tap, float] = {}
        self.burst_s: dict[Tap, float] = {}
        self.floor_ms: list[float] = []
        self.bare_ms: list[float] = []
        self.disk_ms: list[float] = []
        self.picture = Picture(WIDTH, HEIGHT)

    def start(self) -> None:
        """Waits for both, and begins the class."""
        self.bare.wait_for(BARE_TITLE)
        self.picture.feed(self.floor.wait_for(TITLE)[1])
        self.idle_until(time.monotonic() + WARM_UP_S)
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
        os.write(self.disk, b"x" * 120)
        os.fsync(self.disk)
        self.disk_ms.append(1000 * (time.monotonic() - at_s))

    def one_by_one(self, interval: int, from_s: float, within_s: float, *, echo: bool) -> None:
        """Everybody taps once, when the clock has nothing to do with it; with `echo` the bare app gets a key in between."""
        from_s += self.began_s + interval * EVERY_S
        step_s = within_s / PEOPLE
        for at, name in enumerate(self.chance.sample(list(self.keys), PEOPLE)):
            self.idle_until(from_s + (at + 0.4 * self.chance.random()) * step_s)
            self.tap(name, interval)
            if echo:
                self.idle_until(from_s + (at + 0.5 + 0.4 * self.chance.random()) * step_s)
                self.echo()

    def burst(self, interval: int) -> None:
        """Everybody taps within a third of a second, nobody waits."""
        from_s = self.began_s + interval * EVERY_S + GRACE_S + 1.0
        for at, name in enumerate(self.chance.sample(list(self.keys), PEOPLE)):
            self.idle_until(from_s + at * BURST_S / PEOPLE)
            self.burst_s[name, interval] = self.floor.press(self.keys[name])
        self.idle_until(from_s + BURST_S + 2.0)


@contextmanager
def rigged(home: Path, code: str = COMMAND) -> Iterator[Rig]:
    """A rig whose class has just begun."""
    text = rotation(120, THREE, every=f"{EVERY_S}s", margin="2s")
    words = run_command(home, text, PEOPLE, code=code)
    with (
        Program(BARE, home=home) as bare,
        Program(words, width=WIDTH, height=HEIGHT, home=home) as floor,
        open(home / "disk", "ab", buffering=0) as disk,
    ):
        rig = Rig(floor, bare, disk.fileno())
        rig.start()
        yield rig


def figures(quick: bool = False) -> Iterator[Figure]:
    """Times to the screen, what was lost, and how truly the taps were stamped."""
    intervals, bursts = (1, 1) if quick else (5, 4)
    with tempfile.TemporaryDirectory() as folder, rigged(Path(folder)) as rig:
        for interval in range(intervals):
            rig.one_by_one(interval, GRACE_S + 0.3, EVERY_S - GRACE_S - 0.8, echo=True)
        for interval in range(intervals, intervals + bursts):
            rig.burst(interval)
        journal = next(Path(folder).glob("classes/*.jsonl"))
        beat = read_beat(beat_path(journal))
        rig.floor.end(signal.SIGTERM)
        written = read_journal(journal).events
    assert beat is not None
    began_s = beat.mono_ns / 1e9 - beat.class_ms / 1e3
    stamped = [((tap.athlete, tap.at_ms // (1000 * EVERY_S)), tap.at_ms) for tap in written if isinstance(tap, Tapped)]
    first_ms = dict(reversed(stamped))
    pressed = rig.one_by_one_s | rig.burst_s
    shown = f"tap to its row on the screen, {PEOPLE} athletes"
    for name, share, most in (("p50", 0.5, P50_MS), ("p95", 0.95, P95_MS), ("worst", 1.0, None)):
        ms, bare_ms = quantile(rig.floor_ms, share), quantile(rig.bare_ms, share)
        yield Figure(f"{shown}, {name}", ms, "ms", baseline=bare_ms, most=most)
        yield Figure(f"  of it a bare write and fsync, {name}", quantile(rig.disk_ms, share), "ms")
    unseen = len(rig.one_by_one_s) - len(rig.floor_ms)
    yield Figure(f"taps that never showed, of {len(rig.one_by_one_s)}", unseen, "taps", most=0)
    lost, wrong = len(pressed.keys() - first_ms.keys()), len(stamped) - len(pressed.keys() & first_ms.keys())
    yield Figure(f"taps lost, {len(rig.burst_s)} of them in bursts of 40 in 0.3 s", lost, "taps", most=0)
    yield Figure("taps doubled or invented", wrong, "taps", most=0)
    for how, taps in (("", rig.one_by_one_s), (" in bursts", rig.burst_s)):
        late_ms = [first_ms[tap] - 1000 * (at_s - began_s) for tap, at_s in taps.items() if tap in first_ms]
        yield Figure(f"split stamped after its key was written, p95{how}", quantile(late_ms, 0.95), "ms")
    with_ms, without_ms = storms_ms(intervals), storms_ms(intervals, NO_FORECASTS)
    for name, share, most in (("p50", 0.5, None), ("p99", 0.99, STORM_MOST_TIMES)):
        what = f"in a storm at an interval's start, by a floor without forecasts, {name}"
        value, baseline = quantile(with_ms, share), quantile(without_ms, share)
        yield Figure(what, value, "ms", baseline=baseline, most_times=most)


def storms_ms(intervals: int, code: str = COMMAND) -> list[float]:
    """The times of all taps of some storms, from the second interval on."""
    with tempfile.TemporaryDirectory() as folder, rigged(Path(folder), code) as rig:
        for interval in range(intervals + 1):
            rig.one_by_one(interval, STORM_FROM_S, STORM_S, echo=False)
    return rig.floor_ms[PEOPLE:]
