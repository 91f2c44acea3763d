"""Volume load: reps times load, by athlete and move.

Invariant: it counts what is known to be done. An untapped or unfinished interval, a percentage of a best that nobody knows, and
reps that a team shares at different loads are in no sum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment
from floorclock.plan.session import ForTime, Piece, Windowed
from floorclock.plan.work import Load, LoadUnit, Station, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class VolumeLoad:
    """What an athlete (or a team, `athlete` being its first) moved in one move over the whole class: `amount` of `unit`.

    `reps` are those that had a load, `heaviest` is the largest of the loads.
    """

    athlete: str
    move: str
    reps: Fraction
    amount: Fraction
    heaviest: Fraction
    unit: LoadUnit
    team: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """The name, or those of the team: `Ilka + Bram`."""
        return " + ".join(self.team) or self.athlete

    @property
    def words(self) -> str:
        """`goblet squat 45 reps, 1,080 kg`."""
        return f"{self.move} {float(self.reps):,.10g} reps, {float(round(self.amount, 1)):,.10g} {self.unit}"


@dataclass(frozen=True, slots=True)
class _Lift:
    move: str
    reps: Fraction
    load: Load


def volume_loads(state: ClassState, splits: Sequence[Split], results: Sequence[Result]) -> tuple[VolumeLoad, ...]:
    """Everybody's, in the order of the board; in pounds where every load is, else in kilograms.

    `splits` and `results` are all of the class, as `tally` has them.
    """
    by_place: dict[tuple[int, str], list[Split]] = {}
    for split in splits:
        by_place.setdefault((split.part, split.athlete), []).append(split)
    reached = {(result.part, result.athlete): result for result in results}
    sums: dict[tuple[tuple[str, ...], str], list[_Lift]] = {}
    for name in state.athletes:
        for run in state.runs:
            if run.recorded_as(name) != name:
                continue
            team, place = next((team for team in run.teams if name in team), (name,)), (run.index, name)
            for lift in _lifts(state, run, team, by_place.get(place, ()), reached.get(place)):
                if lift.reps and lift.load.in_kg is not None:
                    sums.setdefault((team, lift.move), []).append(lift)
    units = {lift.load.unit for lifts in sums.values() for lift in lifts}
    unit = LoadUnit.LB if units == {LoadUnit.LB} else LoadUnit.KG
    return tuple(
        VolumeLoad(
            athlete=team[0],
            move=move,
            reps=sum((lift.reps for lift in lifts), Fraction(0)),
            amount=sum((lift.reps * lift.load.in_unit(unit) for lift in lifts), Fraction(0)),
            heaviest=max(lift.load.in_unit(unit) for lift in lifts),
            unit=unit,
            team=team if len(team) > 1 else (),
        )
        for (team, move), lifts in sums.items()
    )


def _lifts(
    state: ClassState, run: PartRun, team: Sequence[str], splits: Sequence[Split], result: Result | None
) -> Iterator[_Lift]:
    part, name = run.part, team[0]
    if isinstance(part, Windowed):
        scored = {interval for who, interval in run.scores if who == name}
        for split in splits:
            if (
                split.status is Status.DONE
                and (split.load is not None or split.items)
                and split.interval not in scored
                and _same_load(state, team, part.stations[split.station])
            ):
                yield from _of_split(split)
        yield from _of_scores(state, run, team)
    elif isinstance(part, Piece) and result is not None:
        yield from _of_result(state, run, team, result)


def _same_load(state: ClassState, team: Sequence[str], station: Station) -> bool:
    """Whether all of a team move the same weight at a station."""
    works = [state.assigned(name, station) for name in team]
    loads = [[item.load for item in work.items or (work,)] for work in works]
    return all(own == loads[0] for own in loads)


def _of_split(split: Split) -> Iterator[_Lift]:
    if split.items:
        share = Fraction(1) if split.amount is None else split.amount
        yield from (_Lift(lift.move, lift.reps * share, lift.load) for lift in _planned(split.items, split.round))
    elif split.load is not None and split.unit is Unit.REPS:
        yield _Lift(split.move, split.amount or Fraction(0), split.load)


def _planned(work: Sequence[Assignment], round_number: int) -> Iterator[_Lift]:
    """What some work comes to in a round, where it has a number of reps."""
    for item in work:
        if item.items:
            yield from _planned(item.items, round_number)
        elif item.load is not None and item.target is not None and item.target.unit is Unit.REPS:
            yield _Lift(item.move, item.target.in_round(round_number), item.load)


def _of_scores(state: ClassState, run: PartRun, team: Sequence[str]) -> Iterator[_Lift]:
    """Sets in which the reps were counted, or the load was noted."""
    score = run.part.score
    for (name, interval), amount in run.scores.items():
        if score is None or name != team[0] or interval < 0:
            continue
        work, station = state.assignment(name, run, interval), state.station_of(name, run, interval)
        if work is None or station is None or not _same_load(state, team, run.part.stations[station]):
            continue
        load = run.score_loads.get((name, interval), work.load)
        if score.unit == "reps" and load is not None:
            yield _Lift(work.move, amount, load)
        elif score.unit == "load" and work.target is not None and work.target.unit is Unit.REPS:
            yield _Lift(work.move, work.target.in_round(run.timeline.intervals[interval].round), Load(amount, LoadUnit.KG))


def _of_result(state: ClassState, run: PartRun, team: Sequence[str], result: Result) -> Iterator[_Lift]:
    """All of a finished piece of work; else the whole rounds, and what the reps beyond them come to from its first move on."""
    part, name = run.part, team[0]
    assert isinstance(part, Piece)
    choice = state.choice_of(name, run.index)
    stations = choice.work if choice and choice.work else part.work

    def assigned(of: Sequence[Station]) -> list[Assignment]:
        return [state.assigned(name, station) for station in of if _same_load(state, team, station)]

    finished = isinstance(part, ForTime) and result.time_ms is not None
    rounds, beyond = result.rounds or 0, Fraction(result.reps or 0)
    if finished and isinstance(part, ForTime):
        rounds, beyond = choice.rounds if choice and choice.rounds else part.rounds, Fraction(0)
    if finished or rounds or beyond:
        yield from _planned(assigned(part.buy_in), 1)
    for number in range(1, rounds + 1):
        yield from _planned(assigned(stations), number)
    for station in stations:
        work = state.assigned(name, station)
        amount = work.target.in_round(rounds + 1) if work.target is not None and work.target.unit is Unit.REPS else Fraction(0)
        done = min(beyond, amount)
        beyond -= done
        if work.load is not None and done and _same_load(state, team, station):
            yield _Lift(work.move, done, work.load)
    if finished:
        yield from _planned(assigned(part.cash_out), rounds)
