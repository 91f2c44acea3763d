"""Classes to review, and a source that remembers what it was told."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from floorclock.clock.splits import Coming, Result, Split, Status
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import AthleteDigest, Call, ClassDigest, MarginGoes
from floorclock.errors import ResourceError
from floorclock.pace.flags import Flag, is_tight
from floorclock.pace.load import SessionLoad, WeekLoad, week_load
from floorclock.plan.roster import Athlete
from floorclock.plan.session import ForTime, Rotation, Session
from floorclock.plan.work import Station
from tests.clock.classes import reps
from tests.pace.sample_class import summary
from tests.pace.taps import forecast

NAUGHTY = ("[/]", "[@click=quit]x[/]", "[bold]Bo", "日本語の名前", "سلمى", "a" * 60, "\\[red]")
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
    names = [*NAUGHTY, *(f"Athlete {number}" for number in range(athletes))][:athletes]
    part = Rotation(title="[b]The long one[/b]", every_ms=60_000, rounds=rounds, work=(Station("swing [/]", reps(14)),))
    run = rounds if run_of is None else run_of
    splits, whole, coming = [], {}, {}
    for name in names:
        slots = [_slot(name, at) for at in range(rounds)]
        whole[0, name], coming[0, name] = slots, slots[run:]
        splits += [_split(slot, dice) for slot in slots[:run]]
    found = digest_from(
        Session(title="[/] A class", parts=(part,)),
        [Athlete(name=name) for name in names],
        splits,
        (),
        label=Label(class_id="2026-11-24-1900-long", started="2026-11-24T19:00:05.120+01:00"),
        rest_margin_s=15.0,
        whole=whole,
        coming=coming,
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


def _slot(name: str, at: int) -> Coming:
    target = reps(14)
    return Coming(
        athlete=name,
        part=0,
        interval=at,
        round=at + 1,
        station=0,
        window_ms=60_000,
        margin_ms=15_000,
        move="swing [/]",
        amount=target.amount,
        unit=target.unit,
    )


def _split(slot: Coming, dice: random.Random) -> Split:
    split_ms = round(38_000 * (1 + 0.01 * (slot.interval % 30)) * dice.uniform(0.95, 1.08))
    chance = dice.random()
    status = Status.UNTAPPED if chance < 0.08 else Status.NOT_FINISHED if chance < 0.1 else Status.DONE
    return Split(
        athlete=slot.athlete,
        part=slot.part,
        interval=slot.interval,
        round=slot.round,
        station=slot.station,
        window_ms=slot.window_ms,
        margin_ms=slot.margin_ms,
        status=status,
        split_ms=min(split_ms, 60_000) if status is Status.DONE else None,
        move=slot.move,
        amount=slot.amount,
        unit=slot.unit,
    )


def as_told(found: ClassDigest, coming: Sequence[int] = ()) -> ClassDigest:
    """The same splits with flags and forecasts written by hand: a picture of the screen, whatever the forecast learns."""
    parts = []
    for part in found.parts:
        athletes = tuple(_told(athlete, coming) for athlete in part.athletes)
        parts.append(replace(part, athletes=athletes))
    tight = [(part, one) for part in parts for one in part.athletes if Flag.TIGHT in one.flags]
    calls = tuple(Call(one.name, part.index, Flag.TIGHT, "under the margin; rest 24, 20, 16, 12 s") for part, one in tight)
    return replace(found, parts=tuple(parts), calls=calls)


def _told(athlete: AthleteDigest, coming: Sequence[int]) -> AthleteDigest:
    splits = tuple(
        replace(one, flags=_plain_flags(one.split), fitted_ms=37_000.0 + 1000 * one.split.round) for one in athlete.splits
    )
    raised = {flag for one in splits for flag in one.flags}
    ahead = tuple(forecast(_slot(athlete.name, at - 1), 40 + at, 37 + 0.8 * at, 42 + 1.5 * at) for at in coming)
    return replace(
        athlete,
        splits=splits,
        flags=tuple(flag for flag in Flag if flag in raised),
        forecast=ahead,
        advice=(),
        margin_goes=MarginGoes(6, 0, 0.8) if coming else None,
    )


def _plain_flags(split: Split) -> tuple[Flag, ...]:
    if split.status is Status.NOT_FINISHED:
        return (Flag.NOT_FINISHED,)
    return (Flag.TIGHT,) if is_tight(split) else ()


class RememberedSource:
    """A class in memory. `refuses` makes it fail as a full disk does."""

    def __init__(self, found: ClassDigest) -> None:
        self.found = found
        self.rated: list[tuple[str, float | None]] = []
        self.refuses = False

    def digest(self) -> ClassDigest:
        return self.found

    def weeks(self, digest: ClassDigest) -> Mapping[str, WeekLoad]:
        return {one.name: week_load([(DAY, one)], DAY) for one in digest.load}

    def rate(self, athlete: str, effort: float | None) -> None:
        if self.refuses:
            raise ResourceError("the disk is full")
        self.rated.append((athlete, effort))
