"""Ratings in the journal of a class that is over."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from floorclock.clock.events import EffortRated
from floorclock.errors import FloorclockError
from floorclock.journal.reading import read_journal
from floorclock.journal.shelf import Shelf
from floorclock.simulate.rehearsal import rehearse_class
from floorclock.tui.review.app import JournalSource, ReviewApp
from tests.plan import shipped


@pytest.fixture
def journal(home: Path) -> Path:
    rehearse_class(shipped.plan("harbour.yaml"), home, 7)
    return Shelf(home).latest()


async def test_what_is_typed_is_in_the_journal_and_read_back(home: Path, journal: Path) -> None:
    source = JournalSource(home, journal)
    app = ReviewApp(source.digest(), source)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("5", "1", "0", "down", "3", "q")
        async with asyncio.timeout(5):
            while app.return_value is None:
                await pilot.pause(0.01)
    first, second = source.digest().athletes[:2]
    events = [event for event in read_journal(journal).events if isinstance(event, EffortRated)]
    assert [(event.athlete, event.effort) for event in events] == [(first, 1.0), (first, 10.0), (second, 3.0)]
    load = {load.name: load for load in JournalSource(home, journal).digest().load}
    assert load[first].effort == 10.0
    assert load[first].load == pytest.approx(10 * load[first].minutes)


def test_a_rating_of_a_stranger_is_refused(home: Path, journal: Path) -> None:
    before = journal.read_bytes()
    with pytest.raises(FloorclockError):
        JournalSource(home, journal).rate("Nobody of that name", 4.0)
    assert journal.read_bytes() == before


def test_a_rehearsal_counts_in_no_week(home: Path, journal: Path) -> None:
    source = JournalSource(home, journal)
    summary = source.digest()
    source.rate(summary.athletes[0], 6.0)
    weeks = source.weeks(summary)
    assert set(weeks) == set(summary.athletes)
    assert weeks[summary.athletes[0]].load == 0.0
