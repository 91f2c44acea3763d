"""Who needs the coach: flags from one athlete's splits, and the one that stands on the board.

Invariant: a flag is a function of the splits in order and of what was forecast after each. An untapped interval is absent:
it raises nothing, lowers nothing and is in no statistic; a not finished one has no split and is in no statistic of flags
either.

How a flag is raised and lowered, so that none flickers:

- `not finished` and `tight` belong to a round. On the board they stand until a later round at that station was tapped
  with at least the margin left.
- `fading` belongs to the athlete in a part. It is raised when the rest lost to a slower pace is worth a word (`least_loss_ms`)
  with a chance of `FADING_CHANCE`, and lowered when that chance is under `FADED_CHANCE`.
- `runs out` belongs to a station and needs a forecast. All stations are looked at after each split of the athlete, wherever
  it was: the drift is theirs, not that of a station. Only stations where they had two intervals or more and tapped one, from
  their second round with a tap in the part on. It is raised when the margin goes in some round still to come there with a
  chance of `RAISE_CHANCE` (in the second round little is known: `EARLY_CHANCE`), lowered under `LOWER_CHANCE` or when no
  round is to come. It is not shown while the latest split there is tight or not finished. Where the coach has changed the
  work since, it is gone at once when the chance is under `WELL_UNDER`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.model.forecast import Forecast, joined
from floorclock.pace.sayable import Steps, later, rests_words
from floorclock.pace.series import Series, chance_of_loss


class Flag(StrEnum):
    """What is wrong, in the order in which flags are listed; which to act on first, `URGENCY` says."""

    NOT_FINISHED = "not finished"
    RUNS_OUT = "runs out"
    TIGHT = "tight"
    FADING = "fading"


FADING_CHANCE = 0.84
FADED_CHANCE = 0.50
RAISE_CHANCE = 0.60
EARLY_CHANCE = 0.72
LOWER_CHANCE = 0.45
"""Held much longer, a flag is more often wrong than right."""
WELL_UNDER = 0.30
EVEN = 0.50
LEAST_ROUNDS_TAPPED = 2
EARLY_ROUND = 2
RESTS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Standing:
    """What the board shows for an athlete: the most urgent flag that stands, why in words, and all that stand.

    What `because` says also stands by itself: the `rests` there in words, the `move` (empty where there is one station only),
    the `margin_ms` and the `latest_rest_ms`; `round` of what was not finished, `slope_ms` (more each round) of fading.
    `dealt_with` is true where the coach has changed the work since, and nothing more would help.
    """

    flag: Flag | None = None
    because: str = ""
    station: int | None = None
    flags: tuple[Flag, ...] = ()
    rests: str = ""
    move: str = ""
    margin_ms: int | None = None
    latest_rest_ms: int | None = None
    round: int | None = None
    slope_ms: float | None = None
    dealt_with: bool = False


Ahead = Mapping[int, Sequence[Forecast]]
"""What is still to come for one athlete, by station, in order."""


def flags(splits: Iterable[Split]) -> dict[tuple[int, int], tuple[Flag, ...]]:
    """The flags of one athlete's intervals, by (part, interval), without a forecast; an interval without a flag is left out.

    Each interval has the flags that its own split raised; `fading` is on every split taken while the athlete faded.
    """
    return {(split.part, split.interval): raised for watch in _watches(splits) for split, raised in watch.raised if raised}


def standing(splits: Iterable[Split]) -> Standing:
    """The flag that stands now for one athlete, after the last of their splits; that of the latest part if there are several."""
    watches = _watches(splits)
    return watches[-1].standing() if watches else Standing()


def _watches(splits: Iterable[Split]) -> list[Watch]:
    by_part: dict[int, Watch] = {}
    for split in sorted(splits, key=lambda split: (split.part, split.interval)):
        by_part.setdefault(split.part, Watch()).see(split)
    return list(by_part.values())


@dataclass
class Watch:
    """What is known of one athlete in one part, split by split in order."""

    seen: list[Split] = field(default_factory=list)
    raised: list[tuple[Split, tuple[Flag, ...]]] = field(default_factory=list)
    series: dict[int, Series] = field(default_factory=dict)
    open: dict[int, tuple[Flag, Split]] = field(default_factory=dict)
    """By station: a flag of a round that no later round there has cleared."""
    fading: bool = False
    warned: set[int] = field(default_factory=set)
    """The stations at which `runs out` stands; it shows where no flag of a round is open."""
    steps: Steps = field(default_factory=dict)
    """What the plan adds to targets with each round, where it is known: a ladder is no change of the target."""
    _last: dict[int, Split] = field(default_factory=dict, init=False, repr=False, compare=False)
    """The latest split at each station."""

    def see(self, split: Split, ahead: Ahead | None = None) -> None:
        """Takes the next interval; `ahead` is what is to come where something can be said of it, None where it is too early."""
        self.seen.append(split)
        self._last[split.station] = split
        if split.status is Status.UNTAPPED:
            self.raised.append((split, ()))
        elif split.status is Status.NOT_FINISHED:
            self.raised.append((split, (Flag.NOT_FINISHED,)))
            self.open[split.station] = (Flag.NOT_FINISHED, split)
        else:
            self.raised.append((split, self._done(split, ahead)))

    def _done(self, split: Split, ahead: Ahead | None) -> tuple[Flag, ...]:
        self.series.setdefault(split.station, Series()).add(split)
        chance = chance_of_loss([series for series in self.series.values() if series.compares])
        self.fading = chance >= (FADED_CHANCE if self.fading else FADING_CHANCE)
        if ahead is not None:
            self._warn(split.station, ahead)
        tight = is_tight(split)
        if not tight:
            self.open.pop(split.station, None)
        elif self.open.get(split.station, (Flag.TIGHT,))[0] is Flag.TIGHT:
            self.open[split.station] = (Flag.TIGHT, split)
        warned = split.station in self.warned and not tight
        return (Flag.RUNS_OUT,) * warned + (Flag.TIGHT,) * tight + (Flag.FADING,) * self.fading

    def _warn(self, here: int, ahead: Ahead) -> None:
        now = self.seen[-1].round
        stand = {at for at, ahead_there in ahead.items() if runs_out(ahead_there, at in self.warned, now)}
        for station in stand - self.warned - {here}:
            self._mark(station)
        self.warned = stand

    def _mark(self, station: int) -> None:
        """Puts a warning on the latest tapped split of a station that was seen to run out while the athlete was elsewhere."""
        if station in self.open:
            return
        for place, (split, raised) in reversed(list(enumerate(self.raised))):
            if split.station == station and split.rest_ms is not None:
                self.raised[place] = (split, (Flag.RUNS_OUT, *(flag for flag in raised if flag is not Flag.RUNS_OUT)))
                return

    @property
    def flagged(self) -> bool:
        """Whether any flag was raised and not lowered by a split, though a lower target may have taken it off the board."""
        return bool(self.open or self.warned) or self.fading

    def running_out(self, ahead: Ahead) -> dict[int, Forecast]:
        """Where `runs out` stands, given all that is still to come now, with the round in which the margin goes."""
        found = {}
        for station in self.warned - set(self.open):
            here = ahead.get(station, ())
            goes = margin_goes(here)
            if goes is not None and (not self._is_changed(station, here) or may_run_out(here)):
                found[station] = goes
        return found

    def _is_changed(self, station: int, here: Sequence[Forecast]) -> bool:
        """Whether what is to come is other work than the latest split there spoke of."""
        last = self._last[station]
        kind = (last.move, last.unit)
        slots = [forecast.slot for forecast in here]
        return any((slot.move, slot.unit) != kind or slot.amount != later_amount(last, slot) for slot in slots)

    def standing(
        self, going: Mapping[int, Forecast] | None = None, helped: Sequence[int] = (), ahead: Ahead | None = None
    ) -> Standing:
        """The flag that stands, given where `runs out` does (`running_out`), where something helps, and what is to come.

        A station where the coach has changed the work since, so that nothing more would help, comes last; of two with the same
        flag one where something helps comes first, then the one that hurts more. Fading is an athlete's, not a station's:
        without such a station the reason is that of the one that loses most.
        """
        going = going or {}
        found: list[tuple[Flag, tuple[float, ...], int]] = [
            *((flag, (split.rest_ms or 0, -split.interval), station) for station, (flag, split) in self.open.items()),
            *((Flag.RUNS_OUT, soonest(goes), station) for station, goes in going.items()),
        ]
        present = tuple(sorted({flag for flag, _, _ in found}, key=URGENCY.__getitem__)) + (Flag.FADING,) * self.fading
        dealt = {at for at in self.open if at not in helped and self._is_changed(at, (ahead or {}).get(at, ()))}
        found.sort(key=lambda item: (item[2] in dealt, URGENCY[item[0]], item[2] not in helped, item[1:]))
        if not present:
            return Standing()
        if not found:
            worst = max((at for at, series in self.series.items() if series.counts), key=lambda at: self.series[at].loss_ms())
            station = next((at for at in helped if at in self.series), worst)
            return self._stands(Flag.FADING, station, present, None)
        flag, _, station = found[0]
        return self._stands(flag, station, present, going.get(station), dealt_with=station in dealt)

    def _stands(
        self, flag: Flag, station: int, present: tuple[Flag, ...], goes: Forecast | None, *, dealt_with: bool = False
    ) -> Standing:
        missed = flag is Flag.NOT_FINISHED
        rests = [split.rest_ms for split in self.seen if split.station == station and split.rest_ms is not None]
        slopes = flag is Flag.FADING and len(self.series[station].taken) > 1
        return Standing(
            flag,
            self.reason(station, flag, goes, place=True),
            station,
            present,
            # The rests of earlier rounds say nothing of the round that was not finished.
            rests="" if missed else self._rests(station),
            move=self._move(station),
            margin_ms=self._last[station].margin_ms,
            latest_rest_ms=rests[-1] if rests and not missed else None,
            round=self.open[station][1].round if missed else None,
            slope_ms=self.series[station].slope_ms() if slopes else None,
            dealt_with=dealt_with,
        )

    def reason(self, station: int, flag: Flag | None, goes: Forecast | None = None, *, place: bool = False) -> str:
        """Why a flag stands at a station, in words: the latest rests, and what follows; with `place`, where that is."""
        move = self._move(station) if place else ""
        at = f" at {move}" if move else ""
        if flag is Flag.NOT_FINISHED:
            before = self._rests(station, only_tapped=True)
            return f"round {self.open[station][1].round}{at}" + (f"; {before}" if before else "")
        rests = f"{self._rests(station)}{at}"
        if flag is Flag.RUNS_OUT and goes is not None:
            return f"{rests}; under {goes.slot.margin_ms / 1000:g} by round {goes.slot.round}"
        if flag is Flag.FADING and len(self.series[station].taken) > 1:
            return f"{rests}; {self.series[station].slope_ms() / 1000:.1f} s slower each round"
        return f"{rests}; margin {self._last[station].margin_ms / 1000:g}"

    def _rests(self, station: int, *, only_tapped: bool = False) -> str:
        """`rest 24, 21, 17 s`: the latest rounds at a station, `?` where nobody tapped; empty where nothing is to be said."""
        here = [split for split in self.seen if split.station == station]
        return rests_words(here, self.steps, RESTS_SHOWN, not_finished=None if only_tapped else "not finished")

    def _move(self, station: int) -> str:
        return self._last[station].move if len(self._last) > 1 else ""


def chance_tight(ahead: Sequence[Forecast]) -> float:
    """How likely the margin goes in some round of what is to come at a station."""
    return 1 - joined([forecast.hold() for forecast in ahead])


def runs_out(ahead: Sequence[Forecast], stands: bool, round_number: int = EARLY_ROUND + 1) -> bool:
    """Whether the flag stands at a station, given what is to come there, whether it stood before, and the round it is."""
    raise_at = EARLY_CHANCE if round_number <= EARLY_ROUND else RAISE_CHANCE
    return bool(ahead) and chance_tight(ahead) > (LOWER_CHANCE if stands else raise_at)


def may_run_out(ahead: Sequence[Forecast]) -> bool:
    """Whether the margin is in danger in what is to come, flag or no flag."""
    return chance_tight(ahead) > WELL_UNDER


def margin_goes(ahead: Sequence[Forecast]) -> Forecast | None:
    """The first round by which the margin is more likely gone than not, else the likeliest; None without any."""
    for count, forecast in enumerate(ahead, start=1):
        if chance_tight(ahead[:count]) > EVEN:
            return forecast
    return max(ahead, key=lambda forecast: forecast.chance_tight(), default=None)


def soonest(forecast: Forecast) -> tuple[int, float]:
    """Sorts rounds in which the margin goes: the earlier one first, in the same round the surer one."""
    return forecast.slot.round, -forecast.chance_tight()


def later_amount(split: Split, slot: Coming) -> Fraction | None:
    """The amount that the round of a slot would have by the target of this split: a step further, of a list in proportion."""
    if split.amount is None:
        return None
    if slot.move != split.move:
        return split.amount
    if slot.amounts:
        written = slot.amounts[min(split.round, len(slot.amounts)) - 1]
        return split.amount * slot.amount / written
    return later(split.amount, slot.step, slot.round - split.round)


def is_tight(split: Split) -> bool:
    """True when less than the margin was left: strictly less, the margin itself is enough."""
    return split.rest_ms is not None and split.rest_ms < split.margin_ms


SYMBOL: Mapping[Flag, str] = {Flag.NOT_FINISHED: "/", Flag.RUNS_OUT: "x", Flag.TIGHT: "!", Flag.FADING: "v"}
"""Shown beside the word, never in its place."""
URGENCY: Mapping[Flag, int] = {Flag.NOT_FINISHED: 0, Flag.TIGHT: 1, Flag.RUNS_OUT: 2, Flag.FADING: 3}
"""By when the margin goes: it is gone, it is gone now, it goes in a round to come, it shrinks."""


def most_urgent(found: Sequence[Flag]) -> Flag | None:
    """The flag to act on first."""
    return min(found, key=URGENCY.__getitem__, default=None)
