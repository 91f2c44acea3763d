"""Plans of many classes: each is read once, and one that cannot be read costs no other one."""

from __future__ import annotations

import pytest

from floorclock.journal import replay
from floorclock.journal.reading import Header
from floorclock.journal.replay import MOST_HELD, Plans, recorded_session
from floorclock.plan.session import Session
from tests.journal.sample_class import sample_header
from tests.opened_classes import SESSION


def test_a_plan_is_read_once_and_no_more_are_held_than_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []

    def counted(header: Header) -> Session:
        read.append(header.session_text)
        return recorded_session(header)

    monkeypatch.setattr(replay, "recorded_session", counted)
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
