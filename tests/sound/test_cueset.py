"""A coach's own sounds: whatever is in the folder, every cue sounds, and what is wrong is told."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from floorclock.clock.cues import CueName
from floorclock.errors import Problem
from floorclock.sound.cueset import load_cues
from floorclock.sound.samples import RATE, Pcm, at_gain, read_wav
from tests.plan.shipped import SOUNDS
from tests.sound.test_samples import GOOD, tone, wav


def test_without_a_folder_the_shipped_cues_play() -> None:
    cues, problems = load_cues(None, SOUNDS)
    assert set(cues) == set(CueName)
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
    cues, problems = load_cues(tmp_path, SOUNDS)
    shipped, _ = load_cues(None, SOUNDS)
    assert {name for name in CueName if cues[name] != shipped[name]} == {CueName.GO, CueName.HALF}
    told = messages(problems)
    assert set(told) == {"HALF.WAV", "rest.wav", "end.wav", "last-ten.wav", "pace.wav"}
    assert "0.2" in told["HALF.WAV"]
    assert "silence" in told["HALF.WAV"]
    assert told["rest.wav"] == "is not a WAV file (the shipped cue plays instead)"
    assert told["end.wav"].startswith("is silent")
    assert "did you mean last_ten.wav?" in told["last-ten.wav"]


def test_what_is_no_folder_or_an_empty_one_is_a_problem(tmp_path: Path) -> None:
    assert "has no WAV files" in messages(load_cues(tmp_path, SOUNDS)[1])[tmp_path.name]
    os.mkfifo(tmp_path / "pipe")
    for folder in (tmp_path / "nowhere", tmp_path / "pipe", Path("sounds\0of mine")):
        cues, (problem,) = load_cues(folder, SOUNDS)
        assert set(cues) == set(CueName)
        assert "cannot be read as a folder" in problem.message


def test_a_damaged_installation_still_has_every_cue(tmp_path: Path) -> None:
    cues, problems = load_cues(None, tmp_path)
    whole, _ = load_cues(None, SOUNDS)
    assert cues == whole
    assert len(problems) == len(CueName)


def test_attention_is_played_quieter_than_its_file() -> None:
    cues, _ = load_cues(None, SOUNDS)
    assert cues[CueName.ATTENTION] == at_gain(read_wav(SOUNDS / "attention.wav"), 0.35)
    assert cues[CueName.GO] == read_wav(SOUNDS / "go.wav")


def test_a_defect_in_reading_one_cue_plays_the_shipped_one_and_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "go.wav").write_bytes(GOOD)
    sound: Callable[[Path], Pcm] = read_wav

    def defective(path: Path) -> Pcm:
        if path.parent == tmp_path:
            raise ZeroDivisionError("a defect")
        return sound(path)

    monkeypatch.setattr("floorclock.sound.cueset.read_wav", defective)
    cues, problems = load_cues(tmp_path, SOUNDS)
    assert cues[CueName.GO] == read_wav(SOUNDS / "go.wav")
    assert "a defect" in messages(problems)["go.wav"]


def test_a_folder_full_of_music_is_told_in_ten_lines(tmp_path: Path) -> None:
    for k in range(200):
        (tmp_path / f"song {k}.wav").write_bytes(GOOD)
    assert len(load_cues(tmp_path, SOUNDS)[1]) == 10


@pytest.mark.parametrize("name", [b"\x1b[2J.wav", b"\xff.wav", b"two\nlines.wav"])
def test_a_name_that_a_terminal_would_obey_is_told_so_that_it_can_be_printed(name: bytes, tmp_path: Path) -> None:
    Path(os.fsdecode(bytes(tmp_path) + b"/" + name)).write_bytes(GOOD)
    _, problems = load_cues(tmp_path, SOUNDS)
    assert len(problems) == 1
    assert str(problems[0]).isprintable()
