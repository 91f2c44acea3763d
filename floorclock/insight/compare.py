"""Two classes beside each other: whose pace changed, by how much, and whether that is more than noise.

Invariant: only rounds that were tapped in both classes are compared, each with the same round of the same move by the
same person; a difference whose interval holds 0 is called neither way.

The test, for one athlete: the differences of the logarithms of seconds per unit of work, round for round (another amount as
`pace.kinds` has it, with its set-up); their mean, with the scatter pooled from within the moves, and Student's t interval (90 %).
What every round loses to the one before it falls out that way. It tells two classes apart and no more: a good or a bad day is in
the difference too. Rounds that were not finished have no split; they are counted beside it. For the class as a whole, the means
of the athletes are the values of a paired t test, so that days which are better for one and worse for another count as noise.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any, ClassVar, Final

from floorclock.clock.splits import Split, Status
from floorclock.errors import NotFound, WrongUsage
from floorclock.insight.as_json import ANSWER, Amount, Figure, Instant
from floorclock.insight.athlete import PaceVerdict, PartResult, part_result, percent, way_of
from floorclock.insight.statistics import BY_CHANCE, SHARE, Estimate, strata_interval
from floorclock.pace.model.work import log_ratio
from floorclock.plan.names import first_few
from floorclock.plan.work import Unit
from floorclock.store.questions import class_ids, class_rows, names_that_count
from floorclock.store.rows import ClassRows, ResultRow
from floorclock.store.store import Store

LEAST_ROUNDS: Final = 3
"""Fewer rounds in common, over all moves, tell nothing of an athlete."""
LEAST_ATHLETES: Final = 3
TAP_NOISE_S: Final = 0.5
"""A split is known no better than this, as a standard deviation: a busy hand taps it (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedClass:
    """One of the two classes; `athletes` counts who was there."""

    id: str
    started: Instant
    session: str
    athletes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A change of the time for one unit of work in per cent (below 0 is faster), with the span it is known to."""

    percent: Figure[float]
    low: Figure[float]
    high: Figure[float]
    n: int

    @property
    def is_told(self) -> bool:
        """True when 0 lies outside, so that the change is more than noise."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeAtMove(Change):
    """The change at one move over the athletes."""

    move: str
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveChange:
    """One athlete at one move in both classes, over the rounds tapped in both.

    Seconds for one unit of work are geometric means of the rounds, the earlier as the later target would have taken; `change` is
    None from too few rounds. `amount_before` and `amount_after` are the targets of the last of these rounds. `percent` is the
    change of the pace, `at_target_s` that of the split at the later target, in seconds; below 0 is faster.
    """

    move: str
    unit: Unit
    rounds: int
    amount_before: Amount[Fraction]
    amount_after: Amount[Fraction]
    before_s_per_unit: Figure[float]
    after_s_per_unit: Figure[float]
    percent: Figure[float]
    at_target_s: Figure[float]
    says: PaceVerdict
    change: Change | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteChange:
    """One athlete in both classes; `change` is over all moves they have in common.

    `not_finished` is how many rounds they did not finish in the older class and in the newer one.
    """

    name: str
    says: PaceVerdict
    change: Change | None
    not_finished: tuple[int, int]
    moves: tuple[MoveChange, ...]

    @property
    def size(self) -> float:
        """How large the change is, whichever way."""
        return 0.0 if self.change is None else abs(math.log1p(self.change.percent / 100))


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultChange:
    """What one athlete reached in a part in both classes.

    `time_s` is how many seconds more (below 0: fewer) they took; None where a finish is missing or they did another choice.
    """

    name: str
    part: str
    time_s: Figure[float | None]
    before: PartResult
    after: PartResult

    @property
    def same_work(self) -> bool:
        """True when they chose the same work both times."""
        return self.before.choice == self.after.choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two classes, the older one first; everything by name. A span holds a `share` of cases.

    `whole` is the change of the class as a whole and `moves` has that of each move over the athletes, by the paired t test; None,
    or left out, where fewer than three athletes can be compared. Of two sessions of different names only the moves in common are
    compared. `tested` athletes can be compared, `told` of them got faster or slower; if nothing had changed for anybody,
    `expected_by_chance` would be called so.
    """

    before: ComparedClass
    after: ComparedClass
    same_session: bool
    share: float = SHARE
    whole: Change | None
    moves: tuple[ChangeAtMove, ...]
    tested: int
    told: int
    expected_by_chance: Figure[float]
    athletes: tuple[AthleteChange, ...]
    results: tuple[ResultChange, ...]
    only_before: tuple[str, ...]
    only_after: tuple[str, ...]
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER

    def with_way(self, way: PaceVerdict) -> tuple[AthleteChange, ...]:
        """Whose pace changed so; the largest change first."""
        found = [athlete for athlete in self.athletes if athlete.says is way]
        return tuple(sorted(found, key=lambda athlete: (-athlete.size, athlete.name)))


Move = tuple[str, Unit]
_Round = tuple[int, int, int, int]
"""(part, station, round, which time in it). In two sessions the part is 0, and stations are counted among those with the move."""


@dataclass(frozen=True, slots=True)
class CommonRound:
    """A round that was tapped in both classes."""

    before: Split
    after: Split

    @property
    def before_s(self) -> float:
        """Seconds for one unit of work then, as the later amount would have taken: a part of a split is setting up."""
        before, after = float(self.before.amount or 0), float(self.after.amount or 0)
        longer = math.exp(log_ratio(after, before, min(before, after))) if before != after else 1.0
        return _seconds(self.before) * longer / after

    @property
    def after_s(self) -> float:
        """Seconds for one unit of work later."""
        return _seconds(self.after) / float(self.after.amount or 0)

    @property
    def change(self) -> float:
        """The difference of their logarithms; below 0 is faster."""
        return math.log(self.after_s) - math.log(self.before_s)


def match_rounds(
    before: Sequence[Split], after: Sequence[Split], called: Mapping[str, str], *, same_session: bool
) -> dict[str, dict[Move, list[CommonRound]]]:
    """The rounds in common, by the name that counts and by move, in order.

    In one session repeated, stations belong together by their place; in two sessions the first station with a move belongs
    to the first one with it, and so on.
    """
    earlier, later = (_by_round(rows, called, by_place=same_session) for rows in (before, after))
    found: dict[str, dict[Move, list[CommonRound]]] = {}
    for name, moves in earlier.items():
        for move, rounds in moves.items():
            others = later.get(name, {}).get(move, {})
            common = [CommonRound(rounds[place], others[place]) for place in sorted(rounds.keys() & others.keys())]
            if common:
                found.setdefault(name, {})[move] = common
    return found


def _by_round(rows: Sequence[Split], called: Mapping[str, str], *, by_place: bool) -> dict[str, dict[Move, dict[_Round, Split]]]:
    counted = [row for row in rows if row.split_ms and row.amount and row.unit is not None]
    stations: dict[Move, set[tuple[int, int]]] = {}
    for row in counted:
        stations.setdefault(_move(row), set()).add((row.part, row.station))
    order = {move: {place: number for number, place in enumerate(sorted(places))} for move, places in stations.items()}
    found: dict[str, dict[Move, dict[_Round, Split]]] = {}
    times = _times(rows)
    for row in counted:
        place = (row.part, row.station)
        station = place if by_place else (0, order[_move(row)][place])
        mine = found.setdefault(called[row.athlete], {}).setdefault(_move(row), {})
        # Somebody on the board under two spellings has the first one's split.
        mine.setdefault((*station, row.round, times[row.athlete, row.part, row.interval]), row)
    return found


def _times(rows: Iterable[Split]) -> dict[tuple[str, int, int], int]:
    """Which time in its round a station came, for each interval of everybody: several sets in a row may be one round."""
    seen: dict[tuple[str, int, int, int], int] = {}
    found: dict[tuple[str, int, int], int] = {}
    for row in rows:
        here = (row.athlete, row.part, row.station, row.round)
        seen[here] = seen.get(here, 0) + 1
        found[row.athlete, row.part, row.interval] = seen[here]
    return found


def _move(row: Split) -> Move:
    assert row.unit is not None
    return row.move, row.unit


def _seconds(split: Split) -> float:
    return (split.split_ms or 0) / 1000


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
    classes = [rows for class_id in ids if (rows := class_rows(store, class_id)) is not None]
    if len(classes) < 2:
        raise NotFound(f"class {ids[0]} or {ids[1]} is in the records no more")
    before, after = sorted(classes, key=lambda rows: (rows.started, rows.id))
    called = names_that_count(store, {name for rows in classes for name in rows.names})
    same = before.session == after.session
    matched = match_rounds(before.splits, after.splits, called, same_session=same)
    missed = [
        Counter(called[split.athlete] for split in rows.splits if split.status is Status.NOT_FINISHED) for rows in (before, after)
    ]
    there = [{called[row.name] for row in rows.attendance} for rows in (before, after)]
    athletes = tuple(
        _athlete(name, matched.get(name, {}), (missed[0][name], missed[1][name]))
        for name in sorted(there[0] & there[1] | matched.keys())
    )
    told = [athlete.change for athlete in athletes if athlete.change is not None]
    return Comparison(
        before=_compared_class(before),
        after=_compared_class(after),
        same_session=same,
        whole=_over_athletes([math.log1p(change.percent / 100) for change in told]),
        moves=tuple(_moves(athletes)),
        tested=len(told),
        told=sum(change.is_told for change in told),
        expected_by_chance=BY_CHANCE * len(told),
        athletes=athletes,
        results=tuple(_results(before.results, after.results, called)),
        only_before=tuple(sorted(there[0] - there[1])),
        only_after=tuple(sorted(there[1] - there[0])),
    )


def class_named(store: Store, start: str) -> str:
    """The id of the class that an id, or the start of one, stands for."""
    found = class_ids(store, start)
    if start in found:
        return start
    if len(found) == 1:
        return found[0]
    if not found:
        raise NotFound(f"no class {start} is in the records; floorclock classes lists them")
    raise NotFound(f"{len(found)} classes begin with {start}: {first_few(found)}")


def _compared_class(rows: ClassRows) -> ComparedClass:
    return ComparedClass(id=rows.id, started=rows.started, session=rows.session, athletes=len(rows.attendance))


def _change(interval: Estimate | None) -> Change | None:
    """An interval of a difference of logarithms, in per cent."""
    if interval is None:
        return None
    return Change(percent=percent(interval.middle), low=percent(interval.low), high=percent(interval.high), n=interval.n)


def _over_athletes(changes: Sequence[float]) -> Change | None:
    return _change(strata_interval([changes])) if len(changes) >= LEAST_ATHLETES else None


def _moves(athletes: Iterable[AthleteChange]) -> Iterable[ChangeAtMove]:
    by_move: dict[Move, list[float]] = {}
    for athlete in athletes:
        for here in athlete.moves:
            by_move.setdefault((here.move, here.unit), []).append(math.log1p(here.percent / 100))
    for (move, unit), changes in by_move.items():
        change = _over_athletes(changes)
        if change is not None:
            yield ChangeAtMove(move=move, unit=unit, **asdict(change))


def _athlete(name: str, moves: Mapping[Move, Sequence[CommonRound]], not_finished: tuple[int, int]) -> AthleteChange:
    rounds = [common for here in moves.values() for common in here]
    interval = None
    if len(rounds) >= LEAST_ROUNDS:
        interval = strata_interval(
            [[common.change for common in here] for here in moves.values()], least_variance=_tap_variance(rounds)
        )
    return AthleteChange(
        name=name,
        says=_way(interval),
        change=_change(interval),
        not_finished=not_finished,
        moves=tuple(_move_change(move, unit, here) for (move, unit), here in moves.items()),
    )


def _move_change(move: str, unit: Unit, rounds: Sequence[CommonRound]) -> MoveChange:
    changes = [common.change for common in rounds]
    middle = math.fsum(changes) / len(changes)
    before = math.fsum(math.log(common.before_s) for common in rounds) / len(rounds)
    before_s, after_s = math.exp(before), math.exp(before + middle)
    interval = strata_interval([changes], least_variance=_tap_variance(rounds)) if len(rounds) >= LEAST_ROUNDS else None
    amount_before, amount_after = rounds[-1].before.amount or Fraction(0), rounds[-1].after.amount or Fraction(0)
    return MoveChange(
        move=move,
        unit=unit,
        rounds=len(rounds),
        amount_before=amount_before,
        amount_after=amount_after,
        before_s_per_unit=before_s,
        after_s_per_unit=after_s,
        percent=percent(middle),
        at_target_s=(after_s - before_s) * float(amount_after),
        says=_way(interval),
        change=_change(interval),
    )


def _tap_variance(rounds: Sequence[CommonRound]) -> float:
    """What two taps of a busy hand do to a difference of logarithms."""
    splits = (split for common in rounds for split in (common.before, common.after))
    return math.fsum((TAP_NOISE_S / _seconds(split)) ** 2 for split in splits) / len(rounds)


def _way(change: Estimate | None) -> PaceVerdict:
    return PaceVerdict.TOO_LITTLE if change is None else way_of(change.middle, is_told=change.is_told)


def _results(before: Sequence[ResultRow], after: Sequence[ResultRow], called: Mapping[str, str]) -> list[ResultChange]:
    """Parts of the same title and kind, in the order of the later class."""
    earlier = {(called[row.name], row.title, row.kind): row for row in before}
    found = []
    for row in sorted(after, key=lambda row: (row.part, called[row.name])):
        was = earlier.get((called[row.name], row.title, row.kind))
        if was is not None:
            same = was.time_ms is not None and row.time_ms is not None and was.choice == row.choice
            time_s = ((row.time_ms or 0) - (was.time_ms or 0)) / 1000 if same else None
            found.append(
                ResultChange(
                    name=called[row.name], part=row.title, time_s=time_s, before=part_result(was), after=part_result(row)
                )
            )
    return found
