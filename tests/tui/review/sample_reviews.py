"""Classes to review, and a source that remembers what it was told."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from floorclock.clock.splits import Result, Split, Status
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import AthleteDigest, Call, ClassDigest, MarginGoes
from floorclock.errors import ResourceError
from floorclock.pace.flags import Flag, is_tight
from floorclock.pace.load import SessionLoad, WeekLoad, week_load
from floorclock.plan.roster import Athlete
from floorclock.plan.session import ForTime, Rotation, Session
from floorclock.plan.work import Station
from tests.clock.classes import reps
from tests.odd_names import A_FEW
from tests.pace.sample_class import rotation_work, summary
from tests.pace.taps import NOT_FINISHED, UNTAPPED, forecast, split

SWING = "swing [/]"
DAY = date(2026, 11, 24)


def with_load(found: ClassDigest, minutes: float = 45.0) -> ClassDigest:
    """The class with everybody in its load, unrated."""
    return replace(found, load=tuple(SessionLoad(name=name, effort=None, minutes=minutes) for name in found.athletes))


def small_class() -> ClassDigest:
    """Five athletes, one rotation, results of three kinds."""
    return with_load(summary())


def big_class(athletes: int, rounds: int, *, run_of: int | None = None, seed: int = 4) -> ClassDigest:
    """A rotation of one station; `run_of` of its rounds were run, the others are still to come."""
    dice = random.Random(seed)
    names = [*A_FEW, *(f"Athlete {number}" for number in range(athletes))][:athletes]
    part = long_one(rounds)
    run = rounds if run_of is None else run_of
    whole = {(0, name): rotation_work(name, part) for name in names}
    found = digest_from(
        Session(title="[/] A class", parts=(part,)),
        [Athlete(name=name) for name in names],
        [_split(name, number, dice) for name in names for number in range(1, run + 1)],
        (),
        label=Label(class_id="2026-11-24-1900-long", started="2026-11-24T19:00:05.120+01:00"),
        rest_margin_s=15.0,
        whole=whole,
        coming={key: slots[run:] for key, slots in whole.items()},
    )
    return with_load(found)


def finishers_only() -> ClassDigest:
    """A class that was for time and nothing else."""
    part = ForTime(title="Carry and sit", cap_ms=540_000, rounds=3, work=(Station("sit-up", reps(15)),))
    results = (
        Result(athlete="[/]", part=0, time_ms=300_000, laps_ms=(90_000, 190_000, 300_000)),
        Result(athlete="Odd", part=0, time_ms=280_000, laps_ms=(80_000, 170_000, 280_000)),
        Result(athlete="Runa", part=0, not_finished=True),
    )
    return with_load(_plain((part,), ("[/]", "Odd", "Runa", "Wim"), results))


def nothing_recorded() -> ClassDigest:
    """A class that nothing is known of."""
    return with_load(_plain((ForTime(title="Never", cap_ms=1000, rounds=1, work=()),), ("Odd",), ()))


def _plain(parts: tuple[ForTime, ...], names: tuple[str, ...], results: tuple[Result, ...]) -> ClassDigest:
    return digest_from(
        Session(title="Plain", parts=parts),
        [Athlete(name=name) for name in names],
        (),
        results,
        label=Label(class_id="2026-11-24-1900-plain", rehearsal=True),
        rest_margin_s=15.0,
    )


def long_one(rounds: int) -> Rotation:
    return Rotation(title="[b]The long one[/b]", every_ms=60_000, rounds=rounds, work=(Station(SWING, reps(14)),))


def _split(name: str, number: int, dice: random.Random) -> Split:
    split_ms = round(38_000 * (1 + 0.01 * ((number - 1) % 30)) * dice.uniform(0.95, 1.08))
    chance = dice.random()
    rest = UNTAPPED if chance < 0.08 else NOT_FINISHED if chance < 0.1 else max(0, 60_000 - split_ms) / 1000
    return split(rest, round_number=number, move=SWING, part=0, athlete=name)


def as_told(found: ClassDigest, coming: Sequence[int] = ()) -> ClassDigest:
    """The same splits with flags and forecasts written by hand: a picture of the screen, whatever the forecast learns."""
    parts = [replace(part, athletes=tuple(_told(athlete, coming) for athlete in part.athletes)) for part in found.parts]
    tight = [(part, who) for part in parts for who in part.athletes if Flag.TIGHT in who.flags]
    calls = tuple(Call(who.name, part.index, Flag.TIGHT, "under the margin; rest 24, 20, 16, 12 s") for part, who in tight)
    return replace(found, parts=tuple(parts), calls=calls)


def _told(athlete: AthleteDigest, coming: Sequence[int]) -> AthleteDigest:
    def flags(taken: Split) -> tuple[Flag, ...]:
        missed = taken.status is Status.NOT_FINISHED
        return (Flag.NOT_FINISHED,) if missed else (Flag.TIGHT,) if is_tight(taken) else ()

    splits = tuple(replace(one, flags=flags(one.split), fitted_ms=37_000.0 + 1000 * one.split.round) for one in athlete.splits)
    raised = {flag for one in splits for flag in one.flags}
    slots = rotation_work(athlete.name, long_one(max(coming, default=1)))
    ahead = tuple(forecast(slots[at - 1], 40 + at, 37 + 0.8 * at, 42 + 1.5 * at) for at in coming)
    return replace(
        athlete,
        splits=splits,
        flags=tuple(flag for flag in Flag if flag in raised),
        forecast=ahead,
        advice=(),
        margin_goes=MarginGoes(6, 0, 0.8) if coming else None,
    )


class RememberedSource:
    """Records in memory. `refuses` makes them fail as a full disk does."""

    def __init__(self) -> None:
        self.rated: list[tuple[str, float | None]] = []
        self.refuses = False

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        return {load.name: week_load([(DAY, load)], DAY) for load in digest.load}

    def rate(self, athlete: str, effort: float | None) -> None:
        if self.refuses:
            raise ResourceError("the disk is full")
        self.rated.append((athlete, effort))
