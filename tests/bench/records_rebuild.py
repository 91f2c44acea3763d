"""How fast the store is made anew from the journals, against a bare `executemany` of the very same rows in the same run.

`python -m tests.bench.records_rebuild [--classes N] [--plans N] [--only sqlite|postgresql] [--folder F]`: exits 1 when a limit
is missed.

The journals are invented from a seed and written as the format has them: classes of 20 athletes and 30 intervals (five stations,
six rounds), with a tap missing here and there, a word that somebody did not finish, and an effort from everybody at the end.

The baseline: the rows that the rebuild has put into the store are read out of it, table by table in the order of the classes, and
written by one `executemany` for each table, in one transaction, with the driver alone (`sqlite3`, `psycopg`), into tables and
indexes that `open_store` has made and that are empty; for SQLite with the settings that the store has too (write-ahead log,
`synchronous = NORMAL`, the same cache). What is timed ends with the commit. The rebuild is timed from the folder of journals to
the end of its last commit. Cold: nothing that was worked out before is used, though the system has the files in its memory.

`its writing alone` is what is left for the first process when others have read the journals: with cores enough the
rebuild could come to that, no lower. `processor time` is what all processes used together.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import select

from floorclock.clock.events import ClassEnded, EffortRated, Event, NotFinished, PartBegun, Tapped
from floorclock.journal.plans import Plans
from floorclock.journal.reading import Header, event_line, header_line
from floorclock.plan.roster import Athlete, Roster
from floorclock.store.driving import CACHE_KIB, SCHEMA
from floorclock.store.engine import Store, open_store
from floorclock.store.indexing import bring_up_to_date, home_mark, rebuild
from floorclock.store.indexing.pouring import put_packed
from floorclock.store.indexing.reading import NoRows, journals_in, packed_at
from floorclock.store.tables import attendance, classes, metadata, moves, paces, persons, results, sites, splits, stations
from tests.store.postgres_server import missing, running_server

LEAST_OF_BARE = 0.5
MOST_NOTHING_NEW_MS = 30.0
ATHLETES, STATIONS, ROUNDS = 20, 5, 6
PEOPLE = 120
PLANS = 12
"""Every so many classes follow the same plan; `--plans` says otherwise."""
CLASSES_AT_ONCE = 72
SEED = 20261125
FIRST = datetime(2016, 1, 4, 6, 30, tzinfo=UTC)
MOVES = ("step-up", "kettlebell swing", "row", "sit-up", "box jump", "farmer carry", "squat", "press", "plank", "ring row")
TABLES = (persons, moves, classes, attendance, splits, paces, stations, results)
"""In an order that foreign keys allow."""

Row = tuple[object, ...]


def plan_text(number: int) -> str:
    """One of a few plans, each with five stations."""
    lines = [f"session: Harbour {number}", "rest_margin: 0:12", "count_in: 0:10", "parts:", "  - kind: rotation"]
    lines += ["    title: The harbour", "    every: 1:00", f"    rounds: {ROUNDS}", "    stations:"]
    lines += [f"      - {{move: {MOVES[(number + place) % len(MOVES)]}, target: {8 + place} reps}}" for place in range(STATIONS)]
    return "\n".join(lines) + "\n"


def journal_of(number: int, class_id: str, started: datetime, plans: int = PLANS) -> bytes:
    """The journal of one class, from its number."""
    draw = random.Random(f"{SEED} {number}")
    names = [f"Athlete {place:03d}" for place in sorted(draw.sample(range(PEOPLE), ATHLETES))]
    people = tuple(Athlete(name=name, group=place % STATIONS + 1) for place, name in enumerate(names))
    header = Header(
        id=class_id,
        started=started,
        session=f"Harbour {number % plans}",
        session_file="harbour.yaml",
        session_text=plan_text(number % plans),
        roster=Roster(title="Bench", athletes=people),
        version="0.1.0",
    )
    lines = [header_line(header)]
    for seq, event in enumerate(_events(draw, names), start=1):
        lines.append(event_line(seq, event, started + timedelta(milliseconds=event.at_ms)))
    return b"".join(lines)


def _events(draw: random.Random, names: Sequence[str]) -> Iterator[Event]:
    begun_ms = 1_000
    go_ms = begun_ms + 10_000
    yield PartBegun(at_ms=begun_ms, part=0)
    taken: list[Event] = []
    for name in names:
        own_ms, drift = draw.uniform(24_000, 44_000), draw.gauss(0.02, 0.02)
        for interval in range(STATIONS * ROUNDS):
            if draw.random() < 0.03:
                continue
            split_ms = min(59_000, round(own_ms * (1 + drift * (interval // STATIONS)) * draw.gauss(1, 0.05)))
            start_ms = go_ms + interval * 60_000
            if draw.random() < 0.01:
                taken.append(NotFinished(at_ms=start_ms + 59_500, athlete=name, part=0, interval=interval))
            else:
                taken.append(Tapped(at_ms=start_ms + split_ms, athlete=name))
    yield from sorted(taken, key=lambda event: event.at_ms)
    end_ms = go_ms + STATIONS * ROUNDS * 60_000 + 5_000
    yield ClassEnded(at_ms=end_ms)
    yield from (EffortRated(at_ms=end_ms, athlete=name, effort=float(draw.randint(3, 9))) for name in names)


def invent(home: Path, count: int, plans: int = PLANS) -> None:
    """A data folder with so many classes, about three a day."""
    folder = home / "classes"
    folder.mkdir(parents=True)
    for number in range(count):
        started = FIRST + timedelta(hours=8 * number)
        class_id = f"{started:%Y%m%d-%H%M}-{number % 65_536:04x}"
        (folder / f"{class_id}.jsonl").write_bytes(journal_of(number, class_id, started, plans))


def rows_in(store: Store) -> dict[str, list[Row]]:
    """Every row of the store as its driver gives it, table by table, in the order of the classes."""
    found: dict[str, list[Row]] = {}
    with store.reading() as connection:
        for table in (sites, *TABLES):
            order = [column for column in table.columns if column.name == "class_no"]
            text = str(select(table).order_by(*order, *table.primary_key.columns).compile(dialect=connection.dialect))
            found[table.name] = [tuple(row) for row in connection.exec_driver_sql(text)]
    return found


def bare_s(url: str, rows: dict[str, list[Row]]) -> float:
    """How long the driver alone takes for these rows."""
    open_store(url, "home").close()
    if url.startswith("sqlite"):
        return _bare_sqlite_s(url.removeprefix("sqlite:///"), rows)
    return _bare_postgres_s(url, rows)


def _statement(table: str, mark: str) -> str:
    names = [column.name for column in metadata.tables[table].columns]
    return f'INSERT INTO "{table}" ({", ".join(names)}) VALUES ({", ".join([mark] * len(names))})'


def _bare_sqlite_s(path: str, rows: dict[str, list[Row]]) -> float:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    began_s = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for table in TABLES:
        connection.executemany(_statement(table.name, "?"), rows[table.name])
    connection.execute("COMMIT")
    taken_s = time.perf_counter() - began_s
    connection.close()
    return taken_s


def _bare_postgres_s(url: str, rows: dict[str, list[Row]]) -> float:
    import psycopg

    with psycopg.connect(url) as connection:
        connection.execute(f"SET search_path TO {SCHEMA}")
        connection.commit()
        began_s = time.perf_counter()
        with connection.cursor() as cursor:
            for table in TABLES:
                cursor.executemany(_statement(table.name, "%s").encode(), rows[table.name])
        connection.commit()
        return time.perf_counter() - began_s


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What one store took."""

    kind: str
    classes: int
    splits: int
    rows: int
    cores: int
    rebuild_s: float
    processor_s: float
    writing_s: float
    bare_s: float
    nothing_new_ms: float

    @property
    def ratio(self) -> float:
        """The rate of the rebuild by that of the bare writes."""
        return self.bare_s / self.rebuild_s

    @property
    def met(self) -> bool:
        """Whether both limits are kept."""
        return self.ratio >= LEAST_OF_BARE and self.nothing_new_ms <= MOST_NOTHING_NEW_MS

    def lines(self) -> Iterator[str]:
        """The figures in words."""
        yield f"{self.kind}: {self.classes} classes, {self.splits} splits, {self.rows} rows, {self.cores} cores"
        yield self._rate("rebuild, cold", self.rebuild_s)
        yield self._rate("of it, processor time", self.processor_s)
        yield self._rate("its writing alone", self.writing_s)
        yield self._rate("bare executemany", self.bare_s)
        verdict = "ok" if self.ratio >= LEAST_OF_BARE else "NOT MET"
        yield f"  {'ratio':<22} {self.ratio:8.2f} x  at least {LEAST_OF_BARE} x  {verdict}"
        yield f"  {'ratio of the writing':<22} {self.bare_s / self.writing_s:8.2f} x  the most that more cores could give"
        verdict = "ok" if self.nothing_new_ms <= MOST_NOTHING_NEW_MS else "NOT MET"
        yield f"  {'nothing new':<22} {self.nothing_new_ms:8.1f} ms  at most {MOST_NOTHING_NEW_MS:.0f} ms  {verdict}"

    def _rate(self, what: str, taken_s: float) -> str:
        return f"  {what:<22} {taken_s:8.2f} s  {self.classes / taken_s:8.0f} classes/s  {self.splits / taken_s:9.0f} splits/s"


def _processor_s() -> float:
    """What this process and those it started have used."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def _writing_s(home: Path, store: Store) -> float:
    """How long the writing takes when all journals have been read."""
    plans, own = Plans(), home_mark(home)
    ready = [named for found in journals_in(home) if not isinstance(named := packed_at(found, plans), NoRows)]
    store.clear()
    began_s = time.perf_counter()
    for at in range(0, len(ready), CLASSES_AT_ONCE):
        put_packed(store, ready[at : at + CLASSES_AT_ONCE], own)
    return time.perf_counter() - began_s


def measure(kind: str, home: Path, url: str, bare_url: str) -> Measured:
    """Rebuilds one store and writes its rows bare into another."""
    with open_store(url, "home") as store:
        processor_s, began_s = _processor_s(), time.perf_counter()
        done = rebuild(home, store)
        rebuild_s, processor_s = time.perf_counter() - began_s, _processor_s() - processor_s
        again_ms = min(_nothing_new_ms(home, store) for _ in range(5))
        rows = rows_in(store)
        writing_s = _writing_s(home, store)
    return Measured(
        kind=kind,
        classes=done.added,
        splits=len(rows["split"]),
        rows=sum(map(len, rows.values())),
        cores=len(os.sched_getaffinity(0)),
        rebuild_s=rebuild_s,
        processor_s=processor_s,
        writing_s=writing_s,
        bare_s=bare_s(bare_url, rows),
        nothing_new_ms=again_ms,
    )


def _nothing_new_ms(home: Path, store: Store) -> float:
    began_s = time.perf_counter()
    assert bring_up_to_date(home, store).nothing_new
    return 1000 * (time.perf_counter() - began_s)


def main() -> None:
    """Measures both stores, or the one that is named."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", type=int, default=400)
    parser.add_argument("--plans", type=int, default=PLANS)
    parser.add_argument("--only", choices=("sqlite", "postgresql"))
    parser.add_argument("--folder", type=Path, default=None)
    given = parser.parse_args()
    kinds = [given.only] if given.only else ["sqlite", "postgresql"]
    met = True
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(dir=given.folder)))
        home = folder / "home"
        invent(home, given.classes, given.plans)
        for kind in kinds:
            urls = [f"sqlite:///{folder / name}.sqlite3" for name in ("store", "bare")]
            if kind == "postgresql":
                if words := missing():
                    print(f"postgresql: not here ({words})")
                    continue
                server = stack.enter_context(running_server())
                urls = [server.new_database() for _ in urls]
            found = measure(kind, home, *urls)
            print("\n".join(found.lines()), flush=True)
            met = met and found.met
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()
