"""The rows of an invented gym, some weeks at a time, as the tables of a store hold them.

Invariant: rows are those that the store's own writers lay down: the same tables, columns and order of keys. Only the figures of a
pace are simpler than real ones: its slope is by least squares.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

import numpy as np
from sqlalchemy import Table

from floorclock.pace.flags import Flag
from floorclock.plan.work import Unit
from floorclock.store.codes import DONE, KINDS, NOT_FINISHED, SOURCES, UNITS, UNTAPPED
from floorclock.store.tables import attendance, paces, results, splits, stations
from tests.bench.years_gym import (
    COMES,
    FADES,
    FIRST_MONDAY,
    FOR_TIME_PART,
    MOVES,
    PACES_A_VISIT,
    PLANS,
    SHAPE,
    SITE_HOME,
    SPLITS_A_VISIT,
    Gym,
    Numbers,
    Written,
)

_TIGHT, _FADING, _MISSED = (1 << list(Flag).index(flag) for flag in (Flag.TIGHT, Flag.FADING, Flag.NOT_FINISHED))


class Rows:
    """The rows of some weeks. Visits are in the order of class and person, as splits are kept."""

    def __init__(self, site: int, gym: Gym, weeks: range, first_class: int, draw: np.random.Generator) -> None:
        self._site, self._gym, self._draw = site, gym, draw
        self._starts = [start for week in weeks for start in gym.starts(week)]
        self._first = first_class
        own, self._class = self._visits(weeks)
        self._years = (self._class / len(self._starts) * len(weeks) + weeks.start) / 52
        self._own = own
        self._person = self._spelt(own)
        order = np.lexsort((self._person, self._class))
        self._own, self._person, self._class = self._own[order], self._person[order], self._class[order]
        self._years = self._years[order]
        self._plan = np.array([(start - FIRST_MONDAY).days % PLANS for start in self._starts])
        self._parts = [_Part(self, *shape) for shape in SHAPE]

    def _visits(self, weeks: range) -> tuple[Numbers, Numbers]:
        """Who came to which class."""
        people, came, before = [], [], 0
        for week in weeks:
            who, count = self._gym.who[:, week], len(self._gym.starts(week))
            wanted = np.minimum(self._draw.binomial(self._gym.wishes[who], COMES), count)
            rank = self._draw.random((len(who), count)).argsort(axis=1).argsort(axis=1)
            place, here = np.nonzero(rank < wanted[:, None])
            people.append(who[place])
            came.append(here + before)
            before += count
        return np.concatenate(people), np.concatenate(came)

    def _spelt(self, own: Numbers) -> Numbers:
        others = np.arange(self._gym.people + 1)
        for number, other in self._gym.second_spelling.items():
            others[number] = other
        return np.where(self._draw.random(len(own)) < 0.1, others[own], own)

    @property
    def written(self) -> Written:
        """How much these rows are."""
        visits = len(self._person)
        return Written(len(self._starts), visits, visits * SPLITS_A_VISIT, visits * PACES_A_VISIT)

    def by_table(self) -> Iterator[tuple[Table, list[tuple[object, ...]]]]:
        """The rows of each table but the classes, in the order of the columns."""
        yield attendance, self._attendance()
        yield splits, self._splits()
        yield paces, self._paces()
        yield stations, [row for part in self._parts for row in part.stations()]
        yield results, self._results()

    def classes(self) -> Iterator[dict[str, object]]:
        """The classes."""
        there = np.bincount(self._class, minlength=len(self._starts))
        taken, missed = (
            np.sum([np.bincount(self._class, getattr(part, name), len(self._starts)) for part in self._parts], axis=0)
            for name in ("tapped", "missed")
        )
        for place, start in enumerate(self._starts):
            number = self._first + place
            yield {
                "site": self._site,
                "class_no": number,
                "class_id": f"{start:%Y%m%d-%H%M}-{number % 65_536:04x}",
                "started": start,
                "offset_minutes": 60,
                "session": f"Harbour {self._plan[place]:02d}",
                "rehearsal": False,
                "source": SOURCES["taps"],
                "rest_margin_ms": 12_000,
                "minutes": 58.5,
                "ended": True,
                "damage": 0,
                "athletes": int(there[place]),
                "splits": int(there[place]) * SPLITS_A_VISIT,
                "tapped": int(taken[place]),
                "not_finished": int(missed[place]),
                "home": SITE_HOME,
                "journal_size": 90_000 + number,
                "journal_mtime_ns": int(start.timestamp()) * 10**9 + number,
                "forgotten": 0,
            }

    def _attendance(self) -> list[tuple[object, ...]]:
        effort = self._draw.integers(2, 10, len(self._person)).astype(float)
        columns = [self._person, self._class + self._first, np.full(len(effort), 58.5)]
        order = np.lexsort((self._class, self._person))
        rated = _or_none(effort[order], self._draw.random(len(effort)) < 0.8)
        return list(zip([self._site] * len(effort), *(one[order].tolist() for one in columns), rated, strict=True))

    def _splits(self) -> list[tuple[object, ...]]:
        def wide(name: str) -> list[Any]:
            made: list[Any] = np.concatenate([getattr(part, name) for part in self._parts], axis=1).ravel().tolist()
            return made

        who = np.repeat(self._person, SPLITS_A_VISIT).tolist()
        number = np.repeat(self._class + self._first, SPLITS_A_VISIT).tolist()
        return list(zip([self._site] * len(who), number, who, *map(wide, SPLIT_COLUMNS), strict=True))

    def _paces(self) -> list[tuple[object, ...]]:
        found = [row for part in self._parts for row in part.paces()]
        return sorted(found, key=lambda row: (row[1], row[4:7], row[2:4]))

    def _results(self) -> list[tuple[object, ...]]:
        times = (480_000 * self._draw.lognormal(0, 0.12, len(self._person))).astype(int).tolist()
        number = (self._class + self._first).tolist()
        kind = KINDS["for_time"]
        return [
            (self._site, one, who, FOR_TIME_PART, "Carry and sit", kind, "", time_ms, None, None, False)
            for one, who, time_ms in zip(number, self._person.tolist(), times, strict=True)
        ]


SPLIT_COLUMNS: Final = (
    "part", "interval", "round", "station", "move", "amount", "unit", "window", "margin", "split_ms", "status", "flags",
)  # fmt: skip


class _Part:
    """One timed part of everybody who came, a row a visit and a column an interval (round after round)."""

    def __init__(self, rows: Rows, number: int, first: int, stations: int, rounds: int, window_ms: int, margin_ms: int) -> None:
        self._rows, self._number, self._first = rows, number, first
        self._stations, self._rounds, self._window_ms = stations, rounds, window_ms
        visits, shape = len(rows._person), (len(rows._person), rounds, stations)
        gym, draw, own = rows._gym, rows._draw, rows._own
        place = np.arange(stations) + first
        plan = rows._plan[rows._class]
        self._moves = (plan[:, None] * 7 + place * 4 + plan[:, None] // 8) % MOVES + 1
        self._amounts = np.where(self._moves % 8 == 0, 150, 8 + (plan[:, None] + place) % 9)
        self._units = np.where(self._moves % 8 == 0, UNITS[Unit.METRES], UNITS[Unit.REPS])
        drift = gym.drifts[own][:, None, None] * np.arange(rounds)[None, :, None]
        taken = 0.62 * gym.speeds[own][:, None, None] * np.exp(drift - 0.01 * rows._years[:, None, None])
        share = np.minimum(taken * draw.lognormal(0, 0.05, shape), 0.99)
        self._ms = np.rint(share * window_ms).astype(np.int64)
        chance = draw.random(shape)
        self._status = np.where(chance < 0.03, UNTAPPED, np.where(share >= 0.99, NOT_FINISHED, DONE))
        self._done = self._status == DONE
        fading = (gym.drifts[own] > FADES)[:, None, None] & (np.arange(rounds) >= 3)[None, :, None] & (chance < 0.6)
        self._flags = (
            np.where(self._done & (window_ms - self._ms < margin_ms), _TIGHT, 0)
            + np.where(self._done & fading, _FADING, 0)
            + np.where(self._status == NOT_FINISHED, _MISSED, 0)
        )
        self.tapped = self._done.sum(axis=(1, 2))
        self.missed = (self._status == NOT_FINISHED).sum(axis=(1, 2))
        self.part = self._all(visits, np.full(stations * rounds, number))
        self.interval = self._all(visits, np.arange(stations * rounds))
        self.round = self._all(visits, np.repeat(np.arange(rounds) + 1, stations))
        self.station = self._all(visits, np.tile(np.arange(stations), rounds))
        self.move = np.tile(self._moves, rounds)
        self.amount = np.tile(self._amounts.astype(str).astype(object), rounds)
        self.unit = np.tile(self._units, rounds)
        self.window = self._all(visits, np.full(stations * rounds, window_ms))
        self.margin = self._all(visits, np.full(stations * rounds, margin_ms))
        self.split_ms = _with_none(self._ms, self._done).reshape(visits, -1)
        self.status = self._status.reshape(visits, -1)
        self.flags = self._flags.reshape(visits, -1)

    def _all(self, visits: int, row: Numbers) -> Numbers:
        return np.broadcast_to(row, (visits, len(row)))

    def paces(self) -> Iterator[tuple[object, ...]]:
        """One row for each visit and station."""
        ms = np.where(self._done, self._ms, np.nan)
        rounds = np.arange(self._rounds, dtype=float)
        tapped = self._done.sum(axis=1)
        _, slope = _line(rounds, ms, self._done)
        log_first, log_slope = _line(rounds, np.log(ms / 1000 / self._amounts[:, None, :]), self._done)
        mean = np.nansum(ms, axis=1) / np.maximum(tapped, 1)
        spread = np.sqrt(np.nansum((ms - mean[:, None, :]) ** 2, axis=1) / np.maximum(tapped - 1, 1))
        some = tapped > 0
        early = np.take_along_axis(self._ms, self._done.argmax(axis=1)[:, None, :], axis=1)[:, 0]
        late_round = self._rounds - 1 - self._done[:, ::-1].argmax(axis=1)
        late = np.take_along_axis(self._ms, late_round[:, None, :], axis=1)[:, 0]
        rest = self._window_ms - np.where(self._done, self._ms, 0).max(axis=1)
        visits = len(tapped)
        columns: list[Numbers] = [
            np.repeat(self._rows._person, self._stations),
            self._moves,
            self._units,
            np.repeat(self._rows._class + self._rows._first, self._stations),
            np.full(tapped.shape, self._number),
            self._all(visits, np.arange(self._stations)),
            self._amounts.astype(str).astype(object),
            np.full(tapped.shape, self._rounds),
            tapped,
            (self._flags & _TIGHT > 0).sum(axis=1),
            (self._status == NOT_FINISHED).sum(axis=1),
            np.bitwise_or.reduce(self._flags, axis=1),
        ]
        measures = (
            (_median(ms), some),
            (early, some),
            (late, some),
            (rest, some),
            (slope, tapped > 1),
            (100 * spread / np.maximum(mean, 1), tapped > 1),
            (log_first, some),
            (log_slope, tapped > 1),
        )
        count = visits * self._stations
        plain = [column.ravel().tolist() for column in columns]
        return zip([self._rows._site] * count, *plain, *(_or_none(*one) for one in measures), strict=True)

    def stations(self) -> Iterator[tuple[object, ...]]:
        """One row for each class and station."""
        rows, kind = self._rows, KINDS["rotation" if self._first == 0 else "intervals"]
        bounds = np.searchsorted(rows._class, np.arange(len(rows._starts) + 1))
        for place, (low, high) in enumerate(pairwise(bounds.tolist())):
            if low == high:
                continue
            done, ms, flags = self._done[low:high], self._ms[low:high], np.bitwise_or.reduce(self._flags[low:high], axis=1)
            for station in range(self._stations):
                taken = ms[:, :, station][done[:, :, station]]
                middle = float(np.median(taken)) if len(taken) else None
                yield (
                    rows._site,
                    rows._first + place,
                    self._number,
                    station,
                    f"Part {self._number}",
                    kind,
                    int(self._moves[low, station]),
                    high - low,
                    len(taken),
                    int((self._status[low:high, :, station] == UNTAPPED).sum()),
                    *(int((flags[:, station] & bit > 0).sum()) for bit in (_TIGHT, _FADING, _MISSED)),
                    middle,
                    None if middle is None else self._window_ms - middle,
                    float(rows._gym.drifts[rows._own[low:high]].mean()),
                    0,
                )


def _with_none(values: Numbers, known: Numbers) -> Numbers:
    found = values.astype(object)
    found[~known] = None
    return found


def _or_none(values: Numbers, known: Numbers) -> list[Any]:
    found: list[Any] = _with_none(values, known).ravel().tolist()
    return found


def _median(values: Numbers) -> Numbers:
    """Over the rounds; NaN is in none."""
    ordered, count = np.sort(values, axis=1), (~np.isnan(values)).sum(axis=1)
    low, high = (
        np.take_along_axis(ordered, np.maximum(place, 0)[:, None, :], axis=1) for place in ((count - 1) // 2, count // 2)
    )
    middle: Numbers = ((low + high) / 2)[:, 0]
    return middle


def _line(x: Numbers, y: Numbers, known: Numbers) -> tuple[Numbers, Numbers]:
    """(value in round 1, slope) by least squares over the rounds that are known."""
    count = np.maximum(known.sum(axis=1), 1)
    spread_x = np.where(known, x[None, :, None], 0)
    middle_x, middle_y = spread_x.sum(axis=1) / count, np.where(known, y, 0).sum(axis=1) / count
    away = np.where(known, x[None, :, None] - middle_x[:, None, :], 0)
    slope = (away * np.where(known, y, 0)).sum(axis=1) / np.maximum((away**2).sum(axis=1), 1e-9)
    return middle_y - slope * middle_x, slope
