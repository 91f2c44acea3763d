"""Attacks floorclock from outside until the time is up; exit status 1 if something broke.

python -m tests.hostile [ATTACK ...] [--seed N] [--minutes M] [--case K]
"""

from __future__ import annotations

import argparse
import secrets
import sys
import time

from tests.hostile.files import PURE
from tests.hostile.monkey import MONKEYS
from tests.hostile.runner import Attack, Tally, run
from tests.hostile.stores import STORES, servers

ATTACKS: dict[str, tuple[Attack, float]] = {
    **{name: (attack, 1.0) for name, attack in PURE.items()},
    **{name: (attack, 2.0) for name, attack in MONKEYS.items()},
    **{name: (attack, 1.0) for name, attack in STORES.items()},
}
"""Each attack with its share of the time."""
WORDS_SHOWN = 1_500
FAILURES_SHOWN = 5


def main() -> int:
    """Runs all attacks, or those that are named."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile", description=__doc__.splitlines()[0])
    parser.add_argument("attacks", nargs="*", metavar="ATTACK", help=", ".join(ATTACKS))
    parser.add_argument("--seed", type=int, default=secrets.randbelow(100_000))
    parser.add_argument("--minutes", type=float, default=9.0, help="for all of them together")
    parser.add_argument("--case", type=int, help="only this one")
    wishes = parser.parse_args()
    if unknown := set(wishes.attacks) - set(ATTACKS):
        parser.error(f"no attack is called {', '.join(unknown)}; there are {', '.join(ATTACKS)}")
    names = wishes.attacks or list(ATTACKS)
    shares, broken = sum(ATTACKS[name][1] for name in names), False
    with servers() as lacking:
        if lacking and "server" in names:
            print(f"server          not run: {lacking}")
            names = [name for name in names if name != "server"]
        for name in names:
            attack, share = ATTACKS[name]
            began = time.monotonic()
            most, first = (1_000_000, 0) if wishes.case is None else (1, wishes.case)
            tally = run(attack, name, wishes.seed, most=most, budget_s=60 * wishes.minutes * share / shares, first=first)
            print(
                f"{name:<15} seed {tally.seed}  {tally.runs:>6} runs  {len(tally.failures):>4} failures"
                f"  {time.monotonic() - began:>5.0f} s",
                flush=True,
            )
            _show(tally)
            broken = broken or bool(tally.failures)
    return int(broken)


def _show(tally: Tally) -> None:
    for case, words in list(tally.failures.items())[:FAILURES_SHOWN]:
        print(f"    {tally.again(case)}")
        print("    " + words[-WORDS_SHOWN:].replace("\n", "\n    "), flush=True)
    if len(tally.failures) > FAILURES_SHOWN:
        print(f"    and cases {', '.join(map(str, list(tally.failures)[FAILURES_SHOWN:]))}")


if __name__ == "__main__":
    sys.exit(main())
