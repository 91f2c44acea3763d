"""Makes the store anew from the journals of a data folder.

Invariant: afterwards the store holds of this folder exactly what bringing it up to date step by step would have put there.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from floorclock.store.engine import Store
from floorclock.store.indexing.keeping import Done, Indexed, Progress, home_mark, put_who_is_who, take_in
from floorclock.store.indexing.reading import journals_in


def rebuild(
    home: Path,
    store: Store,
    progress: Progress | None = None,
    canonical: Mapping[str, str] | None = None,
    *,
    processes: int | None = None,
) -> Indexed:
    """Takes out of the store all that came from a data folder, and puts in what its journals say.

    Stopped half way, the store lacks classes and holds the others whole; bringing it up to date adds what is missing.

    Args:
        home: the data folder.
        store: an open store.
        progress: is told how far it is.
        canonical: who is the same person as whom; without it, what the folder says.
        processes: how many read journals beside this one; as many as the machine has cores without it.

    Raises:
        ResourceError: the store refuses, or the disk does not give the folder.
    """
    found, own = journals_in(home), home_mark(home)
    # Emptying the whole site is quicker, where there is nothing else in it.
    store.clear(own if store.marks().keys() - store.marks(own).keys() else None)
    done = Done({})
    take_in(store, found, own, done, progress, processes)
    put_who_is_who(home, store, canonical)
    return done.indexed()
