"""WAV files of every kind become samples, or are refused in words and at once."""

from __future__ import annotations

import struct
import tracemalloc
from array import array
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.io import wavfile
from scipy.signal import resample_poly

from floorclock.sound.samples import LONGEST_S, RATE, Floats, Pcm, WavError, as_floats, read_wav, write_wav

Reading = Callable[[bytes], Pcm]


@pytest.fixture
def reading(tmp_path: Path) -> Reading:
    """Reads a file that holds these bytes."""

    def read(content: bytes) -> Pcm:
        path = tmp_path / "cue.wav"
        path.write_bytes(content)
        return read_wav(path)

    return read


def tone(rate: int, hertz: float = 1000, length_s: float = 0.3) -> Floats:
    n = int(rate * length_s)
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(n) / rate) * np.hanning(n)


def wide(values: Floats, bits: int) -> bytes:
    """Samples as PCM of 8 or 24 bits, which scipy does not write."""
    if bits == 8:
        return bytes(round(v * 127) + 128 for v in values)
    return b"".join(round(float(v) * (2**23 - 1)).to_bytes(3, "little", signed=True) for v in values)


def wav(data: bytes, rate: int, bits: int, channels: int = 1, tag: int = 1) -> bytes:
    head = struct.pack("<HHIIHH", tag, channels, rate, rate * channels * bits // 8, channels * bits // 8, bits)
    if tag == 0xFFFE:
        head += struct.pack("<HHIH14s", 22, bits, 0, 1, b"\0" * 14)
    odd = struct.pack("<4sI", b"LIST", 3) + b"abc\0"
    body = b"WAVE" + odd + struct.pack("<4sI", b"fmt ", len(head)) + head + struct.pack("<4sI", b"data", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000])
def test_another_rate_becomes_ours_as_a_reference_library_has_it(rate: int, tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, rate, tone(rate).astype(np.float32))
    ours = as_floats(read_wav(path))
    reference = resample_poly(tone(rate), RATE, rate)
    assert len(ours) == pytest.approx(len(reference), abs=1)
    assert np.abs(ours - reference[: len(ours)]).max() < 0.002


def test_what_our_rate_cannot_hold_is_kept_out(tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, 96_000, (tone(96_000, 1000) + tone(96_000, 35_000)).astype(np.float32))
    ours = as_floats(read_wav(path))
    assert np.abs(ours - tone(48_000)[: len(ours)]).max() < 0.005


@pytest.mark.parametrize(("kind", "scale"), [("int16", 2**15 - 1), ("int32", 2**31 - 1), ("float32", 1), ("float64", 1)])
def test_every_width_that_a_reference_library_writes_is_read(kind: str, scale: float, tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, RATE, (tone(RATE) * scale).astype(kind))
    assert np.abs(as_floats(read_wav(path)) - tone(RATE)).max() < 1e-4


@pytest.mark.parametrize(("bits", "within"), [(8, 0.01), (24, 1e-4)])
@pytest.mark.parametrize("tag", [1, 0xFFFE])
def test_the_other_widths_are_read_too(bits: int, within: float, tag: int, reading: Reading) -> None:
    content = wav(wide(tone(RATE), bits), RATE, bits, tag=tag)
    assert np.abs(as_floats(reading(content)) - tone(RATE)).max() < within


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, RATE, np.stack([tone(RATE), 0 * tone(RATE)], axis=1).astype(np.float32))
    assert np.abs(as_floats(read_wav(path)) - tone(RATE) / 2).max() < 1e-4


def test_floats_beyond_full_scale_are_held_there(reading: Reading) -> None:
    content = wav(array("f", [3.0, -3.0] * 100).tobytes(), RATE, 32, tag=3)
    assert set(reading(content)) == {32_767, -32_768}
    content = wav(array("d", [1e308] * 2000).tobytes(), 44_100, 64, 2, tag=3)
    assert max(reading(content)) == 32_767


GOOD = wav(wide(tone(RATE), 24), RATE, 24)


WRONG = (
    (b"", "is not a WAV file"),
    (b"ID3\x03 this is music", "is not a WAV file"),
    (GOOD[:40], "is damaged"),
    (wav(b"", RATE, 16), "has no samples"),
    (wav(b"\0" * 100, RATE, 4, tag=17), "compressed"),
    (wav(b"\0" * 100, 0, 16), "is damaged"),
    (wav(b"\0" * 100, 1_000, 16), "cannot be right"),
    (wav(b"\0" * 100, RATE, 16, channels=0), "is damaged"),
    (wav(b"\0\0" * 12 * RATE, RATE, 16), "longer than 10 s"),
    (wav(array("f", [float("nan")] * 9).tobytes(), RATE, 32, tag=3), "no numbers"),
    (b"RIFF\x04\0\0\0WAVE", "is damaged"),
    (wav(b"\0\0" * 100, RATE, 16, channels=20_000), "is damaged"),
    (GOOD + bytes(32 * 1024 * 1024), "larger than 32 MB"),
)


def test_a_wrong_file_is_refused_in_words(reading: Reading) -> None:
    for content, words in WRONG:
        with pytest.raises(WavError, match=words):
            reading(content)


def test_a_file_cut_off_while_it_was_written_counts_as_far_as_it_goes(reading: Reading) -> None:
    content = wav(wide(tone(RATE), 24), RATE, 24)
    cut = reading(content[: len(content) // 2])
    assert list(cut) == list(reading(content)[: len(cut)])
    assert len(cut) > RATE // 10


def test_one_sample_at_any_rate_is_a_sound(reading: Reading) -> None:
    for rate in (4_000, 44_100, 96_000, 383_983):
        assert len(reading(wav(b"\xff\x3f", rate, 16))) >= 1


def test_the_longest_cue_at_a_high_rate_takes_bounded_memory(reading: Reading) -> None:
    rate = 192_000
    content = wav(np.zeros(rate * LONGEST_S, dtype="<i2").tobytes(), rate, 16)
    tracemalloc.start()
    try:
        assert len(reading(content)) == RATE * LONGEST_S
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 150_000_000


MANGLED = st.tuples(
    st.sampled_from([GOOD, wav(array("d", [1e308, -5e-324] * 99).tobytes(), 383_983, 64, 2, tag=3), wav(GOOD, 11_025, 16, 3)]),
    st.lists(st.tuples(st.integers(0, 79), st.integers(0, 255)), max_size=6),
    st.integers(0, 2_000),
)
"""A file, bytes of its head that are set to something else, and how many bytes of its end are missing."""


@given(MANGLED)
def test_whatever_a_file_holds_it_is_a_sound_or_refused_in_words(mangled: tuple[bytes, list[tuple[int, int]], int]) -> None:
    content, edits, missing = mangled
    damaged = bytearray(content[: len(content) - missing])
    for at, value in edits:
        if at < len(damaged):
            damaged[at] = value
    with TemporaryDirectory() as folder:
        path = Path(folder) / "cue.wav"
        path.write_bytes(damaged)
        with suppress(WavError):
            assert len(read_wav(path)) >= 1


def test_what_is_no_file_is_refused_without_waiting_for_it(no_file: Path) -> None:
    with pytest.raises(WavError, match="not a file"):
        read_wav(no_file)


def test_a_written_file_reads_back_to_the_bit(tmp_path: Path) -> None:
    pcm = array("h", range(-32_768, 32_768))
    write_wav(tmp_path / "cue.wav", pcm)
    assert wavfile.read(tmp_path / "cue.wav")[0] == RATE
    assert np.abs(np.asarray(read_wav(tmp_path / "cue.wav")) - np.asarray(pcm)).max() == 0
