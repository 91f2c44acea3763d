"""The small recorded class with something to come: forecasts, advice, efforts; and a class of any size and any names."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

from floorclock.clock.splits import Result, Split
from floorclock.digest.build import Label, Work, digest_from
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, MarginGoes
from floorclock.pace.advice import Advice, Way
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart, Rotation, Session
from floorclock.plan.work import Station, Target, Unit
from tests.pace.sample_class import summary
from tests.pace.taps import forecast, slot, split


def to_come(station: int, number: int, split_s: float) -> Forecast:
    """A forecast, ten percent either way."""
    move, interval = ("swing", "step-up")[station], 3 * (number - 1) + station
    at = slot(number, interval=interval, station=station, move=move, athlete="Bram")
    return forecast(at, split_s, 0.9 * split_s, 1.1 * split_s)


def advice(station: int, way: Way, count: int, **changes: object) -> Advice:
    """What to change, for a reason."""
    known = Advice(
        athlete="Bram",
        part=1,
        station=station,
        move=("swing", "step-up")[station],
        way=way,
        target=Target(Fraction(count), Unit.REPS),
        words=f"drop to {count} reps?",
        because="rest 24, 20, 16, 12 s; under 15 by round 5",
        chance=0.92,
    )
    return replace(known, **changes)  # type: ignore[arg-type]


def with_outlook() -> ClassDigest:
    """The sample class, with two rounds still to come for Bram, and efforts; nothing is advised to the others."""
    made = summary()
    harbour = made.parts[1]
    athletes = tuple(_bram(athlete) if athlete.name == "Bram" else replace(athlete, advice=()) for athlete in harbour.athletes)
    parts = (made.parts[0], replace(harbour, athletes=athletes), *made.parts[2:])
    loads = (SessionLoad(name="Ilka", effort=6, minutes=42.0), SessionLoad(name="Bram", effort=None, minutes=42.0))
    return replace(made, parts=parts, load=loads)


def _bram(athlete: AthleteDigest) -> AthleteDigest:
    return replace(
        athlete,
        forecast=(to_come(0, 5, 50), to_come(1, 5, 44), to_come(0, 6, 54), to_come(1, 6, 46.4)),
        margin_goes=MarginGoes(5, 0, 0.8),
        advice=(advice(1, Way.KEEP, 10), advice(0, Way.LESS, 8)),
        splits=tuple(
            replace(one, fitted_ms=None if one.split.split_ms is None else one.split.split_ms + 300.0) for one in athlete.splits
        ),
    )


def class_of(names: Sequence[str], moves: Sequence[str], rounds: int) -> ClassDigest:
    """A class with these people and moves: some lose their rest, some taps are missing, some work is not finished."""
    dice, taken = Random(3), []
    for name in names:
        base, loss = dice.uniform(18, 30), dice.choice([0, 0, 0.5, 2.5])
        for number in range(1, rounds + 1):
            for station, move in enumerate(moves):
                rest = max(0.0, base - loss * (number - 1) + dice.gauss(0, 1))
                choices: list[float | str] = [rest, "?", "-"]
                sign = dice.choices(choices, weights=[96, 3, 1])[0]
                one = split(sign, round_number=number, station=station, stations=len(moves), part=0, move=move, athlete=name)
                taken.append(one)
    part = Rotation(title="The rotation", every_ms=60_000, rounds=rounds, work=tuple(Station(move) for move in moves))
    return digested(part, taken=taken, people=names)


def digested(
    *parts: AnyPart,
    taken: Sequence[Split] = (),
    reached: Sequence[Result] = (),
    people: Iterable[str] = (),
    ranked: bool = False,
    whole: Work | None = None,
    coming: Work | None = None,
) -> ClassDigest:
    """A class of these parts, of what was taken and reached in them, with a margin of 15 s."""
    session = Session(title="Nine <i>quays</i>", parts=parts, ranked=ranked)
    athletes = tuple(Athlete(name=name) for name in people)
    label = Label(class_id="x", started="2026-11-24T19:00:05.120+01:00")
    return digest_from(session, athletes, taken, reached, label=label, rest_margin_s=15.0, whole=whole, coming=coming)
