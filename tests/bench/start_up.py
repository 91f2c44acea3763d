"""How long a coach waits for the floor: from the start of `floorclock run` to its first content, against a bare Textual app.

The two start in turns. `python -m tests.bench.start_up [--runs 11]`
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from floorclock.live import shipped
from tests.bench.common import BARE, Figure, Program, medians, print_table
from tests.bench.floor_bare import TITLE as BARE_TITLE

MOST_TIMES = 2.0
SESSION_TITLE = "Five trips round the harbour"


def first_content(arguments: tuple[str, ...], words: str, home: Path) -> tuple[float, float]:
    """Milliseconds until the words are on the screen, and the CPU time spent by then."""
    with Program(arguments, home=home) as program:
        at_s, _ = program.wait_for(words)
        return 1000 * (at_s - program.began_s), 1000 * program.cpu_s()


def figures(runs: int = 11) -> list[Figure]:
    """Waiting time, which counts, and CPU time, which is steadier. The first start of each compiles, and does not count."""
    sessions = shipped.folder("sessions")
    command = "import sys; from floorclock.cli.app import main; sys.argv[0] = 'floorclock'; main()"
    floor = ("-c", command, "run", str(sessions / "harbour.yaml"), "-r", str(sessions / "full-house.csv"))
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(1 + runs):
            bare_ms, bare_cpu_ms = first_content(BARE, BARE_TITLE, Path(folder))
            floor_ms, floor_cpu_ms = first_content(floor, SESSION_TITLE, Path(folder))
            found.append({"bare": bare_ms, "bare CPU": bare_cpu_ms, "floor": floor_ms, "floor CPU": floor_cpu_ms})
    middle = medians(found[1:])
    return [
        Figure(
            what="first content of `floorclock run`",
            value=middle["floor"],
            unit="ms",
            baseline=middle["bare"],
            most_times=MOST_TIMES,
        ),
        Figure(what="CPU time until then", value=middle["floor CPU"], unit="ms", baseline=middle["bare CPU"]),
    ]


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=11)
    print_table(figures(parser.parse_args().runs))


if __name__ == "__main__":
    main()
