"""Who needs the coach: flags from one athlete's splits, and the one that stands on the board.

Invariant: a flag is a function of the splits in order. An untapped interval is absent: it raises nothing, lowers nothing
and is in no statistic; a not finished one has no split and is in no statistic either.

How a flag is raised and lowered, so that none flickers:

- `not finished` and `tight` belong to a round. On the board they stand until a later round at that station was tapped
  with at least the margin left.
- `fading` belongs to the athlete in a part. It is raised when the pace rises from round to round by more than the
  athlete's own noise explains (`RAISE_Z`) and the rest lost by it is worth a word (`least_loss_ms`), and lowered only
  when one of the two has clearly gone (`LOWER_Z`, half the loss).
- `runs out` needs a forecast; nothing here raises it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from floorclock.clock.splits import Split, Status
from floorclock.pace.stats import NO_TREND, Number, Trend, median, pooled, seasonal_kendall, theil_sen
from floorclock.plan.work import Unit


class Flag(StrEnum):
    """What is wrong, the most urgent first."""

    NOT_FINISHED = "not finished"
    RUNS_OUT = "runs out"
    TIGHT = "tight"
    FADING = "fading"


RAISE_Z = 2.2
"""Fading is raised from here on: see `tests/pace/test_flags.py` for the false alarms that this leaves among steady athletes."""
LOWER_Z = 1.0
LEAST_ROUNDS = 3
"""A station counts for a trend from its third split on; two splits always rise or fall."""
LEAST_LOSS_MS = 2_000
LEAST_LOSS_OF_INTERVAL = Fraction(3, 100)
RESTS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Standing:
    """What the board shows for an athlete: the most urgent flag that stands, why in words, and all that stand."""

    flag: Flag | None = None
    because: str = ""
    station: int | None = None
    flags: tuple[Flag, ...] = ()


def least_loss_ms(window_ms: int) -> float:
    """The smallest loss of rest from the first round to now that is worth a word: 2 s, or 3 % of a longer interval.

    Two seconds is what a tap by a busy hand may be off by at both ends (common practice, no source).
    """
    return max(LEAST_LOSS_MS, float(LEAST_LOSS_OF_INTERVAL * window_ms))


def flags(splits: Iterable[Split]) -> dict[tuple[int, int], tuple[Flag, ...]]:
    """The flags of one athlete's intervals, by (part, interval); an interval without a flag is left out.

    Each interval has the flags that its own split raised; `fading` is on every split taken while the athlete faded.
    """
    return {(split.part, split.interval): raised for watch in _watches(splits) for split, raised in watch.raised if raised}


def standing(splits: Iterable[Split]) -> Standing:
    """The flag that stands now for one athlete, after the last of their splits; that of the latest part if there are several."""
    watches = _watches(splits)
    return watches[-1].standing() if watches else Standing()


def _watches(splits: Iterable[Split]) -> list[_Watch]:
    by_part: dict[int, _Watch] = {}
    for split in sorted(splits, key=lambda one: (one.part, one.interval)):
        by_part.setdefault(split.part, _Watch()).see(split)
    return list(by_part.values())


@dataclass
class _Series:
    """One athlete's tapped rounds at one station, as long as they do the same kind of work there."""

    taken: list[Split] = field(default_factory=list)
    trend: Trend = NO_TREND

    def add(self, split: Split) -> None:
        if self.taken and _kind_of_work(self.taken[-1]) != _kind_of_work(split):
            self.taken.clear()
        self.taken.append(split)
        self.trend = seasonal_kendall([self.paces()])

    @property
    def counts(self) -> bool:
        return len(self.taken) >= LEAST_ROUNDS

    @property
    def same_amount(self) -> bool:
        return all(split.amount == self.taken[0].amount for split in self.taken)

    def paces(self) -> list[Number]:
        """Split by split, in time for the amount of the latest one: a round with more to do may take longer."""
        latest = self.taken[-1].amount
        if self.same_amount or not latest:
            return [split.split_ms or 0 for split in self.taken]
        return [(split.split_ms or 0) * float(latest / (split.amount or latest)) for split in self.taken]

    def slope_ms(self) -> float:
        """How much longer the latest work takes with each round."""
        return theil_sen([split.round for split in self.taken], self.paces()).slope

    def loss(self) -> float:
        """The rest lost to the pace since the first round, as a multiple of what is worth a word.

        None is lost where a changed target has given the rest back.
        """
        first, last = self.taken[0], self.taken[-1]
        if not self.same_amount and (last.rest_ms or 0) >= (first.rest_ms or 0):
            return 0.0
        return self.slope_ms() * (last.round - first.round) / least_loss_ms(last.window_ms)


def _kind_of_work(split: Split) -> tuple[str, Unit | None, bool]:
    """Splits compare only within it: another option, or a ladder that fell to nothing, starts the station afresh."""
    return split.move, split.unit, bool(split.amount)


@dataclass
class _Watch:
    """What is known of one athlete in one part, split by split in order."""

    seen: list[Split] = field(default_factory=list)
    raised: list[tuple[Split, tuple[Flag, ...]]] = field(default_factory=list)
    series: dict[int, _Series] = field(default_factory=dict)
    open: dict[int, tuple[Flag, Split]] = field(default_factory=dict)
    """By station: a flag of a round that no later round there has cleared."""
    fading: bool = False

    def see(self, split: Split) -> None:
        self.seen.append(split)
        if split.status is Status.UNTAPPED:
            self.raised.append((split, ()))
        elif split.status is Status.NOT_FINISHED:
            self.raised.append((split, (Flag.NOT_FINISHED,)))
            self.open[split.station] = (Flag.NOT_FINISHED, split)
        else:
            self.raised.append((split, self._done(split)))

    def _done(self, split: Split) -> tuple[Flag, ...]:
        self.series.setdefault(split.station, _Series()).add(split)
        self.fading = self._fades()
        tight = is_tight(split)
        if not tight:
            self.open.pop(split.station, None)
        elif self.open.get(split.station, (Flag.TIGHT,))[0] is Flag.TIGHT:
            self.open[split.station] = (Flag.TIGHT, split)
        return (Flag.TIGHT,) * tight + (Flag.FADING,) * self.fading

    def _fades(self) -> bool:
        counted = [series for series in self.series.values() if series.counts]
        z = pooled(series.trend for series in counted).z
        if z < (LOWER_Z if self.fading else RAISE_Z):
            return False
        return median([series.loss() for series in counted]) >= (0.5 if self.fading else 1.0)

    def standing(self) -> Standing:
        found = sorted(self.open.values(), key=lambda item: (_URGENCY[item[0]], -item[1].interval))
        present = list(dict.fromkeys(flag for flag, _ in found)) + [Flag.FADING] * self.fading
        if not present:
            return Standing()
        if found:
            flag, split = found[0]
            words = self._unfinished_words(split) if flag is Flag.NOT_FINISHED else self._rest_words(split.station)
            return Standing(flag, words, split.station, tuple(present))
        worst = max((series for series in self.series.values() if series.counts), key=_Series.loss)
        station = worst.taken[-1].station
        words = f"{self._rest_words(station)}; {worst.slope_ms() / 1000:.1f} s slower each round"
        return Standing(Flag.FADING, words, station, tuple(present))

    def _unfinished_words(self, split: Split) -> str:
        return f"round {split.round}{self._at(split)} not finished; {self._rest_words(split.station)}"

    def _rest_words(self, station: int) -> str:
        """`rest 24, 21, 17 s; margin 15`: the latest rounds at a station, `?` where nobody tapped."""
        here = [split for split in self.seen if split.station == station][-RESTS_SHOWN:]
        rests = ", ".join(_SHORT[split.status] if split.rest_ms is None else str(split.rest_ms // 1000) for split in here)
        return f"rest {rests} s{self._at(here[-1])}; margin {here[-1].margin_ms / 1000:g}"

    def _at(self, split: Split) -> str:
        several = len({one.station for one in self.seen}) > 1
        return f" at {split.move}" if several and split.move else ""


def is_tight(split: Split) -> bool:
    """True when less than the margin was left: strictly less, the margin itself is enough."""
    return split.rest_ms is not None and split.rest_ms < split.margin_ms


_URGENCY: Mapping[Flag, int] = {flag: place for place, flag in enumerate(Flag)}
_SHORT: Mapping[Status, str] = {Status.UNTAPPED: "?", Status.NOT_FINISHED: "-"}


def most_urgent(found: Sequence[Flag]) -> Flag | None:
    """The flag to act on first."""
    return min(found, key=_URGENCY.__getitem__, default=None)
