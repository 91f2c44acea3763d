"""Cues placed at exact sample positions in a stream that never stops.

Invariant: a cue sounds once or not at all. It is placed from its instant, not from when somebody noticed that it is due;
its position is fixed when it enters a block; and only one stream at a time takes cues, so no change of output doubles one.

Where a stream lies on the monotonic clock (its line) is the anchor's to say. A busy machine can hold a callback up for any time,
but it never comes before its frames are wanted. So the line runs along the earliest callbacks, however few they are.
"""

from __future__ import annotations

import math
import threading
import time
from array import array
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np

from floorclock.clock.cues import CueName
from floorclock.sound.samples import RATE, Floats, Pcm, clipped, silence

LATE_MAX_S = 0.15
"""A cue older than this is dropped: after a stall a burst of old cues would mean nothing."""
FADE_FRAMES = RATE // 200

DRIFT = 200e-6
"""Sound cards' clocks are off by less than this; faster than this the line of a stream never drifts."""
IN_A_ROW, LATE_S, UNDERRUN_S = 3, 0.010, 0.020
"""So many callbacks in a row, all later than the second and one later than the third: the device ran dry, its line has moved."""
NEAR_S, ALONE_S = 0.001, 4.0
"""When no callback came within the first of the line for as long as the second, the line has moved, too."""
STALL_S = 0.1


class FixedAnchor:
    """Says when a stream's frame 0 is heard; for a file that is known exactly, whenever its frames are asked for."""

    def __init__(self, epoch_s: float = 0.0) -> None:
        self.epoch_s = epoch_s
        """Monotonic time of frame 0, in seconds."""

    def observe(self, now_s: float, frame: int) -> None:
        """Takes into account that the device asked for `frame` at `now_s`. Here there is nothing to learn from it."""


class SteadyAnchor(FixedAnchor):
    """Follows a device clock that drifts against the monotonic clock, through late callbacks, underruns and stalls."""

    def __init__(self) -> None:
        super().__init__()
        self._last: tuple[float, int] | None = None
        self._lines_s: deque[float] = deque(maxlen=IN_A_ROW)
        """Where the last callbacks would have the line."""
        self._near_at_s = 0.0
        self._lowest_s = math.inf
        """The earliest of the lines in the second half of ALONE_S."""

    def observe(self, now_s: float, frame: int) -> None:
        """Lowers the line to an early callback at once, and raises it by no more than drift unless it has moved."""
        line_s, last = now_s - frame / RATE, self._last
        self._lines_s.append(line_s)
        # After a stall, what was handed over last has been played out long ago: the device ran dry, and its line starts anew.
        if last is None or now_s - last[0] > (frame - last[1]) / RATE + STALL_S:
            self._move(line_s, now_s)
        else:
            self.epoch_s = min(line_s, self.epoch_s + DRIFT * (now_s - last[0]))
            if line_s - self.epoch_s < NEAR_S:
                self._near_at_s, self._lowest_s = now_s, math.inf
            elif now_s - self._near_at_s > ALONE_S / 2:
                self._lowest_s = min(self._lowest_s, line_s)
            if self._ran_dry():
                self._move(min(self._lines_s), now_s)
            elif now_s - self._near_at_s > ALONE_S:
                self._move(self._lowest_s, now_s)
        self._last = (now_s, frame)

    def _ran_dry(self) -> bool:
        late_s = [line_s - self.epoch_s for line_s in self._lines_s]
        return len(late_s) == IN_A_ROW and min(late_s) > LATE_S and max(late_s) > UNDERRUN_S

    def _move(self, epoch_s: float, now_s: float) -> None:
        self.epoch_s, self._near_at_s, self._lowest_s = epoch_s, now_s, math.inf
        self._lines_s.clear()


@dataclass(slots=True)
class Voice:
    """A sound that was asked for; `start` is its first frame once it has its place in a stream."""

    at_s: float
    """The instant it is to be heard; two of one name with the same instant are one cue."""
    pcm: Pcm
    name: CueName | None
    start: int = 0

    @property
    def end(self) -> int:
        """The first frame after it."""
        return self.start + len(self.pcm)

    def fade_from(self, frame: int) -> None:
        """Ends the sound within 5 ms of `frame`."""
        at = frame - self.start
        tail = self.pcm[at : at + FADE_FRAMES]
        left = len(tail)
        self.pcm = self.pcm[:at] + array("h", (sample * (left - k) // left for k, sample in enumerate(tail)))


class CueMixer:
    """Holds the cues to come and gives them to the stream that is heard.

    `schedule` and `withdraw` may be called from any thread and return at once; their effect is in the next block.
    `offset_s` is how late the speaker itself is (a wireless one): everything is sent that much earlier. `gain` is how loud
    everything is, from 0 to 1. Both may be changed at any time.
    """

    def __init__(self, now: Callable[[], float] = time.monotonic, offset_s: float = 0.0, gain: float = 1.0) -> None:
        self.now = now
        self.offset_s = offset_s
        self.gain = gain
        self.lock = threading.Lock()
        self.selected: Stream | None = None
        self._requests: deque[Voice | None] = deque()
        self._pending: list[tuple[float, int, Voice]] = []
        self._number = 0

    def schedule(self, at_s: float, pcm: Pcm, name: CueName | None = None) -> None:
        """The sound's first sample is to be heard at the monotonic time `at_s`."""
        self._requests.append(Voice(at_s, pcm, name))

    def withdraw(self) -> None:
        """Everything not yet finished: what sounds fades in 5 ms, what is to come is gone."""
        self._requests.append(None)

    def stream(self, latency_s: float = 0.0, anchor: FixedAnchor | None = None, *, through_speaker: bool = True) -> Stream:
        """A new stream for an output to take frames from; silent until `select` chooses it.

        Args:
            latency_s: from the moment the device asks for a frame until it is heard.
            anchor: where frame 0 lies; left out, it is learnt from the device's callbacks.
            through_speaker: whether the coach's offset applies; it does not for a file or the terminal bell.
        """
        return Stream(self, latency_s, anchor or SteadyAnchor(), through_speaker)

    def select(self, stream: Stream | None) -> None:
        """From now on this stream has the cues; what another one was playing ends there."""
        with self.lock:
            self.selected = stream

    def take_requests(self) -> bool:
        """Takes in what was asked for since the last block, in order; True if everything before was withdrawn."""
        withdrawn = False
        while self._requests:
            request = self._requests.popleft()
            if request is None:
                self._pending.clear()
                withdrawn = True
            else:
                self._number += 1
                heappush(self._pending, (request.at_s, self._number, request))
        return withdrawn

    def due(self, before_s: float) -> Iterable[Voice]:
        """Takes out the cues with an instant before `before_s`, in order."""
        while self._pending and self._pending[0][0] < before_s:
            yield heappop(self._pending)[2]


class Stream:
    """The frames of one opened output, from frame 0. Its methods are called by the output's own thread only."""

    def __init__(self, mixer: CueMixer, latency_s: float, anchor: FixedAnchor, through_speaker: bool) -> None:
        self.frame = 0
        self.last_call_s: float | None = None
        """When the output last asked for frames: the sign that it lives."""
        self.anchor = anchor
        self._mixer = mixer
        self._latency_s = latency_s
        self._through_speaker = through_speaker
        self._voices: list[Voice] = []
        self._gain = mixer.gain

    @property
    def gain(self) -> float:
        """How loud everything is now, from 0 to 1."""
        return self._mixer.gain

    def render(self, frames: int) -> Pcm:
        """The next frames, mixed."""
        begin = self.frame
        self._advance(frames)
        before, self._gain = self._gain, self._mixer.gain
        # A step from one loudness to another would click.
        gain = self._gain if before == self._gain else np.linspace(before, self._gain, frames)
        return _mixed(self._voices, begin, frames, gain)

    def take(self, frames: int) -> tuple[bool, list[Voice]]:
        """The same step for an output that plays whole cues: whether all before is off, and what begins in the next frames.

        It has to apply `gain` itself.
        """
        begin = self.frame
        withdrawn = self._advance(frames)
        return withdrawn, [voice for voice in self._voices if voice.start >= begin]

    def _advance(self, frames: int) -> bool:
        """Moves on by `frames`; afterwards `_voices` are those that touch them."""
        now_s = self.last_call_s = self._mixer.now()
        begin, self.frame = self.frame, self.frame + frames
        self.anchor.observe(now_s, begin)
        with self._mixer.lock:
            if self._mixer.selected is not self:
                self._voices.clear()
                return False
            withdrawn = self._mixer.take_requests()
            self._voices = [voice for voice in self._voices if voice.end > begin]
            if withdrawn:
                for voice in self._voices:
                    voice.fade_from(begin)
            self._place(begin)
        return withdrawn

    def _place(self, begin: int) -> None:
        lead_s = self._latency_s + (self._mixer.offset_s if self._through_speaker else 0.0)
        heard_from_s = self.anchor.epoch_s + lead_s
        for voice in self._mixer.due(heard_from_s + (self.frame - 0.5) / RATE):
            start = round((voice.at_s - heard_from_s) * RATE)
            # How old the cue is for the listener: what lies between asking for a frame and hearing it is not its fault.
            too_late = begin - start > (LATE_MAX_S + lead_s) * RATE
            if not too_late and not (start < begin and self._continues(voice)):
                voice.start = max(start, begin)
                self._voices.append(voice)

    def _continues(self, again: Voice) -> bool:
        """A cue that has begun, was withdrawn and is asked for again at its old instant sounds on: never a second time."""
        for voice in self._voices:
            if again.name is not None and voice.name is again.name and voice.at_s == again.at_s:
                voice.pcm = again.pcm
                return True
        return False


def _mixed(voices: Sequence[Voice], begin: int, frames: int, gain: float | Floats) -> Pcm:
    """The frames from `begin` on with these voices in them, each at `gain`, or at its own; what adds up is held at full scale."""
    if not voices:
        return silence(frames)
    total = np.zeros(frames)
    for voice in voices:
        first, last = max(voice.start, begin), min(voice.end, begin + frames)
        if first < last:
            total[first - begin : last - begin] += np.asarray(voice.pcm)[first - voice.start : last - voice.start]
    return clipped(total * gain)
