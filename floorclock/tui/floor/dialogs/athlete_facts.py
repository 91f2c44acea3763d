"""What the dialogs are told about an athlete and the class: plain values, taken from the state when a dialog opens.

Invariant: facts carry final words next to the values that an event needs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits, coming
from floorclock.clock.taps import STILL_FRESH_MS
from floorclock.clock.timeline import station_index
from floorclock.plan.kit_needs import fitting_group
from floorclock.plan.roster import Assignment, Athlete
from floorclock.plan.session import Choice, Paced, Piece, Untapped, Windowed
from floorclock.plan.typed_result import ResultKind, TypedResult
from floorclock.plan.work import Station, station_names
from floorclock.tui.floor.moment import Moment
from floorclock.tui.floor.outlooks import NOTHING_KNOWN, Look, last_measured
from floorclock.tui.floor.score_asked import RESULT, ScoreAsked, numbers_of, result_kind
from floorclock.tui.floor.words import split_words

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import Forecast

STEADY = 0.01
"""A pace that changes by less than this share with each round is called steady."""


@dataclass(frozen=True, slots=True)
class SplitLine:
    """One interval of a part so far. `split` is words, empty where there is none; `status` that of the split, or `now`.

    `interval` counts from 0 in its part; `longest_ms` is the interval's length, the longest split there can be.
    """

    part: int
    interval: int
    round: int
    station: str
    split: str = ""
    status: str = "done"
    longest_ms: int | None = None


@dataclass(frozen=True, slots=True)
class MoveLine:
    """One move of the part: the `item` as written, at which station, and the `work` of this athlete there.

    A station of several moves has a line for each. `round` is their next one there, `when` marks the move of now and the one
    after it.
    """

    station: int
    item: Station
    work: Assignment
    round: int = 1
    when: Literal["", "now", "next"] = ""

    @property
    def own(self) -> str:
        """What their target and load here stand under."""
        return self.item.own(self.work.move)


@dataclass(frozen=True, kw_only=True, slots=True)
class AthleteFacts:
    """Everything the sheet shows of one athlete, at the instant it was opened.

    `part` is the part that targets and choices speak of, `measured_part` the one that splits and results speak of. `station`
    is the one the coach was called for, or of now: it is under the cursor among `moves`. `recorded` is under whose name their
    splits and results stand: of a team its first.
    `groups` says who is in each start group, `scores` what each number is now (empty: none), `gated` the caution of each guarded
    move that needs the coach's yes, `ahead` the next round at each move and its last.
    `advice` says what would help in words, empty where nothing is advised; `drift` how the pace changes. `tap_keys` are
    everybody's: a number that is somebody's tap key chooses nothing. `result_kind` is None in parts without a result. `missed`
    is the interval that `not finished` speaks of, None where there is nothing to miss.
    """

    name: str
    recorded: str
    key: str = ""
    part: int = 0
    measured_part: int = 0
    group: int = 1
    groups: Mapping[int, str] = field(default_factory=dict)
    moves: tuple[MoveLine, ...] = ()
    station: int | None = None
    choice: str = ""
    choices: tuple[Choice, ...] = ()
    splits: tuple[SplitLine, ...] = ()
    scores: tuple[tuple[ScoreAsked, str], ...] = ()
    flag: str = ""
    quiet: bool = False
    advice: str = ""
    drift: str = ""
    ahead: tuple[Forecast, ...] = ()
    gated: Mapping[str, str] = field(default_factory=dict)
    result_kind: ResultKind | None = None
    result: TypedResult | None = None
    missed: int | None = None
    margin_ms: int = 0
    tap_keys: frozenset[str] = frozenset()

    @property
    def move(self) -> MoveLine | None:
        """The move at `station`."""
        return next((line for line in self.moves if line.station == self.station), None)


def athlete_facts(state: ClassState, here: Moment, name: str, look: Look = NOTHING_KNOWN) -> AthleteFacts:
    """Everything about one athlete, for their sheet."""
    athlete, run = state.athletes[name], last_measured(state)
    recorded = run.recorded_as(name) if run else name
    part = part_of_work(state, here) or 0
    at = current_station(state, here, name, look)
    station = state.part(part).stations[at] if at is not None else None
    stands = look.standing
    return AthleteFacts(
        name=name,
        recorded=recorded,
        key=athlete.key,
        part=part,
        measured_part=run.index if run else 0,
        group=state.group_of(name, part, here.index or 0),
        groups=groups_now(state, here),
        moves=move_lines(state, here, part, name) if at is not None else (),
        station=at,
        choice=state.choices.get((name, part), ""),
        choices=getattr(state.part(part), "choose", ()),
        splits=tuple(_split_lines(state, run, here, recorded)) if run else (),
        scores=tuple(_scores(state, run, recorded)) if run else (),
        flag=f"{stands.flag}: {stands.because}" if stands.flag is not None else "",
        quiet=name in state.quiet,
        advice=f"{look.best.move}: {look.best.words}" if look.best is not None else "",
        drift=drift_words(look),
        ahead=_next_and_last(look),
        gated=_gated(state, athlete),
        result_kind=result_kind(run),
        result=typed_result(state, run, recorded) if run else None,
        missed=missed_interval(state, run, recorded) if run else None,
        margin_ms=state.margin_for(name, part, station),
        tap_keys=frozenset(other.key for other in state.athletes.values()),
    )


def part_of_work(state: ClassState, here: Moment) -> int | None:
    """The part that targets, options and groups speak of: the one that runs, else the next that measures anything."""
    if here.run is not None and not isinstance(here.run.part, Untapped):
        return here.run.index
    following = range(state.next_part, len(state.session.parts)) if state.next_part is not None else ()
    ahead = next((index for index in following if not isinstance(state.part(index), Untapped)), None)
    last = last_measured(state)
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
    if isinstance(part, Piece):
        return 0
    if not isinstance(part, Windowed):
        return None
    run = state.run_of(index)
    if run is not None and look.standing.station is not None:
        return look.standing.station
    if run is not None and run.ended_ms is None:
        return _next_work(state, run, name, here.index or 0)
    group = state.group_of(name, index, 0)
    planned = (station_index(part, window, group) for window in range(len(part.stations)))
    return next((at for at in planned if at is not None and not part.stations[at].is_rest), None)


def _next_work(state: ClassState, run: PartRun, name: str, interval: int) -> int | None:
    """The first station where somebody works in that interval or a later one."""
    stations = (state.station_of(name, run, at) for at in range(interval, len(run.timeline.intervals)))
    return next((at for at in stations if at is not None and not run.part.stations[at].is_rest), None)


def move_lines(state: ClassState, here: Moment, part: int, name: str) -> tuple[MoveLine, ...]:
    """Every station of a part where this athlete works, in the order of the plan."""
    run = state.run_of(part) or state.planned_run(part)
    lines = []
    paced = isinstance(run.part, Windowed)
    rounds: dict[int, int] = {}
    for slot in coming(state, run, name) if paced else ():
        rounds.setdefault(slot.station, slot.round)
    current = here.interval.round if here.interval is not None and here.run is run else 1
    marks: dict[int | None, Literal["now", "next"]] = {}
    if paced and here.run is run and here.index is not None:
        marks[_next_work(state, run, name, here.index + 1)] = "next"
        marks[state.station_of(name, run, here.index)] = "now"
    for at, station in enumerate(run.part.stations):
        if station.is_rest:
            continue
        number = rounds.get(at, current)
        for item in station.items or (station,):
            lines.append(MoveLine(at, item, state.assigned(name, item), number, marks.get(at, "")))
    return tuple(lines)


def _split_lines(state: ClassState, run: PartRun, here: Moment, name: str) -> Iterator[SplitLine]:
    if isinstance(run.part, Piece | Paced):
        return
    names = station_names(run.part.stations)
    splits = tuple(athlete_splits(state, run, name))
    for split in splits:
        words = split_words(split.split_ms) if split.split_ms is not None else ""
        done = names[split.station] if split.move in ("", run.part.stations[split.station].move) else split.move
        yield SplitLine(run.index, split.interval, split.round, done, words, split.status.value, split.window_ms)
    now = here.interval
    if here.run is not run or here.index is None or now is None or any(split.interval == here.index for split in splits):
        return
    at = state.station_of(name, run, here.index)
    if at is not None and not run.part.stations[at].is_rest:
        yield SplitLine(run.index, here.index, now.round, names[at], "", "now", now.length_ms)


def drift_words(look: Look) -> str:
    """How the athlete's pace changes with the rounds; empty where nothing is known."""
    pace = look.outlook.pace if look.outlook is not None else None
    if pace is None or not look.forecasts:
        return ""
    if abs(pace.drift) < STEADY:
        return "pace: steady from round to round"
    low, high = sorted((abs(pace.drift - pace.drift_sd), abs(pace.drift + pace.drift_sd)))
    unsure = f" ({100 * low:.0f} to {100 * high:.0f})" if pace.drift_sd < abs(pace.drift) else ", unsure"
    return f"pace: {100 * abs(pace.drift):.0f} % {'slower' if pace.drift > 0 else 'faster'} each round{unsure}"


def _next_and_last(look: Look) -> tuple[Forecast, ...]:
    """The next round at each move, and the last one where it is another; in the order in which they come."""
    by_station: dict[int, list[Forecast]] = {}
    for forecast in look.forecasts:
        by_station.setdefault(forecast.slot.station, []).append(forecast)
    shown = {each.slot.interval: each for several in by_station.values() for each in (several[0], several[-1])}
    return tuple(shown[interval] for interval in sorted(shown))


def missed_interval(state: ClassState, run: PartRun, name: str) -> int | None:
    """The interval that `not finished` speaks of: the one before, if it is just over; else the latest.

    0 for a part that has one result; None where there is nothing to miss.
    """
    if not isinstance(run.part, Windowed):
        return 0 if run.position_ms(state.now_ms) > 0 else None
    position = run.position_ms(state.now_ms)
    begun = [index for index, interval in enumerate(run.timeline.intervals) if interval.start_ms <= position]
    able = [index for index in begun if state.assignment(name, run, index) is not None and state.expected(name, run.index, index)]
    before, latest = [None, *able][-2:] if able else (None, None)
    if before is None or any((name, index) in run.marks for index in (before, latest)):
        return latest
    just_over = position - run.timeline.intervals[before].end_ms <= STILL_FRESH_MS
    return before if just_over else latest


def typed_result(state: ClassState, run: PartRun, name: str) -> TypedResult | None:
    """An athlete's result in a part as a coach would type it; None where there is none."""
    result = athlete_result(state, run, name)
    if result is not None and result_kind(run) == "reps":
        return TypedResult(reps=result.reps)
    return TypedResult(result.rounds, result.reps, result.time_ms) if result else None


def _scores(state: ClassState, run: PartRun, name: str) -> Iterator[tuple[ScoreAsked, str]]:
    """Every number of a part that was or could have been entered for somebody, the newest first."""
    for asked in reversed(numbers_of(state, run)):
        if asked.interval != RESULT:
            known = run.scores.get((name, asked.interval))
            yield asked, "" if known is None else f"{float(known):g}"


def groups_now(state: ClassState, here: Moment) -> dict[int, str]:
    """The start groups that there are, or could be, with who is in each."""
    index, interval = part_of_work(state, here) or 0, here.index or 0
    members: dict[int, list[str]] = {}
    for athlete in state.present:
        members.setdefault(state.group_of(athlete.name, index, interval), []).append(athlete.name)
    part = state.part(index)
    stations = part.stations if isinstance(part, Windowed) else ()
    most = max([len(stations), *members], default=1)
    return {number: ", ".join(members.get(number, ["nobody yet"])) for number in range(1, most + 1)}


def latecomers_group(state: ClassState, here: Moment, groups: Iterable[int]) -> int:
    """The start group that somebody at the door fits into without moving anybody."""
    index, interval = part_of_work(state, here) or 0, here.index or 0
    athletes = [replace(athlete, group=state.group_of(athlete.name, index, interval)) for athlete in state.present]
    return fitting_group(state.session, athletes, Athlete(name=""), list(groups))


def _gated(state: ClassState, athlete: Athlete) -> dict[str, str]:
    cautions: dict[str, str] = {}
    for station in (station for part in state.session.parts for station in part.stations):
        guarded = [station.move] if station.guarded else []
        for move in (*guarded, *(option.move for option in station.options if option.guarded)):
            cautions.setdefault(move, station.caution)
    return {move: caution for move, caution in cautions.items() if move not in athlete.experienced}
