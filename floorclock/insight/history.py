"""What earlier classes say of athletes: their pace for the next class, their load in a week. All of it is asked of the store.

Invariant: this only reads, and a rehearsal is nobody's history. A store that cannot be reached costs the history,
never the class.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar

from floorclock.errors import ResourceError, WrongUsage
from floorclock.journal.reading import Header
from floorclock.pace.load import DAYS_OF_WEEK, SessionLoad, WeekLoad, week_load
from floorclock.pace.prior import NO_PRIOR, Prior, prior_from

if TYPE_CHECKING:
    from floorclock.store.store import Store

MOST_NEW: Final = 40
"""So many journals that the index lacks are read on the way, the newest first; the floor stands meanwhile."""
T = TypeVar("T")


def prior_of(store: Store, athletes: Iterable[str], *, before: datetime | None = None) -> Prior:
    """What these athletes' last classes say of the next one; only classes that started before `before`, where it is given.

    Give `before` when a class has begun already: it would be its own history.

    Raises:
        ResourceError: the store refuses.
    """
    from floorclock.store.questions import past_classes

    return prior_from(past_classes(store, tuple(athletes), before=before))


def loads_of(store: Store, athletes: Iterable[str], day: date) -> dict[str, WeekLoad]:
    """The seven days that end with `day`, for each of these athletes, in their order. A class is on the day of its own wall time.

    Who stood on the board and was there for any of it was in a class, tapped or not.
    """
    from floorclock.store.questions import history_of

    # A day longer than the week: the place may lie anywhere.
    since = datetime.combine(day - timedelta(days=DAYS_OF_WEEK), time(), UTC)
    found = {}
    for name in dict.fromkeys(athletes):
        classes = [
            (here.started.date(), SessionLoad(name=name, effort=row.effort, minutes=row.minutes))
            for here in history_of(store, name, since=since)
            for row in here.attendance
            if row.minutes > 0
        ]
        found[name] = week_load(classes, day)
    return found


def ask_history(home: Path, question: Callable[[Store], T], otherwise: T) -> T:
    """The answer of the user's own store, brought up to date with a data folder; `otherwise` where it cannot be reached.

    For a thread: it takes its time where the index lacks much.
    """
    from floorclock.store.connection import site_name, store_url
    from floorclock.store.indexing import bring_up_to_date
    from floorclock.store.store import open_store

    try:
        with open_store(store_url(os.environ, home), site_name(os.environ)) as store:
            bring_up_to_date(home, store, processes=0, most=MOST_NEW)
            return question(store)
    except (ResourceError, WrongUsage):
        return otherwise


def prior_before(home: Path, header: Header) -> Prior:
    """What the athletes of a recorded class had shown before it began: what the floor knew of them then."""
    if header.rehearsal:
        return NO_PRIOR
    names = [athlete.name for athlete in header.roster.athletes]
    return ask_history(home, lambda store: prior_of(store, names, before=header.started), NO_PRIOR)


def loads_before(home: Path, athletes: Iterable[str], day: date) -> Mapping[str, WeekLoad]:
    """As `loads_of`, from the user's own store; nobody's where it cannot be reached."""
    return ask_history(home, lambda store: loads_of(store, athletes, day), {})
