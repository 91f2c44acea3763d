"""The speaker of a floor: what the coach asked for, what the machine says, and silence by a key."""

import threading
import time
from contextlib import closing
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
    with closing(sound):
        sound.open()
        sound.schedule(0.0, CueName.GO)
        sound.say(0.0, "never learnt")
        sound.withdraw()
        sound.quiet = True
        assert sound.trouble == "sound off"


@pytest.mark.parametrize(("folder", "words"), [("", "go.wav"), ("my\0sounds", "cannot be read as a folder")])
def test_what_is_wrong_with_the_coachs_own_sounds_is_told_and_the_class_goes_on(tmp_path: Path, folder: str, words: str) -> None:
    (tmp_path / "go.wav").write_bytes(b"no sound at all")
    sound = ClassSound(SoundOptions(output="none", sounds=Path(f"{tmp_path}/{folder}")), lambda: None)
    with closing(sound):
        sound.open()
    assert any(words in problem for problem in sound.problems)
    # Silence that was asked for is no trouble.
    assert sound.trouble == ""


def defective(*told: object) -> None:
    raise ZeroDivisionError(*told)


@pytest.mark.parametrize(
    ("what", "instead", "words"), [("engine", lambda: "", "no speech engine"), ("spoken", defective, "no voice: first, swing")]
)
def test_a_speech_engine_that_is_missing_or_odd_is_told_once(
    what: str, instead: object, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"floorclock.sound.voice.{what}", instead)
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    sound.learn(["first, swing", "next, step-up"])
    (problem,) = sound.problems
    assert words in problem


def test_every_word_is_learnt_once_and_none_where_no_voice_is_wanted() -> None:
    session = session_of(harbour(rounds=3))
    assert words_of(session, (1,)) == ()
    spoken = words_of(replace(session, cues=Cues(voice=True)), (1,))
    assert spoken[:3] == ("first, kettlebell swing, 14", "next, step-up, 10", "next, rest")
    assert len(set(spoken)) == len(spoken)


def test_a_defect_in_opening_is_told_and_the_bell_rings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floorclock.sound.cueset.load_cues", defective)
    rung = threading.Event()
    sound = ClassSound(SoundOptions(output="none"), rung.set)
    with closing(sound):
        sound.open()
        assert sound.trouble == "no sound"
        assert "ZeroDivisionError" in sound.problems[0]
        sound.schedule(time.monotonic() + 0.05, CueName.GO)
        assert rung.wait(5)


def test_the_volume_goes_from_nothing_to_all_before_and_while_it_sounds() -> None:
    sound = ClassSound(SoundOptions(output="none"), lambda: None)
    for asked, kept in ((60, 60), (-10, 0), (110, 100)):
        sound.volume = asked
        assert sound.volume == kept
    with closing(sound):
        sound.open()
        assert [sound.change_volume(steps) for steps in (-3, 20, -1)] == [70, 100, 90]
        assert sound._speaker is not None
        assert sound._speaker.volume == 90
