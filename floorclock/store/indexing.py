"""Keeps the index as the journals of a data folder are: what is new goes in, what changed is replaced, what is gone goes out.

Invariant: afterwards the store holds of this data folder what its journals say, but for classes that run now, and the journals
are only read. Each class is whole in it or not there, so stopping at any moment does no harm: the next time goes on from there.
Where nothing has changed, each journal costs one look at its size and time, and nothing is written.
"""

from __future__ import annotations

import errno
import hashlib
import multiprocessing
import os
import platform
import signal
import threading
from collections import Counter, deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import Final, NamedTuple

from floorclock.errors import ResourceError
from floorclock.journal.disk import LARGEST_FILE, disk_words, open_file
from floorclock.journal.home import JOURNAL_SUFFIX
from floorclock.journal.lock import is_open
from floorclock.people import canonical_names
from floorclock.store.connection import UnstorableRows
from floorclock.store.rows import ClassRows, JournalMark, class_rows
from floorclock.store.store import Store

TRIES: Final = 3
"""So often a journal that changed while it was read is read again; then it is left for the next time."""
AT_ONCE: Final = 50
"""So many classes are written in one transaction, so that another program never waits long and little is done twice."""
LEAST_FOR_SEVERAL: Final = 50
"""With fewer journals, starting other processes would take longer than they save."""
WAITING_EACH: Final = 8
"""So many journals wait for each process, so that none is idle and memory does not grow with the years."""
_MACHINE_ID: Final = Path("/etc/machine-id")

Progress = Callable[[int, int], None]
"""Is told how many journals have been read, and of how many."""


@dataclass(frozen=True, slots=True)
class Indexed:
    """What bringing up to date came to, in numbers of classes.

    `damaged` journals could not be read, do not say what their class started from, or hold what no store takes; `running`
    classes, and journals that changed while they were read, are left for later.
    """

    added: int = 0
    changed: int = 0
    dropped: int = 0
    damaged: int = 0
    running: int = 0


class Journal(NamedTuple):
    """A journal in a data folder; `home` is the mark of the folder."""

    id: str
    path: str
    mark: JournalMark
    home: str


class NoRows(Enum):
    """Why a journal gives no rows."""

    LATER = "its class runs now, or it changed while it was read"
    NOTHING = "its class died before it began"
    NO_HEADER = "it does not say what its class started from"
    UNREADABLE = "the disk does not give it"


Answer = ClassRows | NoRows


def home_mark(home: Path) -> str:
    """A name for a data folder of this machine, for stores that several share; it tells nobody which machine and folder."""
    machine = ""
    with suppress(OSError):
        machine = _MACHINE_ID.read_text(encoding="ascii", errors="replace").strip()
    text = "\0".join((platform.node(), machine, str(home.resolve())))
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def bring_up_to_date(
    home: Path,
    store: Store,
    canonical: Mapping[str, str] | None = None,
    progress: Progress | None = None,
    *,
    processes: int | None = None,
    most: int | None = None,
) -> Indexed:
    """Puts into the store what is new or has changed in a data folder, and takes out what is there no more.

    Args:
        home: the data folder.
        store: an open store; of it, only what came from this folder is touched.
        canonical: who is the same person as whom; without it, what the folder says.
        progress: is told how far it is, where there is something to read.
        processes: how many read journals beside this one, 0 for none; without it, as many as the machine has cores where there
            are many journals.
        most: no more journals than this are read, the newest; the others are left for the next time.

    Raises:
        ResourceError: the store refuses, or the disk does not give the folder. What was put until then stays, each class whole.
    """
    found, own = _journals_in(home), home_mark(home)
    known = store.marks(own)
    fresh = [journal for journal in found if journal.mark != known.get(journal.id)]
    if fresh:
        fresh = _not_elsewhere(fresh, known, store)[: len(found) if most is None else most]
    work = _Work(store, known)
    gone = known.keys() - {journal.id for journal in found}
    if gone:
        work.counts["dropped"] += store.drop(gone)
    for read, (journal, answer) in enumerate(_answers(fresh, processes), start=1):
        work.take(journal.id, answer)
        if progress is not None:
            progress(read, len(fresh))
    work.finish()
    if work.counts["added"] + work.counts["changed"] >= AT_ONCE:
        store.analyze()
    store.same(canonical_names(home) if canonical is None else canonical)
    return Indexed(**work.counts)


def rebuild(home: Path, store: Store, progress: Progress | None = None, *, processes: int | None = None) -> Indexed:
    """Takes out of the store all that came from a data folder, and puts in what its journals say; as `bring_up_to_date`.

    Stopped half way, the store lacks classes and holds the others whole; bringing it up to date adds what is missing.
    """
    # First of all: a folder that the disk does not give is no folder without classes.
    _journals_in(home)
    store.drop(store.marks(home_mark(home)))
    return bring_up_to_date(home, store, progress=progress, processes=processes)


def _journals_in(home: Path) -> list[Journal]:
    """The journals of a data folder, the newest first; one look at each, and none where the folder is missing."""
    try:
        return sorted(_scanned(home), reverse=True)
    except FileNotFoundError:
        return []
    except OSError as error:
        # Not to be taken for a folder without classes: they would all be taken out of the store.
        raise ResourceError(f"the records in {home} cannot be read: {disk_words(error)}") from error


def _scanned(home: Path) -> Iterator[Journal]:
    own = home_mark(home)
    with os.scandir(home / "classes") as entries:
        for entry in entries:
            if not entry.name.endswith(JOURNAL_SUFFIX):
                continue
            try:
                seen = entry.stat()
                if not entry.is_file():
                    continue
            except OSError as error:
                if error.errno in (errno.ENOENT, errno.ELOOP):
                    continue  # Gone meanwhile, or links that lead in a circle: no journal.
                raise
            mark = JournalMark(size=seen.st_size, mtime_ns=seen.st_mtime_ns)
            yield Journal(entry.name.removesuffix(JOURNAL_SUFFIX), entry.path, mark, own)


def _not_elsewhere(fresh: list[Journal], known: Mapping[str, JournalMark], store: Store) -> list[Journal]:
    """Leaves out journals that another data folder has put there: a copy of the same size is the same class.

    Two folders would otherwise take it from each other for ever.
    """
    others = {id_: mark.size for id_, mark in store.marks().items() if id_ not in known}
    return [journal for journal in fresh if others.get(journal.id) != journal.mark.size]


@dataclass(slots=True)
class _Work:
    """What has been done so far, and the classes that are still to be written."""

    store: Store
    known: Mapping[str, JournalMark]
    counts: Counter[str] = field(default_factory=Counter)
    """How many of each, by the fields of `Indexed`."""
    batch: list[ClassRows] = field(default_factory=list)

    def take(self, class_id: str, answer: Answer) -> None:
        """Takes what a journal came to."""
        if isinstance(answer, ClassRows):
            self.batch.append(answer)
            if len(self.batch) >= AT_ONCE:
                self.finish()
            return
        self.counts["damaged"] += answer in (NoRows.NO_HEADER, NoRows.UNREADABLE)
        self.counts["running"] += answer is NoRows.LATER
        if answer in (NoRows.NO_HEADER, NoRows.NOTHING) and class_id in self.known:
            # It told of a class once and does not any more.
            self.counts["dropped"] += self.store.drop([class_id])

    def finish(self) -> None:
        """Writes what is still to be written."""
        batch, self.batch = self.batch, []
        if batch:
            self._put(batch)

    def _put(self, batch: Sequence[ClassRows]) -> None:
        """A class that the store cannot hold costs no other one."""
        try:
            self.store.put(batch)
        except UnstorableRows:
            if len(batch) == 1:
                self.counts["damaged"] += 1
                return
            for rows in batch:
                self._put([rows])
        else:
            self.counts.update("changed" if rows.id in self.known else "added" for rows in batch)


def _answers(journals: Sequence[Journal], processes: int | None) -> Iterator[tuple[Journal, Answer]]:
    """What the journals come to, in their order; read by several processes where there are many."""
    count = processes
    if count is None:
        count = (os.cpu_count() or 1) if len(journals) >= LEAST_FOR_SEVERAL else 0
    left = deque(journals)
    if count > 0:
        # Never forked: a child would wait for what another thread of this one holds.
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(count, context, initializer=_start_worker)
        try:
            for answer in _from_pool(pool, journals, count * WAITING_EACH):
                yield left.popleft(), answer
        except BrokenProcessPool:
            # Somebody ended a process, or memory ran out: the rest is read here, one after the other.
            pass
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    for journal in left:
        yield journal, _read(journal)


def _from_pool(pool: ProcessPoolExecutor, journals: Sequence[Journal], most_waiting: int) -> Iterator[Answer]:
    waiting: deque[Future[Answer]] = deque()
    for journal in journals:
        waiting.append(pool.submit(_read, journal))
        if len(waiting) >= most_waiting:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


def _start_worker() -> None:
    """In another process: Ctrl-C is for the first one, and none stays behind when that one is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_first, daemon=True).start()


def _end_with_the_first() -> None:
    first = multiprocessing.parent_process()
    if first is not None:
        first.join()
        os._exit(1)


def _read(journal: Journal) -> Answer:
    try:
        if journal.mark.size > LARGEST_FILE:
            return NoRows.UNREADABLE
        if is_open(Path(journal.path)):
            return NoRows.LATER
        steady = _steady(journal.path)
    except FileNotFoundError:
        return NoRows.LATER
    except (OSError, ResourceError):
        return NoRows.UNREADABLE
    if steady is None:
        return NoRows.LATER
    data, mark = steady
    rows = class_rows(data, journal.id, mark=mark, home=journal.home)
    if rows is not None:
        return rows
    # Where not one line was finished, nothing of it was ever acknowledged.
    return NoRows.NO_HEADER if b"\n" in data else NoRows.NOTHING


def _steady(path: str) -> tuple[bytes, JournalMark] | None:
    """A journal and the mark that goes with just these bytes; None where it keeps changing."""
    with open_file(Path(path)) as file:
        for _ in range(TRIES):
            before = os.fstat(file.fileno())
            file.seek(0)
            data = file.read()
            after = os.fstat(file.fileno())
            if (before.st_size, before.st_mtime_ns) == (after.st_size, after.st_mtime_ns) and len(data) == after.st_size:
                return data, JournalMark(size=after.st_size, mtime_ns=after.st_mtime_ns)
    return None
