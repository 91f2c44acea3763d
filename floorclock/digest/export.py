"""A class for other programs: the values of `review --json`, and the rows of `review --csv`.

Invariant: seconds are numbers, and None where nothing is known. What stands here is shaped as it is read, and decides nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from fractions import Fraction
from typing import Any, ClassVar

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, FlaggedSplit, PartDigest
from floorclock.digest.figures import StationFigures
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import seconds

Number = int | float


@dataclass(frozen=True, slots=True)
class ClassValues:
    """The class itself."""

    id: str
    session: str
    started: str | None
    rest_margin_s: Number
    rehearsal: bool


@dataclass(frozen=True, slots=True)
class SplitValues:
    """One interval of one athlete; `move` is what they did, an option's where they do one."""

    round: int
    station: str
    move: str
    split_s: Number | None
    rest_s: Number | None
    status: str
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StationValues:
    """One athlete at one station."""

    station: str
    median_split_s: Number | None
    slope_s_per_round: Number | None
    cv_percent: float | None
    decrement_percent: float | None


@dataclass(frozen=True, slots=True)
class ForecastValues:
    """An interval to come; `low_s` to `high_s` holds the split in 80 of 100 cases."""

    station: str
    move: str
    round: int
    split_s: Number
    low_s: Number
    high_s: Number


@dataclass(frozen=True, slots=True)
class AdviceValues:
    """What to give: `target` of `unit` in round `round`, `step` more in each round after it.

    `way` is less, more, option or keep; `move` what is then to be done.
    """

    station: str
    target: Number | None
    unit: str | None
    because: str
    way: str
    words: str
    round: int
    step: Number
    chance: float
    move: str


@dataclass(frozen=True, slots=True)
class OptionValues(AdviceValues):
    """An advice to take an option, which it names."""

    option: str


@dataclass(frozen=True, slots=True)
class ResultValues:
    """What was reached in a part without splits."""

    time_s: Number | None
    rounds: int | None
    reps: int | None


@dataclass(frozen=True, slots=True)
class AthleteValues:
    """One athlete in one part.

    While rounds are to come for them, `forecast` has each of their intervals, `runs_out_round` is the first of those rounds in
    which the margin goes, and `advice` what to change now. When all was run, `forecast` is empty, `runs_out_round` the round in
    which the margin first went, and `advice` next time's target for each station. `result` is None in parts with splits.
    """

    name: str
    splits: tuple[SplitValues, ...]
    stations: tuple[StationValues, ...]
    forecast: tuple[ForecastValues, ...]
    runs_out_round: int | None
    advice: tuple[OptionValues | AdviceValues, ...]
    result: ResultValues | None


@dataclass(frozen=True, slots=True)
class PartValues:
    """One part of the plan; one that nothing was recorded of has no athletes."""

    kind: str
    title: str
    athletes: tuple[AthleteValues, ...]


@dataclass(frozen=True, slots=True)
class LoadValues:
    """Effort times minutes."""

    name: str
    effort: Number | None
    minutes: Number
    load: Number | None


@dataclass(frozen=True, slots=True)
class ReviewValues:
    """All of `review --json`. A field whose name Python keeps for itself has an underscore after it here, and none in JSON."""

    class_: ClassValues
    parts: tuple[PartValues, ...]
    load: tuple[LoadValues, ...]
    __pydantic_config__: ClassVar[dict[str, Any]] = {"alias_generator": lambda name: name.rstrip("_")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of `review --csv`: one interval of one athlete, or what they reached in a part with a result.

    `part` and `round` count from 1; `split`, `rest` and `time` are seconds. None is an empty field: a row of an interval has no
    `time`, `rounds` and `reps`, one of a result no `round`, `split` and `rest`. Several flags are parted by `; `. The first five
    columns are those of the intake file.
    """

    part: int
    round: int | None = None
    station: str = ""
    athlete: str
    split: Number | None = None
    rest: Number | None = None
    status: str
    flags: str
    time: Number | None = None
    rounds: int | None = None
    reps: int | None = None
    move: str = ""


COLUMNS = tuple(field.name for field in fields(Row))


def review_values(digest: ClassDigest) -> ReviewValues:
    """The values of `review --json`."""
    margin = seconds(digest.rest_margin_s * 1000)
    return ReviewValues(
        ClassValues(digest.class_id, digest.session, digest.started or None, margin, digest.rehearsal),
        tuple(
            PartValues(part.kind, part.title, tuple(_athlete(athlete, part) for athlete in part.athletes))
            for part in digest.parts
        ),
        tuple(LoadValues(load.name, load.effort, seconds(load.minutes * 1000), load.load) for load in digest.load),
    )


def csv_rows(digest: ClassDigest) -> Iterator[Row]:
    """A row for every split and every result.

    `runs out` is a forecast and stands in no row, so that a digest without forecasts gives the same rows.
    """
    for part in digest.parts:
        for athlete in part.athletes:
            for taken in athlete.splits:
                yield _split_row(part, athlete, taken)
            if not part.is_timed_by_splits:
                yield _result_row(part, athlete)


def _split_row(part: PartDigest, athlete: AthleteDigest, taken: FlaggedSplit) -> Row:
    split = taken.split
    return Row(
        part=part.number,
        round=split.round,
        station=taken.station,
        athlete=athlete.name,
        split=_seconds(split.split_ms),
        rest=_seconds(split.rest_ms),
        status=str(split.status),
        flags="; ".join(flag for flag in taken.flags if flag is not Flag.RUNS_OUT),
        move=split.move,
    )


def _result_row(part: PartDigest, athlete: AthleteDigest) -> Row:
    result = athlete.result
    flags = "; ".join(athlete.flags)
    if result is None:
        return Row(part=part.number, athlete=athlete.name, status=Status.UNTAPPED, flags=flags)
    return Row(
        part=part.number,
        athlete=athlete.name,
        status=Status.NOT_FINISHED if result.not_finished else Status.DONE,
        flags=flags,
        time=_seconds(result.time_ms),
        rounds=result.rounds,
        reps=result.reps,
    )


def _athlete(athlete: AthleteDigest, part: PartDigest) -> AthleteValues:
    result = athlete.result
    reached = (
        ResultValues(None, None, None) if result is None else ResultValues(_seconds(result.time_ms), result.rounds, result.reps)
    )
    return AthleteValues(
        name=athlete.name,
        splits=tuple(_split(taken) for taken in athlete.splits),
        stations=tuple(_station(figures) for figures in athlete.stations),
        forecast=tuple(_forecast(ahead, part) for ahead in athlete.forecast),
        runs_out_round=athlete.runs_out_round,
        advice=tuple(_advice(advice, part) for advice in athlete.advice),
        result=None if part.is_timed_by_splits else reached,
    )


def _split(taken: FlaggedSplit) -> SplitValues:
    split = taken.split
    return SplitValues(
        round=split.round,
        station=taken.station,
        move=split.move,
        split_s=_seconds(split.split_ms),
        rest_s=_seconds(split.rest_ms),
        status=str(split.status),
        flags=tuple(map(str, taken.flags)),
    )


def _station(figures: StationFigures) -> StationValues:
    return StationValues(
        station=figures.name,
        median_split_s=_seconds(figures.median_split_ms),
        slope_s_per_round=_seconds(figures.slope_ms),
        cv_percent=figures.cv_percent,
        decrement_percent=figures.decrement_percent,
    )


def _forecast(ahead: Forecast, part: PartDigest) -> ForecastValues:
    return ForecastValues(
        station=part.station_name(ahead.slot.station),
        move=ahead.slot.move,
        round=ahead.slot.round,
        split_s=seconds(round(ahead.split_ms)),
        low_s=seconds(round(ahead.low_ms)),
        high_s=seconds(round(ahead.high_ms)),
    )


def _advice(advice: Advice, part: PartDigest) -> AdviceValues:
    values = AdviceValues(
        station=part.station_name(advice.station),
        target=None if advice.amount is None else amount_number(advice.amount),
        unit=None if advice.unit is None else str(advice.unit),
        because=advice.because,
        way=str(advice.way),
        words=advice.words,
        round=advice.round,
        step=0 if advice.target is None else amount_number(advice.target.step),
        chance=round(advice.chance, 3),
        move=advice.option_move if advice.option else advice.move,
    )
    return OptionValues(**asdict(values), option=advice.option) if advice.option else values


def _seconds(ms: float | None) -> Number | None:
    return None if ms is None else seconds(ms)


def amount_number(amount: Fraction) -> Number:
    """An amount as programs read it: a whole number where it is one."""
    return amount.numerator if amount.denominator == 1 else float(amount)
