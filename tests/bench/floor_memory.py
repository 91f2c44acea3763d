"""What a floor holds: memory after a class of an hour, played in a minute with athletes who tap, against its beginning.

`python -m tests.bench.floor_memory [--seconds 60]`
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from tests.bench.common import BARE, TITLE, Figure, Program, played, print_table, watch
from tests.bench.floor_bare import TITLE as BARE_TITLE

HOUR_S = 3600
SETTLED_S = 4.0
"""By then every module is loaded and every cache of fixed size is in use."""


def figures(seconds: float = 60) -> list[Figure]:
    """Memory at the end of the hour, and by how much it grew."""
    playing = played(24, 60, "--rate", str(HOUR_S / seconds), "--by-itself")
    with (
        tempfile.TemporaryDirectory() as folder,
        Program(BARE, home=Path(folder)) as bare,
        Program(playing, home=Path(folder)) as floor,
    ):
        bare.wait_for(BARE_TITLE)
        floor.wait_for(TITLE)
        began_s = time.monotonic()
        watch((bare, floor), began_s + SETTLED_S)
        before = {program: program.rss_mb() for program in (bare, floor)}
        watch((bare, floor), began_s + seconds)
        after = {program: program.rss_mb() for program in (bare, floor)}
    return [
        Figure(what="memory after an hour's class, 24 athletes", value=after[floor], unit="MB", baseline=after[bare]),
        Figure(what="memory gained in that hour", value=after[floor] - before[floor], unit="MB"),
        Figure(what="memory gained by the bare app meanwhile", value=after[bare] - before[bare], unit="MB"),
    ]


def main() -> None:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    print_table(figures(parser.parse_args().seconds))


if __name__ == "__main__":
    main()
