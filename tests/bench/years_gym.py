"""An invented gym of years: who is a member when, how often they come, when classes are, what a session looks like.

Invariant: a gym follows from its settings and its seed alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any, Final

import numpy as np

Numbers = np.ndarray[Any, np.dtype[Any]]

FIRST_MONDAY: Final = datetime(2016, 1, 4, tzinfo=UTC)
HOURS: Final = (6, 7, 9, 12, 16, 17, 18)
"""When the classes of a weekday begin; a gym with one class a day has the last but one."""
BY_DAY: Final = ((0, 1, 2, 3, 4, 5, 6),) * 5 + ((1, 2, 3, 4, 5), (2, 3))
"""Which of these hours there are from Monday to Sunday: 42 classes a week."""
VISITS: Final = ((1, 0.15), (2, 0.25), (3, 0.25), (4, 0.17), (5, 0.12), (6, 0.06))
"""How often a week somebody wants to come, and how many do."""
COMES: Final = 0.9
WEEKS_STAYED: Final = 104
"""Somebody stays for so long on average; of 20, one is there all the years."""
PLANS: Final = 56
"""So many sessions come round, one a day."""
MOVES: Final = 40
SITE_HOME: Final = "bench"
SHAPE: Final = ((1, 0, 5, 5, 60_000, 12_000), (3, 5, 4, 5, 45_000, 9_000))
"""The two timed parts: number, first station, stations, rounds, interval and margin."""
SPLITS_A_VISIT: Final = sum(stations * rounds for _, _, stations, rounds, _, _ in SHAPE)
PACES_A_VISIT: Final = sum(stations for _, _, stations, _, _, _ in SHAPE)
FADES: Final = 0.03
"""Whoever slows by more with each round is flagged."""
FOR_TIME_PART: Final = 5
SEED: Final = 20_261_125


@dataclass(frozen=True)
class Written:
    """How much was written."""

    classes: int = 0
    visits: int = 0
    splits: int = 0
    paces: int = 0

    def __add__(self, other: Written) -> Written:
        return Written(
            self.classes + other.classes, self.visits + other.visits, self.splits + other.splits, self.paces + other.paces
        )


@dataclass(frozen=True)
class Gym:
    """So many active people over so many weeks, with 42 classes a week or (`small`) 7."""

    weeks: int
    active: int
    small: bool = False

    @cached_property
    def who(self) -> Numbers:
        """The number of the person in each place of the membership, by place and week, counted from 1 by their first week."""
        draw = np.random.default_rng(SEED)
        found = np.zeros((self.active, self.weeks), dtype=np.int64)
        spans = []
        for place in range(self.active):
            week = 0
            while week < self.weeks:
                stays = self.weeks if place % 20 == 0 else 1 + int(draw.exponential(WEEKS_STAYED))
                spans.append((week, place, min(week + stays, self.weeks)))
                week += stays
        for number, (week, place, end) in enumerate(sorted(spans), start=1):
            found[place, week:end] = number
        return found

    @cached_property
    def people(self) -> int:
        """How many people there ever were."""
        return int(self.who.max())

    @cached_property
    def second_spelling(self) -> dict[int, int]:
        """Of every 50th person there is a second spelling, with a number of its own."""
        return {number: self.people + place for place, number in enumerate(range(25, self.people + 1, 50), start=1)}

    @property
    def numbers(self) -> range:
        """The numbers of all spellings."""
        return range(1, self.people + len(self.second_spelling) + 1)

    @cached_property
    def wishes(self) -> Numbers:
        """How often a week each person wants to come, by number."""
        often, shares = zip(*VISITS, strict=True)
        return np.random.default_rng(SEED + 2).choice(often, self.people + 1, p=shares)

    @cached_property
    def speeds(self) -> Numbers:
        """How long each person takes for the same work, as a factor."""
        return np.random.default_rng(SEED + 3).lognormal(0, 0.12, self.people + 1)

    @cached_property
    def drifts(self) -> Numbers:
        """By what share each person's splits grow with every round."""
        return np.random.default_rng(SEED + 4).normal(0.012, 0.015, self.people + 1)

    def there_for(self, weeks: int) -> list[int]:
        """Who was a member for so many weeks or more."""
        numbers, counts = np.unique(self.who, return_counts=True)
        return [int(number) for number, count in zip(numbers, counts, strict=True) if count >= weeks]

    def starts(self, week: int) -> list[datetime]:
        """When the classes of a week begin, in order."""
        hours = [(day, (5,) if self.small else BY_DAY[day]) for day in range(7)]
        monday = FIRST_MONDAY + timedelta(weeks=week)
        return [monday + timedelta(days=day, hours=HOURS[one], minutes=30) for day, here in hours for one in here]


def name_of(number: int) -> str:
    """An invented name; a number is all it says."""
    return f"Athlete {number:05d}"
