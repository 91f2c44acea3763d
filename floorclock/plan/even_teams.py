"""Pairs and teams that are even in level: everybody in one, the worst as near to the average as it can be, then all of them.

Invariant: equal people (one level, in nobody's wish) are one sort, and a team is how many of each sort are in it; teams have no
number, so that nothing is looked at twice. A team is one larger where somebody is one too many, never smaller.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations_with_replacement

from floorclock.plan.integer_programme import Budget, Programme, Status
from floorclock.plan.roster import Athlete, apart_pairs, clusters

STRENGTH = {"strong": 3, "regular": 2, "returning": 1, "new": 0}
"""By level: common practice, no source. Any other word counts as regular."""
REGULAR = 2
LIMIT_S = 2.0
Kind = Mapping[int, int]
"""A team as how many of each sort are in it."""


def strength(athlete: Athlete) -> int:
    """How strong an athlete counts for a team."""
    return STRENGTH.get(athlete.level.casefold(), REGULAR)


def even_teams(athletes: Sequence[Athlete], size: int, limit_s: float = LIMIT_S) -> list[tuple[str, ...]] | None:
    """Teams of `size` by name, in the order of the board; those of the roster that are whole stay. None: wishes forbid any."""
    written: dict[int, list[str]] = defaultdict(list)
    for athlete in athletes:
        if athlete.team is not None:
            written[athlete.team].append(athlete.name)
    whole = [tuple(team) for team in written.values() if len(team) >= size]
    placed = {name for team in whole for name in team}
    free = [athlete for athlete in athletes if athlete.name not in placed]
    made = [] if not free else [tuple(athlete.name for athlete in free)] if len(free) < 2 * size else _made(free, size, limit_s)
    order = {athlete.name: place for place, athlete in enumerate(athletes)}
    return None if made is None else sorted([*whole, *made], key=lambda team: order[team[0]])


def _made(athletes: Sequence[Athlete], size: int, limit_s: float) -> list[tuple[str, ...]] | None:
    by_name = {athlete.name: athlete for athlete in athletes}
    sorts = _sorts(athletes)
    index = {name: number for number, names in enumerate(sorts) for name in names}
    powers = [strength(by_name[names[0]]) for names in sorts]
    kinds = list(_kinds(sorts, size, athletes, index))
    # Whole numbers: how far a team is from as many average people, times the number of all.
    total = sum(map(strength, athletes))
    off = [
        abs(sum(powers[sort] * many for sort, many in kind.items()) * len(athletes) - total * sum(kind.values()))
        for kind in kinds
    ]
    budget, best, levels = Budget(limit_s), None, sorted(set(off))
    low, high = 0, len(levels) - 1
    while low <= high:
        middle = (low + high) // 2
        found = _chosen(kinds, off, sorts, len(athletes) // size, levels[middle], budget)
        best, low, high = (found, low, middle - 1) if found else (best, middle + 1, high)
    left = {number: list(names) for number, names in enumerate(sorts)}
    order = {athlete.name: place for place, athlete in enumerate(athletes)}
    if best is None:
        return None
    return [
        tuple(sorted((left[sort].pop(0) for sort, many in kind.items() for _ in range(many)), key=order.__getitem__))
        for kind in best
    ]


def _sorts(athletes: Sequence[Athlete]) -> list[list[str]]:
    """The names of equal people; who is in a wish is a sort of their own."""
    wished = {name for pair in apart_pairs(athletes) for name in pair}
    wished |= {name for unit in clusters(athletes) if len(unit) > 1 for name in unit}
    found: dict[object, list[str]] = defaultdict(list)
    for athlete in athletes:
        found[athlete.name if athlete.name in wished else strength(athlete)].append(athlete.name)
    return list(found.values())


def _kinds(sorts: Sequence[Sequence[str]], size: int, athletes: Sequence[Athlete], index: Mapping[str, int]) -> Iterator[Kind]:
    """Every team there could be that breaks no wish."""
    over = len(athletes) % size
    larger = -(-over // (len(athletes) // size))
    apart = [(index[first], index[second]) for first, second in apart_pairs(athletes)]
    together = [{index[name] for name in unit} for unit in clusters(athletes) if len(unit) > 1]
    for many in range(size, size + larger + 1):
        for team in combinations_with_replacement(range(len(sorts)), many):
            kind = Counter(team)
            fits = all(count <= len(sorts[sort]) for sort, count in kind.items())
            if (
                fits
                and all(not (a in kind and b in kind) for a, b in apart)
                and all(unit <= kind.keys() or not unit & kind.keys() for unit in together)
            ):
                yield kind


def _chosen(
    kinds: Sequence[Kind], off: Sequence[int], sorts: Sequence[Sequence[str]], teams: int, most: int, budget: Budget
) -> list[Kind] | None:
    """The teams of which none is further off than `most`, and all together the least; None where there are none."""
    programme, members = Programme(), defaultdict[int, dict[int, int]](dict)
    columns: dict[int, int] = {}
    for number, kind in enumerate(kinds):
        if off[number] <= most:
            columns[number] = programme.column(0, min(len(sorts[sort]) // many for sort, many in kind.items()))
            for sort, many in kind.items():
                members[sort][columns[number]] = many
    if len(members) < len(sorts):
        return None
    for sort, terms in members.items():
        programme.row(terms, len(sorts[sort]), len(sorts[sort]))
    programme.row(dict.fromkeys(columns.values(), 1), teams, teams)
    status = programme.minimise({column: off[number] ** 2 for number, column in columns.items()}, budget)
    if status in (Status.IMPOSSIBLE, Status.NOT_FOUND):
        return None
    return [kinds[number] for number, column in columns.items() for _ in range(programme.values[column])]


def too_close(athletes: Iterable[Athlete], size: int) -> list[tuple[str, ...]]:
    """Those who want to be together and are too many for one team."""
    return [unit for unit in clusters(list(athletes)) if len(unit) > size]
