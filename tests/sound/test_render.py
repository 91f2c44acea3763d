"""A whole class as a file, to the sample."""

from __future__ import annotations

import tracemalloc
import wave
from array import array
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.errors import ResourceError
from floorclock.sound.cueset import CueSet
from floorclock.sound.outputs import render_wav
from tests.sound.conftest import FullDisk

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
