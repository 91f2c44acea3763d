"""What earlier classes on this machine say of athletes: their pace for the next class, their load in a week.

Invariant: this only reads, and a journal that cannot be read costs no other one. A rehearsal is nobody's history.

A later store may stand behind the same functions; until then the journals are read, the newest first. Whether a name stands in
one is looked up in its bytes before anything of it is understood, so that a class of other people costs next to nothing.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import islice
from pathlib import Path

from floorclock.clock.splits import Split
from floorclock.clock.state import ClassState
from floorclock.clock.tally import splits
from floorclock.errors import NotFound
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.reading import Header, read_bytes, read_journal
from floorclock.journal.replay import Plans, replay
from floorclock.pace.load import DAYS_OF_WEEK, SessionLoad, WeekLoad, session_loads, week_load
from floorclock.pace.prior import NO_PRIOR, Key, PastClass, Prior, prior_from
from floorclock.people import canonical_names

MOST_LOOKED_AT = 400
"""Journals that are looked at, rehearsals too; more would make somebody wait."""
FOLDED_FOR_ONE = 3
"""So many classes are folded for each one that is wanted: in some, nobody was timed by splits."""
_LONGEST_HEADER = 1 << 24
_REHEARSAL = b'"rehearsal":true'
"""As the first line of a journal has it. Inside a text of that line the quotes are escaped."""
_DAY = "%Y%m%d"


@dataclass(frozen=True, slots=True)
class _Past:
    """One recorded class, folded."""

    header: Header
    state: ClassState


def prior_of(home: Path, athletes: Iterable[str], *, before: datetime | None = None, most_classes: int = 12) -> Prior:
    """What these athletes' last classes say of the next one; only classes that started before `before`, where it is given.

    Give `before` when a class has begun already: it would be its own history. Costs about 15 ms for a class of 20; for a thread.
    """
    means = _spellings(home, athletes)
    folded = islice(_classes_with(home, frozenset(means), before=before), FOLDED_FOR_ONE * most_classes)
    told = (one for one in (_past_class(past, means) for past in folded) if one.splits)
    return prior_from(list(islice(told, most_classes)))


def prior_before(home: Path, journal: Path) -> Prior:
    """What the athletes of a recorded class had shown before it began: what the floor knew of them then."""
    try:
        header = read_journal(journal).header
    except NotFound:
        return NO_PRIOR
    if header is None or header.rehearsal:
        return NO_PRIOR
    return prior_of(home, [athlete.name for athlete in header.roster.athletes], before=header.started)


def loads_of(home: Path, athletes: Iterable[str], day: date) -> dict[str, WeekLoad]:
    """The seven days that end with `day`, for each of these athletes, in their order. A class is on the day of its own wall time.

    Who stood on the board and was there for any of it was in a class, tapped or not.
    """
    wanted = tuple(dict.fromkeys(athletes))
    first = day - timedelta(days=DAYS_OF_WEEK - 1)
    classes: dict[str, list[tuple[date, SessionLoad]]] = {name: [] for name in wanted}
    means = _spellings(home, wanted)
    for past in _classes_with(home, frozenset(means), first=first, last=day):
        for one in session_loads(past.state):
            if one.name in means and one.minutes > 0:
                classes[means[one.name]].append((past.header.started.date(), one))
    return {name: week_load(here, day) for name, here in classes.items()}


def _spellings(home: Path, athletes: Iterable[str]) -> dict[str, str]:
    """Every name under which one of these athletes may stand in the records, and the athlete it means."""
    asked, canonical = tuple(athletes), canonical_names(home)
    means = {canonical.get(name, name): name for name in asked}
    others = {name: means[end] for name, end in canonical.items() if end in means}
    return {**means, **others, **{name: name for name in asked}}


def _past_class(past: _Past, means: Mapping[str, str]) -> PastClass:
    taken = [split for split in splits(past.state) if split.athlete in means and split.split_ms is not None]
    amounts = {(means[name], move, unit): amount for (name, move, unit), amount in _amounts(past.state, taken).items()}
    own = [replace(split, athlete=means[split.athlete]) for split in taken]
    return PastClass(day=past.header.started.date(), splits=own, amounts=amounts)


def _amounts(state: ClassState, taken: Iterable[Split]) -> dict[Key, Fraction]:
    """The round-1 targets that stood at the end, where the athlete still did the same move then."""
    latest = {(one.athlete, one.move, one.unit): one for one in taken if one.unit is not None}
    amounts: dict[Key, Fraction] = {}
    for (name, move, unit), split in latest.items():
        run = state.run_of(split.part)
        work = state.assignment(name, run, split.interval) if run is not None else None
        if unit is not None and work is not None and work.move == move and work.target is not None and work.target.unit is unit:
            amounts[name, move, unit] = work.target.amount
    return amounts


def _classes_with(
    home: Path, athletes: frozenset[str], *, before: datetime | None = None, first: date | None = None, last: date | None = None
) -> Iterator[_Past]:
    """The classes that any of these were in, the newest first."""
    plans = Plans()
    needles = [_as_written(name) for name in athletes]
    for data in _journals_with(home, needles, first):
        reading = read_bytes(data)
        header = reading.header
        if header is None or header.rehearsal or not _within(header.started, before, first, last):
            continue
        session = plans.of(header)
        if session is not None:
            yield _Past(header, replay(header, reading.events, session))


def _journals_with(home: Path, needles: Iterable[bytes], first: date | None) -> Iterator[bytes]:
    """The bytes of journals in which any of these names stands. Their names tell their minute, so the newest come first."""
    since = "" if first is None else f"{first - timedelta(days=1):{_DAY}}"
    paths = sorted((home / "classes").glob("*" + JOURNAL_SUFFIX), key=lambda path: path.name, reverse=True)
    for path in paths[:MOST_LOOKED_AT]:
        if path.name < since:
            return
        try:
            with path.open("rb") as file:
                line = file.readline(_LONGEST_HEADER)
                if _REHEARSAL in line:
                    continue
                data = line + file.read()
        except OSError:
            continue
        # The whole of it and not the roster alone: who came late stands further down.
        if any(needle in data for needle in needles):
            yield data


def _as_written(name: str) -> bytes:
    return json.dumps(name, ensure_ascii=False).encode("utf-8", "surrogatepass")


def _within(started: datetime, before: datetime | None, first: date | None, last: date | None) -> bool:
    if before is not None and started >= before:
        return False
    day = started.date()
    return (first is None or day >= first) and (last is None or day <= last)
