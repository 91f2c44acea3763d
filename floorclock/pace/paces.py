"""Who has which pace: each athlete worked out once for a fit and their splits, everybody together where that can be.

Invariant: a pace is that of the splits asked about, whoever else is worked out with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from operator import is_

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.amounts import same
from floorclock.pace.model.forecast import AthletePace, ClassFit, Forecast


@dataclass(slots=True)
class Known:
    """One athlete by one fit, with the forecasts that were asked for."""

    fit: ClassFit
    worked: list[Split]
    pace: AthletePace
    _made: dict[int, tuple[Coming, Forecast | None]] = field(default_factory=dict)

    def forecasts(self, slots: Iterable[Coming]) -> tuple[Forecast, ...]:
        """Those of these slots of which anything is known."""
        asked = list(slots)
        known = self._made
        new = [
            slot
            for slot in asked
            if (before := known.get(slot.interval)) is None or (before[0] is not slot and before[0] != slot)
        ]
        if new:
            for slot, made in zip(new, self.pace.forecasts(new), strict=True):
                known[slot.interval] = slot, made
        return tuple([one for slot in asked if (one := known[slot.interval][1]) is not None])


class Paces:
    """The paces of one part. After a fit everybody is looked at, so that the first who is asked about brings the others."""

    def __init__(self) -> None:
        self._own: dict[str, list[Split]] = {}
        self._together: dict[tuple[int, int], dict[str, Known]] = {}
        self._latest: dict[str, Known] = {}
        self._work: dict[str, Sequence[Coming]] = {}

    def take(self, settled: Iterable[Mapping[str, Split]]) -> None:
        """What the class was fitted with: the splits of each interval in order, by athlete."""
        self._own = {}
        self._together.clear()
        for splits in settled:
            for name, split in splits.items():
                self._own.setdefault(name, []).append(split)

    def expect(self, name: str, whole: Sequence[Coming]) -> None:
        """The work that will be asked about; a forecast of other work costs more."""
        self._work[name] = whole

    def of(self, fit: ClassFit, name: str, splits: Sequence[Split]) -> Known:
        """An athlete by a fit, given their splits in order."""
        worked = [split for split in splits if split.status is not Status.UNTAPPED]
        known = self._latest.get(name)
        if known is None or known.fit is not fit or not same_splits(known.worked, worked):
            known = self._with_others(fit, name, worked) or Known(fit, worked, fit.pace_of(name, worked))
            self._latest[name] = known
        return known

    def _with_others(self, fit: ClassFit, name: str, worked: Sequence[Split]) -> Known | None:
        """The athlete, where the splits are what was settled up to some interval."""
        own = self._own.get(name, ())
        if not worked or not same_splits(own[: len(worked)], worked):
            return None
        last = worked[-1].interval
        if len(own) > len(worked) and own[len(worked)].interval <= last:
            return None
        together = self._together.get((id(fit), last))
        if together is None:
            # Each keeps the fit, so that no other one can come to have its id.
            together = self._together[id(fit), last] = self._everybody(fit, last)
        return together[name]

    def _everybody(self, fit: ClassFit, last: int) -> dict[str, Known]:
        splits = {who: [one for one in own if one.interval <= last] for who, own in self._own.items()}
        paces = fit.paces_of(splits)
        slots = {who: [slot for slot in self._work.get(who, ()) if slot.interval > last] for who in splits}
        forecasts = fit.forecasts_of([(paces[who], slots[who]) for who in splits])
        return {
            who: Known(
                fit, splits[who], paces[who], {slot.interval: (slot, one) for slot, one in zip(slots[who], made, strict=True)}
            )
            for who, made in zip(splits, forecasts, strict=True)
        }


def same_splits(some: Sequence[Split], others: Sequence[Split]) -> bool:
    """Whether splits are the same work, one by one. The margin, which may change for all rounds at once, is no part of it."""
    if len(some) != len(others):
        return False
    # Nearly always they are the very same.
    return all(map(is_, some, others)) or all(map(same_work, some, others))


def same_work(one: Split, other: Split) -> bool:
    """Whether two splits say the same of a pace."""
    return one is other or (
        one.split_ms == other.split_ms
        and one.interval == other.interval
        and one.status is other.status
        and one.station == other.station
        and one.window_ms == other.window_ms
        and one.round == other.round
        and one.move == other.move
        and same(one.amount, other.amount)
        and one.unit is other.unit
    )
