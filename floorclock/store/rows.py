"""What the index holds of one class, as plain values, and how they follow from its journal.

Invariant: the rows follow from the bytes of the journal alone, whatever they are, by the functions that everything else uses;
nothing is asked of a store, and nothing here raises for what is in a journal. A field has the name of its column in `schema`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.digest.figures import median_of_known
from floorclock.digest.volume import volume_loads
from floorclock.journal.reading import read_bytes
from floorclock.journal.replay import replay, session_or_none
from floorclock.pace.flags import Flag, flags
from floorclock.pace.load import session_loads
from floorclock.pace.stats import theil_sen
from floorclock.plan.session import PartKind, ScoreUnit
from floorclock.plan.work import LoadUnit, Unit

BITS = {flag: 1 << place for place, flag in enumerate(Flag)}


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalMark:
    """Which journal it was made from: a journal whose mark is the same has not changed."""

    size: int
    mtime_ns: int


NO_MARK = JournalMark(size=0, mtime_ns=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AttendanceRow:
    """One person in one class. `effort` is 0 to 10, None where it was not rated."""

    name: str
    minutes: float
    effort: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceRow:
    """One person at one station of a part, with one kind of work: what an athlete's page is made of.

    `rounds` counts the work intervals. `flags` has a bit for each flag that was raised, in the order of `Flag`. `level` is the
    natural logarithm of seconds per unit of work in round 1, `drift` its change with each round; None where too little was
    tapped. `target` is the round-1 target that they had at the end of the class, None where they did another move by then.
    """

    name: str
    part: int
    station: int
    move: str
    unit: Unit | None
    amount: Fraction | None
    target: Fraction | None = None
    rounds: int
    tapped: int
    not_finished: int
    flags: int
    median_split_ms: float | None
    least_rest_ms: int | None
    level: float | None
    drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """The class at one station of a part: what trends are made of.

    `tapped` counts splits, `not_finished` athletes; `mean_drift` is the mean of the athletes' drifts, as in `PaceRow`.
    """

    part: int
    station: int
    part_title: str
    move: str
    tapped: int
    not_finished: int
    median_rest_ms: float | None
    mean_drift: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """What one person reached in a part with a result, as in `clock.splits.Result`; `score_unit` is what was counted."""

    name: str
    part: int
    title: str
    kind: PartKind
    choice: str
    time_ms: int | None
    rounds: int | None
    reps: int | None
    not_finished: bool
    score_unit: ScoreUnit | None = None
    scores: tuple[tuple[int, Fraction], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftRow:
    """What one person lifted in one move over a class, as in `digest.volume`; `shared_by` is how many did it together."""

    name: str
    move: str
    reps: Fraction
    amount: Fraction
    heaviest: Fraction
    unit: LoadUnit
    shared_by: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRows:
    """One class, whole.

    `home` tells apart the data folders that fill one store (the rooms of a gym): each knows the marks of its own journals only.
    """

    id: str
    started: datetime
    session: str
    rehearsal: bool
    mark: JournalMark
    home: str = ""
    attendance: tuple[AttendanceRow, ...] = ()
    splits: tuple[Split, ...] = ()
    paces: tuple[PaceRow, ...] = ()
    stations: tuple[StationRow, ...] = ()
    results: tuple[ResultRow, ...] = ()
    lifts: tuple[LiftRow, ...] = ()

    @property
    def names(self) -> set[str]:
        """Everybody who stands in it, as written."""
        named = {row.name for rows in (self.attendance, self.paces, self.results, self.lifts) for row in rows}
        return named | {split.athlete for split in self.splits}

    @property
    def moves(self) -> set[str]:
        """Every move in it."""
        return {row.move for rows in (self.splits, self.paces, self.stations, self.lifts) for row in rows}


def class_rows(data: bytes, class_id: str, *, mark: JournalMark = NO_MARK, home: str = "") -> ClassRows | None:
    """What a journal comes to; None where it does not say what the class started from.

    Of a class whose plan this version cannot read there is the class and no more. Who was on the board and there for none of it,
    and rated no effort, was not in the class. Nobody `runs out`: that flag is a forecast's, which rests on earlier classes too.

    Args:
        data: the whole journal.
        class_id: the stem of its file.
        mark: which journal it was.
        home: the data folder it is in, as `home_mark` names it.
    """
    reading = read_bytes(data)
    header = reading.header
    if header is None:
        return None
    rows = ClassRows(
        id=class_id,
        started=header.started,
        session=header.session,
        rehearsal=bool(header.rehearsal),
        mark=mark,
        home=home,
    )
    if session_or_none(header) is None:
        return rows
    state = replay(header, reading.events)
    loads = [load for load in session_loads(state) if load.minutes > 0 or load.effort is not None]
    taken, reached = splits(state), results(state)
    paces = tuple(_paces(state, taken))
    return replace(
        rows,
        attendance=tuple(AttendanceRow(name=load.name, minutes=load.minutes, effort=load.effort) for load in loads),
        splits=taken,
        paces=paces,
        stations=tuple(_stations(state, taken, paces)),
        results=tuple(_results(state, reached)),
        lifts=_lifts(state, taken, reached),
    )


def _raised(taken: Sequence[Split]) -> dict[tuple[str, int, int], int]:
    """The bits of the flags that a split raised, by athlete, part and interval; those without a flag are left out."""
    by_athlete: dict[str, list[Split]] = {}
    for split in taken:
        by_athlete.setdefault(split.athlete, []).append(split)
    return {
        (name, *place): sum(BITS[flag] for flag in found)
        for name, own in by_athlete.items()
        for place, found in flags(own).items()
    }


def _paces(state: ClassState, taken: Sequence[Split]) -> Iterator[PaceRow]:
    raised = _raised(taken)
    kinds: dict[tuple[str, int, int, str, Unit | None], list[Split]] = {}
    for split in taken:
        kinds.setdefault((split.athlete, split.part, split.station, split.move, split.unit), []).append(split)
    for (name, part, station, move, unit), here in kinds.items():
        bits = 0
        for split in here:
            bits |= raised.get((name, part, split.interval), 0)
        level, drift = _line_through(here)
        yield PaceRow(
            name=name,
            part=part,
            station=station,
            move=move,
            unit=unit,
            amount=here[-1].amount,
            target=_target_at_end(state, here[-1]),
            rounds=len(here),
            tapped=sum(split.split_ms is not None for split in here),
            not_finished=sum(split.status is Status.NOT_FINISHED for split in here),
            flags=bits,
            median_split_ms=median_of_known([split.split_ms for split in here]),
            least_rest_ms=min((split.rest_ms for split in here if split.rest_ms is not None), default=None),
            level=level,
            drift=drift,
        )


def _target_at_end(state: ClassState, split: Split) -> Fraction | None:
    """The round-1 target that stood at the end of the class, where the athlete still did the same move then."""
    run = state.run_of(split.part)
    work = None if run is None else state.assignment(split.athlete, run, split.interval)
    if work is None or work.move != split.move or work.target is None or work.target.unit is not split.unit:
        return None
    return work.target.amount


def _line_through(here: Sequence[Split]) -> tuple[float | None, float | None]:
    """(level in round 1, drift) of the logarithm of seconds per unit of work; robust, as `pace.prior` has it for one class."""
    points = [
        (split.round - 1, math.log(split.split_ms / 1000 / float(split.amount)))
        for split in here
        if split.split_ms and split.amount and split.unit is not None
    ]
    if not points:
        return None, None
    x, y = [point[0] for point in points], [point[1] for point in points]
    if min(x) == max(x):
        return median_of_known(y), None
    drift, level = theil_sen(x, y)
    return level, drift


def _stations(state: ClassState, taken: Sequence[Split], paces: Sequence[PaceRow]) -> Iterator[StationRow]:
    for part, station in sorted({(split.part, split.station) for split in taken}):
        here = [split for split in taken if (split.part, split.station) == (part, station)]
        drifts = [row.drift for row in paces if (row.part, row.station) == (part, station) and row.drift is not None]
        planned = state.part(part)
        yield StationRow(
            part=part,
            station=station,
            part_title=planned.title,
            move=planned.stations[station].move,
            tapped=sum(split.status is Status.DONE for split in here),
            not_finished=len({split.athlete for split in here if split.status is Status.NOT_FINISHED}),
            median_rest_ms=median_of_known([split.rest_ms for split in here]),
            mean_drift=math.fsum(drifts) / len(drifts) if drifts else None,
        )


def _results(state: ClassState, reached: Sequence[Result]) -> Iterator[ResultRow]:
    """A row for each person: what a team reached, everybody of it reached."""
    for result in reached:
        part = state.part(result.part)
        for name in result.team or (result.athlete,):
            yield ResultRow(
                name=name,
                part=result.part,
                title=part.title,
                kind=part.kind,
                choice=result.choice,
                time_ms=result.time_ms,
                rounds=result.rounds,
                reps=result.reps,
                not_finished=result.not_finished,
                score_unit=None if part.score is None else part.score.unit,
                scores=result.scores,
            )


def _lifts(state: ClassState, taken: Sequence[Split], reached: Sequence[Result]) -> tuple[LiftRow, ...]:
    """A row for each person and move. Who was in two teams has the rows of the one in which they lifted more."""
    found: dict[tuple[str, str], LiftRow] = {}
    for lifted in sorted(volume_loads(state, taken, reached), key=lambda lift: lift.amount):
        team = lifted.team or (lifted.athlete,)
        for name in team:
            found[name, lifted.move] = LiftRow(
                name=name,
                move=lifted.move,
                reps=lifted.reps,
                amount=lifted.amount,
                heaviest=lifted.heaviest,
                unit=lifted.unit,
                shared_by=len(team),
            )
    return tuple(found.values())
