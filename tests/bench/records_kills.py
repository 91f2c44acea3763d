"""A thousand classes killed with SIGKILL at random instants while taps flow, and what their journals hold against what they told.

Most are floorclock's own class without a screen, in forked processes; some run on the real floor in a pseudo-terminal, and one is
then opened by `floorclock resume`. What is lost, invented or in another state must be nought (`tests/record/tapped_kills.py`).
`python -m tests.bench.records_kills [--kills 1000] [--floors 20] [--seed 1] [--folder F]`: `F` must be on a real disk.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tests.bench.common import BARE, Figure, Program, print_table, quantile
from tests.bench.floor_bare import TITLE as BARE_TITLE
from tests.journal.tapped_kills import Findings, Judge, WithoutScreen

KILLS, FLOORS, SEED = 1_000, 20, 1
MOST_MS: Final = 1_000.0
LONGEST_FLOOR_S: Final = 2.5
TIMED: Final = 7
RESUME: Final = ("-c", "from floorclock.cli.app import main; main()", "resume")
FAULTS: Final = ("lost", "invented", "damaged", "refused", "other_states")


@dataclass
class OnTheFloor:
    """Lives on the real floor: the terminal is read all the time; death comes from the first look for the class on."""

    longest_s: float = LONGEST_FLOOR_S

    def __call__(self, home: Path, told: Path, seed: int) -> bool:
        """One life; nothing on the floor ends by itself so soon."""
        arguments = ("-m", "tests.journal.tapped_class", str(home), str(told), str(seed))
        with Program(arguments, home=home) as program:
            while not told.exists():
                program.read(0.001)
            until_s = time.monotonic() + random.Random(f"death {seed}").random() * self.longest_s
            while time.monotonic() < until_s:
                program.read(until_s - time.monotonic())
        return True


def killed(judge: Judge, kills: int, seed: int) -> Findings:
    """So many deaths; a life that was over before its death is not one."""
    number = seed * 1_000_000
    while judge.found.kills < kills:
        judge.one_life(number)
        number += 1
    return judge.found


def resumed(folder: Path) -> list[Figure]:
    """From `floorclock resume` to its floor asking how to go on, for a class that died with many taps, again and again.

    A bare Textual app is started in turns with it: what a busy machine does to the one it does to the other.
    """
    home = folder / "resumed"
    (home / "classes").mkdir(parents=True)
    arguments = ("-m", "tests.journal.tapped_class", str(home), str(folder / "resumed.told"), "1")
    with Program(arguments, home=home) as program:
        until_s = program.began_s + 2 * LONGEST_FLOOR_S
        while time.monotonic() < until_s:
            program.read(0.1)
    took_ms: dict[str, list[float]] = {"The class was away": [], BARE_TITLE: []}
    for _ in range(TIMED + 1):
        for words, command in zip(took_ms, (RESUME, BARE), strict=True):
            with Program(command, home=home) as program:
                at_s, _seen = program.wait_for(words)
                took_ms[words].append(1_000 * (at_s - program.began_s))
    # The first ones compile.
    ours_ms, bare_ms = (times[1:] for times in took_ms.values())
    what = "floorclock resume, to the question"
    return [
        Figure(what=f"{what}, p50", value=quantile(ours_ms, 0.5), unit="ms", baseline=quantile(bare_ms, 0.5), most=MOST_MS),
        Figure(what=f"{what}, worst", value=max(ours_ms), unit="ms", baseline=max(bare_ms)),
    ]


def figures_of(what: str, found: Findings) -> list[Figure]:
    """The figures of some deaths."""
    noughts = [Figure(what=f"{what}: {name.replace('_', ' ')}", value=getattr(found, name), unit="", most=0) for name in FAULTS]
    counts = {"kills": found.kills, "events acknowledged": found.kept, "on the disk and not yet acknowledged": found.unkept}
    more = {"torn ends, cut off": found.torn, "states compared": found.states}
    told = [Figure(what=f"{what}: {name}", value=value, unit="") for name, value in {**counts, **more}.items()]
    places = [Figure(what=f"{what}: death {name}", value=count, unit="") for name, count in sorted(found.places.items())]
    opened = [
        Figure(what=f"{what}: opened again, {name}", value=quantile(found.reopened_ms, share), unit="ms", most=MOST_MS)
        for name, share in (("p50", 0.5), ("p99", 0.99), ("worst", 1.0))
        if found.reopened_ms
    ]
    return [*told, *places, *noughts, *opened]


def figures(kills: int = KILLS, floors: int = FLOORS, seed: int = SEED, folder: Path | None = None) -> list[Figure]:
    """Everything that dies here."""
    with tempfile.TemporaryDirectory(dir=folder) as name:
        place = Path(name)
        found: list[Figure] = []
        for what, ends, count in (("class", WithoutScreen(), kills), ("floor", OnTheFloor(), floors)):
            at = place / what
            at.mkdir()
            if isinstance(ends, WithoutScreen):
                ends.learn(at)
            if count:
                begun_s = time.monotonic()
                found += figures_of(what, killed(Judge(at, ends), count, seed))
                found.append(Figure(what=f"{what}: all of it took", value=time.monotonic() - begun_s, unit="s"))
            shutil.rmtree(at)
        if floors:
            found += resumed(place)
    return found


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=KILLS)
    parser.add_argument("--floors", type=int, default=FLOORS)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    print_table(figures(asked.kills, asked.floors, asked.seed, asked.folder))


if __name__ == "__main__":
    main()
