"""The class clock: the monotonic clock minus pauses.

Invariant: arithmetic only; whoever asks brings the monotonic time. Class times are integer milliseconds and never go back.
"""

from __future__ import annotations

NS_PER_MS = 1_000_000


class ClassClock:
    """Maps monotonic nanoseconds to class milliseconds and back. `rate` above 1 runs the class faster, for rehearsals."""

    def __init__(self, rate: float = 1.0) -> None:
        self.rate = rate
        self.running = False
        self._mono_ns = 0
        self._class_ms = 0.0

    def at(self, mono_ns: int) -> int:
        """The class time at a monotonic time, rounded down to the millisecond; the frozen time while it does not run."""
        if not self.running:
            return int(self._class_ms)
        return int(self._class_ms + max(0, mono_ns - self._mono_ns) * self.rate / NS_PER_MS)

    def when(self, class_ms: float) -> int:
        """The monotonic time at which the running clock shows a class time."""
        return self._mono_ns + round((class_ms - self._class_ms) * NS_PER_MS / self.rate)

    def freeze(self, class_ms: int) -> None:
        """Stops at a class time."""
        self.running, self._class_ms = False, class_ms

    def run_from(self, class_ms: int, mono_ns: int) -> None:
        """Runs, showing `class_ms` at a monotonic time."""
        self.running, self._class_ms, self._mono_ns = True, class_ms, mono_ns
