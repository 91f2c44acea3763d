"""Start groups of 40 athletes at 8 stations with 10 kinds of kit, and 500 small classes against every way there is.

Times are of the processor. Their baseline is a plain count of the same class for each of its eight groups.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import partial
from random import Random
from statistics import median

from floorclock.plan.integer_programme import LIMIT_S
from floorclock.plan.kit_needs import KitCount, kit_needs
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Rotation, Session
from floorclock.plan.start_groups import place
from floorclock.plan.work import Option, Station
from tests.bench.common import Figure, took_ms
from tests.plan.small_classes import brute_force, figures_of, small_class

KINDS, STATIONS, ATHLETES = 10, 8, 40
MOST_MS = 100


def large_class(seed: int) -> tuple[Session, Roster]:
    """A third take another option somewhere; there is a piece or two more of each kind than the average needs."""
    random, work, athletes = Random(seed), [], []
    for at in range(STATIONS):
        kit = tuple((f"k{kind}", 1) for kind in random.sample(range(KINDS), random.randint(1, 2)))
        other = ((f"k{random.randrange(KINDS)}", 1),)
        work.append(Station(move=f"m{at}", kit=kit, options=(Option("o", f"o{at}", None, other),)))
    for number in range(ATHLETES):
        options = {f"m{random.randrange(STATIONS)}": "o" for _ in range(random.choice((0, 0, 0, 0, 1, 2)))}
        level = random.choice(("strong", "regular", "new"))
        athletes.append(Athlete(name=str(number), level=level, options=options, group=number % STATIONS + 1))
    session = Session(title="s", parts=(Rotation(title="r", every_ms=60_000, rounds=2, work=tuple(work)),))
    each = Counter(use.kit for _, uses in KitCount(session, athletes).workers for use in uses)
    there = {kind: -(-many // STATIONS) + random.randint(1, 2) for kind, many in each.items()}
    roster = Roster(title="r", athletes=tuple(athletes), grouped=frozenset(one.name for one in athletes))
    return Session(title="s", parts=session.parts, kit=there), roster


def figures(quick: bool = False) -> Iterator[Figure]:
    """The time for the large ones, and how many small ones are not as good as the best."""
    large = [large_class(seed) for seed in range(3 if quick else 30)]
    place_ms = [took_ms(partial(place, *one)) for one in large]
    count_ms = STATIONS * median(took_ms(partial(kit_needs, *one)) for one in large)
    yield Figure("start groups, 40 x 8 x 10, median", median(place_ms), "ms", baseline=count_ms, most=MOST_MS)
    yield Figure("start groups, 40 x 8 x 10, longest", max(place_ms), "ms", most=LIMIT_S * 1000)
    small = [small_class(seed) for seed in range(20 if quick else 500)]
    worse = sum(brute_force(one) != figures_of(one, place(one.session, one.roster)) for one in small)
    yield Figure(f"small classes not as good as the best, of {len(small)}", worse, "", most=0)
