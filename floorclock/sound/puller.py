"""Takes frames from a stream on the clock, for outputs that have no device to ask for them.

Invariant: the frames taken are those up to now, counted from the start; a late wake-up takes more, never others.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from floorclock.sound.anchor import RATE
from floorclock.sound.mixer import Stream


class Puller:
    """A thread that calls `take(frames)` every `block_ms`, until `take` raises OSError or `stop` is called."""

    def __init__(self, stream: Stream, take: Callable[[int], None], now: Callable[[], float], block_ms: int) -> None:
        self._stream = stream
        self._take = take
        self._now = now
        self._begun_s = now()
        self._block_s = block_ms / 1000
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="floorclock-sound-clock", daemon=True)

    @property
    def begun_s(self) -> float:
        """The monotonic time of frame 0."""
        return self._begun_s

    def start(self) -> None:
        """Starts the thread."""
        self._thread.start()

    def pull(self) -> None:
        """Takes what is due by now."""
        due = round((self._now() - self._begun_s) * RATE) - self._stream.frame
        if due > 0:
            self._take(due)

    def stop(self) -> None:
        """Ends the thread; waits for it unless it is the caller."""
        self._stopped.set()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(timeout=1.0)

    def _run(self) -> None:
        while not self._stopped.wait(self._block_s - (self._now() - self._begun_s) % self._block_s):
            try:
                self.pull()
            except OSError:
                # The stream stops asking for frames, which is how every output says that it is lost.
                return
