"""One athlete after the other: the flags that stand, what is to come, and what to change.

Invariant: the class is fitted when an interval is over, so that what is said of an athlete after a tap does not depend on
who else tapped first; played again from the journal it comes out the same.

There is a fit for each interval that is over, of all splits up to and with it. Flags walk the athlete's own splits in order,
each with the fit of the intervals before its own. When a split of an earlier interval was tapped late, entered or corrected,
the next `settle` fits that interval and all that follow anew; until then the athlete's own look knows of it, the class
does not.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from operator import attrgetter
from typing import Final

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.advice import Advice, advise_less, advise_more
from floorclock.pace.flags import (
    LEAST_ROUNDS_TAPPED,
    URGENCY,
    Flag,
    Standing,
    Watch,
    chance_tight,
    later_amount,
    may_run_out,
    soonest,
)
from floorclock.pace.largest import Rounds
from floorclock.pace.model.forecast import AthletePace, ClassFit, Forecast, fit_class
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.pace.sayable import steps_of
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart
from floorclock.plan.totals import interval_count


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """What is to be said of one athlete in one part now.

    `flags` are those each split raised, by interval; `standing` the one that stands. `forecasts` are all intervals still
    to come, in order; `running_out` are the stations where that flag stands, each with the first round in which the margin
    goes, `runs_out` is the soonest of these. `chances` says of each station how likely the margin goes there in some round still
    to come. `advice` is what to change, the most urgent station first: at most one for each station.
    """

    standing: Standing = field(default_factory=Standing)
    flags: Mapping[int, tuple[Flag, ...]] = field(default_factory=dict)
    forecasts: tuple[Forecast, ...] = ()
    runs_out: Forecast | None = None
    running_out: Mapping[int, Forecast] = field(default_factory=dict)
    chances: Mapping[int, float] = field(default_factory=dict)
    advice: tuple[Advice, ...] = ()
    pace: AthletePace | None = None


SHORT: Final = 60
"""So many intervals of a part are looked at one by one."""
LOOKS: Final = 30
"""So many of a longer one: else the cost of each would grow with all of them, and nobody waits for a class of hours."""
REACH: Final = 60
"""In such a part a fit rests on the last so many intervals, and a forecast goes no further."""


@dataclass(slots=True)
class _Walk:
    """One athlete's splits as far as they have been looked at, in order."""

    slots: tuple[Coming, ...]
    watch: Watch
    fits: list[ClassFit] = field(default_factory=list)
    """Of each split that was seen, the class as it was known when its interval began."""


class PartPacing:
    """Everybody's pace in one part, kept up to date by whoever runs or reads the class."""

    def __init__(self, part: AnyPart, *, prior: Prior = NO_PRIOR, confidence: int = 90) -> None:
        """`confidence` in percent, as in `Session`."""
        self._part, self._prior, self._confidence = part, prior, confidence
        count = interval_count(part)
        self._stride = 1 if count <= SHORT else -(-count // LOOKS)
        """Only every so-manieth interval is looked at; 1 but for a part that is very long."""
        self._fits = [fit_class((), prior)]
        """The class as it was known before the first interval, and after each that is over."""
        self._settled: list[dict[str, Split]] = []
        """What each interval was fitted with, by athlete."""
        self._walks: dict[str, _Walk] = {}
        self._paces: dict[str, tuple[ClassFit, list[Split], AthletePace]] = {}

    def settle(self, interval: int, splits: Sequence[Split]) -> None:
        """An interval is over: fits the class to all splits of the part up to and with it.

        Intervals before it that were never settled, or whose splits have changed since, are fitted on the way; `interval`
        may be one that was settled before.
        """
        by_interval: list[dict[str, Split]] = [{} for _ in range(interval + 1)]
        for split in splits:
            if split.interval <= interval and split.status is not Status.UNTAPPED:
                by_interval[split.interval][split.athlete] = split
        same = 0
        while same < min(len(self._settled), interval + 1) and _same_interval(self._settled[same], by_interval[same]):
            same += 1
        if same > interval:
            return
        del self._fits[same + 1 :], self._settled[same:]
        for number in range(same, interval + 1):
            self._settled.append(by_interval[number])
            fit = self._fits[-1]
            if by_interval[number] and self._is_looked_at(number):
                first = max(0, number + 1 - REACH) if self._stride > 1 else 0
                fit = fit_class([split for earlier in self._settled[first:] for split in earlier.values()], self._prior)
            self._fits.append(fit)

    def look(
        self, splits: Sequence[Split], whole: Sequence[Coming], coming: Sequence[Coming], athlete: Athlete | None = None
    ) -> Outlook:
        """One athlete now: their splits in the part so far, all its work for them, and what of that is still to come.

        `athlete` is needed for advice about guarded moves and options; without it nobody is taken for experienced.
        """
        name = next((interval.athlete for intervals in (splits, coming, whole) for interval in intervals), None)
        if name is None:
            return Outlook()
        watch = self._walked(name, sorted(splits, key=lambda split: split.interval), tuple(whole)).watch
        pace = self._pace_of(self._fits[-1], name, watch.seen)
        forecasts = tuple(forecast for forecast in pace.forecasts(coming) if forecast is not None)
        ahead = _by_station(forecasts)
        going = watch.running_out(ahead)
        advice = self._advice(watch, ahead, going, pace, athlete or Athlete(name=name))
        return Outlook(
            standing=watch.standing(going, [advised.station for advised in advice], ahead),
            flags={split.interval: raised for split, raised in watch.raised if raised},
            forecasts=forecasts,
            runs_out=min(going.values(), key=soonest, default=None),
            running_out=going,
            chances={station: chance_tight(here) for station, here in ahead.items()},
            advice=advice,
            pace=pace,
        )

    def _is_looked_at(self, interval: int) -> bool:
        return interval % self._stride == 0

    def _fit_before(self, interval: int) -> ClassFit:
        """The class as it was known when an interval began."""
        return self._fits[min(interval, len(self._settled))]

    def _walked(self, name: str, splits: Sequence[Split], slots: tuple[Coming, ...]) -> _Walk:
        """The walk through all these splits, from where the last one got to if nothing before it has changed."""
        walk = self._walks.get(name)
        done = len(walk.fits) if walk is not None else 0
        if (
            walk is None
            or walk.watch.seen != splits[:done]
            or any(self._fit_before(split.interval) is not fit for split, fit in zip(walk.watch.seen, walk.fits, strict=True))
            or not _same_measure(walk.slots, slots)
        ):
            walk, done = _Walk(slots, Watch(steps=steps_of(slots))), 0
            self._walks[name] = walk
        elif walk.slots is not slots:
            walk.slots, walk.watch.steps = slots, {**walk.watch.steps, **steps_of(slots)}
        for at, split in enumerate(splits[done:], done + 1):
            fit = self._fit_before(split.interval)
            walk.fits.append(fit)
            walk.watch.see(split, self._ahead_of(splits[:at], slots, fit) if self._is_looked_at(split.interval) else None)
        return walk

    def _ahead_of(self, so_far: Sequence[Split], slots: Sequence[Coming], fit: ClassFit) -> dict[int, list[Forecast]] | None:
        """What was to come after the last of these splits, by the targets of then; None when it is too early to say."""
        rounds_tapped = {split.round for split in so_far if split.status is Status.DONE}
        if so_far[-1].status is not Status.DONE or len(rounds_tapped) < LEAST_ROUNDS_TAPPED:
            return None
        latest = {split.station: split for split in so_far if split.status is not Status.UNTAPPED}
        seen = Counter(split.station for split in so_far)
        first = bisect_right(slots, so_far[-1].interval, key=attrgetter("interval"))
        there = slots[first:] if self._stride == 1 else slots[first : first + REACH]
        later = [slot for slot in there if slot.station in latest]
        then = [_as_it_stood(slot, latest[slot.station]) for slot in later if seen[slot.station] >= LEAST_ROUNDS_TAPPED]
        pace = self._pace_of(fit, so_far[0].athlete, so_far if self._stride == 1 else so_far[-REACH:])
        forecasts = pace.forecasts([slot for slot in then if slot is not None])
        return _by_station(forecast for forecast in forecasts if forecast is not None)

    def _pace_of(self, fit: ClassFit, name: str, splits: Sequence[Split]) -> AthletePace:
        """An athlete by a fit; a tap is looked at twice, by the interval it belongs to and by now, mostly with the same fit."""
        worked = [split for split in splits if split.status is not Status.UNTAPPED]
        known = self._paces.get(name)
        if known is None or known[0] is not fit or known[1] != worked:
            known = self._paces[name] = fit, worked, fit.pace_of(name, worked)
        return known[2]

    def _advice(
        self,
        watch: Watch,
        ahead: Mapping[int, Sequence[Forecast]],
        going: Mapping[int, Forecast],
        pace: AthletePace,
        athlete: Athlete,
    ) -> tuple[Advice, ...]:
        found = []
        for flag, station in _in_need(watch, ahead, going):
            rounds = Rounds(tuple(ahead[station]), self._confidence / 100)
            because = watch.reason(station, flag, going.get(station))
            cap = _cap(watch, station, rounds.next)
            found.append(advise_less(rounds, pace, self._part.stations[station], athlete, because, cap))
        if not found and not watch.flagged:
            for station, here in ahead.items():
                taken = watch.series[station].taken if station in watch.series else []
                rounds, because = Rounds(tuple(here), self._confidence / 100), watch.reason(station, None) if taken else ""
                found.append(advise_more(rounds, self._part.stations[station], athlete, because, taken))
        return tuple(advice for advice in found if advice is not None)


def _by_station(forecasts: Iterable[Forecast]) -> dict[int, list[Forecast]]:
    found: dict[int, list[Forecast]] = {}
    for forecast in forecasts:
        found.setdefault(forecast.slot.station, []).append(forecast)
    return found


def _as_it_stood(slot: Coming, split: Split) -> Coming | None:
    """A slot with the work that the athlete's split at its station spoke of; None where that had no amount."""
    amount = later_amount(split, slot)
    if amount is None or not amount or split.unit is None:
        return None
    if slot.unit is split.unit and slot.move == split.move and slot.amount == amount:
        return slot
    step = slot.step if slot.move == split.move else Fraction(0)
    return replace(slot, move=split.move, unit=split.unit, amount=amount, step=step)


def _in_need(watch: Watch, ahead: Mapping[int, Sequence[Forecast]], going: Mapping[int, Forecast]) -> list[tuple[Flag, int]]:
    """The stations where something is to be changed, the most urgent first: by flag, then by the rest that was left where it was
    tight, then by when it matters.
    """
    wanted = {station: flag for station, (flag, _) in watch.open.items()}
    wanted |= dict.fromkeys(going, Flag.RUNS_OUT)
    if watch.fading:
        for station, here in ahead.items():
            if station not in wanted and station in watch.series and may_run_out(here):
                wanted[station] = Flag.FADING

    def order(station: int) -> tuple[int, int, tuple[float, ...], int]:
        left_ms = (watch.open[station][1].rest_ms or 0) if wanted[station] is Flag.TIGHT else 0
        # First where the margin goes first; where it does not go, the station they come to first.
        when = soonest(going[station]) if station in going else (ahead[station][0].slot.interval,)
        return URGENCY[wanted[station]], left_ms, when, station

    return [(wanted[station], station) for station in sorted((at for at in wanted if ahead.get(at)), key=order)]


def _cap(watch: Watch, station: int, first: Coming) -> Fraction | None:
    """After work that was not finished: no more than the same share of the time without the margin has room for.

    Who could not do 14 in 60 s does not do more than 14 x 45 / 60 in 45 s.
    """
    flag, split = watch.open.get(station, (None, None))
    if flag is not Flag.NOT_FINISHED or split is None or (split.move, split.unit) != (first.move, first.unit) or not split.amount:
        return None
    most = split.amount * max(0, first.window_ms - first.margin_ms) / split.window_ms
    return most if most < first.amount else None


def _same_interval(one: Mapping[str, Split], other: Mapping[str, Split]) -> bool:
    """Whether the fit of an interval would be the same: margins, which may change for all rounds at once, are no part of it."""

    def work(split: Split) -> Split:
        return replace(split, margin_ms=0, credited=False, corrected=False)

    return one.keys() == other.keys() and all(
        split is other[name] or work(split) == work(other[name]) for name, split in one.items()
    )


def _same_measure(one: Sequence[Coming], other: Sequence[Coming]) -> bool:
    """Whether flags of before are judged by the same intervals and margins. Targets of now are no part of them, steps are."""
    measure = attrgetter("interval", "station", "window_ms", "margin_ms", "step")
    return one is other or [*map(measure, one)] == [*map(measure, other)]


def look_back(
    part: AnyPart,
    splits: Sequence[Split],
    whole: Mapping[str, Sequence[Coming]],
    coming: Mapping[str, Sequence[Coming]],
    *,
    prior: Prior = NO_PRIOR,
    confidence: int = 90,
    athletes: Mapping[str, Athlete] | None = None,
) -> dict[str, Outlook]:
    """Every athlete of a part that was run or read whole, interval by interval: what the floor would have said at its end.

    `athletes` are needed for advice about guarded moves and options.
    """
    pacing, known = PartPacing(part, prior=prior, confidence=confidence), athletes or {}
    own: dict[str, list[Split]] = {name: [] for name in whole}
    for split in splits:
        own.setdefault(split.athlete, []).append(split)
    if splits:
        pacing.settle(max(split.interval for split in splits), splits)
    return {name: pacing.look(taken, whole.get(name, ()), coming.get(name, ()), known.get(name)) for name, taken in own.items()}
