"""What an action on the athlete sheet means as events."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    Event,
    Left,
    MarginChanged,
    NotFinished,
    OptionChosen,
    Quietened,
    Regrouped,
    ResultEntered,
    SplitCorrected,
    TapTakenBack,
    TargetChanged,
)
from floorclock.clock.state import ClassState
from floorclock.plan.roster import assign
from floorclock.plan.work import Target
from floorclock.tui.floor.dialogs.athlete_facts import (
    Allow,
    AthleteAction,
    ChooseOption,
    Correct,
    EnterResult,
    GiveTarget,
    MarkNotFinished,
    SendHome,
    SetGroup,
    SetMargin,
    SetQuiet,
    TakeBack,
    TakeChoice,
)
from floorclock.tui.floor.facts import measured_run, part_of_work
from floorclock.tui.floor.moment import Moment


def events_of(action: AthleteAction, state: ClassState, here: Moment, name: str, at_ms: int) -> Iterator[Event]:
    """The events of one action for one athlete."""
    at: dict[str, Any] = {"at_ms": at_ms, "athlete": name}
    run = measured_run(state)
    part = run.index if run else 0
    match action:
        case GiveTarget() | ChooseOption():
            yield from _on_the_move(action, state, here, name, at_ms)
        case TakeChoice(choice):
            yield ChoiceTaken(**at, part=part_of_work(state, here) or 0, choice=choice)
        case Correct(interval, split_ms, row_part):
            own_part = part if row_part is None else row_part
            yield SplitCorrected(**at, part=own_part, interval=interval, split_ms=split_ms)
        case MarkNotFinished(interval, row_part):
            yield NotFinished(**at, part=part if row_part is None else row_part, interval=interval)
        case EnterResult(rounds, reps, time_ms):
            yield ResultEntered(**at, part=part, rounds=rounds, reps=reps, time_ms=time_ms)
        case _:
            yield from _of_the_person(action, at)


def _of_the_person(action: AthleteAction, at: dict[str, Any]) -> Iterator[Event]:
    match action:
        case SetGroup(group):
            yield Regrouped(**at, group=group)
        case Allow(move):
            yield Allowed(**at, move=move)
        case SetMargin(margin_ms):
            yield MarginChanged(**at, margin_ms=margin_ms)
        case SetQuiet(quiet):
            yield Quietened(**at, quiet=quiet)
        case SendHome():
            yield Left(**at)
        case TakeBack():
            yield TapTakenBack(**at)


def _on_the_move(action: GiveTarget | ChooseOption, state: ClassState, here: Moment, name: str, at_ms: int) -> Iterator[Event]:
    part = part_of_work(state, here)
    if part is None:
        return
    station = state.part(part).stations[action.station]
    if isinstance(action, ChooseOption):
        yield OptionChosen(at_ms=at_ms, athlete=name, move=station.move, option=action.name)
        return
    work = assign(state.athletes[name], station)
    if work.target is None:
        return
    # A ladder keeps its steps: the new amount is that of the round it is given for.
    target = Target(action.amount - work.target.step * (action.round - 1), work.target.unit, work.target.step)
    yield TargetChanged(at_ms=at_ms, athlete=name, move=work.move, target=target)
