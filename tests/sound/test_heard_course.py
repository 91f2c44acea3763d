"""The bench's ears: what is missing, doubled, cut off or broken in a recording is told apart."""

from __future__ import annotations

from array import array
from collections import Counter

import pytest

from floorclock.clock.cues import CueName
from floorclock.sound.cueset import CueSet
from floorclock.sound.samples import RATE
from tests.sound.heard_course import Due, Heard, matched

Sound = tuple[float, CueName, float]

TONE_S = 0.4
TONES: CueSet = {name: array("h", bytes(2 * round(TONE_S * RATE))) for name in CueName}
COURSE = [
    Due(at_s, name, answers=False, stretch=0) for at_s, name in ((1.0, CueName.COUNT), (2.0, CueName.COUNT), (3.0, CueName.GO))
]
ALL = ((1.001, CueName.COUNT, TONE_S), (2.0, CueName.COUNT, TONE_S), (3.0, CueName.GO, TONE_S))


@pytest.mark.parametrize(
    ("heard", "found"),
    [
        (ALL, {}),
        (ALL[1:], {"missing": 1}),
        ((*ALL, (1.2, CueName.COUNT, TONE_S)), {"extra": 1}),
        ((*ALL[:2], (3.0, CueName.REST, TONE_S)), {"missing": 1, "extra": 1}),
        ((*ALL[:2], (3.3, CueName.GO, TONE_S)), {"missing": 1, "extra": 1}),
        ((*ALL[:2], (3.0, CueName.GO, TONE_S + 0.03)), {"overlong": 1}),
        ((*ALL, (4.02, CueName.COUNT, 0.09)), {"cut": 1}),
        ((*ALL, (4.02, CueName.COUNT, 0.2)), {"extra": 1}),
        ((*ALL, (3.95, CueName.COUNT, 0.1)), {"extra": 1}),
    ],
)
def test_every_cue_and_every_sound_is_accounted_for(
    heard: tuple[tuple[float, CueName, float], ...], found: dict[str, int]
) -> None:
    """The key that cuts a sound off comes at 4.0 s."""
    sounds = [Heard(at_s, name, length_s, 0.0) for at_s, name, length_s in heard]
    told = matched(COURSE, sounds, [4.0], TONES)
    counts = Counter(missing=len(told.missing), extra=len(told.extra), cut=len(told.cut), overlong=len(told.overlong))
    assert +counts == Counter(found)
    assert len(told.errors) == len(COURSE) - len(told.missing)
