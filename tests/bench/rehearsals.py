"""Ten thousand rehearsals of 20 athletes and 20 intervals, against drawing as many bare normal numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

import numpy as np

from floorclock.clock.state import new_state
from floorclock.pace.prior import MovePace
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Unit
from floorclock.simulate.many import rehearse_many
from tests.bench.common import Figure, rotation, took_ms

MOST_MS = 500.0
PEOPLE, TIMES = 20, 10_000
MOVES = ("row", "press", "squat", "swing")


def figures() -> Iterator[Figure]:
    """One line, in processor time of one core."""
    session, problems = read_session(rotation(5, [f"move: {move}, target: 10 reps" for move in MOVES]), "plan.yaml")
    assert session is not None, problems
    people = [Athlete(name=f"Athlete {number}", group=number % 4 + 1) for number in range(PEOPLE)]
    pace = MovePace(level=math.log(3.7), level_sd=0.06, drift=0.02, drift_sd=0.015, amount=Fraction(10), classes=5)
    prior = {(one.name, station.move, Unit.REPS): pace for one in people for station in session.moves()}
    state = new_state(session, people)
    ours_ms = took_ms(lambda: rehearse_many(state, prior, TIMES, 1), times=5)
    bare_ms = took_ms(lambda: np.random.default_rng(1).standard_normal((PEOPLE, 20, TIMES), np.float32), times=5)
    yield Figure("10,000 rehearsals of 20 x 20", ours_ms, "ms", baseline=bare_ms, most=MOST_MS)
