"""Does one piece of work in a forked process while this one goes on, for a start without waiting.

Invariant: the answer is the one that the work would give here; where nothing can be forked it is done here.
Reading a plan costs as much as importing the screen, and the coach waits for both: on two cores they go side by side.
"""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Callable
from typing import TypeVar, cast

T = TypeVar("T")


def ahead(work: Callable[[], T]) -> Callable[[], T]:
    """Starts `work`; gives what waits for its answer. The answer is pickled; an error of the work is raised at the wait.

    Only for a process without other threads, so early in a command.
    """
    if not hasattr(os, "fork") or threading.active_count() > 1:
        return work
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _answer(work, reading, writing)
    os.close(writing)
    return lambda: _wait(child, reading, work)


def _answer(work: Callable[[], T], reading: int, writing: int) -> None:
    """The child: sends its answer and is gone, without the clean-up that belongs to the parent."""
    status = 1
    try:
        os.close(reading)
        with os.fdopen(writing, "wb") as pipe:
            pickle.dump(work(), pipe, protocol=pickle.HIGHEST_PROTOCOL)
        status = 0
    finally:
        os._exit(status)


def _wait(child: int, reading: int, work: Callable[[], T]) -> T:
    with os.fdopen(reading, "rb") as pipe:
        data = pipe.read()
    _, status = os.waitpid(child, 0)
    if status != 0 or not data:
        # Whatever went wrong there goes wrong here with its own words.
        return work()
    return cast(T, pickle.loads(data))
