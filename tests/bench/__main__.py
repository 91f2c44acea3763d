"""Runs the benchmarks and prints a line for every figure: what, value, baseline, ratio, target, and whether it is met.

    python -m tests.bench [NAME ...]

A module of this folder is a benchmark when it has a `main`. One that has `figures` gives them to the table; any other one
runs by itself, and its own words stand above its line. Nothing here fails: a busy machine is no defect, so the status is 0.
"""

from __future__ import annotations

import argparse
import importlib
import pkgutil
import subprocess
import sys
import time

from tests import bench
from tests.bench.common import HEADING, Figure

PLAYED = {"floor_bare", "floor_played", "floor_preview"}
"""Modules with a `main` that measure nothing: what the benchmarks play, and pictures."""
VERDICTS = {0: "ok", 3: "not here"}
"""By the exit status of a benchmark that runs by itself; 3 says that the machine lacks something."""


def benchmarks() -> list[str]:
    """The names of all benchmarks, in order."""
    names = sorted(module.name for module in pkgutil.iter_modules(bench.__path__) if not module.name.startswith("_"))
    return [name for name in names if name not in PLAYED and hasattr(importlib.import_module(f"tests.bench.{name}"), "main")]


def run(name: str) -> str:
    """Runs one benchmark; what is not met, in words."""
    make = getattr(importlib.import_module(f"tests.bench.{name}"), "figures", None)
    if make is None:
        return run_by_itself(name)
    found: list[Figure] = make()
    for figure in found:
        print(figure.line(), flush=True)
    return ", ".join(figure.what.strip() for figure in found if figure.verdict == "NOT MET")


def run_by_itself(name: str) -> str:
    """Runs one that prints its own table."""
    began_s = time.monotonic()
    ran = subprocess.run([sys.executable, "-m", f"tests.bench.{name}"], capture_output=True, text=True, check=False)
    for line in (ran.stdout + ran.stderr).splitlines():
        print(f"    {line}")
    verdict = VERDICTS.get(ran.returncode, "NOT MET")
    print(
        f"{name + ', as above':<58} {time.monotonic() - began_s:>9.0f} {'s':<6} {'':>9} {'':>8}  {'':<10} {verdict}", flush=True
    )
    return name if verdict == "NOT MET" else ""


def main() -> None:
    """Runs all, or those that are named."""
    known = benchmarks()
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of: {', '.join(known)}")
    names = parser.parse_args().names or known
    unknown = [name for name in names if name not in known]
    if unknown:
        parser.error(f"no benchmark {', '.join(unknown)}; there are {', '.join(known)}")
    print(HEADING.rstrip())
    missed = {name: words for name in names if (words := run(name))}
    for name, words in missed.items():
        print(f"not met in {name}: {words}")
    if not missed:
        print("every target is met")


if __name__ == "__main__":
    main()
