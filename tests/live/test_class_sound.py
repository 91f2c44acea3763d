"""The speaker of a floor: what the coach asked for, what the machine says, and silence by a key."""

import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.errors import WrongUsage
from floorclock.journal.settings import Settings
from floorclock.live.class_sound import ClassSound, SoundOptions, options_from, outputs_for, words_of
from floorclock.plan.session import Cues
from tests.clock.classes import harbour, session_of


def test_the_command_line_goes_before_the_settings_of_the_machine(tmp_path: Path) -> None:
    kept = Settings(sound_offset_ms=180, sound_output="bell", sounds="/cues")
    assert options_from(kept, None, None, None) == SoundOptions(output="bell", offset_ms=180, sounds=Path("/cues"))
    said = options_from(kept, "none", 0, tmp_path)
    assert said == SoundOptions(output="none", offset_ms=0, sounds=tmp_path)

    for output, offset_ms in (("trumpet", None), (None, 2_001), (None, -2_001)):
        with pytest.raises(WrongUsage):
            options_from(Settings(), output, offset_ms, None)


def test_outputs_are_tried_in_order_with_the_bell_to_stand_in() -> None:
    names: dict[str, list[str]] = {
        "auto": ["miniaudio", "bell"],
        "miniaudio": ["miniaudio", "bell"],
        "simpleaudio": ["simpleaudio", "bell"],
        "bell": ["bell"],
        "none": [],
        "class.wav": ["wav"],
    }
    assert {output: [made.name for made in outputs_for(output, lambda: None)] for output in names} == names


def test_a_floor_without_a_device_says_no_sound_and_with_quiet_wanted_says_so() -> None:
    sound = ClassSound(SoundOptions(output="miniaudio"), lambda: None)
    assert sound.trouble == ""
    sound.open()
    try:
        sound.schedule(0.0, CueName.GO)
        sound.say(0.0, "never learnt")
        sound.withdraw()
        sound.quiet = True
        assert sound.trouble == "sound off"
    finally:
        sound.close()


def test_silence_that_was_asked_for_is_no_trouble() -> None:
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    sound.open()
    try:
        assert sound.trouble == ""
    finally:
        sound.close()


def test_a_wrong_cue_of_the_coachs_own_is_told_and_the_class_goes_on(tmp_path: Path) -> None:
    (tmp_path / "go.wav").write_bytes(b"no sound at all")
    sound = ClassSound(SoundOptions(output="none", sounds=tmp_path), lambda: None)
    sound.open()
    sound.close()
    assert any("go.wav" in problem for problem in sound.problems)


def test_without_a_speech_engine_it_is_said_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floorclock.sound.voice.engine", lambda: "")
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    sound.learn(["first, swing", "next, step-up"])
    assert len(sound.problems) == 1
    assert "no speech engine" in sound.problems[0]


def test_every_word_is_learnt_once_and_none_where_no_voice_is_wanted() -> None:
    session = session_of(harbour(rounds=3))
    assert words_of(session, (1,)) == ()
    spoken = words_of(replace(session, cues=Cues(voice=True)), (1,))
    assert spoken[:3] == ("first, kettlebell swing, 14", "next, step-up, 10", "next, rest")
    assert len(set(spoken)) == len(spoken)


def test_a_defect_in_opening_is_told_and_the_bell_rings(monkeypatch: pytest.MonkeyPatch) -> None:
    def defective(folder: Path | None, shipped: Path) -> None:
        raise ZeroDivisionError("a defect")

    monkeypatch.setattr("floorclock.sound.cueset.load_cues", defective)
    rung = threading.Event()
    sound = ClassSound(SoundOptions(output="none"), rung.set)
    sound.open()
    try:
        assert sound.trouble == "no sound"
        assert "a defect" in sound.problems[0]
        sound.schedule(time.monotonic() + 0.05, CueName.GO)
        assert rung.wait(5)
    finally:
        sound.close()


def test_a_setting_for_sounds_that_no_folder_can_have_is_told_and_the_class_sounds() -> None:
    sound = ClassSound(options_from(Settings(sounds="my\0sounds", sound_output="none"), None, None, None), lambda: None)
    sound.open()
    sound.close()
    assert sound.trouble == ""
    assert "cannot be read as a folder" in sound.problems[0]


def test_a_speech_engine_that_writes_what_nobody_expects_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    def defective(words: str) -> None:
        raise ZeroDivisionError(words)

    monkeypatch.setattr("floorclock.sound.voice.spoken", defective)
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    sound.learn(["first, swing", "next, step-up"])
    assert sound.problems == ["no voice: first, swing"]


def test_the_volume_goes_from_nothing_to_all_before_and_while_it_sounds() -> None:
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    for asked, kept in ((60, 60), (-10, 0), (110, 100)):
        sound.volume = asked
        assert sound.volume == kept
    sound.open()
    try:
        assert [sound.change_volume(steps) for steps in (-3, 20, -1)] == [70, 100, 90]
        assert sound._speaker is not None
        assert sound._speaker.volume == 90
    finally:
        sound.close()
