"""What a class came to so far: its splits and results, in the order of the board.

Invariant: an interval shows up once its time is over or somebody said something of it, never earlier; work that nobody can
be done with early is expected of nobody.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from fractions import Fraction

from floorclock.clock.events import ResultEntered
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Coming, Mark, Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment
from floorclock.plan.session import Amrap, ForTime, Paced, Piece, Rotation, Windowed
from floorclock.plan.shares import amount_in_round
from floorclock.plan.work import Unit

_OF_A_MARK = tuple(field.name for field in fields(Mark))
_NOTHING = ResultEntered(at_ms=0, athlete="", part=0)
"""Where the coach entered no result."""


def splits(state: ClassState) -> tuple[Split, ...]:
    """Every split of the class: part by part, athlete by athlete, interval by interval."""
    return tuple(split for run in state.runs for name in state.rows(run) for split in athlete_splits(state, run, name))


def athlete_splits(state: ClassState, run: PartRun, name: str) -> Iterator[Split]:
    """The splits of one athlete in one part, in order."""
    if not isinstance(run.part, Windowed):
        return
    position = run.position_ms(state.now_ms)
    for index, interval in enumerate(run.timeline.intervals):
        if interval.window < 0:
            continue
        mark = run.marks.get((name, index))
        if mark is None and (interval.end_ms > position or not state.expected(name, run.index, index)):
            continue
        station = state.station_of(name, run, index)
        work = state.assignment(name, run, index)
        untappable = work is None or run.part.tap == "none" or not can_be_tapped(work, interval.length_ms)
        if station is None or work is None or (mark is None and untappable):
            continue
        taken = mark or state.mark(name, run, index, Status.UNTAPPED, station=station)
        yield Split(
            athlete=name,
            part=run.index,
            interval=index,
            round=interval.round,
            station=station,
            window_ms=interval.length_ms,
            margin_ms=state.margin_for(name, run.index, run.part.stations[station]),
            **{field: getattr(taken, field) for field in _OF_A_MARK},
        )


def whole_part(state: ClassState, run: PartRun, name: str) -> Iterator[Coming]:
    """All the work that a part has for an athlete who stays to its end, past and to come, as targets stand now."""
    if not isinstance(run.part, Windowed):
        return
    for index, interval in enumerate(run.timeline.intervals):
        station, work = state.station_of(name, run, index), state.assignment(name, run, index)
        if station is None or work is None or work.target is None or not can_be_tapped(work, interval.length_ms):
            continue
        amount = amount_in_round(run.part.stations[station], work, interval.round)
        if run.part.tap == "none" or amount is None:
            continue
        yield Coming(
            athlete=name,
            part=run.index,
            interval=index,
            round=interval.round,
            station=station,
            window_ms=interval.length_ms,
            margin_ms=state.margin_for(name, run.index, run.part.stations[station]),
            move=work.move,
            amount=amount,
            unit=work.target.unit,
            step=work.target.step,
            option=work.option,
            sides=work.target.sides,
            amounts=work.target.amounts,
        )


def coming(state: ClassState, run: PartRun, name: str) -> Iterator[Coming]:
    """What of it is still to come for them: the interval that runs until they are done with it, and all later ones.

    In a part that was ended early, the intervals that were not run to their end; nothing for who went home.
    """
    position = run.position_ms(state.now_ms)
    for slot in whole_part(state, run, name):
        over = run.timeline.intervals[slot.interval].end_ms <= position
        settled = over or (name, slot.interval) in run.marks
        if not settled and state.expected(name, run.index, slot.interval):
            yield slot


def can_be_tapped(work: Assignment, window_ms: int) -> bool:
    """False where nobody can be done early: work without an amount, or for as long as the interval lasts."""
    target = work.target
    return target is not None and not target.most and not (target.unit is Unit.SECONDS and target.amount * 1000 >= window_ms)


def results(state: ClassState) -> tuple[Result, ...]:
    """What the athletes reached in the parts that have a result, in the order of the board."""
    found = (athlete_result(state, run, name) for run in state.runs for name in state.rows(run))
    return tuple(result for result in found if result is not None)


def athlete_result(state: ClassState, run: PartRun, name: str) -> Result | None:
    """What one athlete reached in a part, the coach's word before the taps; None where nothing is known of it."""
    if isinstance(run.part, Rotation) and run.part.until_out:
        return _full_rounds(state, run, name)
    scores = _scores(run, name)
    if not isinstance(run.part, Piece | Paced) and not scores:
        return None
    entered = run.entered.get(name, _NOTHING)
    laps = tuple(run.laps.get(name, ()))
    time, rounds, reps = run.finishes.get(name), None, None
    # Nobody tapped: with a number alone the rounds are unknown, and not none.
    if laps or (isinstance(run.part, Amrap) and not scores):
        rounds = len(laps)
    if isinstance(run.part, ForTime) and name in run.not_finished:
        time = None
    if isinstance(run.part, Paced) and time is not None:
        rounds, reps = paced_reach(run.part, run, time)
    known = any(value is not None for value in (time, entered.rounds, entered.reps, entered.time_ms))
    if not laps and not known and not scores and name not in run.not_finished:
        return None
    return Result(
        athlete=name,
        part=run.index,
        time_ms=time if entered.time_ms is None else entered.time_ms,
        rounds=rounds if entered.rounds is None else entered.rounds,
        reps=reps if entered.reps is None else entered.reps,
        laps_ms=laps,
        choice=state.choices.get((name, run.index), ""),
        not_finished=name in run.not_finished,
        scores=scores,
        team=_team(run, name),
    )


def _full_rounds(state: ClassState, run: PartRun, name: str) -> Result | None:
    """Where a missed interval puts people out: the rounds done whole, and the reps of the last where the coach entered them."""
    entered = run.entered.get(name, _NOTHING)
    out = state.out_after(name, run.index)
    done = [interval for interval in run.timeline.intervals if interval.end_ms <= run.position_ms(state.now_ms)]
    if out is None and not done:
        return None
    rounds = run.timeline.intervals[out].round - 1 if out is not None else done[-1].round
    return Result(
        athlete=name,
        part=run.index,
        rounds=rounds if entered.rounds is None else entered.rounds,
        reps=entered.reps,
        scores=_scores(run, name),
        team=_team(run, name),
    )


def _scores(run: PartRun, name: str) -> tuple[tuple[int, Fraction], ...]:
    sets = ((0 if at < 0 else run.timeline.intervals[at].window + 1, at) for who, at in sorted(run.scores) if who == name)
    return tuple((number, run.scores[name, at]) for number, at in sets)


def _team(run: PartRun, name: str) -> tuple[str, ...]:
    return next((team for team in run.teams if team[0] == name), ())


def paced_reach(part: Paced, run: PartRun, time_ms: int) -> tuple[int | None, int]:
    """(whole stages, shuttles) or (None, reps) done by a time on the part's clock."""
    if part.shuttle is None:
        beats = sum(cue.name == "pace" for cue in run.timeline.cues_between(0, time_ms + 1))
        return None, beats // part.beats_per_rep
    stages = sum(interval.end_ms <= time_ms for interval in run.timeline.intervals)
    return stages, sum(cue.name == "shuttle" for cue in run.timeline.cues_between(0, time_ms + 1))
