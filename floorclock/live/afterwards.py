"""A class when it is over: its digest, efforts, and what the coach sets right.

Invariant: what comes back without an error is on the disk, and what would change nothing is not written. Nothing here moves the
class clock: the events carry the class time at which the class had come to its end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from floorclock.clock.events import ChoiceTaken, EffortRated, Event, NotFinished, ResultEntered, SplitCorrected
from floorclock.clock.fold import apply
from floorclock.clock.outcome import Outcome, What
from floorclock.clock.state import ClassState
from floorclock.digest.build import Label, digest_of
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.disk import Disk
from floorclock.journal.instants import instant_text
from floorclock.journal.reading import Header, JournalReading, read_journal
from floorclock.journal.replay import replay
from floorclock.journal.saver import NO_ANSWER
from floorclock.journal.writer import JournalWriter
from floorclock.live.conductor import SystemClock
from floorclock.pace.prior import NO_PRIOR, Prior

SAYS_AFTERWARDS = EffortRated | SplitCorrected | NotFinished | ResultEntered | ChoiceTaken


def recorded_digest(
    journal: Path, prior: Callable[[Header], Prior] = lambda header: NO_PRIOR, *, forecast: bool = True
) -> ClassDigest:
    """The digest of a class from its journal, and from what classes before it say of its athletes; `forecast` as in `digest_of`.

    Raises:
        NotFound: the journal does not say what the class started from.
        InputProblems: the plan in the journal cannot be read by this version.
    """
    reading = read_journal(journal)
    header = reading.header
    if header is None:
        raise NotFound(f"the journal {journal} does not say what the class started from")
    label = Label(class_id=header.id, started=instant_text(header.started), rehearsal=header.rehearsal, paper=header.paper)
    return digest_of(replay(header, reading.events), label, prior(header), forecast=forecast)


def add_event(journal: Path, event: Event, *, wall: datetime | None = None, disk: Disk | None = None) -> None:
    """Adds one event to the journal of a class that is over; as `add_events`."""
    add_events(journal, [event], wall=wall, disk=disk)


def add_events(journal: Path, events: Iterable[Event], *, wall: datetime | None = None, disk: Disk | None = None) -> ClassState:
    """Adds efforts and corrections to the journal of a class that is over, all of them or none; gives the class as it is then.

    They are on the disk when this returns. `at_ms` of the events is the class's to say. What a dying machine tore off the
    journal's end is saved aside, as when a class is resumed. `wall` is the label of when it was said, now without one.

    Raises:
        NotFound: there is no such class, or its journal does not say what it started from.
        InputProblems: the plan in the journal cannot be read by this version.
        WrongUsage: the class has not ended, or an event is none of those, or would change nothing; says why.
        ResourceError: the class is running now (`ClassInUse`), or the disk does not take it.
    """
    writer = JournalWriter.reopen(journal, on_written=lambda seq, event, durable: None, disk=disk)
    try:
        state, ready = _ready(journal.stem, writer.reading, events)
    except BaseException:
        writer.close()
        raise
    label = wall or SystemClock().wall()
    writer.append_all((event, label) for event in ready)
    if writer.close():
        raise ResourceError(f"it was not kept: {writer.trouble or NO_ANSWER}")
    return state


def _ready(class_id: str, reading: JournalReading | None, events: Iterable[Event]) -> tuple[ClassState, list[Event]]:
    """The events as they will be written, each tried on the class first."""
    assert reading is not None
    assert reading.header is not None
    state = replay(reading.header, reading.events)
    if not state.over:
        raise WrongUsage(f"class {class_id} has not ended: carry it on (floorclock resume {class_id}) and end it first")
    ready: list[Event] = []
    for event in events:
        if not isinstance(event, SAYS_AFTERWARDS):
            raise WrongUsage(f"`{event.name}` cannot be said of a class that is over")
        stamped = replace(event, at_ms=state.now_ms)
        outcome = apply(state, stamped)
        if not outcome.took_effect:
            raise WrongUsage(_why_not(outcome))
        ready.append(stamped)
    return state, ready


def _why_not(outcome: Outcome) -> str:
    if outcome.what is What.UNKNOWN:
        return f"nobody called {outcome.athlete} was in the class"
    return outcome.because or f"that changes nothing: {outcome.what}"
