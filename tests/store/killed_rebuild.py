"""Makes a store anew with two more processes, says who they are once the first class is read, and waits to be killed."""

from __future__ import annotations

import multiprocessing
import signal
import sys
from pathlib import Path

from floorclock.store.indexing import rebuild
from floorclock.store.store import open_store


def wait(read: int, total: int) -> None:
    print(*(child.pid for child in multiprocessing.active_children()), flush=True)
    signal.pause()


if __name__ == "__main__":
    with open_store(sys.argv[2], "home") as store:
        rebuild(Path(sys.argv[1]), store, progress=wait, processes=2)
