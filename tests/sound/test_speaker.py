"""A speaker whose device dies and returns, under a clock that the test turns. Nothing here sleeps."""

from __future__ import annotations

import threading
from array import array
from collections.abc import Callable
from itertools import pairwise

import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import CueSet
from floorclock.sound.mixer import CueMixer, Stream
from floorclock.sound.outputs import OutputFailed
from floorclock.sound.samples import RATE, Pcm, silence
from floorclock.sound.speaker import CHECK_EVERY_S, DeviceWorker, Speaker
from tests.sound.test_mixer import Clock, starts

CUES: CueSet = {name: array("h", [1000 + k] * 480) for k, name in enumerate(CueName)}
STEP_S = 0.05
FRAMES = round(STEP_S * RATE)


class FakeDevice:
    """A device that can be pulled out, hang in `open` or `close`, and claim to be open while nothing comes of it."""

    heard = True

    def __init__(self, name: str = "fake", present: bool = True) -> None:
        self.name = name
        self.present = present
        self.dead_on_arrival = False
        self.opened = 0
        self.closed = 0
        self.heard_pcm = silence(0)
        self._stream: Stream | None = None

    def open(self, mixer: CueMixer) -> Stream:
        if not self.present:
            raise OutputFailed("no device")
        self.opened += 1
        self._stream = mixer.stream()
        return self._stream

    def close(self) -> None:
        self.closed += 1
        self._stream = None

    def play(self) -> None:
        if self._stream is not None and self.present and not self.dead_on_arrival:
            self.heard_pcm.extend(self._stream.render(FRAMES))


class DefectiveDevice(FakeDevice):
    """A driver that raises what no driver should."""

    def open(self, mixer: CueMixer) -> Stream:
        raise ZeroDivisionError("a defect in a driver")


class FakeBell(FakeDevice):
    """Counts what it would ring for."""

    heard = False

    def __init__(self) -> None:
        super().__init__("bell")
        self.rung: list[CueName | None] = []

    def play(self) -> None:
        if self._stream is not None:
            self.rung += [voice.name for voice in self._stream.take(FRAMES)[1]]


class WaitedForWorker(DeviceWorker):
    """Has done what it was asked for when `submit` returns: the clock of these tests does not go on by itself."""

    def submit(self, task: Callable[[], None]) -> None:
        super().submit(task)
        assert self.wait(5)


class Gym:
    """A speaker with a device and a bell, or with other outputs, run step by step."""

    def __init__(self, *outputs: FakeDevice, offset_ms: int = 0) -> None:
        self.clock = Clock(100.0)
        self.device, self.bell = FakeDevice(), FakeBell()
        self.outputs = outputs or (self.device, self.bell)
        self.speaker = Speaker(self.outputs, CUES, offset_ms=offset_ms, now=self.clock, worker=WaitedForWorker())
        self.speaker.check()

    def schedule(self, in_s: float, cue: CueName) -> None:
        self.speaker.schedule(self.clock.at_s + in_s, cue)

    @property
    def heard(self) -> list[int]:
        """The level of each sound of the device."""
        return [self.device.heard_pcm[k] for k in starts(self.device.heard_pcm)]

    def run(self, seconds: float, *, until: str | None = None) -> float:
        """Goes on for so many seconds, or until `trouble` reads `until`; returns how long that took."""
        begun_s = self.clock.at_s
        for step in range(round(seconds / STEP_S)):
            for output in self.outputs:
                output.play()
            if step % round(CHECK_EVERY_S / STEP_S) == 0:
                self.speaker.check()
            if until is not None and self.speaker.trouble == until:
                break
            self.clock.at_s += STEP_S
        return self.clock.at_s - begun_s


def test_with_a_device_there_is_no_trouble_and_cues_sound_on_it() -> None:
    gym = Gym()
    gym.run(1)
    gym.schedule(0.5, CueName.GO)
    gym.run(1)
    assert (gym.speaker.trouble, gym.speaker.playing_on) == ("", "fake")
    assert gym.heard == [CUES[CueName.GO][0]]
    assert gym.bell.rung == []


def test_a_lost_device_is_said_within_a_second_and_a_half_and_back_within_two() -> None:
    gym = Gym()
    gym.run(2)
    gym.device.present = False
    assert gym.run(5, until="no sound") <= 1.5
    gym.run(0.5)
    assert gym.speaker.playing_on == "bell"
    gym.schedule(0.5, CueName.GO)
    gym.run(3)
    assert gym.bell.rung == [CueName.GO]
    assert gym.device.closed == 1
    gym.device.present = True
    assert gym.run(5, until="") <= 2.0
    gym.run(0.5)
    assert gym.speaker.playing_on == "fake"
    gym.schedule(0.5, CueName.REST)
    gym.run(1)
    assert gym.heard == [CUES[CueName.REST][0]]
    assert gym.bell.rung == [CueName.GO]


def test_cues_scheduled_before_the_loss_ring_after_it_once() -> None:
    gym = Gym()
    gym.run(1)
    for seconds in range(1, 9):
        gym.schedule(seconds, CueName.PACE)
    gym.run(2.5)
    gym.device.present = False
    gym.run(3)
    gym.device.present = True
    gym.run(4)
    # The one that fell into the second in which nobody knew is gone: by then it would have misled.
    assert len(gym.heard) + len(gym.bell.rung) == 7


@pytest.mark.parametrize("absent", ["there is none", "its driver is defective"])
def test_without_any_device_the_floor_is_told_and_the_bell_rings_at_once(absent: str) -> None:
    bell = FakeBell()
    gym = Gym(FakeDevice(present=False) if absent == "there is none" else DefectiveDevice(), bell)
    assert gym.speaker.playing_on == "bell"
    gym.schedule(0.3, CueName.COUNT)
    assert gym.run(3, until="no sound") <= 1.5
    assert bell.rung == [CueName.COUNT]


def test_a_device_that_opens_but_never_asks_for_a_frame_is_no_sound() -> None:
    gym = Gym()
    gym.device.dead_on_arrival = True
    assert gym.run(3, until="no sound") <= 1.5
    gym.run(5)
    assert (gym.speaker.trouble, gym.speaker.playing_on) == ("no sound", "bell")
    assert gym.bell.opened == 1
    assert gym.device.opened - gym.device.closed in {0, 1}


def test_the_second_device_is_taken_when_the_first_does_not_open() -> None:
    gym = Gym(FakeDevice("one", present=False), FakeDevice("two"), FakeBell())
    gym.run(2)
    assert (gym.speaker.playing_on, gym.speaker.trouble) == ("two", "")


def test_less_than_sound_as_the_coach_asked_is_no_trouble() -> None:
    gym = Gym(FakeBell())
    mute = Speaker([], CUES, now=gym.clock)
    gym.run(3)
    assert gym.speaker.trouble == mute.trouble == ""


def test_the_offset_sends_cues_earlier_and_may_change_while_playing() -> None:
    gym = Gym(offset_ms=200)
    gym.run(1)
    gym.schedule(1.0, CueName.GO)
    gym.run(1.5)
    gym.speaker.offset_ms = 50
    assert gym.speaker.offset_ms == 50
    gym.schedule(0.5, CueName.GO)
    gym.run(1)
    assert [k / RATE for k in starts(gym.device.heard_pcm)] == pytest.approx([2.0 - 0.2, 3.0 - 0.05], abs=1e-4)


class ClingingDevice(FakeDevice):
    """Fails while it is closed."""

    def close(self) -> None:
        super().close()
        raise ZeroDivisionError("a defect in a driver")


def test_a_defect_in_closing_does_not_keep_the_device_from_coming_back() -> None:
    device = ClingingDevice()
    gym = Gym(device, FakeBell())
    gym.run(1)
    device.present = False
    gym.run(3)
    assert device.closed == 1
    device.present = True
    assert gym.run(3, until="") <= 2.0


def test_the_volume_may_change_while_a_cue_sounds_and_never_steps() -> None:
    gym = Gym()
    gym.run(1)
    gym.speaker.say(gym.clock.at_s + 1.0, array("h", [10_000] * RATE))
    gym.run(0.5)
    gym.speaker.volume = 30
    gym.run(1)
    assert gym.speaker.volume == 30
    for asked, kept in ((0, 0), (100, 100), (-10, 0), (110, 100)):
        gym.speaker.volume = asked
        assert gym.speaker.volume == kept
    heard = gym.device.heard_pcm
    assert (max(heard), heard[-RATE // 2 - 10]) == (10_000, 3_000)
    assert max(abs(a - b) for a, b in pairwise(heard[RATE : RATE + RATE * 9 // 10])) < 10


class StuckDevice(FakeDevice):
    """Hangs in `open` until it is let go, as a stopped sound server does."""

    def __init__(self) -> None:
        super().__init__()
        self.let_go = threading.Event()

    def open(self, mixer: CueMixer) -> Stream:
        self.let_go.wait(5)
        return super().open(mixer)


def test_a_device_that_hangs_while_it_opens_holds_nobody_up_and_is_closed_if_it_comes_too_late(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("floorclock.sound.speaker.PATIENCE_S", 0.05)
    device, bell = StuckDevice(), FakeBell()
    worker = DeviceWorker()
    speaker = Speaker([device, bell], CUES, worker=worker)
    speaker.start()
    assert speaker.playing_on == "bell"
    assert worker.busy
    speaker.close()
    assert worker.busy
    device.let_go.set()
    assert worker.wait(5)
    assert (device.opened, device.closed) == (1, 1)


def test_words_end_when_they_are_said_to() -> None:
    gym = Gym()
    gym.run(1)
    gym.speaker.say(gym.clock.at_s + 1.0, array("h", [500] * 4800))
    gym.run(1.5)
    loud = [k for k, sample in enumerate(gym.device.heard_pcm) if sample]
    assert len(loud) == 4800
    assert (loud[-1] + 1) / RATE == pytest.approx(2.0, abs=1e-4)


def test_scheduling_is_safe_from_many_threads() -> None:
    gym = Gym()
    gym.run(1)
    at_s = gym.clock.at_s
    short: Pcm = array("h", [500])

    def ask(which: int) -> None:
        for k in range(50):
            gym.speaker.say(at_s + 0.2 + (which * 50 + k) * 0.002, short)

    threads = [threading.Thread(target=ask, args=(which,)) for which in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    gym.run(2)
    assert len(gym.heard) == 400


class DefectiveBell(FakeBell):
    """Can't be opened at first."""

    def open(self, mixer: CueMixer) -> Stream:
        stream = super().open(mixer)
        if self.opened < 3:
            raise RuntimeError("can't start new thread")
        return stream


def test_a_bell_that_cannot_be_opened_is_tried_again() -> None:
    gym = Gym(FakeDevice(present=False), DefectiveBell())
    assert gym.speaker.playing_on == ""
    gym.run(1)
    assert gym.speaker.playing_on == "bell"
