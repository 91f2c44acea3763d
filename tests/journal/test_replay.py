"""A class comes out of its journal as it was, with nothing but the journal."""

from __future__ import annotations

from pathlib import Path

import pytest

from floorclock.clock.tally import splits
from floorclock.errors import InputProblems
from floorclock.journal.reading import read_journal
from floorclock.journal.replay import recorded_session, replay
from tests.journal.sample_class import sample_header
from tests.opened_classes import plan_at, some_of_everything, started


def test_a_class_folded_from_its_journal_is_the_class(tmp_path: Path, home: Path) -> None:
    one = started(plan_at(tmp_path), home, margin_ms=25_000)
    some_of_everything(one)
    one.die()
    reading = read_journal(one.opened.path)
    assert reading.header is not None
    again = replay(reading.header, reading.events)
    assert splits(again) == splits(one.state) != ()
    assert again.session == one.state.session
    assert again.margin_ms == one.state.margin_ms
    assert replay(reading.header, reading.events, again.session).athletes == again.athletes


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
