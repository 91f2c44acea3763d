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
"""Fading is raised from here on. Of simulated athletes who hold their pace for six rounds at 1 to 6 stations, 1 to 4 in 100
were ever called at a noise of 3 to 5 % of the split, 5 in 100 at 8 %; of those who slow by 5 % a round, nearly all at three
stations and more than half at one."""
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
class Series:
    """One athlete's tapped rounds at one station, as long as they do the same kind of work there."""

    taken: list[Split] = field(default_factory=list)
    same_amount: bool = True
    trend: Trend = NO_TREND

    def add(self, split: Split) -> None:
        """Takes one more tapped round, later than those before."""
        if self.taken and _kind_of_work(self.taken[-1]) != _kind_of_work(split):
            self.taken, self.same_amount = [], True
        self.taken.append(split)
        self.same_amount = self.same_amount and split.amount == self.taken[0].amount
        self.trend = seasonal_kendall([self.paces()])

    @property
    def counts(self) -> bool:
        """Whether it is long enough for a trend."""
        return len(self.taken) >= LEAST_ROUNDS

    def paces(self) -> list[Number]:
        """Split by split, in time for the amount of the latest one: a round with more to do may take longer."""
        latest = self.taken[-1].amount
        if self.same_amount or not latest:
            return [split.split_ms or 0 for split in self.taken]
        return [(split.split_ms or 0) * float(latest / (split.amount or latest)) for split in self.taken]

    def slope_ms(self) -> float:
        """How much longer the latest work takes with each round (Theil-Sen); needs two rounds."""
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
    series: dict[int, Series] = field(default_factory=dict)
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
        self.series.setdefault(split.station, Series()).add(split)
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
        if not found:
            return self._fading_standing(tuple(present))
        flag, split = found[0]
        if flag is Flag.NOT_FINISHED:
            before = self._rests(split.station, only_tapped=True)
            words = f"round {split.round}{self._at(split)}" + (f"; {before}" if before else "")
        else:
            words = f"{self._rests(split.station)}{self._at(split)}; margin {split.margin_ms / 1000:g}"
        return Standing(flag, words, split.station, tuple(present))

    def _fading_standing(self, present: tuple[Flag, ...]) -> Standing:
        worst = max((series for series in self.series.values() if series.counts), key=Series.loss)
        latest = worst.taken[-1]
        slower = f"{worst.slope_ms() / 1000:.1f} s slower each round"
        return Standing(Flag.FADING, f"{self._rests(latest.station)}{self._at(latest)}; {slower}", latest.station, present)

    def _rests(self, station: int, *, only_tapped: bool = False) -> str:
        """`rest 24, 21, 17 s`: the latest rounds at a station, `?` where nobody tapped; empty where nothing is to be said."""
        here = [split for split in self.seen if split.station == station][-RESTS_SHOWN:]
        shown = [_rest_word(split) for split in here if split.rest_ms is not None or not only_tapped]
        return f"rest {', '.join(shown)} s" if shown else ""

    def _at(self, split: Split) -> str:
        several = len({one.station for one in self.seen}) > 1
        return f" at {split.move}" if several and split.move else ""


def is_tight(split: Split) -> bool:
    """True when less than the margin was left: strictly less, the margin itself is enough."""
    return split.rest_ms is not None and split.rest_ms < split.margin_ms


SYMBOL: Mapping[Flag, str] = {Flag.NOT_FINISHED: "/", Flag.RUNS_OUT: "x", Flag.TIGHT: "!", Flag.FADING: "v"}
"""Shown beside the word, never in its place."""
_URGENCY: Mapping[Flag, int] = {flag: place for place, flag in enumerate(Flag)}


def _rest_word(split: Split) -> str:
    """Rest in whole seconds, rounded down: never more than there was."""
    if split.rest_ms is None:
        return "not finished" if split.status is Status.NOT_FINISHED else "?"
    return str(split.rest_ms // 1000)


def most_urgent(found: Sequence[Flag]) -> Flag | None:
    """The flag to act on first."""
    return min(found, key=_URGENCY.__getitem__, default=None)
