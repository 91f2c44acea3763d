"""A small recorded class for tests of what comes after it: two stations' worth of rests, a finisher, an amrap, a paced part.

`summary()` is the class run whole, `halfway()` the same with one round of the rotation still to come.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from floorclock.clock.splits import Coming, Result, Split
from floorclock.digest.build import Label, digest_from
from floorclock.digest.class_digest import ClassDigest
from floorclock.pace.load import SessionLoad
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, ForTime, Intervals, OpenPart, Paced, Rotation, Session
from floorclock.plan.work import REST, Station
from tests.clock.classes import reps
from tests.pace.taps import NOT_FINISHED, UNTAPPED, rounds, slot

SESSION = Session(
    title="Five trips round the harbour",
    parts=(
        OpenPart(title="Warm-up"),
        Rotation(
            title="The harbour",
            every_ms=60_000,
            rounds=4,
            work=(Station("swing", reps(14)), Station("step-up", reps(10)), REST),
        ),
        ForTime(title="Carry and sit", cap_ms=540_000, rounds=4, work=(Station("sit-up", reps(15)),)),
        Amrap(title="Rising tide", time_ms=600_000, work=(Station("squat", reps(10)),)),
        Paced(title="Steps", beats_per_minute=Fraction(96), time_ms=180_000),
        Intervals(title="Never begun", work_ms=20_000, rest_ms=10_000, sets=8, work=(Station("squat"),)),
    ),
)

RESTS: dict[str, tuple[list[float | str], list[float | str]]] = {
    "Ilka": ([28, 29, 28, 28], [30, 30, 31, 30]),
    "Bram": ([24, 20, 16, 12], [26, 23, 19, 14]),
    "Sefa": ([30, 28, 26, 23.5], [30, 28, 25, 23]),
    "Odd": ([20, NOT_FINISHED, 18, 19], [22, 22, UNTAPPED, 21]),
    "Runa": ([UNTAPPED, UNTAPPED, UNTAPPED, UNTAPPED], [UNTAPPED, UNTAPPED, UNTAPPED, UNTAPPED]),
}

RESULTS = (
    Result(athlete="Sefa", part=2, time_ms=372_400),
    Result(athlete="Ilka", part=2, time_ms=361_050, laps_ms=(88_000, 178_500, 269_900, 361_050)),
    Result(athlete="Bram", part=2, rounds=3, reps=7),
    Result(athlete="Odd", part=2, not_finished=True),
    Result(athlete="Runa", part=2, time_ms=300_000, choice="shorter"),
    Result(athlete="Ilka", part=3, rounds=9, reps=4, laps_ms=(61_000, 124_000)),
    Result(athlete="Bram", part=3, rounds=9, reps=6),
    Result(athlete="Odd", part=4, time_ms=95_000, reps=38),
)

ATHLETES = tuple(Athlete(name=name) for name in RESTS)


def splits() -> list[Split]:
    made = []
    for name, by_station in RESTS.items():
        for one in rounds(*by_station):
            # The third station is the rest: nobody works there.
            made.append(replace(one, athlete=name, interval=(one.round - 1) * 3 + one.station))
    return made


def rotation_work(name: str, part: Rotation) -> tuple[Coming, ...]:
    """All that a rotation, the first part, has for an athlete who begins at its first station, as the plan has it."""
    slots = []
    for interval in range(part.count):
        station, number = interval % len(part.work), interval // len(part.work) + 1
        move, target = part.work[station].move, part.work[station].target
        if target is not None:
            amount, unit, step = target.in_round(number), target.unit, target.step
            made = slot(number, interval=interval, station=station, move=move, amount=amount, unit=unit, step=step, athlete=name)
            slots.append(replace(made, part=0, window_ms=part.every_ms))
    return tuple(slots)


def work(name: str) -> tuple[Coming, ...]:
    """All that the rotation has for an athlete, as their splits say it."""
    return tuple(
        slot(one.round, interval=one.interval, station=one.station, move=one.move, amount=one.amount or 0, athlete=name)
        for one in splits()
        if one.athlete == name
    )


WHOLE = {(1, name): work(name) for name in RESTS}


def _summary(taken: list[Split], coming: dict[tuple[int, str], tuple[Coming, ...]]) -> ClassDigest:
    return digest_from(
        SESSION,
        ATHLETES,
        taken,
        RESULTS,
        label=Label(class_id="2026-11-24-1900-harbour", started="2026-11-24T19:00:05.120+01:00"),
        rest_margin_s=15.0,
        whole=WHOLE,
        coming=coming,
        load=(SessionLoad(name="Ilka", effort=5, minutes=50.5), SessionLoad(name="Bram", effort=None, minutes=50.5)),
    )


def summary() -> ClassDigest:
    return _summary(splits(), {})


def halfway(rounds_run: int = 3) -> ClassDigest:
    later = {key: tuple(slot for slot in slots if slot.round > rounds_run) for key, slots in WHOLE.items()}
    return _summary([one for one in splits() if one.round <= rounds_run], later)
