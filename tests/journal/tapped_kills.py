"""Kills running classes and judges by its own books what is left of them.

Invariant: the books are kept from what a class told before it died (`tapped_class.py`), never from its journal. The journal must
hold what the books say was kept, in order, then at most events that had been sent and were not yet kept, and nothing else.
"""

from __future__ import annotations

import json
import multiprocessing
import random
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from floorclock.clock.events import event_from_dict
from floorclock.journal.reading import JournalReading, read_journal
from floorclock.journal.replay import replay
from tests.journal.tapped_class import ROSTER, SESSION, digest, live

MOST_LIVES_A_CLASS = 6
LONGEST_DEATH_S = 20.0
LONG, SHORT = 60, 3
"""Steps of a life."""

Told = dict[str, Any]
Ends = Callable[[Path, Path, int], bool]
"""Gives a class in a data folder one life that tells into a file, with a seed; true if it was killed in it."""


@dataclass
class Findings:
    """What all deaths so far came to."""

    kills: int = 0
    lives: int = 0
    kept: int = 0
    unkept: int = 0
    """Events that were on the disk although nobody had been told so yet: allowed."""
    lost: int = 0
    invented: int = 0
    damaged: int = 0
    torn: int = 0
    refused: int = 0
    other_states: int = 0
    states: int = 0
    reopened_ms: list[float] = field(default_factory=list)

    @property
    def faults(self) -> dict[str, int]:
        """Everything that must be nought and is not."""
        names = ("lost", "invented", "damaged", "refused", "other_states")
        return {name: getattr(self, name) for name in names if getattr(self, name)}


class Judge:
    """Gives classes one life after the other, and looks at what each death left."""

    def __init__(self, folder: Path, ends: Ends) -> None:
        self.found = Findings()
        self._folder = folder
        self._ends = ends
        self._lives = 0
        self._last: JournalReading | None = None
        self._new_class()

    def one_life(self, seed: int) -> None:
        """The next life of the class that was killed last, or the first of a new one."""
        told_path = self._folder / f"{seed}.told"
        killed = self._ends(self._home, told_path, seed)
        told = _read_told(told_path)
        told_path.unlink(missing_ok=True)
        self.found.lives += 1
        self.found.kills += killed
        self._lives += 1
        self._judge_reopening(told)
        reading = self._reading()
        self._judge_journal(told, reading)
        self._last = reading
        over = bool(self._book) and self._book[-1]["event"] == "class ended"
        if over or self._lives >= MOST_LIVES_A_CLASS:
            self._new_class()

    def _new_class(self) -> None:
        self._home = self._folder / f"home-{self.found.lives}"
        (self._home / "classes").mkdir(parents=True)
        self._book: list[Told] = []
        self._last, self._lives = None, 0

    def _reading(self) -> JournalReading | None:
        journals = list((self._home / "classes").glob("*.jsonl"))
        assert len(journals) <= 1, "a class was begun where one could have gone on"
        return read_journal(journals[0]) if journals else None

    def _judge_reopening(self, told: list[Told]) -> None:
        """The state with which the class goes on must be the fold of the books."""
        for line in told:
            if line["word"] == "reopened":
                assert self._last is not None
                assert self._last.header is not None
                state = replay(self._last.header, [event_from_dict(values) for values in self._book])
                state.advance(line["now_ms"])
                self.found.states += 1
                self.found.other_states += digest(state) != line["digest"]
                self.found.reopened_ms.append(line["took_ms"])

    def _judge_journal(self, told: list[Told], reading: JournalReading | None) -> None:
        sent = [line["event"] for line in told if line["word"] == "sent"]
        kept = [line["seq"] for line in told if line["word"] == "kept"]
        assert kept == list(range(len(self._book) + 1, len(self._book) + len(kept) + 1)), "told out of order"
        on_disk = [_as_told(event.to_dict()) for event in reading.events] if reading else []
        written = [*self._book, *sent]
        found = self.found
        due = len(self._book) + len(kept)
        wrong = {place for place, event in enumerate(on_disk) if written[place : place + 1] != [event]}
        found.invented += len(wrong)
        found.lost += sum(place in wrong or place >= len(on_disk) for place in range(due))
        found.kept += len(kept)
        found.unkept += max(0, len(on_disk) - due)
        found.refused += sum(line["word"] == "refused" for line in told)
        found.lost += sum(line["lost"] for line in told if line["word"] == "closed")
        if reading:
            found.torn += reading.torn
            found.damaged += len(reading.damage) + len(reading.aside)
            header = reading.header
            found.damaged += header is None or (header.session_text, header.roster) != (SESSION, ROSTER)
        self._book = written[: len(on_disk)]


def _read_told(path: Path) -> list[Told]:
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def _as_told(values: Told) -> Told:
    told: Told = json.loads(json.dumps(values))
    return told


class WithoutScreen:
    """Lives in forked processes: everything is imported once. Death comes at any instant of a life, evenly.

    Every fourth life is over after a few taps, so that many deaths meet a class that begins or ends. Start it in the folder of
    the checkout, as all tests.
    """

    def __init__(self) -> None:
        self._fork = multiprocessing.get_context("forkserver")
        self._fork.set_forkserver_preload(["tests.journal.tapped_class"])
        self._longest_s: dict[int, float] = {}

    def learn(self, folder: Path) -> None:
        """Learns from whole lives how long one is."""
        for number, steps in enumerate((SHORT, LONG) * 3):
            home = folder / f"whole-{number}"
            (home / "classes").mkdir(parents=True)
            process = self._born(home, folder / f"whole-{number}.told", number, steps)
            begun_s = time.perf_counter()
            process.join(LONGEST_DEATH_S)
            assert process.exitcode == 0, "a class did not live to its end"
            if number > 1:
                # The first ones waited for the imports.
                self._longest_s[steps] = max(self._longest_s.get(steps, 0.0), time.perf_counter() - begun_s)

    def __call__(self, home: Path, told: Path, seed: int) -> bool:
        """One life, killed at a random instant unless it is over by then."""
        steps = LONG if seed % 4 else SHORT
        process = self._born(home, told, seed, steps)
        time.sleep(random.Random(f"death {seed}").random() * self._longest_s[steps])
        process.kill()
        process.join(LONGEST_DEATH_S)
        assert process.exitcode in (0, -signal.SIGKILL), f"a class ended with status {process.exitcode}"
        return process.exitcode != 0

    def _born(self, home: Path, told: Path, seed: int, steps: int) -> multiprocessing.process.BaseProcess:
        """A life that has just begun: nothing of the class is there yet."""
        process = self._fork.Process(target=live, args=(home, told, seed, steps))
        process.start()
        wait_for_birth(told)
        return process


def wait_for_birth(told: Path) -> None:
    """Comes back once a class has a file to tell into."""
    until_s = time.monotonic() + LONGEST_DEATH_S
    while not told.exists():
        assert time.monotonic() < until_s, "a class was never born"
        time.sleep(0.0002)
