"""Brings the store up to date with the journals of a data folder.

Invariant: afterwards the store holds of this data folder what `rebuild` would put there, but for classes that run now. Where
nothing has changed, each journal costs one look at its size and time, and nothing is written.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import and_, select

from floorclock.people import canonical_names
from floorclock.store.engine import Store
from floorclock.store.indexing.pouring import put_packed
from floorclock.store.indexing.readers import answers
from floorclock.store.indexing.reading import Found, Named, NoRows, journals_in
from floorclock.store.rows import JournalMark
from floorclock.store.tables import persons
from floorclock.store.write import MOST_SPLITS

_MACHINE_ID = Path("/etc/machine-id")


Progress = Callable[[int, int], None]
"""Is told how many journals have been read, and of how many."""
OF_A_CLASS = 100
"""A class without splits is not for nothing either: it counts for so many."""


@dataclass(frozen=True, slots=True)
class Indexed:
    """What bringing up to date came to, in numbers of classes.

    `damaged` journals could not be read, or do not say what their class started from; `running` classes, and journals that
    changed under our eyes, are left for later.
    """

    added: int = 0
    changed: int = 0
    dropped: int = 0
    damaged: int = 0
    running: int = 0

    @property
    def nothing_new(self) -> bool:
        """Whether the store was as it should be."""
        return not (self.added or self.changed or self.dropped)


def home_mark(home: Path) -> str:
    """A name for a data folder of this machine, for stores that several share; it tells nobody which machine and folder."""
    try:
        machine = _MACHINE_ID.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        machine = ""
    text = "\0".join((platform.node(), machine, str(home.resolve())))
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def bring_up_to_date(
    home: Path, store: Store, canonical: Mapping[str, str] | None = None, progress: Progress | None = None
) -> Indexed:
    """Puts into the store what is new or has changed in a data folder, and takes out what is there no more.

    Args:
        home: the data folder.
        store: an open store; of it, only what came from this folder is touched.
        canonical: who is the same person as whom; without it, what the folder says.
        progress: is told how far it is, where there is something to read.

    Raises:
        ResourceError: the store refuses, or the disk does not give the folder. What was put until then stays, each class whole.
    """
    found, own = journals_in(home), home_mark(home)
    known = store.marks(own)
    fresh = [one for one in found if not one.is_marked(known.get(one.id))]
    gone = known.keys() - {one.id for one in found}
    if fresh:
        fresh = _not_elsewhere(fresh, known, store)
    done = Done(known)
    if gone:
        done.dropped = store.drop(gone)
    if fresh:
        take_in(store, fresh, own, done, progress)
    if done.spoilt:
        done.dropped += store.drop(done.spoilt)
    put_who_is_who(home, store, canonical)
    return done.indexed()


def put_who_is_who(home: Path, store: Store, canonical: Mapping[str, str] | None) -> None:
    """Tells the store who is the same person as whom, where it holds something else."""
    wanted = canonical_names(home) if canonical is None else canonical
    if _same_now(store) != {name: other for name, other in wanted.items() if name != other}:
        store.same(wanted)


def _same_now(store: Store) -> dict[str, str]:
    head = persons.alias()
    joined = and_(head.c.site == persons.c.site, head.c.person_no == persons.c.same_as)
    query = select(persons.c.name, head.c.name).join(head, joined).where(persons.c.site == store.number)
    with store.reading() as connection:
        return {name: other for name, other in connection.execute(query)}  # noqa: C416 -- typed rows


def _not_elsewhere(fresh: list[Found], known: Mapping[str, JournalMark], store: Store) -> list[Found]:
    """Leaves out journals that another data folder has put there: a copy of the same size is the same class.

    Two folders would otherwise take it from each other for ever.
    """
    everywhere = store.marks()
    others = {id_: mark for id_, mark in everywhere.items() if id_ not in known}
    return [one for one in fresh if one.id not in others or others[one.id].size != one.size]


@dataclass(slots=True)
class Done:
    """What has been done so far."""

    known: Mapping[str, JournalMark]
    added: int = 0
    changed: int = 0
    dropped: int = 0
    damaged: int = 0
    running: int = 0
    spoilt: list[str] = field(default_factory=list)

    def with_rows(self, class_id: str) -> None:
        """Counts a class that is put."""
        if class_id in self.known:
            self.changed += 1
        else:
            self.added += 1

    def without_rows(self, class_id: str, why: NoRows) -> None:
        """Counts a journal that gave no rows; what the store has of one that tells of no class any more goes out."""
        self.damaged += why in (NoRows.NO_HEADER, NoRows.UNREADABLE)
        self.running += why is NoRows.LATER
        if why in (NoRows.NO_HEADER, NoRows.NOTHING) and class_id in self.known:
            self.spoilt.append(class_id)

    def indexed(self) -> Indexed:
        return Indexed(self.added, self.changed, self.dropped, self.damaged, self.running)


def take_in(
    store: Store,
    found: Sequence[Found],
    own: str,
    done: Done,
    progress: Progress | None = None,
    processes: int | None = None,
) -> None:
    """Reads journals and puts their classes into the store, batch by batch; `done` says what became of each."""
    batch: list[Named] = []
    held = read = 0
    for answer in answers(found, processes):
        for class_id, named in answer:
            if isinstance(named, NoRows):
                done.without_rows(class_id, named)
                continue
            done.with_rows(class_id)
            batch.append(named)
            held += len(named[2].splits[0] if named[2].splits else ()) + OF_A_CLASS
        if held >= MOST_SPLITS:
            put_packed(store, batch, own)
            batch, held = [], 0
        read += len(answer)
        if progress is not None:
            progress(read, len(found))
    if batch:
        put_packed(store, batch, own)
