"""A plan that has been read, looked at as a whole: what it comes to and what a coach should know before the class.

Invariant: the plan is only described, never changed; everything that is wrong with it is a `Problem` of severity `warning`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from floorclock.errors import Problem
from floorclock.plan import concerns, concerns_care, concerns_pace
from floorclock.plan.document import MOST_PROBLEMS, Path, Place
from floorclock.plan.durations import seconds
from floorclock.plan.findings import WHY, CheckContext, Records
from floorclock.plan.kit_needs import KitNeed, kit_needs
from floorclock.plan.moves import Moves
from floorclock.plan.roster import Roster
from floorclock.plan.session import AnyPart, PartKind, Session, Windowed
from floorclock.plan.totals import Volume, count_in_ms, interval_count, planned_ms, rounds_per_station, volume

PROBLEM_KEYS = ("severity", "file", "line", "column", "path", "message", "hint", "kind")
"""What other programs are told of a problem, besides why it matters."""


@dataclass(frozen=True)
class PartCheck:
    """One part: its planned time, its count-in (apart), its windows of work, and how often each station comes round."""

    kind: PartKind
    title: str
    time_ms: int
    count_in_ms: int
    intervals: int
    rounds_per_station: Mapping[str, int]
    work: tuple[str, ...] = ()
    """What is done in it, move by move, where it is more than the names of the stations say."""


@dataclass(frozen=True)
class PlanCheck:
    """What a session comes to. `time_ms` has no count-ins in it; `kit` is empty without a roster.

    `title` is empty where the session could not be read.
    """

    title: str
    parts: tuple[PartCheck, ...]
    time_ms: int
    count_in_ms: int
    class_time_ms: int | None
    volume: tuple[Volume, ...]
    kit: tuple[KitNeed, ...]
    problems: tuple[Problem, ...] = ()
    cautions: tuple[tuple[str, str], ...] = ()
    """The usual cautions of moves that the plan has none for."""
    session: Session | None = None
    roster: Roster | None = None
    """What was looked at; None where it could not be read, or is not there."""

    @property
    def most_kit(self) -> tuple[KitNeed, ...]:
        """The most of each kind of kit over all parts."""
        most: dict[str, KitNeed] = {}
        for need in self.kit:
            if need.kit not in most or need.needed > most[need.kit].needed:
                most[need.kit] = need
        return tuple(most.values())

    @property
    def has_errors(self) -> bool:
        """True when a class cannot be run on it."""
        return any(problem.severity == "error" for problem in self.problems)

    @property
    def to_think_about(self) -> int:
        """How many things there are to think about: neither errors nor what is only good to know."""
        return sum(problem.severity == "warning" for problem in self.problems)

    def to_json(self) -> dict[str, Any]:
        """The shape of `check --json`: seconds as numbers, ints when they are whole."""
        return {
            "session": self.title or None,
            "problems": [
                {key: getattr(problem, key) for key in PROBLEM_KEYS} | {"why": WHY.get(problem.kind, "")}
                for problem in self.problems
            ],
            "time_s": seconds(self.time_ms) if self.title else None,
            "parts": [
                {
                    "kind": part.kind,
                    "title": part.title,
                    "time_s": seconds(part.time_ms),
                    "intervals": part.intervals,
                    "rounds_per_station": dict(part.rounds_per_station),
                }
                for part in self.parts
            ],
            "volume": [
                {"move": v.move, "unit": v.unit.value, "amount": int(v.amount) if v.amount.denominator == 1 else float(v.amount)}
                for v in self.volume
            ],
        }


def check_plan(
    session: Session,
    roster: Roster | None = None,
    *,
    moves: Moves,
    file: str = "",
    places: Mapping[Path, Place] | None = None,
    problems: Iterable[Problem] = (),
    records: Records | None = None,
) -> PlanCheck:
    """Times, costs and questions a plan, for a roster where there is one.

    Args:
        session: the plan, as read.
        roster: who comes; without one, kit at once and gates are not looked at.
        moves: the usual moves, with the coach's own where there are any.
        file: the name of the session file, for the warnings.
        places: those of `read_session_places`; without them warnings have no line.
        problems: what reading said already (warnings of the roster, say), to stand before the check's own.
        records: what earlier classes say of the roster at this plan.
    """
    athletes = roster.athletes if roster else ()
    context = CheckContext(session=session, athletes=athletes, moves=moves, file=file, places=places or {}, records=records)
    needs = kit_needs(session, roster) if roster else ()
    parts = tuple(
        PartCheck(
            part.kind,
            part.title,
            planned_ms(part, context.athletes),
            count_in_ms(part, session),
            interval_count(part),
            rounds_per_station(part),
            () if part.is_again else _work(part),
        )
        for part in session.parts
    )
    return PlanCheck(
        title=session.title,
        parts=parts,
        time_ms=sum(part.time_ms for part in parts),
        count_in_ms=sum(part.count_in_ms for part in parts),
        class_time_ms=session.class_time_ms,
        volume=volume(session),
        kit=needs,
        problems=(*problems, *_findings(context, needs)),
        cautions=_cautions(session, moves),
        session=session,
        roster=roster,
    )


def _findings(context: CheckContext, needs: Iterable[KitNeed]) -> Iterator[Problem]:
    """The findings, part by part; where there are more than anybody reads, the rest of the plan is not looked at."""
    yield from concerns.hour(context)
    yield from concerns.wall(context)
    yield from concerns_care.amounts(context)
    yield from concerns_pace.unknown(context)
    many = 0
    for number, part in enumerate(context.session.parts):
        if part.is_again:
            continue
        if many >= MOST_PROBLEMS:
            yield context.finding("plan", part.path, "there is more to say from here on", "mend some of this first")
            return
        for finding in _of_part(context, part, number):
            many += 1
            yield finding
    for need in needs:
        if not context.session.parts[need.part].is_again:
            yield from concerns.short_kit(context, need)


def _of_part(context: CheckContext, part: AnyPart, number: int) -> Iterator[Problem]:
    if isinstance(part, Windowed):
        yield from concerns.uneven(context, part)
        yield from concerns_care.muscles(context, part)
        yield from concerns_pace.fits(context, part, number)
        yield from concerns_pace.guidance(context, part)
        yield from concerns.least(context, part)
        yield from concerns.windows(context, part)
    yield from concerns_pace.caps(context, part)
    yield from concerns_pace.tempo(context, part)
    yield from concerns.ladders(context, part)
    yield from concerns.listed_kit(context, part)
    yield from concerns_care.not_for_them(context, part)
    yield from concerns.levels(context, part)
    yield from concerns.bests(context, part)


def _cautions(session: Session, moves: Moves) -> tuple[tuple[str, str], ...]:
    silent = {station.move: known for station in session.moves() if not station.caution and (known := moves.find(station.move))}
    return tuple((name, move.caution) for name, move in silent.items() if move.caution)


def check_files(
    session: bytes,
    session_file: str,
    roster: bytes | None = None,
    roster_file: str | None = None,
    *,
    own_moves: tuple[bytes, str] | None = None,
    records: Callable[[Session, Roster], Records | None] = lambda session, roster: None,
) -> PlanCheck:
    """Reads and checks a session file, with a roster and the coach's own moves (bytes and name of the file) where there are any.

    All problems of all of them come at once. `records` is asked for what earlier classes say of both. A session that cannot be
    read gives a check without title, parts and time.
    """
    # Here and not above: reading brings pydantic along, which a running class has no use for.
    from floorclock.plan.read_moves import read_moves, usual_moves
    from floorclock.plan.read_roster import read_roster
    from floorclock.plan.read_session import read_session_places

    plan, problems, places = read_session_places(session, session_file)
    people = None
    if roster is not None:
        people, more = read_roster(roster, roster_file or "roster", plan)
        problems = (*problems, *more)
    moves: Moves | None = usual_moves()
    if own_moves is not None:
        moves, more = read_moves(*own_moves, usual_moves())
        problems = (*problems, *more)
    if plan is None:
        return PlanCheck("", (), 0, 0, None, (), (), problems)
    return check_plan(
        plan,
        people,
        moves=moves or usual_moves(),
        file=session_file,
        places=places,
        problems=problems,
        records=records(plan, people) if people is not None else None,
    )


def _work(part: AnyPart) -> tuple[str, ...]:
    """`front squat 5 at 70 %`, `row strong 14 cal, regular 12 cal`; of each move with a load, levels, or a list of rounds."""
    said = []
    for _, station in part.moves():
        target = station.target
        if station.load is None and (target is None or not (target.levels or target.varies or target.each_side)):
            continue
        goal = "" if target is None else target.plan_words()
        load = "" if station.load is None else station.load.plan_words()
        said.append(f"{station.move} {f'{goal} at {load}' if goal and load else goal or load}")
    return tuple(said)
