"""Ten thousand rehearsals of 20 athletes and 20 intervals, against drawing as many bare normal numbers."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from fractions import Fraction

import numpy as np

from floorclock.clock.state import new_state
from floorclock.pace.prior import MovePace
from floorclock.plan.read_session import read_session
from floorclock.plan.roster import Athlete
from floorclock.plan.work import Unit
from floorclock.simulate.many import rehearse_many
from tests.bench.common import Figure

MOST_MS = 500.0
PEOPLE, TIMES = 20, 10_000
PLAN = """\
session: Quays
parts:
  - kind: rotation
    title: Minutes
    every: 1:00
    rounds: 5
    stations: [{move: row, target: 10}, {move: press, target: 10}, {move: squat, target: 10}, {move: swing, target: 10}]
"""


def figures() -> Iterator[Figure]:
    """One line, in processor time of one core."""
    session, _ = read_session(PLAN.encode(), "plan.yaml")
    assert session is not None
    people = [Athlete(name=f"Athlete {number}", group=number % 4 + 1) for number in range(PEOPLE)]
    pace = MovePace(level=math.log(3.7), level_sd=0.06, drift=0.02, drift_sd=0.015, amount=Fraction(10), classes=5)
    prior = {(one.name, station.move, Unit.REPS): pace for one in people for station in session.moves()}
    state = new_state(session, people)
    took_ms = _best_ms(lambda: rehearse_many(state, prior, TIMES, 1))
    bare_ms = _best_ms(lambda: np.random.default_rng(1).standard_normal((PEOPLE, 20, TIMES), np.float32))
    yield Figure(what="10,000 rehearsals of 20 x 20", value=took_ms, unit="ms", baseline=bare_ms, most=MOST_MS)


def _best_ms(do: Callable[[], object]) -> float:
    took = []
    for _ in range(5):
        began = time.process_time()
        do()
        took.append(1000 * (time.process_time() - began))
    return min(took)
