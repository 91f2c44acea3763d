"""A class comes out of its journal as it was, with nothing but the journal."""

from __future__ import annotations

import pytest

from floorclock.errors import InputProblems
from floorclock.journal.replay import recorded_session, session_or_none
from tests.journal.sample_class import sample_header
from tests.opened_classes import SESSION


@pytest.mark.parametrize(
    ("text", "cues"), [("session: Half a plan\n", ""), ("session: A\nparts: [{kind: open, title: B}]\n", "loudness=9")]
)
def test_a_plan_that_this_version_cannot_read_says_so(text: str, cues: str) -> None:
    with pytest.raises(InputProblems) as refused:
        recorded_session(sample_header(session_text=text, cues=cues))
    assert refused.value.problems[0].file == "quay.yaml"


def test_the_cues_that_were_chosen_for_a_class_are_part_of_it() -> None:
    text = "session: A\nparts: [{kind: open, title: B}]\n"
    assert recorded_session(sample_header(session_text=text, cues="voice=on")).cues.voice
    assert not recorded_session(sample_header(session_text=text)).cues.voice


def test_a_plan_is_read_once_and_one_that_cannot_be_read_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    first = session_or_none(sample_header(session_text=SESSION))
    assert first is not None
    monkeypatch.delattr("floorclock.plan.read_session.read_session")
    assert session_or_none(sample_header("another", session_text=SESSION)) is first
    monkeypatch.undo()
    assert session_or_none(sample_header(session_text="not a plan")) is None
    monkeypatch.delattr("floorclock.plan.read_session.read_session")
    assert session_or_none(sample_header("another", session_text="not a plan")) is None
