"""One whole class without a screen, played and recorded as a rehearsal."""

from __future__ import annotations

from pathlib import Path

from floorclock.digest.build import Label, digest_of
from floorclock.digest.class_digest import ClassDigest
from floorclock.errors import ResourceError
from floorclock.journal.instants import instant_text
from floorclock.live.conductor import ManualClock, SystemClock
from floorclock.live.opening import start_class
from floorclock.live.plan_files import Plan, moves_of
from floorclock.simulate.coach import InventedAthletes, play


def rehearse_class(plan: Plan, home: Path, seed: int) -> ClassDigest:
    """Plays a class at full speed with simulated athletes, records it as a rehearsal, and gives its digest.

    Raises:
        ResourceError: the data folder cannot be made, or the disk did not take the record.
        InputProblems: the coach's own moves have problems.
    """
    moves = moves_of(home)
    clock = ManualClock(SystemClock().wall())
    opened = start_class(plan, home, clock, rehearsal=True)
    try:
        play(opened.conductor, clock, InventedAthletes(opened.roster, seed, moves), opened.settle)
    finally:
        lost = opened.close()
    if lost:
        raise ResourceError(f"the rehearsal was played, but {lost} events never reached the disk: {opened.trouble or 'no room'}")
    label = Label(class_id=opened.id, started=instant_text(opened.started), rehearsal=True)
    return digest_of(opened.conductor.state, label)
