"""What many rehearsals of a class came to, as figures.

Invariant: chances are shares of all rehearsals, 0..1; nothing here is drawn any more.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """The middle (median) of what the rehearsals came to, and what 80 of 100 lie between."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StationChance:
    """How likely (0..1) less than the margin is left in each of an athlete's `rounds` at a station, and in `any` of them.

    `written` is what the plan calls the station, `move` what they do there.
    """

    station: int
    written: str
    move: str
    rounds: tuple[int, ...]
    chances: tuple[float, ...]
    any: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteChance:
    """One athlete in a part: `any` is the chance of at least one round under the margin. `guessed`: without any history."""

    name: str
    any: float
    guessed: bool
    stations: tuple[StationChance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Who does a piece of work for time alone or as a team: how likely under the cap, and after how many seconds."""

    name: str
    team: tuple[str, ...]
    guessed: bool
    in_time: float
    finish_s: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class PartChances:
    """One part: `athletes` where it is timed by splits, `finishes` where it is for time.

    `in_trouble` is how many athletes drop under the margin at least once in one class (with `until_out`, are out before its end);
    `last_s` when the last one is done, or the cap came.
    """

    part: int
    title: str
    kind: str
    until_out: bool = False
    athletes: tuple[AthleteChance, ...] = ()
    in_trouble: Span | None = None
    finishes: tuple[Finish, ...] = ()
    last_s: Span | None = None

    @property
    def is_guessed(self) -> bool:
        """Whether anybody's work in it rests on no earlier class."""
        return any(one.guessed for one in self.athletes) or any(one.guessed for one in self.finishes)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassChances:
    """Some rehearsals of a class. `hour_s` is the whole of it, count-ins included, a part for time ended by its last athlete."""

    times: int
    seed: int
    parts: tuple[PartChances, ...]
    hour_s: Span
