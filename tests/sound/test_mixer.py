"""Cues sit at exact samples, under a clock that the test turns."""

from __future__ import annotations

from array import array
from itertools import pairwise

import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.mixer import FADE_FRAMES, CueMixer, FixedAnchor, SteadyAnchor, Stream
from floorclock.sound.samples import RATE, Pcm, silence

BLOCK = RATE * 60 // 1000


class Clock:
    def __init__(self, at_s: float = 0.0) -> None:
        self.at_s = at_s

    def __call__(self) -> float:
        return self.at_s


class Device:
    """Asks for one block after another on a clock of its own, as a sound card does."""

    def __init__(self, mixer: CueMixer, clock: Clock, stream: Stream | None = None, skew: float = 0.0) -> None:
        self.stream = stream or mixer.stream()
        self.heard = silence(0)
        self._clock = clock
        self._begun_s = clock.at_s
        self._seconds_a_frame = (1 + skew) / RATE
        mixer.select(self.stream)

    def run(self, seconds: float, late_s: float = 0.0) -> None:
        """Asks for the blocks of so many seconds, each `late_s` after it is due."""
        for _ in range(round(seconds * RATE / BLOCK)):
            self._clock.at_s = self._begun_s + self.stream.frame * self._seconds_a_frame + late_s
            self.heard.extend(self.stream.render(BLOCK))

    def stall(self, seconds: float) -> None:
        """Runs dry: nothing is asked for, and all that follows is so much later."""
        self._begun_s += seconds


def played(*, latency_s: float = 0.0, offset_s: float = 0.0, skew: float = 0.0) -> tuple[CueMixer, Device]:
    """A mixer and the device that it plays on."""
    clock = Clock()
    mixer = CueMixer(clock, offset_s)
    return mixer, Device(mixer, clock, mixer.stream(latency_s), skew)


def square(frames: int, level: int = 1000) -> Pcm:
    return array("h", [level] * frames)


def starts(heard: Pcm) -> list[int]:
    return [k for k, sample in enumerate(heard) if sample and (k == 0 or not heard[k - 1])]


@pytest.mark.parametrize(
    ("at_s", "latency_s", "offset_s", "frame"),
    [
        (1.0, 0.0, 0.0, 48_000),
        (1.0, 0.06, 0.0, 45_120),
        (1.0, 0.06, 0.2, 35_520),
        (1.00001, 0.0, 0.0, 48_000),
        (1.00002, 0.0, 0.0, 48_001),
        (0.12, 0.0, 0.0, 5_760),
    ],
)
def test_a_cue_starts_at_the_sample_of_its_instant(at_s: float, latency_s: float, offset_s: float, frame: int) -> None:
    mixer, device = played(latency_s=latency_s, offset_s=offset_s)
    mixer.schedule(at_s, square(100))
    device.run(2)
    assert starts(device.heard) == [frame]
    assert sum(map(bool, device.heard)) == 100


def test_a_cue_longer_than_a_block_goes_on_without_a_seam() -> None:
    mixer, device = played()
    sound = array("h", range(1, 3 * BLOCK))
    mixer.schedule(0.5, sound)
    device.run(1)
    assert device.heard[24_000 : 24_000 + len(sound)] == sound
    assert sum(map(bool, device.heard)) == len(sound)


@pytest.mark.parametrize(
    "late_ms",
    [(0, 4, 30, 1, 12, 0, 50, 2), (3, 7, 3, 11, 3, 7, 0, 3), (3, 3, 3, 3, 3, 3, 3, 3, 0), (20, 35, 9, 28, 16, 0)],
    ids=["now and then", "nearly all", "by the same again and again", "by much"],
)
def test_callbacks_that_come_late_do_not_move_a_cue(late_ms: tuple[int, ...]) -> None:
    mixer, device = played()
    at_s = [2.4 + 0.33 * k for k in range(20)]
    for instant in at_s:
        mixer.schedule(instant, square(10))
    for k in range(180):
        device.run(0.06, late_ms[k % len(late_ms)] / 1000)
    assert [frame / RATE for frame in starts(device.heard)] == [pytest.approx(instant, abs=0.0002) for instant in at_s]


def test_a_skewed_sound_card_is_followed() -> None:
    mixer, device = played(skew=100e-6)
    for second in range(10, 100, 10):
        mixer.schedule(second, square(10))
    device.run(100)
    true_s = [frame / RATE * (1 + 100e-6) for frame in starts(device.heard)]
    assert true_s == [pytest.approx(second, abs=0.0001) for second in range(10, 100, 10)]


def test_withdrawing_fades_what_sounds_and_forgets_what_is_to_come() -> None:
    mixer, device = played()
    mixer.schedule(0.5, square(RATE))
    mixer.schedule(1.2, square(RATE))
    device.run(0.6)
    mixer.withdraw()
    withdrawn_at = len(device.heard)
    device.run(1.2)
    tail = device.heard[withdrawn_at:]
    assert tail[0] == 1000
    assert tail[FADE_FRAMES // 2] == 500
    assert max(abs(a - b) for a, b in pairwise(tail)) <= 5
    assert not any(tail[FADE_FRAMES:])


def test_a_fade_goes_on_over_small_blocks() -> None:
    mixer = CueMixer(Clock())
    stream = mixer.stream(anchor=FixedAnchor())
    mixer.select(stream)
    mixer.schedule(0, square(RATE))
    stream.render(1000)
    mixer.withdraw()
    pieces = [stream.render(50) for _ in range(10)]
    heard = [sample for piece in pieces for sample in piece]
    assert heard[:FADE_FRAMES] == [1000 * (FADE_FRAMES - k) // FADE_FRAMES for k in range(FADE_FRAMES)]
    assert not any(heard[FADE_FRAMES:])


def test_a_cue_scheduled_after_a_withdrawal_sounds() -> None:
    mixer, device = played()
    mixer.schedule(1.0, square(10))
    mixer.withdraw()
    mixer.schedule(1.5, square(10))
    device.run(2)
    assert starts(device.heard) == [72_000]


def test_a_cue_that_has_begun_and_is_asked_for_again_at_its_instant_sounds_on_and_not_twice() -> None:
    mixer, device = played()
    sound = array("h", range(1, RATE // 4))
    mixer.schedule(0.5, sound, CueName.GO)
    device.run(0.54)
    mixer.withdraw()
    mixer.schedule(0.5, sound, CueName.GO)
    device.run(1)
    assert device.heard[24_000 : 24_000 + len(sound)] == sound
    assert sum(map(bool, device.heard)) == len(sound)


def test_another_cue_or_another_instant_is_not_taken_for_the_one_that_was_withdrawn() -> None:
    mixer, device = played()
    mixer.schedule(0.5, square(RATE // 4, 1000), CueName.GO)
    device.run(0.54)
    mixer.withdraw()
    mixer.schedule(0.5, square(10, 2000), CueName.REST)
    mixer.schedule(0.51, square(10, 4000), CueName.GO)
    device.run(1)
    # What fades and both others begin on the same frame.
    assert device.heard[round(0.54 * RATE)] == 7000


def test_overlapping_cues_add_up_and_stay_within_full_scale() -> None:
    mixer, device = played()
    mixer.schedule(0.5, square(200, 20_000))
    mixer.schedule(0.5 + 100 / RATE, square(200, 15_000))
    mixer.schedule(0.5 + 150 / RATE, square(50, -30_000))
    device.run(1)
    expected = [20_000] * 100 + [32_767] * 50 + [35_000 - 30_000] * 50 + [15_000] * 100
    assert list(device.heard[24_000:24_300]) == expected


def test_a_cue_that_comes_late_sounds_at_once_and_one_too_late_never() -> None:
    mixer, device = played(latency_s=0.06)
    device.run(1.02)
    mixer.schedule(0.92, square(10), CueName.GO)
    mixer.schedule(0.80, square(10), CueName.COUNT)
    device.run(1)
    assert starts(device.heard) == [round(1.02 * RATE)]


def test_after_a_stall_the_old_cues_are_not_burst_and_the_next_is_on_its_instant() -> None:
    mixer, device = played()
    device.run(1.2)
    for at_s in (1.5, 2.0, 2.5, 3.0, 4.0):
        mixer.schedule(at_s, square(10))
    device.stall(2.0)
    device.run(3)
    true_s = [2.0 + frame / RATE for frame in starts(device.heard)]
    # 3.0 was 0.2 s old when frames were asked for again.
    assert true_s == [pytest.approx(4.0, abs=0.0001)]


def test_a_short_stall_moves_the_line_at_once() -> None:
    mixer, device = played()
    device.run(3)
    device.stall(0.3)
    mixer.schedule(3.45, square(10))
    device.run(0.6)
    assert [0.3 + frame / RATE for frame in starts(device.heard)] == [pytest.approx(3.45, abs=0.0001)]


@pytest.mark.parametrize(
    ("late_ms", "line_ms"),
    [((45, 30, 31), 30), ((36, 40, 30), 30), ((75, 77, 75), 75), ((5,) * 69, 5), ((180, 120, 60, 0), 0)],
    ids=["an underrun", "another", "a long one", "a small move, after four seconds", "a burst that catches up moves nothing"],
)
def test_callbacks_after_thirty_in_time_move_the_line(late_ms: tuple[int, ...], line_ms: int) -> None:
    anchor = SteadyAnchor()
    for k, late in enumerate((0,) * 30 + late_ms):
        anchor.observe(0.06 * k + late / 1000, BLOCK * k)
    assert anchor.epoch_s == pytest.approx(line_ms / 1000, abs=0.0001)


def test_a_new_stream_takes_the_cues_over_and_the_old_one_falls_silent() -> None:
    clock = Clock()
    mixer = CueMixer(clock)
    old = Device(mixer, clock)
    mixer.schedule(0.3, square(RATE))
    mixer.schedule(2.0, square(10))
    old.run(0.6)
    new = Device(mixer, clock)
    new_begun_s = clock.at_s
    before = len(old.heard)
    new.run(2)
    old.run(0.6)
    assert not any(old.heard[before:])
    assert [new_begun_s + frame / RATE for frame in starts(new.heard)] == [pytest.approx(2.0, abs=0.0001)]


def test_an_output_of_whole_cues_is_told_each_start_once_and_each_withdrawal() -> None:
    mixer = CueMixer(Clock())
    stream = mixer.stream(anchor=FixedAnchor())
    mixer.select(stream)
    mixer.schedule(0.015, square(RATE), CueName.GO)
    told = []
    for k in range(5):
        if k == 3:
            mixer.withdraw()
        withdrawn, begun = stream.take(480)
        told.append((withdrawn, [(voice.start, voice.name) for voice in begun]))
    assert told == [(False, []), (False, [(720, CueName.GO)]), (False, []), (True, []), (False, [])]
