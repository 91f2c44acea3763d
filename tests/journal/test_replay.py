"""A class comes out of its journal as it was, with nothing but the journal."""

from __future__ import annotations

from pathlib import Path

import pytest

from floorclock.clock.tally import splits
from floorclock.errors import InputProblems
from floorclock.journal import replay as module
from floorclock.journal.reading import Header, read_journal
from floorclock.journal.replay import MOST_HELD, Plans, recorded_session, replay
from floorclock.plan.session import Session
from tests.journal.sample_class import sample_header
from tests.opened_classes import SESSION, plan_at, some_of_everything, started


def test_a_class_folded_from_its_journal_is_the_class(tmp_path: Path, home: Path) -> None:
    live = started(plan_at(tmp_path), home, margin_ms=25_000)
    some_of_everything(live)
    live.die()
    reading = read_journal(live.opened.path)
    assert reading.header is not None
    again = replay(reading.header, reading.events)
    assert splits(again) == splits(live.state) != ()
    assert again.session == live.state.session
    assert again.margin_ms == live.state.margin_ms
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


def test_a_plan_is_read_once_and_no_more_are_held_than_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []

    def counted(header: Header) -> Session:
        read.append(header.session_text)
        return recorded_session(header)

    monkeypatch.setattr(module, "recorded_session", counted)
    held = Plans()
    first = held.of(sample_header(session_text=SESSION))
    assert first is not None
    assert held.of(sample_header("another", session_text=SESSION)) is first
    assert len(read) == 1
    for number in range(MOST_HELD):
        assert held.of(sample_header(session_text=f"not a plan {number}")) is None
    assert held.of(sample_header(session_text="not a plan 7")) is None
    assert len(read) == MOST_HELD + 1
    held.of(sample_header(session_text=SESSION))
    assert len(read) == MOST_HELD + 2
