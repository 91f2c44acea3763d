"""A class for other programs: as JSON and as CSV.

Invariant: what is written is what the digest has, and None where nothing is known; seconds are numbers. No text of ours can
become a formula in a spreadsheet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from floorclock.clock.splits import Result, Status
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, FlaggedSplit, PartDigest
from floorclock.digest.figures import StationFigures
from floorclock.digest.volume import VolumeLoad
from floorclock.digest.words import lap_times_ms, score_total, work_words
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import seconds
from floorclock.transfer.cells import row

COLUMNS = ("part", "round", "station", "athlete", "split", "rest", "status", "flags", "time", "rounds", "reps", "move")
MORE_COLUMNS = ("load", "score", "team")
"""Behind the others where a class has any of it; a class without has the columns that it always had."""
Values = dict[str, Any]


def review_json(digest: ClassDigest) -> Values:
    """The values of `review --json`, ready for a JSON writer. `volume` is there where something with a known load was lifted."""
    values: Values = {
        "class": {
            "id": digest.class_id,
            "session": digest.session,
            "started": digest.started or None,
            "rest_margin_s": seconds(digest.rest_margin_s * 1000),
            "rehearsal": digest.rehearsal,
        },
        "parts": [
            {"kind": part.kind, "title": part.title, "athletes": [_athlete(athlete, part) for athlete in part.athletes]}
            for part in digest.parts
        ],
        "load": [_load(load) for load in digest.load],
    }
    return values | ({"volume": [_volume(lifted) for lifted in digest.volume]} if digest.volume else {})


def splits_csv(digest: ClassDigest) -> str:
    """Every split and every result as CSV (RFC 4180: CRLF, quotes where needed), with a header line.

    A text that a spreadsheet could take for a formula gets an apostrophe in front and is quoted (OWASP ASVS 5, 1.2.10);
    numbers are left alone.
    """
    return "".join(map(row, _table(digest)))


def _table(digest: ClassDigest) -> Iterator[tuple[object, ...]]:
    """A header, then the values of `COLUMNS` for every split and every result; None is an empty field.

    A row of an interval has no `time`, `rounds`, `reps` and `score`, one of a result no `round`, `station`, `split` and `rest`. A
    team stands under its first. What was counted by sets has each in a column of its own, `score 1` and on. `part` and `round`
    count from 1, times are in seconds, several flags are parted by `; `. The first five columns are those of the intake file.
    `runs out` is a forecast and stands in no row, so that a digest without forecasts gives the same rows.
    """
    sets = range(1, max((number for part in digest.parts for number in part.sets), default=0) + 1)
    rows = list(_rows(digest, sets))
    usual = len(COLUMNS)
    more = any(any(fields[usual:]) for fields in rows)
    yield (*COLUMNS, *MORE_COLUMNS, *(f"score {number}" for number in sets)) if more else COLUMNS
    yield from rows if more else (fields[:usual] for fields in rows)


def _rows(digest: ClassDigest, sets: Sequence[int]) -> Iterator[tuple[object, ...]]:
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
                person = (part.number, None, "", name, None, None, str(status), "; ".join(athlete.flags))
                reached = (None, None, None) if result is None else (seconds(result.time_ms), result.rounds, result.reps)
                score = _amount(score_total(result, part.score_unit))
                counted = {} if result is None else dict(result.scores)
                each = (_amount(counted.get(number)) for number in sets)
                yield (*person, *reached, "", "", score, " + ".join(athlete.team), *each)


def _athlete(athlete: AthleteDigest, part: PartDigest) -> Values:
    """One athlete in one part, or a team, whose name is all of theirs.

    While rounds are to come for them, `forecast` has each of their intervals, `runs_out_round` is the first of those rounds in
    which the margin goes, and `advice` what to change now. When all was run, `forecast` is empty, `runs_out_round` the round in
    which the margin first went, and `advice` next time's target for each station. `result` is None in parts with splits, unless
    a missed interval ends the part for somebody, or something was counted in it. `drift` is by how many percent a split grows
    with each round; `low_percent` to `high_percent` holds it in 80 of 100 cases.
    """
    goes, drift = athlete.margin_goes, athlete.drift
    shares = {} if drift is None else {"percent": drift.share, "low_percent": drift.low, "high_percent": drift.high}
    values: Values = {
        "name": athlete.label,
        "splits": [_split(taken) for taken in athlete.splits],
        "stations": [_station(figures) for figures in athlete.stations],
        "forecast": [_forecast(ahead, part) for ahead in athlete.forecast],
        "runs_out_round": None if goes is None else goes.round,
        "advice": [_advice(advice, part) for advice in athlete.advice],
        "result": None if part.is_timed_by_splits and athlete.result is None else _reached(athlete.result, part),
        "flags": list(map(str, athlete.flags)),
        "runs_out_station": None if goes is None else part.station_name(goes.station),
        "drift": {key: round(100 * share, 2) for key, share in shares.items()} or None,
    }
    return values | ({"team": list(athlete.team)} if athlete.team else {})


def _split(taken: FlaggedSplit) -> Values:
    """One interval; `move` is what they did, an option's where they do one. Several moves, or one with a load, have more keys."""
    split = taken.split
    values: Values = {
        "round": split.round,
        "station": taken.station,
        "move": split.move,
        "split_s": seconds(split.split_ms),
        "rest_s": seconds(split.rest_ms),
        "status": str(split.status),
        "flags": list(map(str, taken.flags)),
    }
    if split.load is None and not split.items:
        return values
    load, unit = (None, None) if split.load is None else (float(split.load.amount), str(split.load.unit))
    return values | {"work": work_words(split), "load": load, "load_unit": unit}


def _station(figures: StationFigures) -> Values:
    return {
        "station": figures.name,
        "median_split_s": seconds(figures.median_split_ms),
        "slope_s_per_round": seconds(figures.slope_ms),
        "cv_percent": figures.cv_percent,
        "decrement_percent": figures.decrement_percent,
    }


def _forecast(ahead: Forecast, part: PartDigest) -> Values:
    """An interval to come; `low_s` to `high_s` holds the split in 80 of 100 cases.

    `chance_under_margin` and `chance_late` (0..1): of less rest than the margin, and of not being done in time.
    """
    return {
        "station": part.station_name(ahead.slot.station),
        "move": ahead.slot.move,
        "round": ahead.slot.round,
        "split_s": seconds(round(ahead.split_ms)),
        "low_s": seconds(round(ahead.low_ms)),
        "high_s": seconds(round(ahead.high_ms)),
        "chance_under_margin": round(ahead.chance_tight(), 3),
        "chance_late": round(ahead.chance_late(), 3),
    }


def _advice(advice: Advice, part: PartDigest) -> Values:
    """What to give: `target` of `unit` in round `round`, `step` more in each round after it; `move` is what is to be done."""
    values: Values = {
        "station": part.station_name(advice.station),
        "target": _amount(advice.amount),
        "unit": None if advice.unit is None else str(advice.unit),
        "because": advice.because,
        "way": str(advice.way),
        "words": advice.words,
        "round": advice.round,
        "step": 0 if advice.target is None else _amount(advice.target.step),
        "chance": round(advice.chance, 3),
        "move": advice.option_move if advice.option else advice.move,
    }
    return values | ({"option": advice.option} if advice.option else {})


def _reached(result: Result | None, part: PartDigest) -> Values:
    """What was reached. Where something is counted, `score` is all of it (of loads the most), `scores` each set, from 1."""
    if result is None:
        return {"time_s": None, "rounds": None, "reps": None}
    values: Values = {"time_s": seconds(result.time_ms), "rounds": result.rounds, "reps": result.reps}
    if part.score is None and not part.round_rest_ms:
        return values
    return values | {
        "rounds_s": list(map(seconds, lap_times_ms(result, part.round_rest_ms))),
        "scores": [{"set": number or None, "amount": _amount(amount)} for number, amount in result.scores],
        "score": _amount(score_total(result, part.score_unit)),
        "score_unit": part.score_unit,
    }


def _load(load: SessionLoad) -> Values:
    return {"name": load.name, "effort": load.effort, "minutes": seconds(load.minutes * 1000), "load": load.load}


def _volume(lifted: VolumeLoad) -> Values:
    return {
        "name": " + ".join(lifted.team) or lifted.athlete,
        "team": list(lifted.team),
        "move": lifted.move,
        "reps": _amount(lifted.reps),
        "volume_load": round(float(lifted.amount), 1),
        "unit": str(lifted.unit),
    }


def _amount(amount: Fraction | None) -> int | float | None:
    return None if amount is None else amount.numerator if amount.denominator == 1 else float(amount)
