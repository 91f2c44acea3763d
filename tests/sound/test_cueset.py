"""A coach's own sounds: any WAV file, and clear words about a wrong one."""

from __future__ import annotations

import struct
from array import array
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile
from scipy.signal import resample_poly

from floorclock.clock.cues import CueName
from floorclock.errors import Problem
from floorclock.sound.anchor import RATE
from floorclock.sound.cueset import CueSet, load_cues
from floorclock.sound.wav import WavError, read_wav, write_wav
from tests.sound.hearing import Floats, as_floats

SHIPPED = Path(__file__).parents[2] / "sounds"


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
    ours = as_floats(read_wav(path.read_bytes()))
    reference = resample_poly(tone(rate), RATE, rate)
    assert len(ours) == pytest.approx(len(reference), abs=1)
    assert np.abs(ours - reference[: len(ours)]).max() < 0.002


def test_what_our_rate_cannot_hold_is_kept_out(tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, 96_000, (tone(96_000, 1000) + tone(96_000, 35_000)).astype(np.float32))
    ours = as_floats(read_wav(path.read_bytes()))
    assert np.abs(ours - tone(48_000)[: len(ours)]).max() < 0.005


@pytest.mark.parametrize(("kind", "scale"), [("int16", 2**15 - 1), ("int32", 2**31 - 1), ("float32", 1), ("float64", 1)])
def test_every_width_that_a_reference_library_writes_is_read(kind: str, scale: float, tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, RATE, (tone(RATE) * scale).astype(kind))
    assert np.abs(as_floats(read_wav(path.read_bytes())) - tone(RATE)).max() < 1e-4


@pytest.mark.parametrize(("bits", "within"), [(8, 0.01), (24, 1e-4)])
@pytest.mark.parametrize("tag", [1, 0xFFFE])
def test_the_other_widths_are_read_too(bits: int, within: float, tag: int) -> None:
    content = wav(wide(tone(RATE), bits), RATE, bits, tag=tag)
    assert np.abs(as_floats(read_wav(content)) - tone(RATE)).max() < within


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "cue.wav"
    wavfile.write(path, RATE, np.stack([tone(RATE), 0 * tone(RATE)], axis=1).astype(np.float32))
    assert np.abs(as_floats(read_wav(path.read_bytes())) - tone(RATE) / 2).max() < 1e-4


def test_floats_beyond_full_scale_are_held_there() -> None:
    content = wav(array("f", [3.0, -3.0] * 100).tobytes(), RATE, 32, tag=3)
    assert set(read_wav(content)) == {32_767, -32_768}


GOOD = wav(wide(tone(RATE), 24), RATE, 24)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is not a WAV file"),
        (b"ID3\x03 this is music", "is not a WAV file"),
        (GOOD[:40], "is damaged"),
        (wav(b"", RATE, 16), "has no samples"),
        (wav(b"\0" * 100, RATE, 4, tag=17), "compressed"),
        (wav(b"\0" * 100, 0, 16), "cannot be right"),
        (wav(b"\0" * 100, RATE, 16, channels=0), "cannot be right"),
        (wav(b"\0\0" * 12 * RATE, RATE, 16), "longer than 10 s"),
        (wav(array("f", [float("nan")] * 9).tobytes(), RATE, 32, tag=3), "no numbers"),
        (b"RIFF\x04\0\0\0WAVE", "has no samples"),
    ],
)
def test_a_wrong_file_is_refused_in_words(content: bytes, words: str) -> None:
    with pytest.raises(WavError, match=words):
        read_wav(content)


def test_a_file_cut_off_while_it_was_written_counts_as_far_as_it_goes() -> None:
    content = wav(wide(tone(RATE), 24), RATE, 24)
    cut = read_wav(content[: len(content) // 2])
    assert list(cut) == list(read_wav(content)[: len(cut)])
    assert len(cut) > RATE // 10


def test_without_a_folder_the_shipped_cues_play() -> None:
    cues, problems = load_cues(None, SHIPPED)
    assert set(cues.sounds) == set(CueName)
    assert problems == ()


def messages(problems: tuple[Problem, ...]) -> dict[str, str]:
    assert all(problem.severity == "warning" for problem in problems)
    return {Path(problem.file).name: f"{problem.message} ({problem.hint})" for problem in problems}


def test_a_folder_replaces_what_it_has_and_every_wrong_file_is_told_at_once(tmp_path: Path) -> None:
    wavfile.write(tmp_path / "go.wav", 44_100, tone(44_100).astype(np.float32))
    wavfile.write(tmp_path / "HALF.WAV", RATE, (np.concatenate((np.zeros(RATE // 5), tone(RATE))) * 32_767).astype("int16"))
    (tmp_path / "rest.wav").write_bytes(b"not sound at all")
    (tmp_path / "end.wav").write_bytes(wav(b"\0\0" * 1000, RATE, 16))
    (tmp_path / "last-ten.wav").write_bytes(GOOD)
    (tmp_path / "pace.wav").mkdir()
    (tmp_path / "notes.txt").write_text("mine")
    cues, problems = load_cues(tmp_path, SHIPPED)
    shipped, _ = load_cues(None, SHIPPED)
    assert {name for name in CueName if cues.sounds[name] != shipped.sounds[name]} == {CueName.GO, CueName.HALF}
    told = messages(problems)
    assert set(told) == {"HALF.WAV", "rest.wav", "end.wav", "last-ten.wav", "pace.wav"}
    assert "0.2" in told["HALF.WAV"]
    assert "silence" in told["HALF.WAV"]
    assert told["rest.wav"] == "is not a WAV file (the shipped cue plays instead)"
    assert told["end.wav"].startswith("is silent")
    assert "did you mean last_ten.wav?" in told["last-ten.wav"]


def test_a_folder_that_is_not_there_or_empty_is_a_problem(tmp_path: Path) -> None:
    assert "cannot be read as a folder" in messages(load_cues(tmp_path / "nowhere", SHIPPED)[1])["nowhere"]
    assert "has no WAV files" in messages(load_cues(tmp_path, SHIPPED)[1])[tmp_path.name]


def test_a_damaged_installation_still_has_every_cue(tmp_path: Path) -> None:
    cues, problems = load_cues(None, tmp_path)
    whole, _ = load_cues(None, SHIPPED)
    assert cues == whole
    assert len(problems) == len(CueName)


def test_volume_scales_every_cue_and_attention_is_quieter_by_its_own_gain() -> None:
    cues = CueSet({name: array("h", [20_000, -20_000]) for name in CueName}).at_volume(0.5)
    assert list(cues.sounds[CueName.GO]) == [10_000, -10_000]
    assert list(cues.sounds[CueName.ATTENTION]) == [3_500, -3_500]
    with pytest.raises(ValueError, match="between 0 and 1"):
        cues.at_volume(1.5)


def test_a_written_file_reads_back_to_the_bit(tmp_path: Path) -> None:
    pcm = array("h", range(-32_768, 32_768))
    write_wav(tmp_path / "cue.wav", pcm)
    assert wavfile.read(tmp_path / "cue.wav")[0] == RATE
    assert np.abs(np.asarray(read_wav((tmp_path / "cue.wav").read_bytes())) - np.asarray(pcm)).max() == 0
