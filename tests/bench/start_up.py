"""How long a coach waits for the floor, against a bare Textual app: `floorclock run`, and `floorclock resume` after a crash.

The programs start in turns, so that what a busy machine does to the one it does to the other.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.common import BARE, COMMAND, Figure, Program, medians
from tests.bench.floor_bare import TITLE as BARE_TITLE
from tests.commands import HARBOUR
from tests.plan.shipped import SESSIONS

MOST_TIMES = 3.0
MOST_RESUME_MS = 1_000.0
TAPS = 60


def first_content(arguments: tuple[str, ...], words: str, home: Path) -> tuple[float, float]:
    """Milliseconds until the words are on the screen, and the CPU time spent by then."""
    with Program(arguments, home=home) as program:
        at_s, _ = program.wait_for(words)
        return 1000 * (at_s - program.began_s), 1000 * program.cpu_s()


def killed_class(folder: Path) -> Path:
    """A data folder with a class that died with many taps."""
    home = folder / "killed"
    (home / "classes").mkdir(parents=True)
    told = folder / "killed.told"
    arguments = ("-m", "tests.journal.tapped_class", str(home), str(told), "1")
    with Program(arguments, home=home) as program:
        while not told.exists() or told.read_text(encoding="utf-8").count('"kept"') < TAPS:
            program.read(0.1)
    return home


def figures(quick: bool = False) -> Iterator[Figure]:
    """Waiting time, which counts, and CPU time, which is steadier. The first start of each compiles, and does not count."""
    run = ("-c", COMMAND, "run", HARBOUR, "-r", str(SESSIONS / "full-house.csv"))
    found = []
    with tempfile.TemporaryDirectory() as folder:
        home, killed = Path(folder), killed_class(Path(folder))
        for _ in range(1 + (2 if quick else 11)):
            bare, bare_cpu = first_content(BARE, BARE_TITLE, home)
            floor, floor_cpu = first_content(run, "Five trips round the harbour", home)
            resume, _ = first_content(("-c", COMMAND, "resume"), "The class was away", killed)
            found.append({"bare": bare, "bare CPU": bare_cpu, "floor": floor, "floor CPU": floor_cpu, "resume": resume})
    ms = medians(found[1:])
    yield Figure("first content of `floorclock run`", ms["floor"], "ms", baseline=ms["bare"], most_times=MOST_TIMES)
    yield Figure("CPU time until then", ms["floor CPU"], "ms", baseline=ms["bare CPU"])
    yield Figure("`floorclock resume`, to the question", ms["resume"], "ms", baseline=ms["bare"], most=MOST_RESUME_MS)
