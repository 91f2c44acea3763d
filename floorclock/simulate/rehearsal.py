"""Whole classes without a screen: plays a rehearsal, and sums up what was recorded."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from floorclock.clock.state import ClassState
from floorclock.clock.tally import coming, results, splits, whole_part
from floorclock.digest.summary import ClassSummary, summarise
from floorclock.errors import NotFound, ResourceError
from floorclock.journal.instants import instant_text
from floorclock.journal.reading import read_journal
from floorclock.live.conductor import ManualClock, SystemClock
from floorclock.live.opening import start_class, state_of
from floorclock.live.plan_files import Plan
from floorclock.pace.load import session_loads
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.simulate.coach import InventedAthletes, play


def rehearse_class(plan: Plan, home: Path, seed: int) -> ClassSummary:
    """Plays a class at full speed with simulated athletes, records it as a rehearsal, and sums it up.

    Raises:
        ResourceError: the data folder cannot be made, or the disk did not take the record.
    """
    clock = ManualClock(SystemClock().wall())
    opened = start_class(plan, home, clock, rehearsal=True)
    try:
        play(opened.conductor, clock, InventedAthletes(plan.session, opened.roster, seed), opened.settle)
    finally:
        lost = opened.close()
    if lost:
        raise ResourceError(f"the rehearsal was played, but {lost} events never reached the disk: {opened.trouble or 'no room'}")
    return _summary(opened.conductor.state, opened.id, instant_text(opened.started), rehearsal=True)


def recorded_summary(journal: Path, prior: Prior = NO_PRIOR) -> ClassSummary:
    """Sums up a class from its journal, and from what classes before it say of its athletes.

    Raises:
        NotFound: the journal does not say what the class started from.
    """
    reading = read_journal(journal)
    if reading.header is None:
        raise NotFound(f"the journal {journal} does not say what the class started from")
    _, state = state_of(reading.header, reading.events)
    started, rehearsal = instant_text(reading.header.started), reading.header.rehearsal
    summary = _summary(state, reading.header.id, started, rehearsal=rehearsal, prior=prior)
    return replace(summary, paper=reading.header.paper)


def _summary(state: ClassState, class_id: str, started: str, *, rehearsal: bool, prior: Prior = NO_PRIOR) -> ClassSummary:
    margin_ms = state.session.rest_margin_ms if state.margin_ms is None else state.margin_ms
    return summarise(
        state.session,
        tuple(state.athletes.values()),
        splits(state),
        results(state),
        class_id=class_id,
        started=started,
        rest_margin_s=margin_ms / 1000,
        rehearsal=rehearsal,
        whole={(run.index, name): tuple(whole_part(state, run, name)) for run in state.runs for name in state.athletes},
        coming={(run.index, name): tuple(coming(state, run, name)) for run in state.runs for name in state.athletes},
        prior=prior,
        load=session_loads(state),
    )
