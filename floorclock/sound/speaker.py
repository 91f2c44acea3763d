"""What a class calls for sound.

Invariant: nothing here raises or blocks because of a device. What may hang in a sound server is done by the device worker, and
whether there is sound is read from when the device last asked for frames, never from what a driver claims.
"""

from __future__ import annotations

import atexit
import queue
import threading
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import CueSet
from floorclock.sound.mixer import CueMixer, Stream
from floorclock.sound.outputs import OutputFailed, SoundOutput
from floorclock.sound.samples import RATE, Pcm

LOST_AFTER_S = 1.0
"""A device asks for frames every few hundredths of a second; silent for so long, it is gone."""
RETRY_S = 0.75
CHECK_EVERY_S = 0.25
PATIENCE_S = 1.0
"""The longest that `start` waits for a device to open, and `close` for it to close. One that hangs is left to itself."""

FIRST_SIGNS = 50
"""How often within PATIENCE_S `start` looks for the first sign of life of a device that has opened."""


class DeviceWorker:
    """A daemon thread that opens and closes devices, one task after another, so that nobody else waits for one that hangs."""

    def __init__(self) -> None:
        self._tasks: queue.Queue[Callable[[], None]] = queue.Queue()
        self._thread: threading.Thread | None = None

    @property
    def busy(self) -> bool:
        """Whether a task is being done, or hangs."""
        return self._tasks.unfinished_tasks > 0

    def submit(self, task: Callable[[], None]) -> None:
        """Has the task done; returns at once."""
        self._tasks.put(task)
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name="floorclock-sound-device", daemon=True)
            self._thread.start()

    def wait(self, timeout_s: float) -> bool:
        """Waits until nothing is left to do; False if that takes longer."""
        with self._tasks.all_tasks_done:
            return self._tasks.all_tasks_done.wait_for(lambda: not self.busy, timeout_s)

    def _run(self) -> None:
        while True:
            task = self._tasks.get()
            try:
                task()
            except Exception:  # noqa: BLE001 - a driver that fails must not end the thread that opens the next one
                traceback.print_exc()
            finally:
                self._tasks.task_done()


@dataclass(frozen=True, slots=True)
class _Opened:
    output: SoundOutput
    stream: Stream
    at_s: float

    @property
    def alive_s(self) -> float:
        """When it last asked for frames; until it has, when it was opened."""
        last_call_s = self.stream.last_call_s
        return self.at_s if last_call_s is None else last_call_s


class Speaker:
    """What a class calls: cues at monotonic instants, withdrawn at once on pause or skip. Never raises because of a device.

    Args:
        outputs: in the order to try. The one that is not `heard` (the bell) is the fallback while none of the others works;
            when it is the first, it is what the coach asked for, and there is no trouble.
        cues: the sounds.
        volume: in percent.
        offset_ms: how late the speaker sounds (a wireless one: often 150 to 300). Cues leave that much earlier, so they
            have to be scheduled that much further ahead.
        now: monotonic seconds.
        worker: who opens and closes devices.
    """

    def __init__(
        self,
        outputs: Sequence[SoundOutput],
        cues: CueSet,
        *,
        volume: int = 100,
        offset_ms: int = 0,
        now: Callable[[], float] = time.monotonic,
        worker: DeviceWorker | None = None,
    ) -> None:
        self._cues = cues
        self._now = now
        self._worker = worker or DeviceWorker()
        self._mixer = CueMixer(now, offset_ms / 1000, volume / 100)
        no_device_wanted = bool(outputs) and not outputs[0].heard
        self._devices = () if no_device_wanted else tuple(output for output in outputs if output.heard)
        self._fallback = next((output for output in outputs if not output.heard), None)
        self._device: _Opened | None = None
        self._fallback_opened: _Opened | None = None
        self._try_at_s = self._sounded_s = now()
        self._closing = threading.Event()
        self._watchdog = threading.Thread(target=self._watch, name="floorclock-sound-watchdog", daemon=True)

    def start(self) -> None:
        """Opens the first output that works and starts the watchdog. Waits a second or two for one that hangs, no longer."""
        self._sounded_s = self._now()
        self._try_at_s = self._sounded_s + RETRY_S
        # An unclosed device would hang the end of the interpreter.
        atexit.register(self.close)
        self._worker.submit(self._open_device)
        self._worker.wait(PATIENCE_S)
        for _ in range(FIRST_SIGNS):
            if self._device is None or self._device.stream.last_call_s is not None:
                break
            self._closing.wait(PATIENCE_S / FIRST_SIGNS)
        self.check()
        self._watchdog.start()

    def schedule(self, at_s: float, cue: CueName) -> None:
        """The cue's start is to be heard at monotonic `at_s`, ideally 250 ms ahead or more. Any thread; returns at once."""
        self._mixer.schedule(at_s, self._cues[cue], cue)

    def say(self, ends_at_s: float, pcm: Pcm) -> None:
        """Words are to be over at monotonic `ends_at_s`, so that a count or a go can follow. Any thread; returns at once."""
        self._mixer.schedule(ends_at_s - len(pcm) / RATE, pcm)

    def withdraw(self) -> None:
        """Every cue not yet finished: what sounds fades within 5 ms, what is to come is gone. Any thread; returns at once."""
        self._mixer.withdraw()

    @property
    def offset_ms(self) -> int:
        """How late the speaker sounds; may be changed while it plays."""
        return round(self._mixer.offset_s * 1000)

    @offset_ms.setter
    def offset_ms(self, value: int) -> None:
        self._mixer.offset_s = value / 1000

    @property
    def volume(self) -> int:
        """How loud everything is, in percent from 0 to 100; may be changed while it plays, and is heard with the next block."""
        return round(self._mixer.gain * 100)

    @volume.setter
    def volume(self, percent: int) -> None:
        self._mixer.gain = max(0, min(100, percent)) / 100

    @property
    def trouble(self) -> str:
        """Empty when sound works, else a few words for the floor."""
        device = self._device
        if device is not None and device.stream.last_call_s is not None:
            self._sounded_s = max(self._sounded_s, device.stream.last_call_s)
        lost = self._now() - self._sounded_s > LOST_AFTER_S
        return "no sound" if self._devices and lost else ""

    @property
    def playing_on(self) -> str:
        """The name of the output that has the cues now; empty while none has."""
        playing = self._mixer.selected
        opened = (self._device, self._fallback_opened)
        return next((each.output.name for each in opened if each is not None and each.stream is playing), "")

    def close(self) -> None:
        """Ends the sound and lets go of the device, without waiting for one that hangs."""
        atexit.unregister(self.close)
        self._closing.set()
        if self._watchdog.is_alive():
            self._watchdog.join(PATIENCE_S)
        self._mixer.select(None)
        self._stop_fallback()
        self._let_go()
        self._worker.wait(PATIENCE_S)

    def check(self) -> None:
        """One round of the watchdog; its thread makes one every CHECK_EVERY_S."""
        now_s = self._now()
        if self._device is not None and now_s - self._device.alive_s > LOST_AFTER_S:
            self._let_go()
        if self._device is None and not self._worker.busy and now_s >= self._try_at_s:
            self._try_at_s = now_s + RETRY_S
            self._worker.submit(self._open_device)
        device = self._device
        if device is None or device.stream.last_call_s is None:
            self._start_fallback()
        elif self._mixer.selected is not device.stream:
            self._mixer.select(device.stream)
            self._stop_fallback()

    def _watch(self) -> None:
        while not self._closing.wait(CHECK_EVERY_S):
            self.check()

    def _open_device(self) -> None:
        for output in self._devices:
            try:
                stream = output.open(self._mixer)
            except OutputFailed:
                continue
            except Exception:  # noqa: BLE001 - a driver may raise anything; the next output, or the bell, is to have its turn
                traceback.print_exc()
                continue
            if self._closing.is_set():
                output.close()
            else:
                self._device = _Opened(output, stream, self._now())
            return

    def _let_go(self) -> None:
        device, self._device = self._device, None
        if device is not None:
            self._worker.submit(device.output.close)

    def _start_fallback(self) -> None:
        if self._fallback_opened is not None or self._fallback is None:
            return
        try:
            stream = self._fallback.open(self._mixer)
        except Exception:  # noqa: BLE001 - it is tried again with the next round, which must come
            traceback.print_exc()
        else:
            self._fallback_opened = _Opened(self._fallback, stream, self._now())
            self._mixer.select(stream)

    def _stop_fallback(self) -> None:
        opened, self._fallback_opened = self._fallback_opened, None
        if opened is not None:
            opened.output.close()
