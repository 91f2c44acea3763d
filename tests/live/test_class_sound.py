"""The speaker of a floor: what the coach asked for, what the machine says, and silence by a key."""

from dataclasses import replace
from pathlib import Path

import pytest

from floorclock.clock.cues import CueName
from floorclock.errors import WrongUsage
from floorclock.journal.settings import OUTPUTS, Settings
from floorclock.live.class_sound import ClassSound, SoundOptions, options_from, outputs_for, words_of
from floorclock.plan.session import Cues
from tests.clock.classes import harbour, session_of


def test_the_command_line_goes_before_the_settings_of_the_machine(tmp_path: Path) -> None:
    kept = Settings(sound_offset_ms=180, sound_output="bell", sounds="/cues")
    assert options_from(kept, None, None, None) == SoundOptions(output="bell", offset_ms=180, sounds=Path("/cues"))
    said = options_from(kept, "none", 0, tmp_path)
    assert said == SoundOptions(output="none", offset_ms=0, sounds=tmp_path)


@pytest.mark.parametrize(("output", "offset_ms"), [("trumpet", None), (None, 2_001), (None, -2_001)])
def test_what_there_is_not_is_refused(output: str | None, offset_ms: int | None) -> None:
    with pytest.raises(WrongUsage):
        options_from(Settings(), output, offset_ms, None)


@pytest.mark.parametrize(
    ("output", "names"),
    [
        ("auto", ["miniaudio", "bell"]),
        ("miniaudio", ["miniaudio", "bell"]),
        ("simpleaudio", ["simpleaudio", "bell"]),
        ("bell", ["bell"]),
        ("none", ["none"]),
        ("class.wav", ["wav"]),
    ],
)
def test_outputs_are_tried_in_order_with_the_bell_to_stand_in(output: str, names: list[str]) -> None:
    assert output in OUTPUTS or output.endswith(".wav")
    found = [made.name for made in outputs_for(output, lambda: None)]
    assert len(found) == len(names)
    assert found[0].startswith(names[0][:4])


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
