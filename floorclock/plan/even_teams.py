"""Pairs and teams that are even in level: everybody in one, the worst as near to the average as it can be, then all of them.

Invariant: equal people (one level, in nobody's wish) are one sort, and a team is how many of each sort are in it; teams have no
number, so that nothing is looked at twice. A team is one larger where somebody is one too many, never smaller.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations_with_replacement
from math import comb

from floorclock.plan.integer_programme import Budget, Programme, SolveStatus
from floorclock.plan.roster import Athlete, apart_pairs, clusters, in_board_order

STRENGTH = {"strong": 3, "regular": 2, "returning": 1, "new": 0}
"""By level: common practice, no source. Any other word counts as regular."""
REGULAR = 2
MOST_KINDS = 100_000
Kind = Mapping[int, int]
"""A team as how many of each sort are in it."""


def strength(athlete: Athlete) -> int:
    """How strong an athlete counts for a team."""
    return STRENGTH.get(athlete.level.casefold(), REGULAR)


def even_teams(athletes: Sequence[Athlete], size: int) -> list[tuple[str, ...]] | None:
    """Teams of `size` by name, in the order of the board; those of the roster that are whole stay.

    None where wishes forbid any, and where so many of them in so large teams leave too many to look through.
    """
    written: dict[int, list[str]] = defaultdict(list)
    for athlete in athletes:
        if athlete.team is not None:
            written[athlete.team].append(athlete.name)
    whole = [team for team in written.values() if len(team) >= size]
    placed = {name for team in whole for name in team}
    free = [athlete for athlete in athletes if athlete.name not in placed]
    made = _made(free, size) if free else []
    return None if made is None else in_board_order(athletes, [*whole, *made])


def _made(athletes: Sequence[Athlete], size: int) -> list[list[str]] | None:
    by_name = {athlete.name: athlete for athlete in athletes}
    sorts = _sorts(athletes)
    if comb(len(sorts) + size, size + 1) > MOST_KINDS:
        return None
    index = {name: number for number, names in enumerate(sorts) for name in names}
    powers = [strength(by_name[names[0]]) for names in sorts]
    kinds = list(_kinds(sorts, size, athletes, index))
    # Whole numbers: how far a team is from as many average people, times the number of all.
    total = sum(map(strength, athletes))
    off = [
        abs(sum(powers[sort] * many for sort, many in kind.items()) * len(athletes) - total * sum(kind.values()))
        for kind in kinds
    ]
    budget = Budget()
    tried = (_chosen(kinds, off, sorts, max(1, len(athletes) // size), most, budget) for most in sorted(set(off)))
    best = next((found for found in tried if found), None)
    if best is None:
        return None
    left = {number: list(names) for number, names in enumerate(sorts)}
    return [[left[sort].pop(0) for sort, many in kind.items() for _ in range(many)] for kind in best]


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
    teams = max(1, len(athletes) // size)
    sizes = sorted({len(athletes) // teams, -(-len(athletes) // teams)})
    apart = [(index[first], index[second]) for first, second in apart_pairs(athletes)]
    together = [{index[name] for name in unit} for unit in clusters(athletes) if len(unit) > 1]
    for many in sizes:
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
    if status in (SolveStatus.IMPOSSIBLE, SolveStatus.NOT_FOUND):
        return None
    return [kinds[number] for number, column in columns.items() for _ in range(programme.values[column])]
