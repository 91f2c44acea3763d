"""How quickly a store answers after ten years of a gym: about 20 million splits, in SQLite and in PostgreSQL.

    python -m tests.bench records_years
    FLOORCLOCK_BENCH_SPLITS=20000000 python -m tests.bench records_years

Three gyms: a small one of one year (31 active people, 7 classes a week: 0.19 million splits), a large one of one year (312
active, 42 classes a week: 2.0 million), and the large one after ten years (19.8 million splits of 1,745 people in 21,882
classes). Everybody comes 1 to 6 times a week, for 9 stations and 45 splits a class; so a page of one year is about the same in
each gym, and what it costs more in the largest is what the years cost. Without the variable the largest is left out.

A page is measured for people who were there for a year up to their last class (shorter ones are quicker), 200 at random and the
one with the most classes. Each is asked twice and the quicker one counts, so that the 95th of 100 is a person and not a moment
at which another program had the machine. `its questions` are those parts of it that ask the store; `in the processor` is the
time of this process alone. The baselines are the same questions written by hand for the bare driver, which makes no values of
the rows, unless a line says what else. PostgreSQL runs as it is shipped: it waits for the disk.
"""

from __future__ import annotations

import gc
import os
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final

# Before numpy is imported, as for the floor: threads for such small sums only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from floorclock.insight import athlete_page, compare, trends, who_is_meant
from floorclock.store import ask
from floorclock.store.driving import CACHE_KIB, SCHEMA
from floorclock.store.engine import Store, open_store
from tests.bench.common import Figure, print_table, quantile
from tests.bench.years_gym import SITE_HOME, Gym, Written, name_of
from tests.bench.years_writer import write_gym
from tests.store.postgres_server import missing, running_server

VARIABLE: Final = "FLOORCLOCK_BENCH_SPLITS"
USUAL: Final = 2_000_000
GYMS: Final = {
    200_000: Gym(weeks=52, active=31, small=True),
    2_000_000: Gym(weeks=52, active=312),
    20_000_000: Gym(weeks=521, active=312),
}
SITE: Final = "home"
MOST_MS: Final = 50.0
MOST_GROWTH: Final = 1.5
PEOPLE: Final = 200
PAIRS: Final = 20
A_PAGE: Final = 50
YEAR: Final = timedelta(days=365)
SEED: Final = 7

Rows = list[tuple[Any, ...]]


@dataclass(frozen=True)
class Someone:
    """A person whose page is asked for, and the day on which it is."""

    name: str
    last: datetime

    @property
    def today(self) -> date:
        """The day of their last class."""
        return self.last.date()


class Bare:
    """The database by its driver alone."""

    def __init__(self, url: str) -> None:
        self._file = url.startswith("sqlite")
        if self._file:
            self._connection: Any = sqlite3.connect(url.removeprefix("sqlite:///"))
            self._connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
        else:
            import psycopg

            self._connection = psycopg.connect(url, autocommit=True, options=f"-c search_path={SCHEMA}")

    def rows(self, query: str, *given: object) -> Rows:
        """All rows of a query with `?` for what is given."""
        if self._file:
            given = tuple(f"{one:%Y-%m-%d %H:%M:%S.%f}" if isinstance(one, datetime) else one for one in given)
        found: Rows = self._connection.execute(query if self._file else query.replace("?", "%s"), given).fetchall()
        return found

    def close(self) -> None:
        """Lets go of it."""
        self._connection.close()


_MINE = "site = 1 AND person_no IN (?, ?)"
_OF_MINE = (
    "SELECT class.class_id, class.started, class.session, move.name, pace.* FROM pace JOIN class USING (site, class_no)"
    f" JOIN move USING (site, move_no) WHERE pace.{_MINE} AND class.started >= ? ORDER BY class.started DESC"
)
_THERE = (
    "SELECT class.class_id, class.started, class.session, attendance.* FROM attendance JOIN class USING (site, class_no)"
    f" WHERE attendance.{_MINE} AND class.started >= ? ORDER BY class.started DESC"
)
_REACHED = (
    "SELECT class.class_id, class.started, class.session, result.* FROM result JOIN class USING (site, class_no)"
    f" WHERE result.{_MINE} AND class.started >= ? ORDER BY class.started DESC"
)
_NEWEST = (
    "SELECT class.class_no FROM attendance JOIN class USING (site, class_no)"
    f" WHERE attendance.{_MINE} ORDER BY class.started DESC LIMIT 12"
)
_SPLITS = "SELECT * FROM split WHERE {mine} AND class_no IN ({classes})"
_LISTED = "SELECT * FROM class WHERE site = 1 AND started < ? ORDER BY started DESC, class_no DESC LIMIT ?"
_MARKS = "SELECT class_id, journal_size, journal_mtime_ns FROM class WHERE site = 1 AND home = ?"
_EVERY_SPLIT = "SELECT count(*), sum(split_ms) FROM split WHERE site = 1 AND person_no = ?"


def bare_page(bare: Bare, one: Someone) -> None:
    """What a page asks, by hand."""
    ((number,),) = bare.rows("SELECT person_no FROM person WHERE site = 1 AND name = ?", one.name)
    mine = [number, *(other for (other,) in bare.rows("SELECT person_no FROM person WHERE site = 1 AND same_as = ?", number))]
    first, last = mine[0], mine[-1]
    for query in (_THERE, _OF_MINE, _REACHED):
        bare.rows(query, first, last, one.last - YEAR)
    newest = ", ".join(str(found) for (found,) in bare.rows(_NEWEST, first, last))
    bare.rows(_SPLITS.format(mine=_MINE, classes=newest), first, last)


def page_questions(store: Store, one: Someone) -> int:
    """What a page asks of the store; how many rows it gets."""
    whose, since = who_is_meant(store, one.name), one.last - YEAR
    return sum(
        len(rows)
        for rows in (
            ask.athlete_classes(store, whose.name, since=since),
            ask.athlete_paces(store, whose.name, since=since),
            ask.athlete_results(store, whose.name, since=since),
            ask.past_splits(store, (whose.name,), before=one.last + timedelta(days=2)),
        )
    )


@dataclass(frozen=True)
class Times:
    """Milliseconds of many runs, on the wall and in the processor."""

    wall: Sequence[float]
    processor: Sequence[float]

    @classmethod
    def of(cls, runs: Sequence[Callable[[], object]], times: int = 2) -> Times:
        """Runs each a few times; the quickest counts."""
        every = [[_once(run) for _ in range(times)] for run in runs]
        wall, processor = ([min(one[place] for one in same) for same in every] for place in (0, 1))
        return cls(wall, processor)

    @property
    def p95(self) -> float:
        """On the wall."""
        return quantile(self.wall, 0.95)

    @property
    def median(self) -> float:
        """On the wall."""
        return statistics.median(self.wall)


def _once(run: Callable[[], object]) -> tuple[float, float]:
    begun, begun_processor = time.perf_counter(), time.process_time()
    run()
    return 1_000 * (time.perf_counter() - begun), 1_000 * (time.process_time() - begun_processor)


class Asked:
    """Everything that is asked of one store."""

    def __init__(self, label: str, url: str, gym: Gym) -> None:
        self.label, self._url, self._gym = label, url, gym
        self._draw = random.Random(SEED)
        self.figures: list[Figure] = []
        self.p95: dict[str, float] = {}
        """The ones that must not grow."""

    def add(self, what: str, value: float, unit: str = "ms", **more: float | None) -> None:
        """One line."""
        self.figures.append(Figure(what=f"{self.label}  {what}", value=value, unit=unit, **more))

    def p95_of(self, what: str, times: Times, bare: Times | None = None) -> None:
        """The 95th percentile of what has to be quick and must not grow."""
        in_processor = quantile(times.processor, 0.95)
        self.p95[what], self.p95[f"{what}, in the processor"] = times.p95, in_processor
        self.add(f"{what} p95", times.p95, most=MOST_MS, baseline=bare.p95 if bare else None)
        self.add("  in the processor", in_processor)

    def ask_all(self, written: Written) -> None:
        """Every question."""
        with open_store(self._url, SITE) as store:
            people = self._people(store)
        cooled = cool(self._url)
        begun = time.perf_counter()
        with open_store(self._url, SITE) as store:
            athlete_page(store, people[0].name, people[0].today)
            self.add(f"first page after opening{', nothing in memory' * cooled}", 1_000 * (time.perf_counter() - begun))
            bare = Bare(self._url)
            try:
                self._pages(store, bare, people)
                self._lists(store, bare, written.classes)
                self._months(store)
                self._compared(store)
            finally:
                bare.close()

    def _people(self, store: Store) -> list[Someone]:
        there = self._gym.there_for(52)
        drawn = self._draw.sample(there, min(PEOPLE, len(there)))
        busiest = max(ask.athletes(store), key=lambda line: line.classes)
        names = dict.fromkeys((busiest.name, *map(name_of, drawn)))
        return [Someone(name, who_is_meant(store, name).last) for name in names]

    def _pages(self, store: Store, bare: Bare, people: Sequence[Someone]) -> None:
        rows = [page_questions(store, one) for one in people]
        by_hand = Times.of([partial(bare_page, bare, one) for one in people])
        asked = Times.of([partial(page_questions, store, one) for one in people])
        whole = Times.of([partial(athlete_page, store, one.name, one.today) for one in people])
        scan = Times.of([lambda: bare.rows(_EVERY_SPLIT, 1)])
        self.add("rows of a page, p95 (people asked as baseline)", quantile(rows, 0.95), "rows", baseline=len(people))
        self.p95_of("athlete page, its questions", asked, by_hand)
        self.p95_of("athlete page, whole", whole)
        self.add("  against all splits read for one person", whole.p95, baseline=scan.median)

    def _lists(self, store: Store, bare: Bare, count: int) -> None:
        every = [line.started for line in ask.classes(store)]
        befores = [self._draw.choice(every) for _ in range(PEOPLE)]
        first = [lambda: ask.classes(store, limit=A_PAGE)] * PEOPLE
        never = datetime(2100, 1, 1, tzinfo=UTC)
        by_hand = Times.of([lambda: bare.rows(_LISTED, never, A_PAGE)] * PEOPLE)
        self.p95_of("class list, first 50", Times.of(first), by_hand)
        middle = [partial(ask.classes, store, limit=A_PAGE, before=at) for at in befores]
        hand = Times.of([partial(bare.rows, _LISTED, at, A_PAGE) for at in befores])
        self.p95_of("class list, 50 anywhere", Times.of(middle), hand)
        marks = Times.of([lambda: store.marks(SITE_HOME)] * 5)
        marks_by_hand = Times.of([lambda: bare.rows(_MARKS, SITE_HOME)] * 5)
        self.add(f"marks of {count} classes, median", marks.median, baseline=marks_by_hand.median)

    def _months(self, store: Store) -> None:
        last = ask.classes(store, limit=1)[0].started.date()
        quarter = Times.of([lambda: trends(store, last - timedelta(days=91), last)])
        self.add("trends over 3 months", quarter.median)
        self.add("trends over all years", Times.of([lambda: trends(store)], times=1).median)

    def _compared(self, store: Store) -> None:
        lines = ask.classes(store)
        pairs = []
        for one in self._draw.sample(lines, PAIRS):
            same = [other.id for other in ask.session_classes(store, one.session) if other.id != one.id]
            pairs.append((one.id, self._draw.choice(same)))
        times = Times.of([partial(compare, store, *pair) for pair in pairs])
        self.add("compare two classes, p95", times.p95)


def cool(url: str) -> bool:
    """Takes the file of a store out of the memory of the machine; false where that cannot be done."""
    if not url.startswith("sqlite"):
        return False
    with Path(url.removeprefix("sqlite:///")).open("rb") as file:
        os.fsync(file.fileno())
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    return True


def bytes_of(url: str) -> int:
    """What a store takes on the disk."""
    if url.startswith("sqlite"):
        path = Path(url.removeprefix("sqlite:///"))
        return sum(one.stat().st_size for one in path.parent.glob(path.name + "*"))
    bare = Bare(url)
    try:
        return int(bare.rows("SELECT pg_database_size(current_database())")[0][0])
    finally:
        bare.close()


@contextmanager
def places(kind: str) -> Iterator[Callable[[], str]]:
    """Gives a URL for a new store; everything is deleted in the end."""
    with ExitStack() as stack:
        if kind == "postgresql":
            yield stack.enter_context(running_server(as_shipped=True)).new_database
            return
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="floorclock-years-")))

        def new_file() -> str:
            for old in folder.iterdir():
                old.unlink()
            return f"sqlite:///{folder / 'store.sqlite3'}"

        yield new_file


def measure(kind: str, most: int) -> list[Figure]:
    """One kind of store, in every size up to the largest."""
    found: list[Figure] = []
    least: Asked | None = None
    with places(kind) as new_place:
        for size in (size for size in GYMS if size <= most):
            url = new_place()
            asked = Asked(f"{kind} {size / 1e6:g} M", url, GYMS[size])
            say(f"{asked.label}: writing")
            begun = time.perf_counter()
            written = write_gym(url, SITE, GYMS[size])
            took = time.perf_counter() - begun
            say(f"{asked.label}: {written}, {GYMS[size].people} people, {took:.0f} s, load {os.getloadavg()[0]:.1f}; asking")
            asked.add("written (a bench writer, not the rebuild)", written.splits / took / 1_000, "k/s")
            asked.add("load of the machine after it (its cores as baseline)", os.getloadavg()[0], "", baseline=os.cpu_count())
            used = bytes_of(url)
            asked.add("on the disk", used / 1e6, "MB")
            asked.add("on the disk for each split", used / written.splits, "bytes")
            asked.ask_all(written)
            least = least or asked
            if asked is not least:
                for what, value in asked.p95.items():
                    asked.add(f"growth: {what}", value, baseline=least.p95[what], most_times=MOST_GROWTH)
            found += asked.figures
    return found


def say(words: str) -> None:
    """What is being done, for somebody who waits."""
    print(words, file=sys.stderr, flush=True)


def measured() -> list[Figure]:
    """Both stores; PostgreSQL where it is installed."""
    most = int(os.environ.get(VARIABLE, USUAL))
    # As in a process that has just begun: what stands by now is not gone through for garbage with every page.
    gc.freeze()
    found = measure("sqlite", most)
    if words := missing():
        say(f"postgresql: not here ({words})")
        return found
    return found + measure("postgresql", most)


def main() -> None:
    """Prints the table. In a process of its own, so that numpy is not there yet with threads for each core."""
    found = measured()
    print_table(found)
    sys.exit(any(one.verdict == "NOT MET" for one in found))


if __name__ == "__main__":
    main()
