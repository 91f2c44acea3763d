"""Spoken words: by whatever speech engine the machine has, and without one."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from floorclock.sound import voice
from floorclock.sound.recipes import TARGET_LKFS, momentary_lkfs
from floorclock.sound.samples import RATE, as_floats
from floorclock.sound.voice import VoiceFailed, spoken

needs_espeak = pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")


@needs_espeak
def test_words_become_sound_nearly_as_loud_as_a_cue_and_without_silence_around_them() -> None:
    words = spoken("next, box step-up, ten")
    assert 0.8 < len(words) / RATE < 4
    assert momentary_lkfs(as_floats(words)) == pytest.approx(TARGET_LKFS - 3, abs=1)
    assert max(map(abs, words)) <= 32_768 * 0.85
    assert max(map(abs, words[:480])) > voice.QUIET_EDGE
    assert max(map(abs, words[-480:])) > voice.QUIET_EDGE


@needs_espeak
def test_more_words_take_longer() -> None:
    assert len(spoken("rest, then the farmer carry, forty metres")) > 1.3 * len(spoken("rest"))


@needs_espeak
@pytest.mark.parametrize("words", ["--version", "-w /tmp/elsewhere.wav", "$(reboot)", "zwölf Kniebeugen"])
def test_words_that_look_like_options_are_spoken(words: str) -> None:
    assert len(spoken(words)) / RATE > 0.2


@needs_espeak
def test_an_engine_with_nothing_to_say_is_a_failure_in_words() -> None:
    with pytest.raises(VoiceFailed, match="espeak-ng"):
        spoken("  ")


def test_without_an_engine_the_failure_says_what_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert voice.engine() == ""
    with pytest.raises(VoiceFailed, match="no speech engine"):
        spoken("rest")


def test_an_engine_that_fails_is_a_failure_in_words(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    fake = tmp_path / "espeak-ng"
    fake.write_text("#!/bin/sh\nexit 3\n")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(VoiceFailed, match="did not speak"):
        spoken("rest")
