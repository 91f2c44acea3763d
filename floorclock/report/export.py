"""A class for other programs: the values of `review --json`, and the rows of `review --csv`.

Invariant: seconds are numbers, and None where nothing is known. What stands here is shaped as it is read, and decides nothing; no
text of ours can become a formula in a spreadsheet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from operator import not_
from typing import Annotated, Any, ClassVar, TypeVar

from pydantic import Field, TypeAdapter

from floorclock.clock.splits import Result, Status
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, FlaggedSplit, PartDigest
from floorclock.digest.figures import StationFigures
from floorclock.digest.words import lap_times_ms, score_total, work_words
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import seconds
from floorclock.transfer.cells import row as csv_line

Number = int | float
T = TypeVar("T")
Extra = Annotated[T, Field(exclude_if=not_)]
"""Left out of the JSON where it is empty."""
COLUMNS = ("part", "round", "station", "athlete", "split", "rest", "status", "flags", "time", "rounds", "reps", "move")
MORE_COLUMNS = ("load", "score", "team")
"""Behind the others where a class has any of it; a class without has the columns that it always had."""


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
class LoadedSplitValues(SplitValues):
    """One with a load, or of several moves; `work` is all of it in words."""

    work: str
    load: float | None
    load_unit: str | None


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
    """An interval to come; `low_s` to `high_s` holds the split in 80 of 100 cases.

    `chance_under_margin` and `chance_late` (0..1): of less rest than the margin, and of not being done in time.
    """

    station: str
    move: str
    round: int
    split_s: Number
    low_s: Number
    high_s: Number
    chance_under_margin: float
    chance_late: float


@dataclass(frozen=True, slots=True)
class AdviceValues:
    """What to give: `target` of `unit` in round `round`, `step` more in each round after it.

    `way` is less, more, option (which is named then) or keep; `move` what is then to be done.
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
    option: Extra[str]


@dataclass(frozen=True, slots=True)
class ScoreValues:
    """What was counted in a set, from 1, or once for the part."""

    set: int | None
    amount: Number


@dataclass(frozen=True, slots=True)
class ResultValues:
    """What was reached."""

    time_s: Number | None
    rounds: int | None
    reps: int | None


@dataclass(frozen=True, slots=True)
class CountedResultValues(ResultValues):
    """What was counted in `score_unit` as well: in all, of loads the most; and how long each round took without the rest."""

    rounds_s: tuple[Number | None, ...]
    scores: tuple[ScoreValues, ...]
    score: Number | None
    score_unit: str | None


@dataclass(frozen=True, slots=True)
class DriftValues:
    """By how many percent a split grows with each round; `low` to `high` holds it in 80 of 100 cases."""

    percent: float
    low_percent: float
    high_percent: float


@dataclass(frozen=True, slots=True)
class AthleteValues:
    """One athlete in one part.

    While rounds are to come for them, `forecast` has each of their intervals, `runs_out_round` is the first of those rounds in
    which the margin goes, and `advice` what to change now. When all was run, `forecast` is empty, `runs_out_round` the round in
    which the margin first went, and `advice` next time's target for each station. `result` is None in parts with splits, unless
    a missed interval ends the part for somebody, or something was counted in it.
    `runs_out_station` is where that is; `drift` is None where nobody's pace was read. A team has the names of all, and `team`.
    """

    name: str
    splits: tuple[LoadedSplitValues | SplitValues, ...]
    stations: tuple[StationValues, ...]
    forecast: tuple[ForecastValues, ...]
    runs_out_round: int | None
    advice: tuple[AdviceValues, ...]
    result: CountedResultValues | ResultValues | None
    flags: tuple[str, ...]
    runs_out_station: str | None
    drift: DriftValues | None
    team: Extra[tuple[str, ...]]


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
class VolumeValues:
    """Reps times load of an athlete, or of a team, in one move."""

    name: str
    team: tuple[str, ...]
    move: str
    reps: Number
    volume_load: Number
    unit: str


@dataclass(frozen=True, slots=True)
class ReviewValues:
    """All of `review --json`; `volume` where something with a known load was lifted.

    A field whose name Python keeps for itself has an underscore after it here, and none in JSON.
    """

    class_: ClassValues
    parts: tuple[PartValues, ...]
    load: tuple[LoadValues, ...]
    volume: Extra[tuple[VolumeValues, ...]]
    __pydantic_config__: ClassVar[dict[str, Any]] = {"alias_generator": lambda name: name.rstrip("_")}


def review_json(digest: ClassDigest) -> dict[str, Any]:
    """The values of `review --json`, ready for a JSON writer."""
    margin = seconds(digest.rest_margin_s * 1000)
    values = ReviewValues(
        ClassValues(digest.class_id, digest.session, digest.started or None, margin, digest.rehearsal),
        tuple(
            PartValues(part.kind, part.title, tuple(_athlete(athlete, part) for athlete in part.athletes))
            for part in digest.parts
        ),
        tuple(LoadValues(load.name, load.effort, seconds(load.minutes * 1000), load.load) for load in digest.load),
        tuple(
            VolumeValues(lift.label, lift.team, lift.move, _amount(lift.reps), round(float(lift.amount), 1), str(lift.unit))
            for lift in digest.volume
        ),
    )
    written: dict[str, Any] = TypeAdapter(ReviewValues).dump_python(values, mode="json", by_alias=True)
    return written


def splits_csv(digest: ClassDigest) -> str:
    """Every split and every result as CSV (RFC 4180: CRLF, quotes where needed), under a header line of `COLUMNS`.

    A row of an interval has no `time`, `rounds`, `reps` and `score`, one of a result no `round`, `station`, `split` and `rest`. A
    team stands under its first. What was counted by sets has each in a column of its own, `score 1` and on. `part` and `round`
    count from 1, times are in seconds, several flags are parted by `; `. The first five columns are those of the intake file.
    `runs out` is a forecast and stands in no row, so that a digest without forecasts gives the same rows.
    A text that a spreadsheet could take for a formula gets an apostrophe in front and is quoted (OWASP ASVS 5, 1.2.10).
    """
    sets = range(1, max((number for part in digest.parts for number in part.sets), default=0) + 1)
    rows = list(_csv_rows(digest, sets))
    usual = len(COLUMNS)
    more = any(any(line[usual:]) for line in rows)
    header = (*COLUMNS, *MORE_COLUMNS, *(f"score {number}" for number in sets))
    return "".join(csv_line(line if more else line[:usual]) for line in (header, *rows))


def _csv_rows(digest: ClassDigest, sets: Sequence[int]) -> Iterator[tuple[object, ...]]:
    for part in digest.parts:
        for athlete in part.athletes:
            name, result = athlete.name, athlete.result
            for taken in athlete.splits:
                split, flags = taken.split, "; ".join(flag for flag in taken.flags if flag is not Flag.RUNS_OUT)
                times = (seconds(split.split_ms), seconds(split.rest_ms))
                work = (part.number, split.round, taken.station, name, *times, str(split.status), flags)
                load = "" if split.load is None else split.load.words()
                yield (*work, None, None, None, split.move, load, None, " + ".join(athlete.team), *(None for _ in sets))
            if result is not None or not part.is_timed_by_splits:
                status = Status.UNTAPPED if result is None else Status.NOT_FINISHED if result.not_finished else Status.DONE
                reached = _reached(result, part)
                person = (part.number, None, "", name, None, None, str(status), "; ".join(athlete.flags))
                total = score_total(result, part.score_unit)
                score = None if total is None else _amount(total)
                counted = {} if result is None else dict(result.scores)
                each = (_amount(counted[number]) if number in counted else None for number in sets)
                yield (*person, reached.time_s, reached.rounds, reached.reps, "", "", score, " + ".join(athlete.team), *each)


def _athlete(athlete: AthleteDigest, part: PartDigest) -> AthleteValues:
    goes, drift = athlete.margin_goes, athlete.drift
    return AthleteValues(
        name=athlete.label,
        splits=tuple(map(_split, athlete.splits)),
        stations=tuple(map(_station, athlete.stations)),
        forecast=tuple(_forecast(ahead, part) for ahead in athlete.forecast),
        runs_out_round=None if goes is None else goes.round,
        advice=tuple(_advice(advice, part) for advice in athlete.advice),
        result=None if part.is_timed_by_splits and athlete.result is None else _reached(athlete.result, part),
        flags=tuple(map(str, athlete.flags)),
        runs_out_station=None if goes is None else part.station_name(goes.station),
        drift=None if drift is None else DriftValues(*(round(100 * share, 2) for share in (drift.share, drift.low, drift.high))),
        team=athlete.team,
    )


def _split(taken: FlaggedSplit) -> SplitValues:
    split = taken.split
    times = (seconds(split.split_ms), seconds(split.rest_ms))
    plain = (split.round, taken.station, split.move, *times, str(split.status), tuple(map(str, taken.flags)))
    if split.load is None and not split.items:
        return SplitValues(*plain)
    load = (None, None) if split.load is None else (float(split.load.amount), str(split.load.unit))
    return LoadedSplitValues(*plain, work_words(split), *load)


def _station(figures: StationFigures) -> StationValues:
    times = (seconds(figures.median_split_ms), seconds(figures.slope_ms))
    return StationValues(figures.name, *times, figures.cv_percent, figures.decrement_percent)


def _forecast(ahead: Forecast, part: PartDigest) -> ForecastValues:
    return ForecastValues(
        station=part.station_name(ahead.slot.station),
        move=ahead.slot.move,
        round=ahead.slot.round,
        split_s=seconds(round(ahead.split_ms)),
        low_s=seconds(round(ahead.low_ms)),
        high_s=seconds(round(ahead.high_ms)),
        chance_under_margin=round(ahead.chance_tight(), 3),
        chance_late=round(ahead.chance_late(), 3),
    )


def _advice(advice: Advice, part: PartDigest) -> AdviceValues:
    return AdviceValues(
        station=part.station_name(advice.station),
        target=None if advice.amount is None else _amount(advice.amount),
        unit=None if advice.unit is None else str(advice.unit),
        because=advice.because,
        way=str(advice.way),
        words=advice.words,
        round=advice.round,
        step=0 if advice.target is None else _amount(advice.target.step),
        chance=round(advice.chance, 3),
        move=advice.option_move if advice.option else advice.move,
        option=advice.option,
    )


def _reached(result: Result | None, part: PartDigest) -> ResultValues:
    if result is None:
        return ResultValues(None, None, None)
    reached = (seconds(result.time_ms), result.rounds, result.reps)
    total, score = score_total(result, part.score_unit), part.score
    if score is None and not part.round_rest_ms:
        return ResultValues(*reached)
    return CountedResultValues(
        *reached,
        tuple(map(seconds, lap_times_ms(result, part.round_rest_ms))),
        tuple(ScoreValues(number or None, _amount(amount)) for number, amount in result.scores),
        None if total is None else _amount(total),
        None if score is None else score.unit,
    )


def _amount(amount: Fraction) -> Number:
    return amount.numerator if amount.denominator == 1 else float(amount)
