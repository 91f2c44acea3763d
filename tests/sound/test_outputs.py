"""The outputs that need no device, and that a driver's failure is told in one way."""

from __future__ import annotations

import subprocess
import sys
import threading
import wave
from array import array
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.mixer import CueMixer, FixedAnchor, Stream
from floorclock.sound.outputs import (
    BellOutput,
    MiniaudioOutput,
    OutputFailed,
    SimpleaudioOutput,
    WavOutput,
    _frames_for,
)
from floorclock.sound.samples import RATE, Pcm
from tests.sound.conftest import FullDisk
from tests.sound.test_mixer import Clock, square, starts


def test_the_bell_rings_once_for_each_cue_when_it_is_due_but_not_for_attention() -> None:
    clock = Clock()
    rung = threading.Semaphore(0)
    mixer = CueMixer(clock)
    bell = BellOutput(rung.release)
    mixer.select(bell.open(mixer))
    mixer.schedule(0.07, square(10), CueName.ATTENTION)
    for at_s in (0.05, 0.1, 0.15):
        mixer.schedule(at_s, square(10), CueName.COUNT)
    try:
        for at_s in (0.06, 0.11, 0.16):
            assert not rung.acquire(blocking=False)
            clock.at_s = at_s
            assert rung.acquire(timeout=5)
    finally:
        bell.close()
    assert not rung.acquire(blocking=False)


class WatchedWavOutput(WavOutput):
    """Says when it has written something."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.written = threading.Event()

    def _take(self, stream: Stream, frames: int) -> None:
        super()._take(stream, frames)
        self.written.set()


def test_a_wav_file_has_the_cues_at_their_samples(tmp_path: Path) -> None:
    clock = Clock(7.0)
    mixer = CueMixer(clock, offset_s=0.2)
    output = WatchedWavOutput(tmp_path / "heard.wav")
    mixer.select(output.open(mixer))
    for k in range(3):
        mixer.schedule(7.15 + 0.05 * k, square(10))
    clock.at_s = 7.45
    assert output.written.wait(5)
    output.close()
    with wave.open(str(tmp_path / "heard.wav")) as file:
        assert file.getframerate() == RATE
        heard = array("h", file.readframes(file.getnframes()))
    assert starts(heard) == [7_200, 9_600, 12_000]


def test_a_wav_file_that_cannot_be_written_is_a_failed_output(tmp_path: Path) -> None:
    with pytest.raises(OutputFailed, match="cannot be written"):
        WavOutput(tmp_path / "no" / "heard.wav").open(CueMixer())


def test_a_full_disk_ends_the_stream_and_is_never_overwritten(tmp_path: Path, full_disk: FullDisk) -> None:
    mixer = CueMixer()
    output = WavOutput(tmp_path / "heard.wav")
    with full_disk():
        stream = output.open(mixer)
        assert output._thread is not None
        output._thread.join(5)
        last = stream.last_call_s
        output.close()
    assert last is not None
    assert stream.last_call_s == last
    with pytest.raises(OutputFailed, match="could not be written to the end"):
        output.open(mixer)


def test_what_is_no_file_is_refused_at_once(no_file: Path) -> None:
    with pytest.raises(OutputFailed, match="not a file"):
        WavOutput(no_file).open(CueMixer())


def test_a_machine_without_miniaudio_fails_to_open_and_nothing_else(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    with pytest.raises(OutputFailed, match="miniaudio cannot be loaded"):
        MiniaudioOutput().open(CueMixer())


def test_a_machine_without_simpleaudio_or_with_too_new_a_python_fails_to_open(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "simpleaudio", None)
    with pytest.raises(OutputFailed, match="simpleaudio"):
        SimpleaudioOutput().open(CueMixer())
    monkeypatch.setattr(sys, "version_info", (3, 12, 0))
    with pytest.raises(OutputFailed, match="crashes Python"):
        SimpleaudioOutput().open(CueMixer())


class FaultyStream(Stream):
    """Fails in its second block."""

    blocks = 0

    def render(self, frames: int) -> Pcm:
        self.blocks += 1
        if self.blocks == 2:
            raise RuntimeError("a defect")
        return square(frames)


def test_a_defect_costs_one_block_of_silence_and_not_the_sound_of_the_class() -> None:
    mixer = CueMixer()
    frames = _frames_for(FaultyStream(mixer, 0.0, FixedAnchor(), False))
    next(frames)
    assert [list(frames.send(3)) for _ in range(3)] == [[1000] * 3, [0] * 3, [1000] * 3]


FRESH = """
import sys
import floorclock.sound.quiet, floorclock.sound.speaker, floorclock.sound.voice
print(*sorted(sys.modules))
"""


def test_the_room_loads_no_driver_no_screen_and_no_other_room() -> None:
    run = subprocess.run([sys.executable, "-c", FRESH], capture_output=True, text=True, check=True)
    loaded = set(run.stdout.split())
    assert not loaded & {"miniaudio", "simpleaudio", "textual", "rich", "pydantic", "yaml"}
    rooms = {name.split(".")[1] for name in loaded if name.startswith("floorclock.")}
    assert rooms == {"sound", "clock", "errors"}
