"""The outputs that need no device, a whole class as a file, and that a driver's failure is told in one way."""

from __future__ import annotations

import subprocess
import sys
import threading
import tracemalloc
import wave
from array import array
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.errors import ResourceError
from floorclock.sound.cueset import CueSet
from floorclock.sound.mixer import CueMixer, FixedAnchor, Stream
from floorclock.sound.outputs import (
    BellOutput,
    MiniaudioOutput,
    OutputFailed,
    SimpleaudioOutput,
    WavOutput,
    _frames_for,
    render_wav,
)
from floorclock.sound.samples import Pcm
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
    assert starts(read(tmp_path / "heard.wav")) == [7_200, 9_600, 12_000]


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


MARK: CueSet = {name: array("h", [1000 + k] * 4800) for k, name in enumerate(CueName)}
LEVEL = {name: 1000 + k for k, name in enumerate(CueName)}


def read(path: Path) -> array[int]:
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 48_000)
        return array("h", file.readframes(file.getnframes()))


def test_every_cue_starts_at_its_own_sample_and_nothing_else_sounds(tmp_path: Path) -> None:
    """Two at once add up; one that is cut off by the end, or comes after it, is left out from there."""
    cues = [(7_950, CueName.GO), (0, CueName.COUNT), (1_001, CueName.COUNT), (2_999, CueName.HALF), (5_000, CueName.END)]
    cues += [(5_000, CueName.GO), (8_000, CueName.END), (9_000, CueName.END)]
    render_wav(cues, 8_000, MARK, tmp_path / "class.wav")
    expected = array("h", bytes(2 * 8 * 48_000))
    for at_ms, name in cues:
        for k in range(at_ms * 48, min(at_ms * 48 + 4800, len(expected))):
            expected[k] += LEVEL[name]
    assert read(tmp_path / "class.wav") == expected


def test_a_long_class_is_rendered_in_little_memory(tmp_path: Path) -> None:
    cues = [(at_ms, CueName.COUNT) for at_ms in range(0, 900_000, 5_000)]
    tracemalloc.start()
    try:
        render_wav(cues, 900_000, MARK, tmp_path / "class.wav")
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    size = (tmp_path / "class.wav").stat().st_size
    (tmp_path / "class.wav").unlink()
    assert size == 44 + 2 * 48_000 * 900
    assert most < 4_000_000


def test_whatever_goes_wrong_there_is_no_half_file_and_what_was_there_stays(tmp_path: Path, full_disk: FullDisk) -> None:
    (tmp_path / "class.wav").write_bytes(b"an older one")
    with full_disk(), pytest.raises(ResourceError, match="cannot be written"):
        render_wav([], 1_000, MARK, tmp_path / "class.wav")
    with pytest.raises(ResourceError, match="cannot be written"):
        render_wav([], 1_000, MARK, tmp_path / "no" / "class.wav")
    with pytest.raises(ValueError, match="before the start"):
        render_wav([(-1, CueName.GO)], 1_000, MARK, tmp_path / "class.wav")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"class.wav": b"an older one"}


def test_what_is_no_file_is_never_replaced(no_file: Path) -> None:
    with pytest.raises(ResourceError, match="not a file"):
        render_wav([], 1_000, MARK, no_file)
    assert [path.name for path in no_file.parent.iterdir()] == [no_file.name]


def test_a_class_is_rendered_as_loud_as_it_is_played(tmp_path: Path) -> None:
    render_wav([(0, CueName.COUNT)], 1_000, MARK, tmp_path / "class.wav", volume=50)
    assert set(read(tmp_path / "class.wav")[:4_800]) == {LEVEL[CueName.COUNT] // 2}
