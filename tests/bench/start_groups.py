"""Start groups of 40 athletes at 8 stations with 10 kinds of kit, and 500 small classes against every way there is.

The baseline of the time is the plain count of the same class, one for each group that each athlete could be in.
"""

from __future__ import annotations

import statistics
import time
from collections import Counter
from collections.abc import Iterator
from random import Random

from floorclock.plan.kit_needs import KitCount, needs_of
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Rotation, Session
from floorclock.plan.start_groups import place
from floorclock.plan.work import Option, Station
from tests.bench.common import Figure
from tests.plan.small_classes import brute_force, figures_of, small_class

KINDS, STATIONS, ATHLETES = 10, 8, 40
MOST_MS, LONGEST_MS = 100, 2600


def large_class(seed: int) -> tuple[Session, Roster]:
    """A third of the athletes take another option somewhere; there is a piece or two more of each kind than the average needs."""
    random = Random(seed)
    kit = [[((f"k{random.randrange(KINDS)}", 1),) for _ in range(STATIONS)] for _ in range(2)]
    pairs = zip(*kit, strict=True)
    work = [
        Station(move=f"m{at}", kit=own + kit[0][at - 1][: at % 2], options=(Option("o", "o", None, other),))
        for at, (own, other) in enumerate(pairs)
    ]
    athletes = []
    for number in range(ATHLETES):
        options = {f"m{random.randrange(STATIONS)}": "o" for _ in range(random.randint(1, 2) if random.random() < 1 / 3 else 0)}
        athletes.append(
            Athlete(name=str(number), level=random.choice(("strong", "regular", "new")), options=options, group=number % 8 + 1)
        )
    part = Rotation(title="r", every_ms=60_000, rounds=2, work=tuple(work))
    session, everybody = (
        Session(title="s", parts=(part,)),
        Roster(title="r", athletes=tuple(athletes), grouped=frozenset("0123456789")),
    )
    whole: Counter[str] = Counter()
    for team, uses in KitCount(session, athletes).workers:
        for use, many in uses.items():
            whole[use.kit] += many * len(team)
    return Session(
        title="s", parts=(part,), kit={kind: -(-many // STATIONS) + random.randint(1, 2) for kind, many in whole.items()}
    ), everybody


def figures(quick: bool = False) -> Iterator[Figure]:
    """The time for the large ones, and how many small ones are not as good as the best."""
    took_ms, counts_ms = [], []
    for seed in range(3 if quick else 30):
        session, roster = large_class(seed)
        began_s = time.perf_counter()
        place(session, roster)
        took_ms.append((time.perf_counter() - began_s) * 1000)
        began_s = time.perf_counter()
        for _ in range(STATIONS):
            needs_of(session, KitCount(session, roster.athletes).in_groups({one.name: one.group for one in roster.athletes}))
        counts_ms.append((time.perf_counter() - began_s) * 1000)
    median, baseline = statistics.median(took_ms), statistics.median(counts_ms)
    yield Figure(what="start groups, 40 x 8 x 10, median", value=median, unit="ms", baseline=baseline, most=MOST_MS)
    yield Figure(what="start groups, 40 x 8 x 10, longest", value=max(took_ms), unit="ms", most=LONGEST_MS)
    small = [small_class(seed) for seed in range(20 if quick else 500)]
    worse = sum(brute_force(one) != figures_of(one, place(one.session, one.roster)) for one in small)
    yield Figure(what=f"small classes not as good as the best, of {len(small)}", value=worse, unit="", most=0)
