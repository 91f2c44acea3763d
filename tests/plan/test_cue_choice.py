"""What a coach may change for one run, and what is refused."""

import pytest

from floorclock.plan.cue_choice import CHOICES, chosen_cues
from floorclock.plan.durations import UnreadableError
from floorclock.plan.fileformat import CuesFile
from floorclock.plan.session import Cues


@pytest.mark.parametrize(
    ("text", "cues"),
    [
        ("", Cues()),
        ("count=5", Cues(count=5)),
        ("last_ten=off half=on", Cues(last_ten=False, half=True)),
        ("pace=4, volume=60", Cues(pace=4, volume=60)),
        ("volume=60% voice=on attention=no", Cues(volume=60, voice=True, attention=False)),
        ("rest=false last_round=false count=0", Cues(rest=False, last_round=False, count=0)),
    ],
)
def test_choices_change_what_they_name_and_nothing_else(text: str, cues: Cues) -> None:
    assert chosen_cues(text, Cues()) == cues


def test_what_is_not_named_stays_as_the_plan_says() -> None:
    assert chosen_cues("half=on", Cues(count=1, pace=3)) == Cues(count=1, pace=3, half=True)


@pytest.mark.parametrize(
    ("text", "message", "hint"),
    [
        ("count", "`count` says nothing", "count=5"),
        ("cuont=5", "there is no cue `cuont`", "did you mean count?"),
        ("count=many", "count: `many` is no whole number", "5"),
        ("count=11", "count:", "10"),
        ("volume=101", "volume:", "100"),
        ("half=maybe", "half: `maybe` is neither true nor false", "true or false"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_way_out(text: str, message: str, hint: str) -> None:
    with pytest.raises(UnreadableError) as refused:
        chosen_cues(text, Cues())
    assert message in refused.value.message
    assert hint in refused.value.message + refused.value.hint


def test_the_words_are_those_of_the_session_file() -> None:
    assert set(CHOICES) == {*CuesFile.model_fields, "voice"}
