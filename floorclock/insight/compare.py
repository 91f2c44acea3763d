"""Two classes beside each other: whose pace changed, by how much, and whether that is more than noise.

Invariant: only rounds that were tapped in both classes are compared, each with the same round of the same move; a difference
whose interval holds 0 is called neither way.

The test, for one athlete: the differences of the logarithms of seconds per unit of work, round for round (another amount as
`pace.kinds` has it, with its set-up); their mean, with the scatter pooled from within the moves, and Student's t interval (90 %).
What every round loses to the one before it falls out that way. It tells two classes apart and no more: a good or a bad day is in
the difference too. Rounds that were not finished have no split; they are counted beside it. For the class as a whole, the means
of the athletes are the values of a paired t test, so that days which are better for one and worse for another count as noise.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from floorclock.errors import NotFound, WrongUsage
from floorclock.insight.intervals import BY_CHANCE, Interval, mean_interval, strata_interval
from floorclock.insight.matching import Move, Taken, match_rounds
from floorclock.insight.moves import Way, percent, way_of
from floorclock.insight.whose import names_that_count
from floorclock.plan.work import Unit
from floorclock.store import ask
from floorclock.store.answers import ClassFacts, ClassLine
from floorclock.store.codes import NOT_FINISHED
from floorclock.store.engine import Store
from floorclock.store.rows import ResultRow

LEAST_ROUNDS = 3
"""Fewer rounds in common, over all moves, tell nothing of an athlete."""
LEAST_ATHLETES = 3
TAP_NOISE_S = 0.5
"""A split is known no better than this, as a standard deviation: a busy hand taps it (common practice, no source)."""
MOST_LISTED = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveChange:
    """One athlete at one move in both classes, over the rounds tapped in both.

    `before_s` and `after_s` are seconds per unit of work (geometric means of the rounds), the earlier as the later target would
    have taken; `change` is the difference of their logarithms, None from too few rounds. `amount_before` and `amount_after` are
    the targets of the last of these rounds.
    """

    move: str
    unit: Unit
    rounds: int
    amount_before: Fraction
    amount_after: Fraction
    before_s: float
    after_s: float
    change: Interval | None

    @property
    def percent(self) -> float:
        """The change of the pace; below 0 is faster."""
        return 100 * (self.after_s / self.before_s - 1)

    @property
    def at_target_s(self) -> float:
        """The change of the split at the later target, in seconds."""
        return (self.after_s - self.before_s) * float(self.amount_after)

    @property
    def way(self) -> Way:
        """What became of the pace, by this move alone."""
        return _way(self.change)


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteChange:
    """One athlete in both classes; `change` is over all moves they have in common.

    `not_finished` is how many rounds they did not finish in the older class and in the newer one.
    """

    name: str
    moves: tuple[MoveChange, ...]
    change: Interval | None
    not_finished: tuple[int, int] = (0, 0)

    @property
    def way(self) -> Way:
        """What became of their pace."""
        return _way(self.change)

    @property
    def percent(self) -> Interval | None:
        """The change in per cent, with its span; below 0 is faster."""
        return None if self.change is None else self.change.mapped(percent)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultChange:
    """What one athlete reached in a part in both classes. `time_s` is the change where they finished both times."""

    name: str
    title: str
    before: ResultRow
    after: ResultRow

    @property
    def time_s(self) -> float | None:
        """Seconds more (below 0: fewer) than before; None where a finish is missing or they did another choice."""
        if self.before.time_ms is None or self.after.time_ms is None or not self.same_work:
            return None
        return (self.after.time_ms - self.before.time_ms) / 1000

    @property
    def same_work(self) -> bool:
        """True when they chose the same work both times."""
        return self.before.choice == self.after.choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two classes, the older one first; everything by name.

    `whole` is the change of the class as a whole and `by_move` that of each move over the athletes, both as differences of
    logarithms by the paired t test; None, or left out, where fewer than three athletes can be compared.
    """

    before: ClassLine
    after: ClassLine
    athletes: tuple[AthleteChange, ...]
    whole: Interval | None
    by_move: Mapping[Move, Interval]
    results: tuple[ResultChange, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]

    @property
    def same_session(self) -> bool:
        """False for two sessions of different names: then only their moves in common are compared."""
        return self.before.session == self.after.session

    @property
    def tested(self) -> int:
        """How many athletes can be compared."""
        return sum(one.way is not Way.TOO_LITTLE for one in self.athletes)

    @property
    def by_chance(self) -> float:
        """How many of these would be called faster or slower if nothing had changed for anybody."""
        return BY_CHANCE * self.tested

    def with_way(self, way: Way) -> tuple[AthleteChange, ...]:
        """Whose pace changed so; the largest change first."""
        found = [one for one in self.athletes if one.way is way]
        return tuple(sorted(found, key=lambda one: (-abs(one.change.middle if one.change else 0.0), one.name)))


def compare(store: Store, one: str, other: str) -> Comparison:
    """Two classes, each named by its id or the start of it; what came of it is told from the older one to the newer.

    Raises:
        NotFound: there is no such class, or several ids begin so.
        WrongUsage: both are the same class.
        ResourceError: the store refuses.
    """
    ids = class_named(store, one), class_named(store, other)
    if ids[0] == ids[1]:
        raise WrongUsage(f"{one} and {other} are the same class ({ids[0]}): name two classes")
    facts = sorted((_facts(store, id_) for id_ in ids), key=lambda found: (found.line.started, found.line.id))
    splits = [ask.splits_of(store, found.line.id) for found in facts]
    written = {row.name for rows in splits for row in rows} | {name for found in facts for name in _names(found)}
    called = names_that_count(store, written)
    same = facts[0].line.session == facts[1].line.session
    matched = match_rounds(splits[0], splits[1], called, same_session=same)
    unfinished = [Counter(called[row.name] for row in rows if row.status == NOT_FINISHED) for rows in splits]
    both = {called[row.name] for row in facts[0].attendance} & {called[row.name] for row in facts[1].attendance}
    athletes = tuple(
        _athlete(name, matched.get(name, {}), (unfinished[0][name], unfinished[1][name]))
        for name in sorted(both | matched.keys())
    )
    return _compared(facts[0], facts[1], athletes, called)


def class_named(store: Store, start: str) -> str:
    """The id of the class that an id, or the start of one, stands for.

    Raises:
        NotFound: there is no such class, or several begin so.
    """
    found = ask.class_ids(store, start)
    if start in found:
        return start
    if len(found) == 1:
        return found[0]
    if not found:
        raise NotFound(f"no class {start} is in the records; floorclock classes lists them")
    more = f" and {len(found) - MOST_LISTED} more" if len(found) > MOST_LISTED else ""
    raise NotFound(f"{len(found)} classes begin with {start}: {', '.join(found[:MOST_LISTED])}{more}")


def _facts(store: Store, class_id: str) -> ClassFacts:
    found = ask.class_facts(store, class_id)
    if found is None:
        raise NotFound(f"class {class_id} is in the records no more")
    return found


def _names(found: ClassFacts) -> list[str]:
    return [row.name for row in found.attendance] + [row.name for row in found.results]


def _compared(
    before: ClassFacts, after: ClassFacts, athletes: tuple[AthleteChange, ...], called: Mapping[str, str]
) -> Comparison:
    there = [{called[row.name] for row in found.attendance} for found in (before, after)]
    told = [one.change.middle for one in athletes if one.change is not None]
    by_move: dict[Move, list[float]] = {}
    for one in athletes:
        for here in one.moves:
            by_move.setdefault((here.move, here.unit), []).append(math.log(here.after_s / here.before_s))
    return Comparison(
        before=before.line,
        after=after.line,
        athletes=athletes,
        whole=mean_interval(told) if len(told) >= LEAST_ATHLETES else None,
        by_move={
            move: interval
            for move, changes in by_move.items()
            if len(changes) >= LEAST_ATHLETES and (interval := mean_interval(changes)) is not None
        },
        results=tuple(_results(before.results, after.results, called)),
        only_before=tuple(sorted(there[0] - there[1])),
        only_after=tuple(sorted(there[1] - there[0])),
    )


def _athlete(name: str, moves: Mapping[Move, Sequence[Taken]], not_finished: tuple[int, int]) -> AthleteChange:
    rounds = [one for taken in moves.values() for one in taken]
    change = None
    if len(rounds) >= LEAST_ROUNDS:
        change = strata_interval(
            [[one.change for one in taken] for taken in moves.values()], least_variance=_tap_variance(rounds)
        )
    return AthleteChange(
        name=name,
        moves=tuple(_move(move, unit, taken) for (move, unit), taken in moves.items()),
        change=change,
        not_finished=not_finished,
    )


def _move(move: str, unit: Unit, taken: Sequence[Taken]) -> MoveChange:
    changes = [one.change for one in taken]
    before = math.fsum(math.log(one.before_s) for one in taken) / len(taken)
    return MoveChange(
        move=move,
        unit=unit,
        rounds=len(taken),
        amount_before=taken[-1].amount_before,
        amount_after=taken[-1].amount_after,
        before_s=math.exp(before),
        after_s=math.exp(before + math.fsum(changes) / len(changes)),
        change=strata_interval([changes], least_variance=_tap_variance(taken)) if len(taken) >= LEAST_ROUNDS else None,
    )


def _tap_variance(taken: Sequence[Taken]) -> float:
    """What two taps of a busy hand do to a difference of logarithms."""
    squares = ((TAP_NOISE_S / one.split_before_s) ** 2 + (TAP_NOISE_S / one.split_after_s) ** 2 for one in taken)
    return math.fsum(squares) / len(taken)


def _way(change: Interval | None) -> Way:
    return Way.TOO_LITTLE if change is None else way_of(change.middle, is_told=change.is_told)


def _results(before: Sequence[ResultRow], after: Sequence[ResultRow], called: Mapping[str, str]) -> list[ResultChange]:
    """Parts of the same title and kind, in the order of the later class."""
    earlier = {(called[row.name], row.title, row.kind): row for row in before}
    found = []
    for row in sorted(after, key=lambda one: (one.part, called[one.name])):
        was = earlier.get((called[row.name], row.title, row.kind))
        if was is not None:
            found.append(ResultChange(name=called[row.name], title=row.title, before=was, after=row))
    return found
