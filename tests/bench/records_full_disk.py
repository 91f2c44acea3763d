"""The real floor on disks that fill up, are read-only, vanish or are pulled out, while taps flow.

The class must go on, the floor must say NOT SAVED, nothing that was called kept may be missing, and once the disk takes it the
rest is written and the journal reads whole. The disk is a small file system in memory: where mounting is not allowed, this says
so and ends with 3. `python -m tests.bench.records_full_disk [--seed 1]`: exits 1 when something is not as it must be.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from floorclock.journal.reading import read_journal
from tests.bench.common import Figure, Picture, Program, print_table
from tests.journal.small_disk import CannotMount, fill, make_read_only, seen_at, small_disk

DISK_KIBIBYTES: Final = 256
WIDTH, HEIGHT = 160, 45
BADGE: Final = "NOT SAVED"
PATIENCE_S: Final = 15.0
MOST_BADGE_MS: Final = 1_500.0
"""From the trouble to the badge: a tap must come first, and the floor paints it."""
MOST_SAVED_MS: Final = 2_500.0
"""From the end of the trouble to the last word about it: the disk is tried again every second."""
TAPS: Final = 60


class Floor:
    """A class on the real floor that is watched: what is on its screen, what it told, what is in its journal."""

    def __init__(self, home: Path, told: Path, seed: int) -> None:
        self.home, self.told = home, told
        arguments = ("-m", "tests.journal.tapped_class", str(home), str(told), str(seed))
        self.program = Program(arguments, width=WIDTH, height=HEIGHT, home=told.parent)
        self.picture = Picture(WIDTH, HEIGHT)

    def until(self, true: Callable[[], object], what: str) -> float:
        """Reads the terminal until something is true; the milliseconds that it took."""
        begun_s = time.monotonic()
        while not true():
            if time.monotonic() - begun_s > PATIENCE_S:
                raise SystemExit(
                    f"it never came about: {what}; told {[(w, len(self.lines(w))) for w in ('sent', 'kept', 'refused')]}"
                )
            self.picture.feed(self.program.read(0.005))
        return 1_000 * (time.monotonic() - begun_s)

    def until_badge(self, words: str) -> float:
        """Until the floor says what is wrong."""
        return self.until(lambda: self.picture.find(f"{BADGE}: {words}"), f"{BADGE}: {words}")

    def until_no_badge(self) -> float:
        """Until the floor says no more that anything is wrong."""
        return self.until(lambda: self.picture.find(BADGE) is None, "the end of the trouble")

    def lines(self, word: str) -> list[dict[str, Any]]:
        """What the class told so far, of one kind."""
        if not self.told.exists():
            return []
        told = [json.loads(line) for line in self.told.read_text(encoding="utf-8").splitlines()]
        return [line for line in told if line["word"] == word]

    def taps_flow(self, word: str, count: int = TAPS) -> None:
        """Until so many more events were told with a word."""
        before = len(self.lines(word))
        self.until(lambda: len(self.lines(word)) >= before + count, f"{count} more events that are {word}")

    def killed_and_lost(self, *words: str) -> int:
        """Kills the class; how many events up to the last one told with one of the words its journal lacks."""
        self.program.end()
        (journal,) = (self.home / "classes").glob("*.jsonl")
        reading = read_journal(journal)
        last = max(line["seq"] for word in words for line in self.lines(word))
        return len(set(range(1, last + 1)) - set(reading.seqs)) + len(reading.damage)

    def missing(self, *, of: str) -> int:
        """How many events that were told so are not in the journal of this first life; and how many are that nobody sent."""
        sent = [line["event"] for line in self.lines("sent")]
        journals = list((self.home / "classes").glob("*.jsonl"))
        reading = read_journal(journals[0]) if journals else None
        on_disk: list[Any] = [json.loads(json.dumps(event.to_dict())) for event in reading.events] if reading else []
        due = [sent[line["seq"] - 1] for line in self.lines(of)]
        invented: int = sum(now != then for now, then in zip(on_disk, sent, strict=False)) + max(0, len(on_disk) - len(sent))
        damage = len(reading.damage) + reading.torn if reading else 0
        missing = sum(event not in on_disk for event in due)
        return missing + invented + damage


@contextlib.contextmanager
def floor(home: Path, place: Path, seed: int) -> Iterator[Floor]:
    """A class with taps on a data folder, killed in the end."""
    place.mkdir(exist_ok=True)
    one = Floor(home, place / f"{home.name}-{seed}.told", seed)
    with one.program:
        yield one


def trouble(what: str, one: Floor, words: str, begin: Callable[[], object], end: Callable[[], object]) -> list[Figure]:
    """Trouble begins, taps go on in it, it ends; what was seen."""
    one.taps_flow("kept")
    begin()
    badge_ms = one.until_badge(words)
    one.taps_flow("refused")
    refused = len(one.lines("refused"))
    lost = one.missing(of="kept") if words != "the journal was taken away" else 0
    end()
    saved_ms = one.until_no_badge()
    one.taps_flow("kept")
    return [
        Figure(what=f"{what}: to the badge", value=badge_ms, unit="ms", most=MOST_BADGE_MS),
        Figure(what=f"{what}: events taken all the same", value=refused, unit=""),
        Figure(what=f"{what}: kept events missing meanwhile", value=lost, unit="", most=0),
        Figure(what=f"{what}: from its end to the end of the badge", value=saved_ms, unit="ms", most=MOST_SAVED_MS),
    ]


def whole(what: str, one: Floor) -> list[Figure]:
    """What a class that is killed once all is well again left: everything that was kept or refused."""
    one.program.end()
    missing = one.missing(of="kept") + one.missing(of="refused")
    return [Figure(what=f"{what}: events missing afterwards", value=missing, unit="", most=0)]


def full(disk: Path, place: Path, seed: int) -> list[Figure]:
    """A disk that fills up under a class; and a class that is killed on a full disk and opened again on it."""
    home = _home(disk / "full")
    with floor(home, place, seed) as one:
        found = trouble("disk full", one, "disk full", lambda: fill(disk), (disk / "filler").unlink)
        found += whole("disk full", one)
    with floor(home, place, seed + 1) as one:
        one.taps_flow("kept")
        fill(disk)
        one.until_badge("disk full")
        one.taps_flow("refused")
        lost = one.killed_and_lost("kept")
    with floor(home, place, seed + 2) as one:
        opened_ms = one.until(lambda: one.lines("reopened"), "the class, opened on a full disk")
        one.until_badge("disk full")
        one.taps_flow("refused")
        (disk / "filler").unlink()
        one.until_no_badge()
        one.taps_flow("kept")
        lost += one.killed_and_lost("kept", "refused")
    return [
        *found,
        Figure(what="killed on a full disk, and opened on it: events missing", value=lost, unit="", most=0),
        Figure(what="opened on a full disk, with the start of the program", value=opened_ms, unit="ms"),
    ]


def read_only(disk: Path, place: Path, seed: int) -> list[Figure]:
    """A class that is carried on, on a disk that has become read-only; and the disk takes it again."""
    home = _home(disk / "locked")
    with floor(home, place, seed) as one:
        one.taps_flow("kept")
        lost = one.killed_and_lost("kept")
    make_read_only(disk)
    with floor(home, place, seed + 1) as one:
        try:
            one.until_badge("the disk is read-only")
            one.taps_flow("refused")
        finally:
            make_read_only(disk, read_only=False)
        saved_ms = one.until_no_badge()
        one.taps_flow("kept")
        refused = len(one.lines("refused"))
        lost += one.killed_and_lost("kept", "refused")
    return [
        Figure(what="read-only disk: events taken all the same", value=refused, unit=""),
        Figure(what="read-only disk: from its end to the end of the badge", value=saved_ms, unit="ms", most=MOST_SAVED_MS),
        Figure(what="read-only disk: events missing afterwards", value=lost, unit="", most=0),
    ]


def vanished(disk: Path, place: Path, seed: int) -> list[Figure]:
    """Somebody deletes the data folder; and a disk is pulled out and put back."""
    home = _home(disk / "gone")
    with floor(home, place, seed) as one:
        found = trouble("folder gone", one, "the journal was taken away", lambda: shutil.rmtree(home), home.mkdir)
        found += whole("folder gone", one)
    _home(disk / "stick")
    home = place / "stick"
    home.mkdir(parents=True)
    with contextlib.ExitStack() as stick:
        stick.enter_context(seen_at(disk / "stick", home))
        with floor(home, place, seed + 1) as one:
            again = contextlib.ExitStack()
            found += trouble(
                "disk pulled out",
                one,
                "the journal was taken away",
                stick.close,
                lambda: again.enter_context(seen_at(disk / "stick", home)),
            )
            found += whole("disk pulled out", one)
            again.close()
    stray = len(list(home.rglob("*")))
    return [*found, Figure(what="disk pulled out: files put in its empty place", value=stray, unit="", most=0)]


def _home(folder: Path) -> Path:
    (folder / "classes").mkdir(parents=True)
    return folder


def main() -> None:
    """Prints the table; says by the exit status whether all is as it must be."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    seed = parser.parse_args().seed
    found: list[Figure] = []
    try:
        with tempfile.TemporaryDirectory() as name:
            for number, scene in enumerate((full, read_only, vanished)):
                place = Path(name) / scene.__name__
                with small_disk(place / "disk", DISK_KIBIBYTES) as disk:
                    found += scene(disk, place / "told", seed + 10 * number)
    except CannotMount as error:
        print(error)
        sys.exit(3)
    print_table(found)
    sys.exit(1 if any(figure.verdict == "NOT MET" for figure in found) else 0)


if __name__ == "__main__":
    main()
