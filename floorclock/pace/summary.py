"""What a class came to: splits with their flags, figures per athlete and station, results, and who to talk to.

Invariant: a summary is worked out from splits and results alone and holds no judgement that they do not support; where too
little was tapped a figure is None, and an untapped interval is counted as unknown, nowhere else.

Slope, spread and decrement compare rounds of the same work: where the target changed, each split counts in time for the
amount of the latest round, and another option starts afresh (`flags.Series`). Medians are of the splits as they were.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Result, Split, Status
from floorclock.pace.flags import Flag, Series, flags, is_tight, most_urgent
from floorclock.pace.stats import Number, coefficient_of_variation, decrement_percent, median
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, PartKind, Session
from floorclock.plan.work import station_names

RESTS_SHOWN = 8


@dataclass(frozen=True, slots=True)
class FlaggedSplit:
    """A split, the name of its station in the plan, and the flags that it raised."""

    split: Split
    station: str
    flags: tuple[Flag, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StationFigures:
    """One athlete at one station. `slope_ms` is per round; spread and slope need two tapped rounds, the median one."""

    station: int
    name: str
    tapped: int
    median_split_ms: float | None = None
    slope_ms: float | None = None
    cv_percent: float | None = None
    decrement_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteSummary:
    """One athlete in one part. Slope, spread and decrement are the medians of their stations; `flags` all that were raised.

    `splits` belong to rotations and intervals, `result` to the other parts; without either nothing is known.
    """

    name: str
    splits: tuple[FlaggedSplit, ...] = ()
    stations: tuple[StationFigures, ...] = ()
    slope_ms: float | None = None
    cv_percent: float | None = None
    decrement_percent: float | None = None
    least_rest_ms: int | None = None
    flags: tuple[Flag, ...] = ()
    untapped: int = 0
    result: Result | None = None

    @property
    def tapped(self) -> int:
        """In how many intervals there is a split."""
        return sum(one.split.status is Status.DONE for one in self.splits)

    @property
    def held(self) -> bool:
        """True when something was tapped and nothing was flagged."""
        return bool(self.tapped) and not self.flags


@dataclass(frozen=True, slots=True, kw_only=True)
class StationOverview:
    """The class at one station: medians over all tapped splits, and how many of them were tight."""

    station: int
    name: str
    tapped: int
    tight: int
    untapped: int
    median_split_ms: float | None = None
    median_rest_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody to talk to, and why in words."""

    athlete: str
    part: int
    flag: Flag
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSummary:
    """One part of the plan. Parts that nothing is known of have no athletes."""

    index: int
    kind: PartKind
    title: str
    athletes: tuple[AthleteSummary, ...] = ()
    stations: tuple[StationOverview, ...] = ()

    @property
    def is_timed_by_splits(self) -> bool:
        """True for rotations and intervals."""
        return self.kind in ("rotation", "intervals")

    def count(self, flag: Flag) -> int:
        """How many athletes had a flag in it."""
        return sum(flag in athlete.flags for athlete in self.athletes)

    @property
    def held(self) -> int:
        """How many athletes were tapped and never flagged."""
        return sum(athlete.held for athlete in self.athletes)

    @property
    def intervals(self) -> int:
        """The work intervals of all athletes together."""
        return sum(len(athlete.splits) for athlete in self.athletes)

    @property
    def untapped(self) -> int:
        """How many of them nobody tapped."""
        return sum(athlete.untapped for athlete in self.athletes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassSummary:
    """One class. `parts` are all parts of the plan, in its order; `calls` the most urgent first.

    `started` is the wall time in RFC 3339, a label; empty where it is not known.
    """

    class_id: str
    session: str
    started: str
    rest_margin_s: float
    rehearsal: bool
    athletes: tuple[str, ...]
    parts: tuple[PartSummary, ...]
    calls: tuple[Call, ...] = ()


def summarise(
    session: Session,
    athletes: Sequence[Athlete],
    splits: Sequence[Split],
    results: Sequence[Result],
    *,
    class_id: str,
    started: str,
    rest_margin_s: float,
    rehearsal: bool,
) -> ClassSummary:
    """The summary of a class.

    Args:
        session: the plan; the parts of the summary are its parts.
        athletes: in the order of the board. Somebody who has splits or results but is not listed follows at the end.
        splits: of all parts, in any order.
        results: of all parts.
        class_id: the label under which the class is kept.
        started: wall time in RFC 3339, a label.
        rest_margin_s: the margin of the class as a whole; each split carries its own.
        rehearsal: whether the taps are invented.
    """
    seen = [*(split.athlete for split in splits), *(result.athlete for result in results)]
    names = tuple(dict.fromkeys([*(athlete.name for athlete in athletes), *seen]))
    parts = []
    for index, part in enumerate(session.parts):
        here = [split for split in splits if split.part == index]
        reached = {result.athlete: result for result in results if result.part == index}
        parts.append(_part(index, part, names, here, reached))
    return ClassSummary(
        class_id=class_id,
        session=session.title,
        started=started,
        rest_margin_s=rest_margin_s,
        rehearsal=rehearsal,
        athletes=names,
        parts=tuple(parts),
        calls=_calls(parts),
    )


def _part(index: int, part: AnyPart, names: Sequence[str], splits: Sequence[Split], reached: dict[str, Result]) -> PartSummary:
    stations = station_names(part.stations)
    found: list[AthleteSummary] = []
    for name in names:
        own = sorted((split for split in splits if split.athlete == name), key=lambda split: split.interval)
        if own:
            found.append(_by_splits(name, own, stations))
        elif reached:
            found.append(AthleteSummary(name=name, result=reached.get(name), flags=_result_flags(reached.get(name))))
    worked = sorted({split.station for split in splits})
    overview = tuple(_overview(station, stations[station], splits) for station in worked)
    return PartSummary(index=index, kind=part.kind, title=part.title, athletes=tuple(found), stations=overview)


def _result_flags(result: Result | None) -> tuple[Flag, ...]:
    return (Flag.NOT_FINISHED,) if result is not None and result.not_finished else ()


def _by_splits(name: str, splits: Sequence[Split], stations: Sequence[str]) -> AthleteSummary:
    raised = flags(splits)
    flagged = tuple(FlaggedSplit(one, stations[one.station], raised.get((one.part, one.interval), ())) for one in splits)
    ever = {flag for one in flagged for flag in one.flags}
    figures = tuple(_figures(station, stations[station], splits) for station in sorted({one.station for one in splits}))
    rests = [one.rest_ms for one in splits if one.rest_ms is not None]
    return AthleteSummary(
        name=name,
        splits=flagged,
        stations=figures,
        slope_ms=_median([one.slope_ms for one in figures]),
        cv_percent=_median([one.cv_percent for one in figures]),
        decrement_percent=_median([one.decrement_percent for one in figures]),
        least_rest_ms=min(rests, default=None),
        flags=tuple(flag for flag in Flag if flag in ever),
        untapped=sum(one.status is Status.UNTAPPED for one in splits),
    )


def _figures(station: int, name: str, splits: Sequence[Split]) -> StationFigures:
    series, taken = Series(), [one for one in splits if one.station == station and one.split_ms is not None]
    for one in taken:
        series.add(one)
    paces = [max(1, pace) for pace in series.paces()] if taken else []
    rounds = {one.round for one in series.taken}
    return StationFigures(
        station=station,
        name=name,
        tapped=len(taken),
        median_split_ms=_median([one.split_ms for one in taken]),
        slope_ms=series.slope_ms() if len(rounds) > 1 else None,
        cv_percent=_figure(coefficient_of_variation, paces),
        decrement_percent=_figure(decrement_percent, paces),
    )


def _overview(station: int, name: str, splits: Sequence[Split]) -> StationOverview:
    here = [split for split in splits if split.station == station]
    return StationOverview(
        station=station,
        name=name,
        tapped=sum(one.status is Status.DONE for one in here),
        tight=sum(is_tight(one) for one in here),
        untapped=sum(one.status is Status.UNTAPPED for one in here),
        median_split_ms=_median([one.split_ms for one in here]),
        median_rest_ms=_median([one.rest_ms for one in here]),
    )


def _figure(figure: Callable[[Sequence[Number]], float], values: Sequence[Number]) -> float | None:
    """A figure that needs two values, or None."""
    return figure(values) if len(values) > 1 else None


def _median(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None


def _calls(parts: Sequence[PartSummary]) -> tuple[Call, ...]:
    """One for each flagged athlete and part, by urgency; within it those with the least rest first."""
    found = []
    for part in parts:
        for athlete in part.athletes:
            flag = most_urgent(athlete.flags)
            if flag is not None:
                rest_ms = athlete.least_rest_ms if athlete.least_rest_ms is not None else 0
                found.append(
                    (list(Flag).index(flag), rest_ms, Call(athlete.name, part.index, flag, _because(athlete, flag, part)))
                )
    return tuple(call for _, _, call in sorted(found, key=lambda item: item[:2]))


def _because(athlete: AthleteSummary, flag: Flag, part: PartSummary) -> str:
    if not athlete.splits:
        return f"{part.title} not finished"
    if flag is Flag.FADING:
        return _fading_words(athlete)
    raised = [one for one in athlete.splits if flag in one.flags]
    if flag is Flag.NOT_FINISHED:
        places = ", ".join(f"round {one.split.round} at {one.station}" for one in raised)
        return f"{places} not finished"
    by_station: dict[str, list[FlaggedSplit]] = {}
    for one in raised:
        by_station.setdefault(one.station, []).append(one)
    worst = max(by_station, key=lambda station: len(by_station[station]))
    tapped = sum(one.station == worst and one.split.split_ms is not None for one in athlete.splits)
    margin = f"{raised[0].split.margin_ms / 1000:g} s"
    words = f"under the margin of {margin} in {len(by_station[worst])} of {tapped} rounds at {worst}: {_rests(athlete, worst)}"
    others = [station for station in by_station if station != worst]
    return f"{words}; also at {', '.join(others)}" if others else words


def _fading_words(athlete: AthleteSummary) -> str:
    worst = max(athlete.stations, key=lambda one: one.slope_ms or 0.0)
    return f"{(worst.slope_ms or 0) / 1000:.1f} s slower each round at {worst.name}: {_rests(athlete, worst.name)}"


def _rests(athlete: AthleteSummary, station: str) -> str:
    """`rest 24, 21, ?, 12 s`: whole seconds, rounded down, `?` where nobody tapped."""
    here = [one.split for one in athlete.splits if one.station == station and one.split.status is not Status.NOT_FINISHED]
    rests = ["?" if one.rest_ms is None else str(one.rest_ms // 1000) for one in here[-RESTS_SHOWN:]]
    return f"rest {', '.join(rests)} s"
