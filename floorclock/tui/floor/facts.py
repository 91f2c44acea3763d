"""What the dialogs are told about the class: plain values from the state."""

from __future__ import annotations

from collections.abc import Iterable

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Split, Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.clock.timeline import station_index
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, Paced, Rotation
from floorclock.plan.work import station_names
from floorclock.tui.floor.dialogs.athlete_facts import AthleteFacts, GatedMove, GroupLine, OptionLine, SplitRow, SplitStatus
from floorclock.tui.floor.dialogs.reading import Result as TypedResult
from floorclock.tui.floor.dialogs.reading import ResultKind
from floorclock.tui.floor.moment import Moment
from floorclock.tui.floor.move_facts import ahead_lines, drift_words, move_lines
from floorclock.tui.floor.part_looks import NOTHING_KNOWN, Look
from floorclock.tui.floor.words import split_words

STATUS_WORDS: dict[Status, SplitStatus] = {
    Status.DONE: "done",
    Status.UNTAPPED: "untapped",
    Status.NOT_FINISHED: "not finished",
}


def measured_run(state: ClassState) -> PartRun | None:
    """The part that corrections speak of: the one that runs, or the last one that measured anything."""
    return next((run for run in reversed(state.runs) if run.part.kind != "open"), None)


def part_of_work(state: ClassState, here: Moment) -> int | None:
    """The part that targets, options and groups speak of: the one that runs, else the next that measures anything."""
    if here.run is not None and here.run.part.kind != "open":
        return here.run.index
    coming = range(state.next_part, len(state.session.parts)) if state.next_part is not None else ()
    ahead = next((index for index in coming if state.part(index).kind != "open"), None)
    last = measured_run(state)
    return ahead if ahead is not None else last.index if last is not None else None


def current_station(state: ClassState, here: Moment, name: str, look: Look = NOTHING_KNOWN) -> int | None:
    """The station of `part_of_work` that comes first for a coach who looks at an athlete.

    That of their flag, if one stands: it is what the coach was called for. Else the one they are at, or come to next when
    they rest now; for a piece of work its first item.
    """
    index = part_of_work(state, here)
    if index is None:
        return None
    part = state.part(index)
    if isinstance(part, ForTime | Amrap):
        return 0
    if not isinstance(part, Rotation | Intervals):
        return None
    run = state.run_of(index)
    if run is not None and look.standing.station is not None:
        return look.standing.station
    if run is not None and run.ended_ms is None:
        at = (state.station_of(name, run, i) for i in range(here.index or 0, len(run.timeline.intervals)))
    else:
        group = state.group_of(name, index, 0)
        at = (station_index(part, window, group) for window in range(len(part.stations)))
    return next((i for i in at if i is not None and not part.stations[i].is_rest), None)


def athlete_facts(state: ClassState, here: Moment, name: str, look: Look = NOTHING_KNOWN) -> AthleteFacts:
    """Everything about one athlete, for their sheet."""
    athlete, run = state.athletes[name], measured_run(state)
    part_index = part_of_work(state, here) or 0
    at = current_station(state, here, name, look)
    station = state.part(part_index).stations[at] if at is not None else None
    moves = move_lines(state, here, part_index, name) if at is not None else ()
    first = next((line for line in moves if line.station == at), None)
    splits = tuple(athlete_splits(state, run, name)) if run else ()
    result = athlete_result(state, run, name) if run else None
    stands = look.standing
    return AthleteFacts(
        name=name,
        key=athlete.key,
        group=state.group_of(name, part_index, here.index or 0),
        groups=group_lines(state, here),
        move=first.move if first else "",
        target=first.target if first else None,
        option=first.option if first else "",
        moves=moves,
        station=at,
        choice=state.choices.get((name, part_index), ""),
        choices=tuple(_choices(state.part(part_index))),
        splits=_split_rows(run, here, splits, name, state) if run else (),
        flags=(f"{stands.flag}: {stands.because}",) if stands.flag is not None else (),
        quiet=name in state.quiet,
        advice=f"{look.advice[0].move}: {look.advice[0].words}" if look.advice else "",
        drift=drift_words(look),
        ahead=ahead_lines(look),
        gated=tuple(_gated(state, athlete)),
        result_kind=result_kind(run),
        result=TypedResult(result.rounds, result.reps, result.time_ms) if result else None,
        margin_ms=state.margin_for(name, part_index, station),
        tap_keys=frozenset(other.key for other in state.athletes.values()),
    )


def result_kind(run: PartRun | None) -> ResultKind | None:
    """The kind of result a part has, for the dialogs; None for none."""
    if run is None:
        return None
    kinds: dict[str, ResultKind] = {"for_time": "for_time", "amrap": "amrap", "paced": "paced"}
    return kinds.get(run.part.kind)


def group_lines(state: ClassState, here: Moment) -> tuple[GroupLine, ...]:
    """The start groups that there are, or could be, with who is in each."""
    part, interval = part_of_work(state, here) or 0, here.index or 0
    members: dict[int, list[str]] = {}
    for athlete in state.present:
        members.setdefault(state.group_of(athlete.name, part, interval), []).append(athlete.name)
    run_part = state.part(part)
    stations = run_part.stations if isinstance(run_part, Rotation | Intervals) else ()
    most = max([len(stations), *members], default=1)
    return tuple(GroupLine(number, ", ".join(members.get(number, ["nobody yet"]))) for number in range(1, most + 1))


def result_words(state: ClassState, run: PartRun, name: str) -> str:
    """An athlete's result in a part as a coach would type it; empty where there is none."""
    result = athlete_result(state, run, name)
    return TypedResult(result.rounds, result.reps, result.time_ms).words() if result else ""


def _choices(part: AnyPart) -> Iterable[OptionLine]:
    if not isinstance(part, ForTime | Amrap) or not part.choose:
        return
    yield OptionLine("", "as written")
    for choice in part.choose:
        words = f"{choice.rounds} rounds" if choice.rounds else ", ".join(item.move for item in choice.work)
        yield OptionLine(choice.name, words)


def _split_rows(run: PartRun, here: Moment, splits: tuple[Split, ...], name: str, state: ClassState) -> tuple[SplitRow, ...]:
    if isinstance(run.part, ForTime | Amrap | Paced):
        return ()
    names = station_names(run.part.stations)
    rows = [
        SplitRow(
            split.interval,
            split.round,
            names[split.station],
            split_words(split.split_ms) if split.split_ms is not None else "",
            STATUS_WORDS[split.status],
            split.window_ms,
            run.index,
        )
        for split in splits
    ]
    running = here.run is run and here.index is not None
    if running and here.index is not None and here.interval is not None and all(row.interval != here.index for row in rows):
        at = state.station_of(name, run, here.index)
        if at is not None and not run.part.stations[at].is_rest:
            length = here.interval.length_ms
            rows.append(SplitRow(here.index, here.interval.round, names[at], "", "now", length, run.index))
    return tuple(rows)


def _gated(state: ClassState, athlete: Athlete) -> Iterable[GatedMove]:
    seen = set()
    for part in state.session.parts:
        for station in part.stations:
            guarded = [station.move] if station.guarded else []
            guarded += [option.move for option in station.options if option.guarded]
            for move in guarded:
                if move not in athlete.experienced and move not in seen:
                    seen.add(move)
                    yield GatedMove(move, station.caution)
