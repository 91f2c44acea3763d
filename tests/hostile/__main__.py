"""Attacks floorclock from outside until the time is up; exit status 1 if something broke.

python -m tests.hostile [ATTACK ...] [--seed N] [--minutes M] [--case K]
"""

from __future__ import annotations

import argparse
import secrets
import sys
from itertools import count

from tests.hostile.files import PURE
from tests.hostile.harness import run
from tests.hostile.monkey import MONKEYS
from tests.hostile.stores import STORES
from tests.store.postgres_server import missing

ATTACKS = {**PURE, **MONKEYS, **STORES}


def main() -> int:
    """Runs all attacks, or those that are named."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile", description=__doc__.splitlines()[0])
    parser.add_argument("attacks", nargs="*", metavar="ATTACK", choices=[[], *ATTACKS], help=", ".join(ATTACKS))
    parser.add_argument("--seed", type=int, default=secrets.randbelow(100_000))
    parser.add_argument("--minutes", type=float, default=9.0, help="for all of them together")
    parser.add_argument("--case", type=int, help="only this one")
    wishes = parser.parse_args()
    names, broken = list(wishes.attacks or ATTACKS), False
    if (lacking := missing()) and "server" in names:
        print(f"server not run: {lacking}")
        names.remove("server")
    # A terminal is slow: it gets twice the time of the others.
    shares = {name: 1 + (name in MONKEYS) for name in names}
    for name, share in shares.items():
        cases = count() if wishes.case is None else [wishes.case]
        found = run(ATTACKS[name], name, wishes.seed, cases, 60 * wishes.minutes * share / sum(shares.values()))
        failures = list(filter(None, found))
        words = f"{name:<15} seed {wishes.seed}  {len(found):>6} runs  {len(failures):>4} failures"
        print(words, *failures[:5], sep="\n    ", flush=True)
        broken = broken or bool(failures)
    return int(broken)


if __name__ == "__main__":
    sys.exit(main())
