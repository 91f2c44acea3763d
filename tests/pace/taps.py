"""Splits for tests, written as the rests of one athlete."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from random import Random

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.model.forecast import Z_HIGH, Forecast
from floorclock.plan.work import Unit

UNTAPPED, NOT_FINISHED = "?", "-"


def split(
    rest_s: float | str,
    *,
    round_number: int = 1,
    station: int = 0,
    stations: int = 1,
    move: str = "swing",
    amount: int | None = 14,
    part: int = 1,
    window_s: int = 60,
    margin_s: float = 15,
    athlete: str = "Ilka",
) -> Split:
    """One interval by the seconds of rest that were left in it, or one of the two signs above."""
    status = {UNTAPPED: Status.UNTAPPED, NOT_FINISHED: Status.NOT_FINISHED}.get(str(rest_s), Status.DONE)
    return Split(
        athlete=athlete,
        part=part,
        interval=(round_number - 1) * stations + station,
        round=round_number,
        station=station,
        window_ms=window_s * 1000,
        margin_ms=round(margin_s * 1000),
        status=status,
        split_ms=window_s * 1000 - round(float(rest_s) * 1000) if status is Status.DONE else None,
        move=move,
        amount=None if amount is None else Fraction(amount),
        unit=None if amount is None else Unit.REPS,
    )


def slot(
    round_number: int,
    *,
    interval: int | None = None,
    station: int = 0,
    move: str = "swing",
    amount: Fraction | int = 14,
    unit: Unit = Unit.REPS,
    step: Fraction | int = 0,
    part: int = 1,
    athlete: str = "Ilka",
) -> Coming:
    """Work to come in a minute with a margin of 15 s."""
    return Coming(
        athlete=athlete,
        part=part,
        interval=round_number - 1 if interval is None else interval,
        round=round_number,
        station=station,
        window_ms=60_000,
        margin_ms=15_000,
        move=move,
        amount=Fraction(amount),
        unit=unit,
        step=Fraction(step),
    )


def forecast(at: Coming, split_s: float, low_s: float, high_s: float) -> Forecast:
    """A round to come as somebody would write it down: normal between its ends, with half of its luck shared."""
    split_ms, low_ms, high_ms = (1000 * seconds for seconds in (split_s, low_s, high_s))
    log_s, sd, amount = math.log(split_s), math.log(high_s / low_s) / (2 * Z_HIGH), float(at.amount)
    return Forecast(
        slot=at, split_ms=split_ms, low_ms=low_ms, high_ms=high_ms, log_s=log_s, sd=sd, shared=0.5, usual=amount, done=amount
    )


def rounds(*by_station: Sequence[float | str], margin_s: float = 15) -> list[Split]:
    """The splits of a rotation: for each station its rests, round by round."""
    moves = ["swing", "step-up", "push-up", "row", "squat", "lunge"]
    return [
        split(rest, round_number=r, station=s, stations=len(by_station), move=moves[s], margin_s=margin_s)
        for r, rests in enumerate(zip(*by_station, strict=True), start=1)
        for s, rest in enumerate(rests)
    ]


def noisy(dice: Random, stations: int, noise: float, drift: float, round_count: int = 6) -> list[Split]:
    """An athlete whose splits grow by `drift` a round under heavy-tailed noise (Student's t, 4 degrees of freedom)."""
    level = [40 * math.exp(dice.gauss(0, 0.1)) for _ in range(stations)]

    def rest(station: int, number: int) -> float | str:
        tail = dice.gauss(0, 1) / math.sqrt(dice.gammavariate(2, 2) / 4) / math.sqrt(2)
        left = 60 - level[station] * (1 + drift) ** number * math.exp(noise * tail)
        return left if left >= 0 else NOT_FINISHED

    return rounds(*[[rest(station, number) for number in range(round_count)] for station in range(stations)])
