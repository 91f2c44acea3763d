"""One journal as the rows of its class.

Invariant: the rows follow from the bytes of the journal alone, whatever they are; nothing here raises for what is in them.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from floorclock.journal.instants import read_instant
from floorclock.journal.replay import Plans
from floorclock.store.codes import UNIT_OF
from floorclock.store.indexing.packed import MOST_PLANS, Packed, packed
from floorclock.store.rows import AttendanceRow, ClassRows, JournalMark, PaceRow, ResultRow, SplitRow, StationRow

NO_MARK = JournalMark(size=0, mtime_ns=0)


def class_rows(
    data: bytes, class_id: str, *, mark: JournalMark = NO_MARK, home: str = "", plans: Plans | None = None
) -> ClassRows | None:
    """What a journal comes to; None where it does not say what the class started from.

    A class whose plan this version cannot read has its facts and no more, and one damage more for it. Who was on the board and
    there for none of it, and rated no effort, was not in the class. No split has `runs out`: that flag is a forecast's, which
    rests on earlier classes too.

    Args:
        data: the whole journal.
        class_id: the stem of its file.
        mark: which journal it was.
        home: the data folder it is in, as `home_mark` names it.
        plans: what was read before, where several journals are read.
    """
    found = packed(data, plans or Plans(MOST_PLANS))
    return None if found is None else unpacked(found, class_id, mark, home)


def unpacked(one: Packed, class_id: str, mark: JournalMark, home: str) -> ClassRows:
    """A class as rows."""
    facts, people = one.facts, one.people
    return ClassRows(
        id=class_id,
        started=read_instant(facts.started),
        session=facts.session,
        rehearsal=facts.rehearsal,
        source="paper" if facts.paper else "taps",
        rest_margin_ms=facts.rest_margin_ms,
        minutes=facts.minutes,
        ended=facts.ended,
        damage=facts.damage,
        mark=mark,
        forgotten=facts.forgotten,
        home=home,
        attendance=tuple(
            AttendanceRow(name=people[who], minutes=minutes, effort=effort) for who, minutes, effort in one.attendance
        ),
        splits=tuple(_splits(one)),
        paces=tuple(_paces(one)),
        stations=tuple(_stations(one)),
        results=tuple(_results(one)),
    )


def _works(one: Packed) -> list[dict[str, Any]]:
    return [
        {"move": move, "amount": None if amount is None else Fraction(amount), "unit": UNIT_OF[unit]}
        for move, amount, unit in one.works
    ]


_OF_SPLIT = ("part", "interval", "round", "station", "window_ms", "margin_ms", "split_ms", "status", "flags")


def _splits(one: Packed) -> Iterator[SplitRow]:
    works = _works(one)
    for who, part, interval, round_number, station, work, *rest in zip(*one.splits, strict=True):
        values = dict(zip(_OF_SPLIT, (part, interval, round_number, station, *rest), strict=True))
        yield SplitRow(name=one.people[who], **works[work], **values)


_OF_PACE = (
    "rounds",
    "tapped",
    "tight",
    "not_finished",
    "flags",
    "median_split_ms",
    "first_ms",
    "last_ms",
    "least_rest_ms",
    "slope_ms",
    "cv_percent",
    "level",
    "drift",
)


def _paces(one: Packed) -> Iterator[PaceRow]:
    works = _works(one)
    for who, (part, station, work, *rest) in one.paces:
        values: dict[str, Any] = dict(zip(_OF_PACE, rest, strict=True))
        yield PaceRow(name=one.people[who], part=part, station=station, **works[work], **values)


_OF_STATION = (
    "athletes",
    "tapped",
    "untapped",
    "tight",
    "fading",
    "runs_out",
    "not_finished",
    "median_split_ms",
    "median_rest_ms",
    "mean_drift",
)


def _stations(one: Packed) -> Iterator[StationRow]:
    for (part, station, *rest), title, kind, move in one.stations:
        values: dict[str, Any] = dict(zip(_OF_STATION, rest, strict=True))
        yield StationRow(part=part, station=station, part_title=title, kind=kind, move=move, **values)


def _results(one: Packed) -> Iterator[ResultRow]:
    for who, part, title, kind, choice, time_ms, rounds, reps, not_finished in one.results:
        yield ResultRow(
            name=one.people[who],
            part=part,
            title=title,
            kind=kind,
            choice=choice,
            time_ms=time_ms,
            rounds=rounds,
            reps=reps,
            not_finished=not_finished,
        )
