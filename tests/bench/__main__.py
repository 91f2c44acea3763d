"""Runs the benchmarks and prints a line for every figure: what, value, baseline, ratio, target, and whether it is met.

    python -m tests.bench [--quick] [--tuning] [NAME ...]

A module of this folder with `figures` is a benchmark: it yields the lines of the table. `--quick` shows that it runs; its figures
say little. `--tuning` judges forecasts by the half of the worlds that constants are chosen by.
Nothing here fails: a busy machine is no defect, so the status is 0.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import inspect
import pkgutil

from tests import bench
from tests.bench.bodies import OLD, REPORTED, TUNING
from tests.bench.common import HEADING, NotHere


def run(name: str, wishes: dict[str, object]) -> str:
    """Runs one benchmark, with those of the wishes that it knows; what is not met, in words."""
    make = importlib.import_module(f"tests.bench.{name}").figures
    given = {wish: value for wish, value in wishes.items() if wish in inspect.signature(make).parameters}
    missed = []
    # As in a process that has just begun: what stands by now is not gone through for garbage while something is timed.
    gc.freeze()
    try:
        for figure in make(**given):
            print(figure.line(), flush=True)
            if figure.verdict == "NOT MET":
                missed.append(figure.what.strip())
    except NotHere as error:
        print(f"{name}: not here ({error})")
    return ", ".join(missed)


def main() -> None:
    """Runs all, or those that are named."""
    names = sorted(module.name for module in pkgutil.iter_modules(bench.__path__) if not module.name.startswith("_"))
    known = [name for name in names if hasattr(importlib.import_module(f"tests.bench.{name}"), "figures")]
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of: {', '.join(known)}")
    parser.add_argument("--quick", action="store_true", help="a short run of each, to see that it works")
    parser.add_argument("--tuning", action="store_true", help="forecasts in the worlds that constants are chosen by")
    asked = parser.parse_args()
    if unknown := [name for name in asked.names if name not in known]:
        parser.error(f"no benchmark {', '.join(unknown)}; there are {', '.join(known)}")
    print(HEADING.rstrip())
    some = slice(2 if asked.quick else None)
    wishes = {"quick": asked.quick, "worlds": (TUNING if asked.tuning else REPORTED)[some], "old": OLD[some]}
    missed = {name: words for name in asked.names or known if (words := run(name, wishes))}
    for name, words in missed.items():
        print(f"not met in {name}: {words}")
    if not missed:
        print("every target is met")


if __name__ == "__main__":
    main()
