"""A class when it is over: its digest, efforts, and what the coach sets right.

Invariant: what comes back without an error is on the disk, and what would change nothing is not written. Nothing here moves the
class clock: the events carry the class time at which the class had come to its end.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from floorclock.clock.events import ChoiceTaken, EffortRated, Event, NotFinished, ResultEntered, SplitCorrected
from floorclock.clock.fold import apply
from floorclock.clock.outcome import What
from floorclock.digest.build import Label, digest_of
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.journal.disk import Disk
from floorclock.journal.instants import instant_text
from floorclock.journal.reading import Header, JournalReading, read_journal
from floorclock.journal.replay import replay
from floorclock.journal.writer import NO_ANSWER, JournalWriter
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


def add_event(journal: Path, event: Event, *, disk: Disk | None = None) -> None:
    """Adds an effort or a correction to the journal of a class that is over; it is on the disk when this returns.

    `at_ms` of the event is the class's to say. What a dying machine tore off the journal's end is saved aside, as when a class is
    resumed.

    Raises:
        NotFound: there is no such class, or its journal does not say what it started from.
        InputProblems: the plan in the journal cannot be read by this version.
        WrongUsage: the class has not ended, or the event is none of those, or would change nothing; says why.
        ResourceError: the class is running now (`ClassInUse`), or the disk does not take it.
    """
    writer = JournalWriter.reopen(journal, on_written=lambda seq, event, durable: None, disk=disk)
    try:
        ready = _tried(journal.stem, writer.reading, event)
    except BaseException:
        writer.close()
        raise
    writer.append(ready, SystemClock().wall())
    if writer.close():
        raise ResourceError(f"it was not kept: {writer.trouble or NO_ANSWER}")


def _tried(class_id: str, reading: JournalReading | None, event: Event) -> Event:
    """The event as it will be written, tried on the class first."""
    assert reading is not None
    assert reading.header is not None
    state = replay(reading.header, reading.events)
    if not state.over:
        raise WrongUsage(f"class {class_id} has not ended: carry it on (floorclock resume {class_id}) and end it first")
    if not isinstance(event, SAYS_AFTERWARDS):
        raise WrongUsage(f"`{event.name}` cannot be said of a class that is over")
    ready = replace(event, at_ms=state.now_ms)
    outcome = apply(state, ready)
    if outcome.what is What.UNKNOWN:
        raise WrongUsage(f"nobody called {outcome.athlete} was in the class")
    if not outcome.took_effect:
        raise WrongUsage(outcome.because or f"that changes nothing: {outcome.what}")
    return ready
