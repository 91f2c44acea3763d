"""Journals read by several processes at once, where there are many.

Invariant: the answers come in the order of the journals, each once, whatever becomes of the processes.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

from floorclock.journal.replay import Plans
from floorclock.store.indexing.packed import MOST_PLANS
from floorclock.store.indexing.reading import Found, Named, NoRows, packed_at

Answer = list[tuple[str, Named | NoRows]]
"""For each of some journals, its class id and what it gave."""

AT_ONCE = 16
"""So many journals go to another process at a time."""
LEAST_FOR_SEVERAL = 100
"""With fewer journals, starting other processes would take longer than they save."""
MOST_WAITING = 6
"""So many answers of each process may wait to be written, so that memory does not grow with the years."""


def answers(found: Sequence[Found], processes: int | None) -> Iterator[Answer]:
    """What the journals come to, in their order; `processes` is how many read them, none for this one alone."""
    chunks = [found[at : at + AT_ONCE] for at in range(0, len(found), AT_ONCE)]
    count = len(os.sched_getaffinity(0)) if processes is None else processes
    if count < 1 or (processes is None and len(found) < LEAST_FOR_SEVERAL):
        yield from map(_read_here, chunks)
        return
    with ProcessPoolExecutor(count, _context(), initializer=_start) as pool:
        try:
            yield from _in_order(pool, chunks, count * MOST_WAITING)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _in_order(pool: ProcessPoolExecutor, chunks: Sequence[Sequence[Found]], most: int) -> Iterator[Answer]:
    waiting: deque[tuple[Sequence[Found], Future[Answer] | None]] = deque()
    rest = iter(chunks)
    while True:
        while len(waiting) < most and (chunk := next(rest, None)) is not None:
            try:
                waiting.append((chunk, pool.submit(_read, chunk)))
            except BrokenProcessPool:
                waiting.append((chunk, None))
        if not waiting:
            return
        chunk, future = waiting.popleft()
        try:
            yield _read_here(chunk) if future is None else future.result()
        except BrokenProcessPool:
            # Somebody ended a process, or memory ran out: the rest is read here, one after the other.
            yield _read_here(chunk)


def _context() -> multiprocessing.context.BaseContext:
    """Forking is quicker, but nobody may fork while other threads hold what the child would wait for."""
    return multiprocessing.get_context("fork" if threading.active_count() == 1 else "spawn")


_plans = Plans(MOST_PLANS)


def _start() -> None:
    """In another process: Ctrl-C is for the first one alone, and what is made here goes by itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.disable()


def _read(chunk: Sequence[Found]) -> Answer:
    answer = _read_here(chunk)
    gc.collect(0)
    return answer


def _read_here(chunk: Sequence[Found]) -> Answer:
    return [(one.id, packed_at(one, _plans)) for one in chunk]
