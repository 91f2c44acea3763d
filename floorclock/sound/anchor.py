"""Where frame 0 of a stream lies on the monotonic clock.

Invariant: an anchor believes the early callbacks. A callback can be held up by a busy machine for any time, but it hardly
ever comes before its frames are wanted; so the true line runs along the lower edge of what is observed.
"""

from __future__ import annotations

from collections import deque
from typing import Protocol

RATE = 48_000
"""Frames a second, everywhere in this room; one frame is one sample, for all sound is mono."""

WINDOW_S = 1.0
QUANTILE = 5
"""One observation in five may be early: the anchor is the 20th percentile of the window."""
FEW = 10
"""With fewer observations than this the lowest is taken, so that one burst after a stall is enough."""
JUMP_S = 0.015
AGREEING = 5
"""So many observations in a row, all off by more than JUMP_S, mean that the line itself has moved."""
STALL_S = 0.1


class Anchor(Protocol):
    """Monotonic time of a stream's frame 0, in seconds."""

    epoch_s: float

    def observe(self, now_s: float, frame: int) -> None:
        """The device asked for `frame` at `now_s`."""


class SteadyAnchor:
    """Follows a device clock that drifts against the monotonic clock, through late callbacks and stalls."""

    def __init__(self) -> None:
        self.epoch_s = 0.0
        self.restarts = 0
        self._seen: deque[tuple[float, float]] = deque()
        self._last: tuple[float, int] | None = None

    def observe(self, now_s: float, frame: int) -> None:
        """Takes one callback into account: the device asked for `frame` at `now_s`."""
        if self._stalled(now_s, frame):
            self._restart(keep=0)
        self._last = (now_s, frame)
        self._seen.append((now_s, now_s - frame / RATE))
        if self._moved():
            self._restart(keep=AGREEING)
        while now_s - self._seen[0][0] > WINDOW_S:
            self._seen.popleft()
        epochs = sorted(epoch_s for _, epoch_s in self._seen)
        self.epoch_s = epochs[len(epochs) // QUANTILE if len(epochs) >= FEW else 0]

    def _stalled(self, now_s: float, frame: int) -> bool:
        if self._last is None:
            return False
        last_s, last_frame = self._last
        # What was handed over last has been played out long ago: the device ran dry, and its line starts anew.
        return now_s - last_s > (frame - last_frame) / RATE + STALL_S

    def _moved(self) -> bool:
        if len(self._seen) <= AGREEING:
            return False
        latest = [self._seen[k][1] for k in range(-AGREEING, 0)]
        return min(latest) > self.epoch_s + JUMP_S or max(latest) < self.epoch_s - JUMP_S

    def _restart(self, keep: int) -> None:
        self.restarts += 1
        while len(self._seen) > keep:
            self._seen.popleft()


class FixedAnchor:
    """For a file: frame 0 is at a known time, exactly, whenever its frames are asked for."""

    def __init__(self, epoch_s: float = 0.0) -> None:
        self.epoch_s = epoch_s

    def observe(self, now_s: float, frame: int) -> None:
        """Nothing to learn."""
