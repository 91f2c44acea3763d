"""The heartbeat: written over and over in one place, and never believed when it is not whole."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.journal.beat import Beat, beat_of, beat_path, read_beat, remove_beat, write_beat
from floorclock.journal.lines import encode
from tests.journal.sample_class import WALL


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return beat_path(tmp_path / "20261125-1831-7f3a.jsonl")


def test_the_last_beat_is_the_one_that_counts_whatever_its_length(path: Path) -> None:
    for class_ms in (0, 10**12, 5):
        assert write_beat(path, Beat(class_ms, WALL + timedelta(milliseconds=class_ms)))
        assert read_beat(path) == Beat(class_ms, WALL + timedelta(milliseconds=class_ms))


def test_a_beat_is_forced_to_the_disk_when_it_is_to_be(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    forced: list[int] = []
    monkeypatch.setattr("floorclock.platform.system.sync_data", forced.append)
    assert write_beat(path, Beat(1, WALL))
    assert forced == []
    assert write_beat(path, Beat(2, WALL), sync=True)
    assert len(forced) == 1
    assert read_beat(path) == Beat(2, WALL)


def test_a_beat_takes_no_more_room_than_the_one_before(path: Path) -> None:
    write_beat(path, Beat(1, WALL))
    before = path.stat()
    write_beat(path, Beat(10**9, WALL))
    assert (path.stat().st_size, path.stat().st_ino) == (before.st_size, before.st_ino)


def test_no_beat_and_nowhere_to_write_one_are_told_apart_from_an_error(path: Path) -> None:
    assert read_beat(path) is None
    assert read_beat(path.parent) is None
    assert not write_beat(path.parent / "gone" / "x.beat", Beat(1, WALL))
    remove_beat(path)
    write_beat(path, Beat(1, WALL))
    remove_beat(path)
    assert not path.exists()


@given(st.binary(max_size=300))
def test_rubbish_is_no_beat(rubbish: bytes) -> None:
    assert beat_of(rubbish) is None


@pytest.mark.parametrize(
    "values",
    [{}, {"class_ms": 1}, {"class_ms": "1", "wall": "2026-11-25T18:31:04Z"}, {"class_ms": -1, "wall": "2026-11-25T18:31:04Z"},
     {"class_ms": 1, "wall": "later"}, {"class_ms": 1, "wall": None}],
)  # fmt: skip
def test_a_whole_line_that_is_no_beat_is_no_beat(values: dict[str, object]) -> None:
    assert beat_of(encode(values)) is None


def test_half_a_beat_over_the_last_one_is_no_beat(path: Path) -> None:
    beats = Beat(1_000, WALL), Beat(2_345, WALL + timedelta(seconds=77))
    records = []
    for beat in beats:
        write_beat(path, beat)
        records.append(path.read_bytes())
    for cut in range(len(records[1]) + 1):
        assert beat_of(records[1][:cut] + records[0][cut:]) in (*beats, None)
