"""One journal as the rows of its class: read, folded and measured by the functions that everything else uses.

Invariant: the rows follow from the bytes of the journal alone, whatever they are; nothing here raises for what is in them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from floorclock.clock.splits import Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits
from floorclock.digest.figures import median_of_known
from floorclock.digest.volume import volume_loads
from floorclock.journal.reading import Header, read_bytes
from floorclock.journal.replay import replay, session_or_none
from floorclock.pace.flags import Flag, flags
from floorclock.pace.load import session_loads
from floorclock.pace.stats import theil_sen
from floorclock.plan.work import Unit
from floorclock.store.rows import AttendanceRow, ClassRows, JournalMark, LiftRow, PaceRow, ResultRow, StationRow

NO_MARK = JournalMark(size=0, mtime_ns=0)
BITS = {flag: 1 << place for place, flag in enumerate(Flag)}
Raised = Mapping[tuple[str, int, int], int]
"""The bits of the flags that a split raised, by athlete, part and interval; those without a flag are left out."""


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
    if session_or_none(header) is None:
        return _with_rows(header, class_id, mark, home, None)
    return _with_rows(header, class_id, mark, home, replay(header, reading.events))


def _with_rows(header: Header, class_id: str, mark: JournalMark, home: str, state: ClassState | None) -> ClassRows:
    taken = () if state is None else splits(state)
    reached = () if state is None else results(state)
    raised = _raised(taken)
    paces = () if state is None else tuple(_paces(state, taken, raised))
    return ClassRows(
        id=class_id,
        started=header.started,
        session=header.session,
        rehearsal=bool(header.rehearsal),
        mark=mark,
        home=home,
        attendance=() if state is None else tuple(_attendance(state)),
        splits=taken,
        paces=paces,
        stations=() if state is None else tuple(_stations(state, taken, paces)),
        results=() if state is None else tuple(_results(state, reached)),
        lifts=() if state is None else tuple(_lifts(state, taken, reached)),
    )


def _attendance(state: ClassState) -> Iterator[AttendanceRow]:
    for load in session_loads(state):
        if load.minutes > 0 or load.effort is not None:
            yield AttendanceRow(name=load.name, minutes=load.minutes, effort=load.effort)


def _raised(taken: Sequence[Split]) -> Raised:
    by_athlete: dict[str, list[Split]] = {}
    for split in taken:
        by_athlete.setdefault(split.athlete, []).append(split)
    return {
        (name, *place): sum(BITS[flag] for flag in found)
        for name, own in by_athlete.items()
        for place, found in flags(own).items()
    }


def _paces(state: ClassState, taken: Sequence[Split], raised: Raised) -> Iterator[PaceRow]:
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


def _lifts(state: ClassState, taken: Sequence[Split], reached: Sequence[Result]) -> Iterator[LiftRow]:
    """A row for each person and move. Who was in two teams has the rows of the one in which they lifted more."""
    found: dict[tuple[str, str], LiftRow] = {}
    for lifted in sorted(volume_loads(state, taken, reached), key=lambda one: one.amount):
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
    yield from found.values()
