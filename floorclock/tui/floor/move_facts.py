"""What the athlete sheet is told of each move: what is done there now, what it may be changed to, and what is to come."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.clock.tally import coming
from floorclock.plan.roster import assign
from floorclock.plan.session import Intervals, Rotation
from floorclock.plan.work import Station, Target
from floorclock.tui.floor.dialogs.athlete_facts import AheadLine, MoveLine, OptionLine
from floorclock.tui.floor.moment import Moment
from floorclock.tui.floor.part_looks import Look

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import Forecast

CHANCES = ((0.95, "nearly sure"), (0.75, "likely"), (0.4, "open"), (0.1, "unlikely"), (0.0, "hardly"))
"""How likely the margin is kept, from a chance on, in words."""
DOUBTFUL = 0.5
STEADY = 0.01
"""A pace that changes by less than this share with each round is called steady."""


def move_lines(state: ClassState, here: Moment, part: int, name: str) -> tuple[MoveLine, ...]:
    """Every station of a part where this athlete works, in the order of the plan."""
    run = state.run_of(part) or state.planned_run(part)
    athlete, lines = state.athletes[name], []
    paced = isinstance(run.part, Rotation | Intervals)
    rounds: dict[int, int] = {}
    for slot in coming(state, run, name) if paced else ():
        rounds.setdefault(slot.station, slot.round)
    current = here.interval.round if here.interval is not None and here.run is run else 1
    marks = _marks(state, here, run, name) if paced and here.run is run else {}
    for at, station in enumerate(run.part.stations):
        if station.is_rest:
            continue
        work, number = assign(athlete, station), rounds.get(at, current)
        target = Target(work.target.in_round(number), work.target.unit) if work.target is not None else None
        options = tuple(_options(station))
        lines.append(MoveLine(at, station.move, work.move, target, number, work.option, options, marks.get(at, "")))
    return tuple(lines)


def _marks(state: ClassState, here: Moment, run: PartRun, name: str) -> dict[int, Literal["now", "next"]]:
    """Which station is that of now, and which the athlete comes to next."""
    if here.index is None:
        return {}
    marks: dict[int, Literal["now", "next"]] = {}
    at = state.station_of(name, run, here.index)
    if at is not None:
        marks[at] = "now"
    following = (state.station_of(name, run, index) for index in range(here.index + 1, len(run.timeline.intervals)))
    working = next((one for one in following if one is not None and not run.part.stations[one].is_rest), None)
    if working is not None:
        marks.setdefault(working, "next")
    return marks


def _options(station: Station) -> Iterator[OptionLine]:
    if not station.options:
        return
    goal = f" {station.target.words()}" if station.target else ""
    yield OptionLine("", f"{station.move}{goal}, as written")
    for option in station.options:
        target = option.target or station.target
        yield OptionLine(option.name, f"{option.move}{' ' + target.words() if target else ''}")


def drift_words(look: Look) -> str:
    """How the athlete's pace changes with the rounds; empty where nothing is known."""
    pace = look.outlook.pace if look.outlook is not None else None
    if pace is None or not look.forecasts:
        return ""
    if abs(pace.drift) < STEADY:
        return "pace: steady from round to round"
    low, high = sorted((abs(pace.drift - pace.drift_sd), abs(pace.drift + pace.drift_sd)))
    unsure = f" ({100 * low:.0f} to {100 * high:.0f})" if pace.drift_sd < abs(pace.drift) else ", not sure yet"
    return f"pace: {100 * abs(pace.drift):.0f} % {'slower' if pace.drift > 0 else 'faster'} each round{unsure}"


def ahead_lines(look: Look) -> tuple[AheadLine, ...]:
    """The next round at each move, and the last one where it is another; in the order in which they come."""
    by_station: dict[int, list[Forecast]] = {}
    for one in look.forecasts:
        by_station.setdefault(one.slot.station, []).append(one)
    shown = {one.slot.interval: one for several in by_station.values() for one in (several[0], several[-1])}
    return tuple(_ahead_line(shown[interval]) for interval in sorted(shown))


def _ahead_line(one: Forecast) -> AheadLine:
    kept = 1 - one.chance_tight()
    split = f"{one.split_ms / 1000:.0f} ({one.low_ms / 1000:.0f}-{one.high_ms / 1000:.0f})"
    words = next(words for least, words in CHANCES if kept >= least)
    return AheadLine(one.slot.round, one.slot.move, split, words, kept < DOUBTFUL)
