"""The coach's own plans: when each was last run, and how it went.

Invariant: a plan is known in the records by its title; rehearsals do not count. A file that is no plan is left out, one that
can't be read is listed as that.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar, Final

from floorclock.insight.as_json import ANSWER, Instant, Seconds
from floorclock.journal.disk import read_file
from floorclock.plan.read_session import read_session
from floorclock.plan.totals import session_ms
from floorclock.store.store import Store
from floorclock.store.tallies import ClassTally, class_tallies

MOST_READ: Final = 1 << 20
MOST_FILES: Final = 1_000
ENDINGS: Final = (".yaml", ".yml")
_IS_PLAN: Final = re.compile(rb"^session[ \t]*:", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnPlan:
    """One file. `held` of the `measured` athletes of the last class kept margin and pace; None where nobody was so timed."""

    file: str
    title: str
    problems: int
    time_ms: Seconds[int | None] = None
    runs: int = 0
    last: Instant | None = None
    athletes: int | None = None
    measured: int | None = None
    held: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnPlans:
    """The plans of a folder: the one that was run last first, those never run behind, by name."""

    folder: str
    plans: tuple[OwnPlan, ...]
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER


def own_plans(folder: Path, store: Store) -> OwnPlans:
    """The plans of a folder, not of those in it.

    Raises:
        ResourceError: the store refuses.
        OSError: the folder can't be read.
    """
    by_title: dict[str, list[ClassTally]] = {}
    for tally in class_tallies(store, None, None):
        by_title.setdefault(tally.session, []).append(tally)
    files = sorted(path for path in folder.iterdir() if path.suffix.lower() in ENDINGS and path.is_file())[:MOST_FILES]
    found = [plan for path in files if (plan := _plan(path, by_title)) is not None]
    run = sorted((plan for plan in found if plan.last is not None), key=lambda plan: plan.last or datetime.min, reverse=True)
    return OwnPlans(folder=str(folder), plans=(*run, *(plan for plan in found if plan.last is None)))


def _plan(path: Path, by_title: dict[str, list[ClassTally]]) -> OwnPlan | None:
    try:
        data = read_file(path, MOST_READ)
    except OSError:
        return OwnPlan(file=path.name, title="", problems=1)
    if _IS_PLAN.search(data) is None:
        return None
    session, problems = read_session(data, path.name)
    if session is None:
        return OwnPlan(file=path.name, title="", problems=sum(problem.severity == "error" for problem in problems))
    run = by_title.get(session.title, [])
    plan = OwnPlan(file=path.name, title=session.title, problems=0, time_ms=session_ms(session), runs=len(run))
    if run:
        plan = replace(plan, last=run[-1].started, athletes=run[-1].athletes)
    if run and run[-1].cases:
        plan = replace(plan, measured=run[-1].cases, held=run[-1].held)
    return plan
