"""A thread that does what may hang, so that nobody else has to wait.

Invariant: tasks are done one after another, in order; asking for one never blocks.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable


class Hands:
    """Does one thing after another in a daemon thread of its own: open a device, close it."""

    def __init__(self) -> None:
        self._todo: deque[Callable[[], None]] = deque()
        self._undone = 0
        self._change = threading.Condition()
        self._thread: threading.Thread | None = None

    @property
    def busy(self) -> bool:
        """Whether something is being done, or hangs."""
        return self._undone > 0

    def do(self, task: Callable[[], None]) -> None:
        """Has the task done; returns at once."""
        with self._change:
            self._undone += 1
            self._todo.append(task)
            self._change.notify_all()
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="floorclock-sound-device", daemon=True)
            self._thread.start()

    def wait(self, timeout_s: float) -> bool:
        """Waits until nothing is left to do; False if that takes longer."""
        with self._change:
            return self._change.wait_for(lambda: self._undone == 0, timeout_s)

    def _run(self) -> None:
        while True:
            with self._change:
                self._change.wait_for(lambda: bool(self._todo))
                task = self._todo.popleft()
            try:
                task()
            finally:
                with self._change:
                    self._undone -= 1
                    self._change.notify_all()


class HandsAtOnce(Hands):
    """Does it in the caller's own thread: for tests under a manual clock."""

    def do(self, task: Callable[[], None]) -> None:
        """Does the task before it returns."""
        task()
