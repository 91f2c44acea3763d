"""The cues without a class: a whole session as a file, and each cue told."""

import wave
from pathlib import Path

import numpy as np

from floorclock.cli.listen import play_cues, render_session, session_cues
from floorclock.clock.cues import CueName
from floorclock.live.class_sound import SoundOptions
from floorclock.plan.session import Intervals, OpenPart
from tests.clock.classes import SWING, session_of

SETS = Intervals(title="Sets", work_ms=4_000, rest_ms=3_000, sets=2, work=(SWING,))


def test_parts_and_count_ins_follow_each_other_as_planned() -> None:
    cues, length_ms = session_cues(session_of(OpenPart(title="Warm-up", time_ms=5_000), SETS))
    assert length_ms == 5_000 + 10_000 + 4_000 + 3_000 + 4_000
    assert (15_000, CueName.GO) in cues
    assert (22_000, CueName.GO) in cues
    assert cues[-1] == (26_000, CueName.END)


def test_a_rendered_cue_starts_on_its_sample(tmp_path: Path) -> None:
    path = tmp_path / "class.wav"
    length_ms, problems = render_session(session_of(SETS), path)
    assert problems == ()
    with wave.open(str(path)) as file:
        assert file.getframerate() == 48_000
        samples = np.frombuffer(file.readframes(file.getnframes()), dtype=np.int16)
    assert len(samples) >= length_ms * 48
    first_pip = 7_000 * 48
    assert not samples[:first_pip].any()
    assert np.flatnonzero(samples)[0] - first_pip < 10


def test_every_cue_is_told_with_what_it_means_even_without_a_device() -> None:
    told: list[str] = []
    play_cues(told.append, SoundOptions(output="miniaudio"))
    assert [line.split()[0] for line in told[: len(CueName)]] == [name.value for name in CueName]
    assert "no sound device" in told[-1]


def test_who_wants_no_sound_is_not_told_that_a_device_is_missing() -> None:
    told: list[str] = []
    play_cues(told.append, SoundOptions(output="none"))
    assert [line.split()[0] for line in told] == [name.value for name in CueName]
