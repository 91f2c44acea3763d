"""A class summary for other programs: JSON-ready values, and CSV.

Invariant: seconds are numbers, every key is always there, and no text of ours can become a formula in a spreadsheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from floorclock.digest.summary import AthleteSummary, ClassSummary, FlaggedSplit, PartSummary, StationFigures
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.transfer.cells import FORMULA_STARTS, QUOTE_MARK

COLUMNS = ("part", "round", "station", "athlete", "split", "rest", "status", "flags", "time", "rounds", "reps", "move")
"""In front of a text, it tells a spreadsheet that it is one."""


def summary_to_json(summary: ClassSummary) -> dict[str, Any]:
    """The values of `review --json`: seconds as numbers, None where nothing is known.

    Every part of the plan is there, in its order; one that nothing was recorded of has no athletes. `result` is None in
    parts that are measured by splits.

    While rounds are to come for an athlete, `forecast` has each of their intervals (`low_s` to `high_s` holds 80 in 100),
    `runs_out_round` is the first of those rounds in which the margin goes, and `advice` what to change now. When all was run,
    `forecast` is empty, `runs_out_round` the round in which the margin first went, and `advice` next time's target for each
    station. `target` of `unit` is for round `round`, with `step` more in each round after it; `way` says whether it is less,
    more, the same, or an option, which then stands in `option`. `move` is what the athlete did or is to do at the station,
    an option's move where they do one.
    """
    return {
        "class": {
            "id": summary.class_id,
            "session": summary.session,
            "started": summary.started or None,
            "rest_margin_s": _number(summary.rest_margin_s),
            "rehearsal": summary.rehearsal,
        },
        "parts": [_part(part) for part in summary.parts],
        "load": [_load(one) for one in summary.load],
    }


def splits_csv(summary: ClassSummary) -> str:
    """Every split and every result as CSV (RFC 4180: CRLF, quotes where needed), with a header line.

    One row for each interval of each athlete: `part` and `round` count from 1, `split` and `rest` are seconds, empty where
    nobody tapped; `time`, `rounds` and `reps` are empty. One row for each athlete in a part with a result: `round` and
    `station` are empty, `status` is `done`, `not finished` or `untapped`, and what was reached stands in `time` (seconds),
    `rounds` and `reps`. Several flags are parted by `; `. `move` is what the athlete did at the station, an option's move where
    they did one. The first five columns are those of the intake file.

    A text that a spreadsheet could take for a formula gets an apostrophe in front and is quoted (OWASP ASVS 5, 1.2.10);
    numbers are left alone.
    """
    lines = [_line(COLUMNS)]
    for number, part in enumerate(summary.parts, start=1):
        for athlete in part.athletes:
            lines += [_line(_split_row(number, athlete.name, one)) for one in athlete.splits]
            if not part.is_timed_by_splits:
                lines.append(_line(_result_row(number, athlete)))
    return "".join(lines)


def _part(part: PartSummary) -> dict[str, Any]:
    return {"kind": part.kind, "title": part.title, "athletes": [_athlete(athlete, part) for athlete in part.athletes]}


def _athlete(athlete: AthleteSummary, part: PartSummary) -> dict[str, Any]:
    return {
        "name": athlete.name,
        "splits": [_split(one) for one in athlete.splits],
        "stations": [_station(one) for one in athlete.stations],
        "forecast": [_forecast(one, part) for one in athlete.forecast],
        "runs_out_round": athlete.runs_out_round,
        "advice": [_advice(one, part) for one in athlete.advice],
        "result": None if part.is_timed_by_splits else _result(athlete),
    }


def _split(one: FlaggedSplit) -> dict[str, Any]:
    return {
        "round": one.split.round,
        "station": one.station,
        "move": one.split.move,
        "split_s": _seconds(one.split.split_ms),
        "rest_s": _seconds(one.split.rest_ms),
        "status": str(one.split.status),
        "flags": [str(flag) for flag in one.flags],
    }


def _station(one: StationFigures) -> dict[str, Any]:
    return {
        "station": one.name,
        "median_split_s": _seconds(one.median_split_ms),
        "slope_s_per_round": _seconds(one.slope_ms),
        "cv_percent": one.cv_percent,
        "decrement_percent": one.decrement_percent,
    }


def _forecast(one: Forecast, part: PartSummary) -> dict[str, Any]:
    return {
        "station": part.station_name(one.slot.station),
        "move": one.slot.move,
        "round": one.slot.round,
        "split_s": _seconds(round(one.split_ms)),
        "low_s": _seconds(round(one.low_ms)),
        "high_s": _seconds(round(one.high_ms)),
    }


def _advice(one: Advice, part: PartSummary) -> dict[str, Any]:
    values: dict[str, Any] = {
        "station": part.station_name(one.station),
        "target": None if one.amount is None else _number(float(one.amount)),
        "unit": None if one.unit is None else str(one.unit),
        "because": one.because,
        "way": str(one.way),
        "words": one.words,
        "round": one.round,
        "step": 0 if one.target is None else _number(float(one.target.step)),
        "chance": round(one.chance, 3),
    }
    values["move"] = one.option_move if one.option else one.move
    return values | ({"option": one.option} if one.option else {})


def _load(one: SessionLoad) -> dict[str, Any]:
    return {"name": one.name, "effort": one.effort, "minutes": _number(one.minutes), "load": one.load}


def _result(athlete: AthleteSummary) -> dict[str, Any]:
    result = athlete.result
    if result is None:
        return {"time_s": None, "rounds": None, "reps": None}
    return {"time_s": _seconds(result.time_ms), "rounds": result.rounds, "reps": result.reps}


def _split_row(part: int, name: str, one: FlaggedSplit) -> Sequence[object]:
    split = one.split
    seconds = (_seconds(split.split_ms), _seconds(split.rest_ms))
    return (part, split.round, one.station, name, *seconds, str(split.status), _words(one.flags), None, None, None, split.move)


def _result_row(part: int, athlete: AthleteSummary) -> Sequence[object]:
    result = athlete.result
    flags = _words(athlete.flags)
    if result is None:
        return (part, None, "", athlete.name, None, None, "untapped", flags, None, None, None, "")
    status = "not finished" if result.not_finished else "done"
    reached = (_seconds(result.time_ms), result.rounds, result.reps)
    return (part, None, "", athlete.name, None, None, status, flags, *reached, "")


def _words(flags: Sequence[Flag]) -> str:
    return "; ".join(flags)


def _seconds(ms: float | None) -> float | None:
    return None if ms is None else _number(ms / 1000)


def _number(seconds: float) -> float:
    """Whole seconds as a whole number."""
    return int(seconds) if seconds == int(seconds) else seconds


def _line(values: Sequence[object]) -> str:
    return ",".join(_field(value) for value in values) + "\r\n"


def _field(value: object) -> str:
    """A number as it is; a text quoted where RFC 4180 wants it, or where it begins like a formula."""
    if value is None:
        return ""
    if not isinstance(value, str):
        return str(value)
    risky = value.startswith(FORMULA_STARTS)
    if not risky and not any(letter in value for letter in ',"\r\n'):
        return value
    doubled = value.replace('"', '""')
    return f'"{QUOTE_MARK if risky else ""}{doubled}"'
