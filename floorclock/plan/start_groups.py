"""Start groups: who begins where, so that nobody ever waits for kit.

Invariant: what comes out of here was counted again by `kit_needs`, in plain Python.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from floorclock.plan.group_model import Model, group_count, has_waves, sorts_of
from floorclock.plan.integer_programme import Budget, Ended, WrongAnswer
from floorclock.plan.kit_needs import Carried, KitCount, KitNeed, carried_in, needs_of
from floorclock.plan.roster import Athlete, Roster
from floorclock.plan.session import Session

MOST_WAVES = 12
LIMIT_S = 2.0

Groups = Mapping[str, int]
"""By name, the start group from 1."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Everybody's start group; nobody's where there are no groups in which nobody waits. `short` is kit that somebody waits for.

    `proven` is false where the time was up before it was clear that nothing is better.
    """

    groups: Groups
    count: int
    proven: bool = True
    short: tuple[KitNeed, ...] = ()
    carried: tuple[Carried, ...] = ()


def recount(session: Session, athletes: Sequence[Athlete], groups: Groups, count: int) -> Placed:
    """What start groups come to, in plain Python."""
    uses = KitCount(session, athletes).in_groups(groups)
    short = tuple(need for need in needs_of(session, uses) if need.short)
    return Placed(groups=groups, count=count, short=short, carried=carried_in(session, uses))


def place(session: Session, roster: Roster, teams: Sequence[Sequence[str]] = (), budget: Budget | None = None) -> Placed:
    """The best start groups in which nobody waits.

    Args:
        session: the plan, with its kit.
        roster: who comes, with their wishes and last week's groups.
        teams: who work as one, by name.
        budget: the time to look for something better; `LIMIT_S` without.

    Raises:
        WrongAnswer: the solver's answer does not hold.
    """
    budget, sorts, sure = budget or Budget(LIMIT_S), sorts_of(session, roster, teams), True
    for count in counts(session, roster):
        if budget.left_s <= 0:
            sure = False
            break
        model = Model(session, roster, sorts, count)
        status = model.solve(budget)
        if model.programme.values:
            placed = recount(session, roster.athletes, model.groups(), count)
            if placed.short:
                raise WrongAnswer("the solver's start groups leave somebody waiting; nothing was changed")
            return replace(placed, proven=sure and status is Ended.BEST)
        sure = sure and status is Ended.IMPOSSIBLE
    return Placed(groups={}, count=0, proven=sure)


def counts(session: Session, roster: Roster) -> range:
    """How many groups there could be: as many as stations, or as few waves as will do."""
    stations = group_count(session)
    return (
        range(1, min(MOST_WAVES, len(roster.athletes)) + 1)
        if stations == 1 and has_waves(session)
        else range(stations, stations + 1)
    )
