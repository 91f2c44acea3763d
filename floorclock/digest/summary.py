"""What a class came to: splits with their flags, figures per athlete and station, what is still to come, and who to talk to.

Invariant: a summary is worked out from splits, results, and the work that the plan has; it holds no judgement that they do
not support. Where too little was tapped a figure is None, and an untapped interval is counted as unknown, nowhere else.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Coming, Result, Split, Status
from floorclock.digest.calls import Call as Call
from floorclock.digest.calls import calls
from floorclock.digest.figures import StationFigures as StationFigures
from floorclock.digest.figures import StationOverview as StationOverview
from floorclock.digest.figures import athlete_figures, median_of_known, station_overview
from floorclock.pace.advice import Advice, next_targets
from floorclock.pace.flags import Flag, is_tight
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.pace.pacing import Outlook, look_back
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.pace.rests import changed, steps_of
from floorclock.pace.running_out import LEAST_ROUNDS_TAPPED, margin_goes, runs_out
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, PartKind, Session
from floorclock.plan.work import station_names

Slots = Mapping[tuple[int, str], Sequence[Coming]]
"""Work by (part, athlete)."""


@dataclass(frozen=True, slots=True)
class FlaggedSplit:
    """A split, the name of its station in the plan, and the flags that it raised.

    `changed` is true where its target or move is another one than that of the round before at the station.
    """

    split: Split
    station: str
    flags: tuple[Flag, ...] = ()
    changed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteSummary:
    """One athlete in one part. Slope, spread and decrement are the medians of their stations.

    `flags` are all that were raised; `runs out`, which is a forecast, only where it stands for rounds to come, or came true.
    `splits` belong to rotations and intervals, `result` to the other parts; without either nothing is known.
    `forecast` is what is still to come, `runs_out` the round in which the margin goes where that flag stands. `advice` is what
    to change while rounds are to come, next time's target for every station when all was run. `drift` is by what share a
    split grows with each round, `fitted` (one for each of `splits`, ms) the line through them.
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
    forecast: tuple[Forecast, ...] = ()
    runs_out: Forecast | None = None
    runs_out_round: int | None = None
    """The first round in which the margin goes: of those still to come where there are any, else as it was."""
    advice: tuple[Advice, ...] = ()
    drift: float | None = None
    fitted: tuple[float | None, ...] = ()

    @property
    def tapped(self) -> int:
        """In how many intervals there is a split."""
        return sum(one.split.status is Status.DONE for one in self.splits)

    @property
    def held(self) -> bool:
        """True when something was tapped and nothing was flagged."""
        return bool(self.tapped) and not self.flags


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSummary:
    """One part of the plan. Parts that nothing is known of have no athletes.

    `names` are those of its stations, in order, `moves` the moves as written there.
    """

    index: int
    kind: PartKind
    title: str
    athletes: tuple[AthleteSummary, ...] = ()
    stations: tuple[StationOverview, ...] = ()
    names: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()

    @property
    def is_timed_by_splits(self) -> bool:
        """True for rotations and intervals."""
        return self.kind in ("rotation", "intervals")

    def station_name(self, station: int) -> str:
        """The name of a station (from 0), unique in the part."""
        if station < len(self.names):
            return self.names[station]
        return next((one.name for one in self.stations if one.station == station), "")

    def work_name(self, station: int, move: str) -> str:
        """What somebody does at a station: its name, or their own move where that is another one (an option)."""
        written = self.moves[station] if station < len(self.moves) else move
        return move if move and move != written else self.station_name(station)

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

    `started` is the wall time in RFC 3339, a label; empty where it is not known. `load` is everybody's, in that order.
    `paper`: nobody tapped, every split was written down by hand.
    """

    class_id: str
    session: str
    started: str
    rest_margin_s: float
    rehearsal: bool
    athletes: tuple[str, ...]
    parts: tuple[PartSummary, ...]
    calls: tuple[Call, ...] = ()
    load: tuple[SessionLoad, ...] = ()
    paper: bool = False


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
    whole: Slots | None = None,
    coming: Slots | None = None,
    prior: Prior = NO_PRIOR,
    load: Sequence[SessionLoad] = (),
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
        whole: all the work of a part for an athlete; without it nothing is forecast or advised.
        coming: what of that is still to come.
        prior: what earlier classes say.
        load: how hard times how long, for everybody.
    """
    seen = [*(split.athlete for split in splits), *(result.athlete for result in results)]
    names = tuple(dict.fromkeys([*(athlete.name for athlete in athletes), *seen]))
    people = {athlete.name: athlete for athlete in athletes}
    parts = []
    for index, part in enumerate(session.parts):
        here = [split for split in splits if split.part == index]
        if here:
            slots = _Slots(_of_part(whole, index), _of_part(coming, index), people, prior, session.confidence)
            parts.append(_of_splits(index, part, names, here, slots))
        else:
            reached = {result.athlete: result for result in results if result.part == index}
            parts.append(_of_results(index, part, names, reached))
    return ClassSummary(
        class_id=class_id,
        session=session.title,
        started=started,
        rest_margin_s=rest_margin_s,
        rehearsal=rehearsal,
        athletes=names,
        parts=tuple(parts),
        calls=calls(parts),
        load=tuple(load),
    )


@dataclass(frozen=True, slots=True)
class _Slots:
    """What there is beside the splits of a part: the work, the people, what earlier classes say, how sure to be."""

    whole: Mapping[str, Sequence[Coming]]
    coming: Mapping[str, Sequence[Coming]]
    people: Mapping[str, Athlete]
    prior: Prior
    confidence: int


def _of_part(slots: Slots | None, index: int) -> dict[str, Sequence[Coming]]:
    return {name: work for (part, name), work in (slots or {}).items() if part == index}


def _of_results(index: int, part: AnyPart, names: Sequence[str], reached: Mapping[str, Result]) -> PartSummary:
    found = [
        AthleteSummary(name=name, result=reached.get(name), flags=_result_flags(reached.get(name))) for name in names if reached
    ]
    return PartSummary(index=index, kind=part.kind, title=part.title, athletes=tuple(found), names=station_names(part.stations))


def _result_flags(result: Result | None) -> tuple[Flag, ...]:
    return (Flag.NOT_FINISHED,) if result is not None and result.not_finished else ()


def _of_splits(index: int, part: AnyPart, names: Sequence[str], splits: Sequence[Split], slots: _Slots) -> PartSummary:
    stations, worked = station_names(part.stations), sorted({split.station for split in splits})
    outlooks = look_back(
        part,
        splits,
        slots.whole,
        slots.coming,
        prior=slots.prior,
        confidence=slots.confidence,
        athletes=slots.people,
    )
    found = []
    for name in names:
        own = sorted((split for split in splits if split.athlete == name), key=lambda split: split.interval)
        if own:
            found.append(_athlete(part, own, stations, outlooks[name], slots))
    return PartSummary(
        index=index,
        kind=part.kind,
        title=part.title,
        athletes=tuple(found),
        stations=tuple(station_overview(station, stations[station], splits) for station in worked),
        names=stations,
        moves=tuple(station.move for station in part.stations),
    )


def _athlete(part: AnyPart, splits: Sequence[Split], stations: Sequence[str], outlook: Outlook, slots: _Slots) -> AthleteSummary:
    name, pace = splits[0].athlete, outlook.pace
    others = _changed(splits, slots.whole.get(name, ()))
    flagged = tuple(
        FlaggedSplit(one, stations[one.station], outlook.flags.get(one.interval, ()), one.interval in others) for one in splits
    )
    ever = {flag for one in flagged for flag in one.flags} - {Flag.RUNS_OUT}
    if outlook.running_out or _ran_out(flagged):
        ever.add(Flag.RUNS_OUT)
    figures = tuple(athlete_figures(station, stations[station], splits) for station in sorted({one.station for one in splits}))
    rests = [one.rest_ms for one in splits if one.rest_ms is not None]
    advice, whole = outlook.advice, slots.whole.get(name, ())
    if pace is not None and not slots.coming.get(name):
        advice = next_targets(part, splits, whole, pace, confidence=slots.confidence, athlete=slots.people.get(name))
    return AthleteSummary(
        name=name,
        splits=flagged,
        stations=figures,
        slope_ms=median_of_known([one.slope_ms for one in figures]),
        cv_percent=median_of_known([one.cv_percent for one in figures]),
        decrement_percent=median_of_known([one.decrement_percent for one in figures]),
        least_rest_ms=min(rests, default=None),
        flags=tuple(flag for flag in Flag if flag in ever),
        untapped=sum(one.status is Status.UNTAPPED for one in splits),
        forecast=outlook.forecasts,
        runs_out=outlook.runs_out,
        runs_out_round=_runs_out_round(splits, outlook) if slots.coming.get(name) else _went_in_round(splits),
        advice=advice,
        drift=None if pace is None or not rests else math.expm1(pace.drift),
        fitted=tuple(None if pace is None else pace.fitted_ms(one) for one in splits),
    )


def _ran_out(flagged: Sequence[FlaggedSplit]) -> bool:
    """Whether a warning came true: the margin went later at a station that was called to run out."""
    warned = set[int]()
    for one in flagged:
        if one.split.station in warned and (is_tight(one.split) or one.split.status is Status.NOT_FINISHED):
            return True
        if Flag.RUNS_OUT in one.flags:
            warned.add(one.split.station)
    return False


def _changed(splits: Sequence[Split], whole: Sequence[Coming]) -> set[int]:
    """The intervals in which the work is another one than in the round before."""
    steps, found = steps_of(whole), set[int]()
    for station in {one.station for one in splits}:
        here = [one for one in splits if one.station == station]
        found |= {one.interval for one, other in zip(here, changed(here, steps), strict=True) if other}
    return found


def _runs_out_round(splits: Sequence[Split], outlook: Outlook) -> int | None:
    """The first round to come in which the margin goes: as the flag says, and where it is as likely as the flag wants it.

    A station that is tight already shows no `runs out`, but its margin goes again. As for the flag, too little is known before
    the second round with a tap.
    """
    if len({split.round for split in splits if split.status is Status.DONE}) < LEAST_ROUNDS_TAPPED:
        return None
    ahead: dict[int, list[Forecast]] = {}
    for one in outlook.forecasts:
        ahead.setdefault(one.slot.station, []).append(one)
    tried = {split.station for split in splits if split.status is not Status.UNTAPPED}
    goes = [margin_goes(here) for station, here in ahead.items() if station in tried and runs_out(here, stands=False)]
    rounds = [one.slot.round for one in [*goes, outlook.runs_out] if one is not None]
    return min(rounds, default=None)


def _went_in_round(splits: Sequence[Split]) -> int | None:
    """The first round in which the margin went, or the work was not finished."""
    gone = (one.round for one in splits if is_tight(one) or one.status is Status.NOT_FINISHED)
    return min(gone, default=None)
