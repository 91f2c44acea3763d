"""Pairs and teams even in level: as good as the best of all ways, wishes kept, who is one too many in a larger team."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from random import Random

import pytest

from floorclock.plan.even_teams import STRENGTH, even_teams, strength
from floorclock.plan.roster import Athlete


def everybody(seed: int) -> tuple[list[Athlete], int]:
    random = Random(seed)
    count, size = random.choice([(8, 2), (9, 2), (9, 3), (8, 4), (10, 3)])
    levels = [random.choice([*STRENGTH, "master"]) for _ in range(count)]
    athletes = [Athlete(name=f"P{at}", level=level) for at, level in enumerate(levels)]
    athletes[0] = replace(athletes[0], together=frozenset({"p1"} if random.random() < 0.5 else ()))
    athletes[2] = replace(athletes[2], apart=frozenset({"P3"} if random.random() < 0.5 else ()))
    return athletes, size


def all_teams(names: Sequence[str], sizes: Sequence[int]) -> Iterator[list[tuple[str, ...]]]:
    if not sizes:
        yield []
        return
    for size in set(sizes):
        left = list(sizes)
        left.remove(size)
        for others in combinations(names[1:], size - 1):
            rest = [name for name in names[1:] if name not in others]
            yield from ([(names[0], *others), *more] for more in all_teams(rest, left))


def figures(athletes: Sequence[Athlete], teams: Sequence[Sequence[str]]) -> tuple[int, int]:
    """The worst team and the sum of squares: how far each is from as many average people, times the number of all."""
    power = {athlete.name: strength(athlete) for athlete in athletes}
    off = [abs(sum(power[name] for name in team) * len(power) - sum(power.values()) * len(team)) for team in teams]
    return max(off), sum(one * one for one in off)


def keeps_wishes(athletes: Sequence[Athlete], teams: Sequence[Sequence[str]]) -> bool:
    at = {name: number for number, team in enumerate(teams) for name in team}
    together = not athletes[0].together or at["P0"] == at["P1"]
    return together and (not athletes[2].apart or at["P2"] != at["P3"])


@pytest.mark.parametrize("seed", range(20))
def test_teams_are_as_even_as_the_best_of_all(seed: int) -> None:
    athletes, size = everybody(seed)
    teams = even_teams(athletes, size)
    many, over = divmod(len(athletes), size)
    assert teams is not None
    assert sorted(map(len, teams)) == [size] * (many - over) + [size + 1] * over
    every = all_teams([athlete.name for athlete in athletes], [size + (at < over) for at in range(many)])
    assert figures(athletes, teams) == min(figures(athletes, one) for one in every if keeps_wishes(athletes, one))
    assert keeps_wishes(athletes, teams)


def test_the_strongest_goes_with_the_newest() -> None:
    levels = ["strong", "strong", "regular", "regular", "regular", "regular", "returning", "new", "new"]
    athletes = [Athlete(name=name, level=level) for name, level in zip("ABCDEFGHI", levels, strict=True)]
    teams = even_teams(athletes[:6] + athletes[7:], 2)
    assert teams == [("A", "H"), ("B", "I"), ("C", "D"), ("E", "F")]


def test_a_team_of_the_roster_stays_where_it_is_whole() -> None:
    athletes = [Athlete(name="A", team=1), Athlete(name="B", team=2), Athlete(name="C", team=1), Athlete(name="D")]
    assert even_teams(athletes, 2) == [("A", "C"), ("B", "D")]
    assert even_teams([Athlete(name="A")], 2) == [("A",)]
    assert even_teams([], 2) == []


def test_wishes_that_forbid_every_team_are_no_teams() -> None:
    three = [Athlete(name="A", together=frozenset("BC")), *(Athlete(name=name) for name in "BCD")]
    assert even_teams(three, 2) is None
    alone = [Athlete(name="A", apart=frozenset("BCD")), *(Athlete(name=name) for name in "BCD")]
    assert even_teams(alone, 2) is None
    many = [Athlete(name=str(at), apart=frozenset({str(at + 1)})) for at in range(40)]
    assert even_teams(many, 10) is None, "too many teams to look through"
