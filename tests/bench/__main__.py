"""Runs the benchmarks and prints a line for every figure: what, value, baseline, ratio, target, and whether it is met.

    python -m tests.bench [--quick] [NAME ...]

A module of this folder with `figures` is a benchmark: it yields the lines of the table. `--quick` shows that it runs; its figures
say little.
Nothing here fails: a busy machine is no defect, so the status is 0.
"""

from __future__ import annotations

import argparse
import importlib
import inspect
import pkgutil

from tests import bench
from tests.bench.common import HEADING, NotHere


def benchmarks() -> list[str]:
    """The names of all benchmarks, in order."""
    names = sorted(module.name for module in pkgutil.iter_modules(bench.__path__) if not module.name.startswith("_"))
    return [name for name in names if hasattr(importlib.import_module(f"tests.bench.{name}"), "figures")]


def run(name: str, quick: bool) -> str:
    """Runs one benchmark; what is not met, in words."""
    make = importlib.import_module(f"tests.bench.{name}").figures
    given = {"quick": quick} if "quick" in inspect.signature(make).parameters else {}
    missed = []
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
    known = benchmarks()
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of: {', '.join(known)}")
    parser.add_argument("--quick", action="store_true", help="a short run of each, to see that it works")
    asked = parser.parse_args()
    if unknown := [name for name in asked.names if name not in known]:
        parser.error(f"no benchmark {', '.join(unknown)}; there are {', '.join(known)}")
    print(HEADING.rstrip())
    missed = {name: words for name in asked.names or known if (words := run(name, asked.quick))}
    for name, words in missed.items():
        print(f"not met in {name}: {words}")
    if not missed:
        print("every target is met")


if __name__ == "__main__":
    main()
