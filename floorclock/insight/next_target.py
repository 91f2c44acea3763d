"""What an athlete's earlier classes say of the target they had last, move by move.

Invariant: the answer is that of `pace.advice.targets_from_history`, as before a class; the rounds, the interval and the margin
are those of the last class in which they did the move.

The records do not say which moves are guarded, which options a station has or how little it may come to: the plan does, so
`floorclock targets` with the plan goes before what is said here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.advice import Advice, Way, by_station, targets_from_history
from floorclock.pace.largest import LIKELY_ENOUGH, Rounds
from floorclock.pace.model.forecast import AthletePace, Forecast, fit_class
from floorclock.pace.prior import PastClass, prior_from
from floorclock.plan.session import Rotation
from floorclock.plan.work import Station, Target, Unit
from floorclock.store.answers import PaceOf, SplitOf
from floorclock.store.rows import SplitRow

CONFIDENCE = 90
"""In percent, as where a session says nothing."""
LEAST_FOR_A_LADDER = 3

Key = tuple[str, Unit | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextTarget:
    """What to give next time, and why. `target` is that of round 1; None for an option that has none.

    `last` is the target they had, `way` whether this is less, more or the same.
    """

    target: Target | None
    last: Target
    way: Way
    because: str


def next_targets(past: Sequence[SplitOf], paces: Iterable[PaceOf] = ()) -> dict[Key, NextTarget]:
    """The next target for each move that one athlete was tapped at in some last classes.

    Args:
        past: their tapped splits, as `store.ask.past_splits` gives them, all under one name.
        paces: of the same classes, to know how many rounds there were; without them, those that were tapped.
    """
    prior = prior_from(_classes(past))
    slots = [slot for own in _last_work(past, _rounds(paces)).values() for slot in own]
    if not slots:
        return {}
    stations = by_station(slots)
    part = Rotation(
        title="",
        every_ms=slots[0].window_ms,
        rounds=max(slot.round for slot in slots),
        work=tuple(Station(own[0].move, Target(own[0].amount, own[0].unit, own[0].step)) for own in stations.values()),
    )
    pace = fit_class((), prior).pace_of(slots[0].athlete, ())
    advised = {made.station: made for made in targets_from_history(part, slots, prior, CONFIDENCE, pace=pace)}
    found: dict[Key, NextTarget] = {}
    for number, rounds in _forecasts(pace, slots).items():
        first = rounds.next
        known = prior[first.athlete, first.move, first.unit]
        found[first.move, first.unit] = _told(advised.get(number), first, rounds.chance(first.amount), known.classes)
    return found


def _forecasts(pace: AthletePace, slots: Sequence[Coming]) -> dict[int, Rounds]:
    """What each station would be like as it was; all at once, which is much cheaper than one by one."""
    worked = [slot for slot in slots if slot.amount > 0]
    ahead: dict[int, list[Forecast]] = {}
    for one in pace.forecasts(worked):
        if one is not None:
            ahead.setdefault(one.slot.station, []).append(one)
    return {number: Rounds(tuple(here), CONFIDENCE / 100) for number, here in ahead.items()}


def _told(advice: Advice | None, first: Coming, chance: float, classes: int) -> NextTarget:
    last = Target(first.amount, first.unit, first.step)
    if advice is not None:
        doubt = "; the least; may not hold" if advice.chance < LIKELY_ENOUGH else ""
        return NextTarget(target=advice.target, last=last, way=advice.way, because=f"{advice.because}{doubt}")
    counted = f"{classes} class{'es' * (classes != 1)}"
    likely = f"{counted}: the last target keeps the margin in every round in {100 * chance:.0f} of 100 cases"
    return NextTarget(target=last, last=last, way=Way.KEEP, because=likely)


def _classes(past: Sequence[SplitOf]) -> list[PastClass]:
    by_class: dict[str, list[SplitOf]] = {}
    for one in past:
        by_class.setdefault(one.class_id, []).append(one)
    return [PastClass(day=here[0].started.date(), splits=[_split(one.split) for one in here]) for here in by_class.values()]


def _split(row: SplitRow) -> Split:
    return Split(
        athlete=row.name,
        part=row.part,
        interval=row.interval,
        round=row.round,
        station=row.station,
        window_ms=row.window_ms,
        margin_ms=row.margin_ms,
        status=Status.UNTAPPED if row.split_ms is None else Status.DONE,
        split_ms=row.split_ms,
        move=row.move,
        amount=row.amount,
        unit=row.unit,
    )


def _rounds(paces: Iterable[PaceOf]) -> dict[tuple[str, int, int, Key], int]:
    return {(one.class_id, one.pace.part, one.pace.station, (one.pace.move, one.pace.unit)): one.pace.rounds for one in paces}


def _last_work(past: Sequence[SplitOf], rounds: Mapping[tuple[str, int, int, Key], int]) -> dict[Key, list[Coming]]:
    """For each move, the whole work at the station where they did it last; stations are numbered anew."""
    last: dict[Key, list[SplitOf]] = {}
    for one in past:
        row = one.split
        if not row.amount or row.unit is None:
            continue
        here = last.setdefault((row.move, row.unit), [])
        if not here or _place(one) > _place(here[0]):
            last[row.move, row.unit] = [one]
        elif _place(one) == _place(here[0]):
            here.append(one)
    found: dict[Key, list[Coming]] = {}
    for number, (key, here) in enumerate(last.items()):
        row = here[0].split
        count = max(rounds.get((here[0].class_id, row.part, row.station, key), 0), *(one.split.round for one in here), 1)
        found[key] = _slots(number, [one.split for one in here], count)
    return found


def _place(one: SplitOf) -> tuple[float, str, int, int]:
    return one.started.timestamp(), one.class_id, one.split.part, one.split.station


def _slots(number: int, here: Sequence[SplitRow], count: int) -> list[Coming]:
    last = max(here, key=lambda row: row.round)
    step = _step(here)
    amount = last.amount or Fraction(0)
    assert last.unit is not None
    return [
        Coming(
            athlete=last.name,
            part=0,
            interval=number * count + round_ - 1,
            round=round_,
            station=number,
            window_ms=last.window_ms,
            margin_ms=last.margin_ms,
            move=last.move,
            amount=max(Fraction(0), amount + step * (round_ - last.round)),
            unit=last.unit,
            step=step,
        )
        for round_ in range(1, count + 1)
    ]


def _step(here: Sequence[SplitRow]) -> Fraction:
    """What a ladder adds with each round; 0 where the amounts are no ladder: a target that was changed is none."""
    rows = sorted(here, key=lambda row: row.round)
    steps = {
        ((later.amount or 0) - (row.amount or 0)) / Fraction(later.round - row.round)
        for row, later in pairwise(rows)
        if later.round > row.round
    }
    return steps.pop() if len(rows) >= LEAST_FOR_A_LADDER and len(steps) == 1 else Fraction(0)
