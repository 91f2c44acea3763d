"""What the coach sets right or changes on the spot: splits, results, targets, options, groups, people, margins.

Invariant: what was taken stays as it was taken; a correction stands in its place and is marked as one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    EffortRated,
    Event,
    Joined,
    Left,
    LoadChanged,
    MarginChanged,
    NotFinished,
    OptionChosen,
    Quietened,
    Regrouped,
    ResultEntered,
    ScoreEntered,
    SplitCorrected,
    TargetChanged,
)
from floorclock.clock.outcome import Outcome, What
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.plan.roster import give_keys, with_latecomer
from floorclock.plan.session import Paced, Piece

Handler = Callable[[ClassState, Any], Outcome]
MOST_SCORE = 100_000
LEAST_EFFORT, MOST_EFFORT = 0, 10
"""Borg's category-ratio scale, CR10 (Borg 1982, Medicine and Science in Sports and Exercise 14:377-381; from memory, sure)."""


def _not_finished(state: ClassState, event: NotFinished, run: PartRun, name: str) -> Outcome:
    if isinstance(run.part, Piece | Paced):
        run.not_finished.add(name)
        return Outcome(What.DONE, event.athlete)
    return _mark(state, run, name, event.interval, Status.NOT_FINISHED, None)


def _corrected(state: ClassState, event: SplitCorrected, run: PartRun, name: str) -> Outcome:
    if event.split_ms is None:
        run.set_mark(name, event.interval, None)
        _forget_tap(state, run, name, event.interval)
        return Outcome(What.DONE, event.athlete)
    return _mark(state, run, name, event.interval, Status.DONE, event.split_ms)


def _mark(state: ClassState, run: PartRun, name: str, interval: int, status: Status, split_ms: int | None) -> Outcome:
    if not 0 <= interval < len(run.timeline.intervals):
        return Outcome(What.REFUSED, name, because="there is no such interval")
    if state.assignment(name, run, interval) is None:
        return Outcome(What.REFUSED, name, because="that was a rest")
    window = run.timeline.intervals[interval].length_ms
    if split_ms is not None and not 0 < split_ms <= window:
        return Outcome(What.REFUSED, name, because=f"a split lies between 0 and {window / 1000:g} s")
    run.set_mark(name, interval, state.mark(name, run, interval, status, split_ms, corrected=status is Status.DONE))
    _forget_tap(state, run, name, interval)
    return Outcome(What.DONE, name)


def _forget_tap(state: ClassState, run: PartRun, name: str, interval: int) -> None:
    # Taking back the last tap must not undo the coach's word in the place of an older one.
    state.taken.pop((name, run.index, interval, None), None)


def _entered(state: ClassState, event: ResultEntered, run: PartRun, name: str) -> Outcome:
    run.entered[name] = event
    if event.time_ms is not None:
        run.not_finished.discard(name)
    return Outcome(What.DONE, event.athlete)


def _scored(state: ClassState, event: ScoreEntered, run: PartRun, name: str) -> Outcome:
    place = name, event.interval
    if event.amount is None:
        run.scores.pop(place, None)
        run.unscored.add(place)
    elif not 0 <= event.amount <= MOST_SCORE or not -1 <= event.interval < len(run.timeline.intervals):
        return Outcome(What.REFUSED, event.athlete, because=f"a score lies between 0 and {MOST_SCORE:,}")
    else:
        run.scores[place] = Fraction(str(event.amount))
        run.unscored.discard(place)
        work = state.assignment(name, run, event.interval) if event.interval >= 0 else None
        if work is not None and work.load is not None:
            # A number that is changed later is still of the load that was moved.
            run.score_loads.setdefault(place, work.load)
    return Outcome(What.DONE, event.athlete)


def _change(state: ClassState, name: str, **values: object) -> Outcome:
    state.athletes[name] = replace(state.athletes[name], **values)  # type: ignore[arg-type]
    return Outcome(What.DONE, name)


def _of_move(own: str, value: str) -> Handler:
    """Puts an event's value for a move among the athlete's own ones: `targets`, `loads` or `options`."""

    def folded(state: ClassState, event: Any) -> Outcome:
        before = getattr(state.athletes[event.athlete], own)
        return _change(state, event.athlete, **{own: {**before, event.move: getattr(event, value)}})

    return folded


def _choice(state: ClassState, event: ChoiceTaken) -> Outcome:
    state.choices[event.athlete, event.part] = event.choice
    return Outcome(What.DONE, event.athlete)


def _allowed(state: ClassState, event: Allowed) -> Outcome:
    return _change(state, event.athlete, experienced=state.athletes[event.athlete].experienced | {event.move})


def _here(state: ClassState, at_ms: int, *, after: bool) -> tuple[int, int]:
    """The (part, interval) at a class time; with `after`, the first one that begins later."""
    run = state.run
    if run is None:
        return (0 if not state.runs else state.runs[-1].index + 1, 0)
    index = run.interval_at(at_ms)
    if index is None:
        return (run.index, 0) if run.position_ms(at_ms) < 0 else (run.index + 1, 0)
    return (run.index, index + after)


def _regrouped(state: ClassState, event: Regrouped) -> Outcome:
    part, interval = _here(state, event.at_ms, after=True)
    state.groups.setdefault(event.athlete, []).append((part, interval, event.group))
    return Outcome(What.DONE, event.athlete)


def _joined(state: ClassState, event: Joined) -> Outcome:
    name = event.athlete.name
    if name in state.athletes and name not in state.away:
        return Outcome(What.REFUSED, name, because="somebody of that name is here already")
    if name not in state.athletes:
        taken = any(athlete.key == event.athlete.key for athlete in state.athletes.values())
        newcomer = replace(event.athlete, key="") if taken else event.athlete
        state.athletes[name] = give_keys([*state.athletes.values(), newcomer])[-1]
        missed_from = (0, 0)
    else:
        missed_from = state.away.pop(name)
    state.absences.setdefault(name, []).append((missed_from, _here(state, event.at_ms, after=True)))
    if state.run is not None and state.run.recorded_as(name) == name:
        state.run.teams = with_latecomer(state.run.teams, name)
    return Outcome(What.DONE, name)


def _left(state: ClassState, event: Left) -> Outcome:
    if event.athlete in state.away:
        return Outcome(What.UNKNOWN, event.athlete)
    state.away[event.athlete] = _here(state, event.at_ms, after=False)
    return Outcome(What.DONE, event.athlete)


def _margin(state: ClassState, event: MarginChanged) -> Outcome:
    if event.athlete:
        known = event.athlete in state.athletes
        return _change(state, event.athlete, rest_margin_ms=event.margin_ms) if known else Outcome(What.UNKNOWN, event.athlete)
    if event.part is not None:
        state.part_margins[event.part] = event.margin_ms
    else:
        state.margin_ms = event.margin_ms
    return Outcome(What.DONE)


def _quietened(state: ClassState, event: Quietened) -> Outcome:
    if event.quiet:
        state.quiet.add(event.athlete)
    else:
        state.quiet.discard(event.athlete)
    return Outcome(What.DONE, event.athlete)


def _effort_rated(state: ClassState, event: EffortRated) -> Outcome:
    if event.effort is None:
        state.efforts.pop(event.athlete, None)
        return Outcome(What.DONE, event.athlete)
    if not LEAST_EFFORT <= event.effort <= MOST_EFFORT:
        return Outcome(What.REFUSED, event.athlete, because=f"an effort lies between {LEAST_EFFORT} and {MOST_EFFORT}")
    state.efforts[event.athlete] = event.effort
    return Outcome(What.DONE, event.athlete)


def _known(handler: Handler) -> Handler:
    """Folds an event in that is about somebody who is, or was, here; about anybody else it means nothing."""

    def folded(state: ClassState, event: Any) -> Outcome:
        return handler(state, event) if event.athlete in state.athletes else Outcome(What.UNKNOWN, event.athlete)

    return folded


def _in_part(handler: Callable[[ClassState, Any, PartRun, str], Outcome]) -> Handler:
    """Folds an event in that is about a part, once it has begun: with its run, and the name under which it is recorded."""

    def folded(state: ClassState, event: Any) -> Outcome:
        run = state.run_of(event.part)
        if run is None:
            return Outcome(What.REFUSED, event.athlete, because="that part has not begun")
        return handler(state, event, run, run.recorded_as(event.athlete))

    return folded


_ABOUT_SOMEBODY: dict[type[Event], Handler] = {
    NotFinished: _in_part(_not_finished),
    SplitCorrected: _in_part(_corrected),
    ResultEntered: _in_part(_entered),
    ScoreEntered: _in_part(_scored),
    TargetChanged: _of_move("targets", "target"),
    LoadChanged: _of_move("loads", "load"),
    OptionChosen: _of_move("options", "option"),
    ChoiceTaken: _choice,
    Allowed: _allowed,
    Regrouped: _regrouped,
    Left: _left,
    Quietened: _quietened,
    EffortRated: _effort_rated,
}
HANDLERS: dict[type[Event], Handler] = {
    **{event: _known(handler) for event, handler in _ABOUT_SOMEBODY.items()},
    Joined: _joined,
    MarginChanged: _margin,
}
"""What folds each kind of event in that sets something right or changes it on the spot."""
