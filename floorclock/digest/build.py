"""From a class to its digest.

Invariant: a digest is worked out from splits, results, and the work that the plan has, and from nothing else; the same class
gives the same digest, run or read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from floorclock.clock import tally
from floorclock.clock.splits import Coming, Result, Split, Status
from floorclock.clock.state import ClassState
from floorclock.digest.blocks import alike_in_blocks, once_a_work
from floorclock.digest.calls import calls
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, Drift, FlaggedSplit, MarginGoes, PartDigest
from floorclock.digest.figures import athlete_figures, median_of_known, station_overview
from floorclock.digest.volume import VolumeLoad, volume_loads
from floorclock.pace.advice import next_targets
from floorclock.pace.flags import LEAST_ROUNDS_TAPPED, Flag, flags, is_tight, margin_goes, runs_out, soonest
from floorclock.pace.load import SessionLoad, session_loads
from floorclock.pace.model.forecast import Forecast
from floorclock.pace.pacing import Outlook, look_back
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.pace.sayable import changed, steps_of
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, ForTime, Rotation, Session
from floorclock.plan.work import station_names

OUT = (Flag.NOT_FINISHED, Flag.RUNS_OUT)
Work = Mapping[tuple[int, str], Sequence[Coming]]
"""Work by (part, athlete)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What a class is called: the id under which it is kept, its wall time (RFC 3339), and whether its taps are invented.

    `paper`: nobody tapped, every split was written down by hand.
    """

    class_id: str
    started: str = ""
    rehearsal: bool = False
    paper: bool = False


def digest_of(state: ClassState, label: Label, prior: Prior = NO_PRIOR, *, forecast: bool = True) -> ClassDigest:
    """The digest of a class as it stands.

    Args:
        state: the class, run whole or in part.
        label: what it is called.
        prior: what earlier classes say of its athletes.
        forecast: without it nothing is forecast or advised, and the class is not fitted: figures, flags and results alone,
            at once for a class of any size.
    """
    margin_ms = state.session.rest_margin_ms if state.margin_ms is None else state.margin_ms
    splits, results = tally.splits(state), tally.results(state)
    places = [(run, name) for run in state.runs for name in state.athletes] if forecast else []
    return digest_from(
        state.session,
        tuple(state.athletes.values()),
        splits,
        results,
        label=label,
        rest_margin_s=margin_ms / 1000,
        whole={(run.index, name): tuple(tally.whole_part(state, run, name)) for run, name in places},
        coming={(run.index, name): tuple(tally.coming(state, run, name)) for run, name in places},
        prior=prior,
        load=session_loads(state),
        volume=volume_loads(state, splits, results),
        teams={run.index: run.teams for run in state.runs},
    )


def digest_from(
    session: Session,
    athletes: Sequence[Athlete],
    splits: Sequence[Split],
    results: Sequence[Result],
    *,
    label: Label,
    rest_margin_s: float,
    whole: Work | None = None,
    coming: Work | None = None,
    prior: Prior = NO_PRIOR,
    load: Sequence[SessionLoad] = (),
    volume: Sequence[VolumeLoad] = (),
    teams: Mapping[int, Sequence[tuple[str, ...]]] = MappingProxyType({}),
) -> ClassDigest:
    """The same from what the class came to.

    Args:
        session: the plan; the parts of the digest are its parts.
        athletes: in the order of the board. Somebody who has splits or results but is not listed follows at the end.
        splits: of all parts, in any order.
        results: of all parts.
        label: what the class is called.
        rest_margin_s: the margin of the class as a whole; each split carries its own.
        whole: all the work of a part for an athlete; without it nothing is forecast or advised.
        coming: what of that is still to come.
        prior: what earlier classes say.
        load: how hard times how long, for everybody.
        volume: reps times load.
        teams: who worked together, by part; what they took stands under the first of each team.
    """
    seen = [*(split.athlete for split in splits), *(result.athlete for result in results)]
    names = tuple(dict.fromkeys([*(athlete.name for athlete in athletes), *seen]))
    people = {athlete.name: athlete for athlete in athletes}
    parts = []
    for index, part in enumerate(session.parts):
        written = _as_written(index, part, is_ranked=session.ranked)
        taken = [split for split in splits if split.part == index]
        reached = {result.athlete: result for result in results if result.part == index}
        together = {team[0]: team for team in teams.get(index, ())}
        if taken:
            work = _PartWork(_of_part(whole, index), _of_part(coming, index), people, prior, session.confidence)
            parts.append(_timed_part(written, part, names, taken, reached, together, work))
        else:
            parts.append(_result_part(written, names, reached, together))
    parts = alike_in_blocks(parts)
    return ClassDigest(
        class_id=label.class_id,
        session=session.title,
        started=label.started,
        rest_margin_s=rest_margin_s,
        rehearsal=label.rehearsal,
        athletes=names,
        parts=tuple(once_a_work(parts)),
        calls=calls(parts),
        load=tuple(load),
        volume=tuple(volume),
        paper=label.paper,
    )


@dataclass(frozen=True, slots=True)
class _PartWork:
    """What there is beside the splits of a part: the work, the people, what earlier classes say, how sure to be."""

    whole: Mapping[str, Sequence[Coming]]
    coming: Mapping[str, Sequence[Coming]]
    people: Mapping[str, Athlete]
    prior: Prior
    confidence: int


def _of_part(work: Work | None, index: int) -> dict[str, Sequence[Coming]]:
    return {name: slots for (part, name), slots in (work or {}).items() if part == index}


def _as_written(index: int, part: AnyPart, *, is_ranked: bool) -> PartDigest:
    """What a part of a digest has from the plan."""
    return PartDigest(
        index=index,
        kind=part.kind,
        title=part.title,
        names=station_names(part.stations),
        moves=tuple(station.move for station in part.stations),
        is_ranked=is_ranked,
        score=part.score,
        written=part.written or part.title,
        path=part.path if part.block else (),
        round_rest_ms=part.round_rest_ms if isinstance(part, ForTime) else 0,
    )


def _result_part(
    written: PartDigest, names: Sequence[str], reached: Mapping[str, Result], teams: Mapping[str, tuple[str, ...]]
) -> PartDigest:
    found = []
    # Of a team its first has the row. Who is in none while there are teams had gone home.
    rows = {*teams, *reached} if teams else {*names}
    for name in names if reached else ():
        if name not in rows:
            continue
        result = reached.get(name)
        flagged = (Flag.NOT_FINISHED,) if result is not None and result.not_finished else ()
        found.append(AthleteDigest(name=name, result=result, flags=flagged, team=teams.get(name, ())))
    return replace(written, athletes=tuple(found))


def _timed_part(
    written: PartDigest,
    part: AnyPart,
    names: Sequence[str],
    splits: Sequence[Split],
    reached: Mapping[str, Result],
    teams: Mapping[str, tuple[str, ...]],
    work: _PartWork,
) -> PartDigest:
    by_name: dict[str, list[Split]] = {}
    for split in sorted(splits, key=lambda split: split.interval):
        by_name.setdefault(split.athlete, []).append(split)
    outlooks = _outlooks(part, splits, by_name, work)
    stations, worked = station_names(part.stations), sorted({split.station for split in splits})
    found = []
    for name in names:
        athlete = AthleteDigest(name=name)
        if name in by_name:
            athlete = _athlete(part, by_name[name], stations, outlooks[name], work)
        if name in by_name or name in reached:
            found.append(replace(athlete, result=reached.get(name), team=teams.get(name, ())))
    slopes = {
        station: [figure.slope_ms for athlete in found for figure in athlete.stations if figure.station == station]
        for station in worked
    }
    overviews = tuple(station_overview(station, stations[station], splits, slopes[station]) for station in worked)
    return replace(written, athletes=tuple(found), stations=overviews)


def _outlooks(
    part: AnyPart, splits: Sequence[Split], by_name: Mapping[str, Sequence[Split]], work: _PartWork
) -> Mapping[str, Outlook]:
    if not work.whole:
        # Nothing can be forecast, so nobody needs the fit; the other flags come from the splits alone.
        return {
            name: Outlook(flags={interval: raised for (_, interval), raised in flags(own).items()})
            for name, own in by_name.items()
        }
    return look_back(part, splits, work.whole, work.coming, prior=work.prior, confidence=work.confidence, athletes=work.people)


def _athlete(part: AnyPart, splits: Sequence[Split], stations: Sequence[str], outlook: Outlook, work: _PartWork) -> AthleteDigest:
    name, pace = splits[0].athlete, outlook.pace
    whole, coming = work.whole.get(name, ()), work.coming.get(name, ())
    ends_them = isinstance(part, Rotation) and part.until_out
    # Where a missed interval is how the part ends for everybody, it is nothing to be told of.
    unsaid = OUT if ends_them else ()
    raised = {at: tuple(flag for flag in here if flag not in unsaid) for at, here in _raised(splits, outlook).items()}
    others = _changed(splits, whole)
    figures = tuple(athlete_figures(place, stations[place], splits) for place in sorted({split.station for split in splits}))
    advice = outlook.advice
    if pace is not None and not coming and not ends_them:
        advice = next_targets(part, splits, whole, pace, confidence=work.confidence, athlete=work.people.get(name))
    return AthleteDigest(
        name=name,
        splits=tuple(
            FlaggedSplit(
                split,
                stations[split.station],
                raised[split.interval],
                split.interval in others,
                None if pace is None else pace.fitted_ms(split),
            )
            for split in splits
        ),
        stations=figures,
        slope_ms=median_of_known([figure.slope_ms for figure in figures]),
        cv_percent=median_of_known([figure.cv_percent for figure in figures]),
        decrement_percent=median_of_known([figure.decrement_percent for figure in figures]),
        least_rest_ms=min((split.rest_ms for split in splits if split.rest_ms is not None), default=None),
        flags=tuple(flag for flag in Flag if any(flag in here for here in raised.values())),
        untapped=sum(split.status is Status.UNTAPPED for split in splits),
        forecast=outlook.forecasts,
        runs_out=outlook.runs_out,
        margin_goes=None if ends_them else _margin_goes(splits, outlook) if coming else _margin_went(splits),
        drift=None if pace is None else Drift(*map(math.expm1, (pace.drift, *pace.drift_range))),
        advice=() if ends_them else advice,
    )


def _raised(splits: Sequence[Split], outlook: Outlook) -> dict[int, tuple[Flag, ...]]:
    """The flags of each split, by interval; a warning only at a station where it stands or came true."""
    warned, true = set[int](), set(outlook.running_out)
    for split in splits:
        if split.station in warned and (is_tight(split) or split.status is Status.NOT_FINISHED):
            true.add(split.station)
        if Flag.RUNS_OUT in outlook.flags.get(split.interval, ()):
            warned.add(split.station)
    return {
        split.interval: tuple(
            flag for flag in outlook.flags.get(split.interval, ()) if flag is not Flag.RUNS_OUT or split.station in true
        )
        for split in splits
    }


def _changed(splits: Sequence[Split], whole: Sequence[Coming]) -> set[int]:
    """The intervals in which the work is another one than in the round before."""
    steps, found = steps_of(whole), set[int]()
    for station in {split.station for split in splits}:
        here = [split for split in splits if split.station == station]
        found |= {split.interval for split, other in zip(here, changed(here, steps), strict=True) if other}
    return found


def _margin_goes(splits: Sequence[Split], outlook: Outlook) -> MarginGoes | None:
    """The first round to come in which the margin goes: as the flag says, and where it is as likely as the flag wants it.

    A station that is tight already shows no `runs out`, but its margin goes again. As for the flag, too little is known before
    the second round with a tap.
    """
    if len({split.round for split in splits if split.status is Status.DONE}) < LEAST_ROUNDS_TAPPED:
        return None
    ahead: dict[int, list[Forecast]] = {}
    for forecast in outlook.forecasts:
        ahead.setdefault(forecast.slot.station, []).append(forecast)
    tried = {split.station for split in splits if split.status is not Status.UNTAPPED}
    goes = [margin_goes(here) for station, here in ahead.items() if station in tried and runs_out(here, stands=False)]
    first = min((forecast for forecast in [*goes, outlook.runs_out] if forecast is not None), key=soonest, default=None)
    if first is None:
        return None
    return MarginGoes(first.slot.round, first.slot.station, outlook.chances[first.slot.station])


def _margin_went(splits: Sequence[Split]) -> MarginGoes | None:
    """The first round in which the margin went, or the work was not finished."""
    gone = (split for split in splits if is_tight(split) or split.status is Status.NOT_FINISHED)
    first = min(gone, key=lambda split: split.interval, default=None)
    return None if first is None else MarginGoes(first.round, first.station)
