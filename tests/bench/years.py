"""How quickly a store answers after ten years of a gym: about 20 million splits, in SQLite and in PostgreSQL.

    python -m tests.bench years
    FLOORCLOCK_BENCH_SPLITS=20000000 python -m tests.bench years

A week of invented classes goes into the store as journals do. That week is then copied, row by row with other numbers and dates:
a small gym of one year (7 classes a week, 0.3 million splits), a large one of one year (42 a week, 2 million), and the large one
of ten years (20 million, where the variable says so). Every two years all people are others. So a page of one year is about the
same in each, and what it costs more in the largest is what the years cost.

Each is asked twice and the quicker one counts, so that the 95th of 100 is a person and not a moment at which another program had
the machine. The baseline of a page is the same rows by the bare driver. PostgreSQL runs as it is shipped: it waits for the disk.
"""

from __future__ import annotations

import os
import random
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any, Final

from sqlalchemy import Integer, create_engine, insert, literal, select, text

from floorclock.insight import athlete_page, trends
from floorclock.store.connection import SCHEMA, read_url
from floorclock.store.indexing import bring_up_to_date
from floorclock.store.schema import attendance, classes, paces, persons, results, splits, stations
from floorclock.store.store import Store, open_store
from tests.bench.common import Figure, quantile, took_ms
from tests.bench.index import ATHLETES, FIRST, ROUNDS, STATIONS, invent
from tests.store.postgres_server import missing, running_server

VARIABLE: Final = "FLOORCLOCK_BENCH_SPLITS"
USUAL: Final = 2_000_000
STAY_WEEKS: Final = 104
COPIED: Final = (attendance, splits, paces, stations, results)
SITE: Final = "home"
MOST_MS: Final = 50.0
MOST_GROWTH: Final = 1.5
PEOPLE: Final = 100


@dataclass(frozen=True)
class Gym:
    """So many classes a week for so many weeks, and people enough to fill them."""

    weeks: int
    a_week: int

    @property
    def active(self) -> int:
        """People at any time."""
        return 52 * self.a_week // 7

    @property
    def splits(self) -> int:
        """All of them."""
        return self.weeks * self.a_week * ATHLETES * STATIONS * ROUNDS


GYMS: Final = (Gym(52, 7), Gym(52, 42), Gym(520, 42))
QUICK: Final = (Gym(8, 7), Gym(8, 42))


def write_years(url: str, gym: Gym, folder: Path) -> None:
    """Puts one week into a new store, and copies it to so many."""
    home = folder / f"home-{gym.a_week}"
    starts = [FIRST + timedelta(days=number % 7, hours=number // 7) for number in range(gym.a_week)]
    invent(home, starts, [f"Athlete {number:05d}" for number in range(gym.active)])
    with open_store(url, SITE) as store:
        bring_up_to_date(home, store)
    engine = create_engine(read_url(url))
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text(f"SET search_path TO {SCHEMA}"))
        people = connection.execute(select(persons)).mappings().all()
        for times in range(1, (gym.weeks - 1) // STAY_WEEKS + 1):
            first = times * gym.active
            others = [{**row, "person_no": row["person_no"] + first, "name": f"{row['name']} {times}"} for row in people]
            connection.execute(insert(persons), others)
        first_week = connection.execute(select(classes)).mappings().all()
        for week in range(1, gym.weeks):
            connection.execute(insert(classes), [copied_class(row, week, week * gym.a_week) for row in first_week])
            for table in COPIED:
                more = {"class_no": week * gym.a_week, "person_no": week // STAY_WEEKS * gym.active}
                columns = [c + literal(more[c.name], Integer) if c.name in more else c for c in table.columns]
                week_only = select(*columns).where(table.c.class_no <= gym.a_week).order_by(*table.primary_key.columns)
                connection.execute(insert(table).from_select(list(table.columns), week_only))
        connection.execute(text("ANALYZE"))
    engine.dispose()


def copied_class(row: Any, week: int, later: int) -> dict[str, object]:
    """A class of the first week as one of a later week."""
    started = row["started"] + timedelta(weeks=week)
    class_id = f"{started:%Y%m%d-%H%M}-{row['class_id'][-4:]}"
    return {**row, "class_no": row["class_no"] + later, "started": started, "class_id": class_id}


def bare_page(store: Store, number: int) -> None:
    """The rows of a page by the bare driver."""
    with store.reading() as connection:
        for table in ("attendance", "pace", "result"):
            connection.exec_driver_sql(f"SELECT * FROM {table} WHERE site = 1 AND person_no = {number}").fetchall()
        newest = "SELECT class_no FROM attendance WHERE site = 1 AND person_no = {0} ORDER BY class_no DESC LIMIT 12"
        rows = "SELECT * FROM split WHERE site = 1 AND person_no = {0} AND class_no IN (SELECT class_no FROM ({1}) AS newest)"
        connection.exec_driver_sql(rows.format(number, newest.format(number))).fetchall()


def pages_ms(store: Store, gym: Gym, today: date) -> tuple[float, float]:
    """The 95th of 100 pages of people who are there now, and of their rows alone."""
    with store.reading() as connection:
        names = dict(connection.execute(select(persons.c.person_no, persons.c.name)).tuples().all())
    newest = sorted(names)[-gym.active :]
    people = random.Random(7).sample(newest, min(PEOPLE, len(newest)))
    whole = [took_ms(partial(athlete_page, store, names[number], today), 2, perf_counter) for number in people]
    rows = [took_ms(partial(bare_page, store, number), 2, perf_counter) for number in people]
    return quantile(whole, 0.95), quantile(rows, 0.95)


def figures(quick: bool = False) -> Iterator[Figure]:
    """Both stores; PostgreSQL where it is installed."""
    most = int(os.environ.get(VARIABLE, USUAL))
    gyms = QUICK if quick else [gym for gym in GYMS if gym.splits < 1.2 * most]
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="floorclock-years-")))
        places: dict[str, Callable[[Gym], str]] = {"sqlite": lambda gym: f"sqlite:///{folder}/{gym.splits}.sqlite3"}
        if not missing():
            server = stack.enter_context(running_server(as_shipped=True))
            places["postgresql"] = lambda gym: server.new_database()
        for kind, place in places.items():
            least_ms: float | None = None
            for gym in gyms:
                url = place(gym)
                write_years(url, gym, folder)
                with open_store(url, SITE) as store:
                    label, today = f"{kind} {gym.splits / 1e6:.1f} M", (FIRST + timedelta(weeks=gym.weeks)).date()
                    page_ms, bare_ms = pages_ms(store, gym, today)
                    yield Figure(f"{label}: athlete page p95", page_ms, "ms", baseline=bare_ms, most=MOST_MS)
                    if least_ms:
                        yield Figure(f"{label}: growth of it", page_ms, "ms", baseline=least_ms, most_times=MOST_GROWTH)
                    least_ms = least_ms or page_ms
                    recent_ms = took_ms(partial(trends, store, today - timedelta(days=91), today), 2, perf_counter)
                    yield Figure(f"{label}: trends over 3 months", recent_ms, "ms")
                    yield Figure(f"{label}: trends over all years", took_ms(partial(trends, store), 1, perf_counter), "ms")
