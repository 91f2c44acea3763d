"""A class without people: invented athletes who tap, and a coach who goes on by the plan.

Invariant: they send the same events that people would, through the same conductor; nothing else knows that they are not real.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from floorclock.clock.events import ClassEnded, Event, NotFinished, PartEnded, ResultEntered, ScoreEntered
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import can_be_tapped
from floorclock.clock.timeline import Interval
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.plan.moves import Moves
from floorclock.plan.roster import Assignment, Athlete, Roster
from floorclock.plan.session import Amrap, ForTime, OpenPart, Paced, Piece, Rotation, ScoreUnit, Untapped, Windowed
from floorclock.plan.work import Station, Unit
from floorclock.simulate import athletes as simulate

STEP_MS = 500
DEMO_OPEN_MS = 8_000
OPEN_WITHOUT_TIME_MS = 60_000
BETWEEN_MS = 20_000
SCORED: Mapping[ScoreUnit, Unit] = {"reps": Unit.REPS, "calories": Unit.CALORIES, "metres": Unit.METRES}
UNKNOWN_LOAD_KG = 40
LONGEST_MS = 12 * 60 * 60 * 1000
"""No rehearsal runs longer on the class clock."""


@dataclass(frozen=True, slots=True, order=True)
class PlannedAction:
    """What somebody will do when the part's clock stands at `position_ms`: a tap, unless `event` says what else."""

    position_ms: int
    athlete: str
    event: Event | None = field(default=None, compare=False)


class InventedAthletes:
    """Taps for a class by what each invented athlete would do. Deterministic for a seed."""

    def __init__(self, roster: Roster, seed: int, moves: Moves | None = None) -> None:
        self._seed, self._moves = seed, moves
        self._people = {person.name: person for person in simulate.simulated_athletes(roster, seed, moves)}
        self._place: tuple[PartRun, int] | None = None
        self._position_ms = 0
        self._deeds: list[PlannedAction] = []
        self._as_planned: dict[str, Athlete] = {}
        self._told: set[int] = set()

    def run(self, conductor: Conductor) -> None:
        """Sends what is due by now, each stamped with its own time."""
        state = conductor.state
        self._tell_results(conductor)
        if state.paused:
            return
        self._do_what_is_due(conductor)
        run = state.run
        if run is None or isinstance(run.part, Untapped):
            return
        position = run.position_ms(conductor.class_ms())
        index = run.timeline.interval_at(position)
        if index is None or position < 0:
            return
        same = self._place is not None and self._place[0] is run and self._place[1] == index
        if not same and conductor.on_their_way:
            return  # Who is out of the part by what was just said has nothing to do in the next interval.
        if not same or position < self._position_ms:
            self._place = (run, index)
            self._as_planned = dict(state.athletes)
            self._deeds = sorted(self._plan(conductor, run, index))
        else:
            self._heed_changes(conductor, run, index, position)
        self._position_ms = position
        self._do_what_is_due(conductor)

    def _heed_changes(self, conductor: Conductor, run: PartRun, index: int, position_ms: int) -> None:
        """Who is told of another amount or move in the middle of the work does that; with more than that done, they stop."""
        if not isinstance(run.part, Windowed):
            return
        for athlete in conductor.state.present:
            before = self._as_planned.get(athlete.name)
            self._as_planned[athlete.name] = athlete
            if before is athlete:
                continue
            team = next((team for team in self._teams(conductor, run) if athlete.name in team), ())
            if all(deed.athlete not in team for deed in self._deeds):
                continue
            others = [deed for deed in self._deeds if deed.athlete not in team]
            own = self._interval_deeds(conductor, run, index, team)
            theirs = [replace(deed, position_ms=max(deed.position_ms, position_ms)) for deed in own]
            self._deeds = sorted([*others, *theirs])

    def _do_what_is_due(self, conductor: Conductor) -> None:
        """The deeds of the interval that was planned last, also when it ended since the last look."""
        if self._place is None:
            return
        run, _ = self._place
        now_ms = conductor.class_ms() if run.ended_ms is None else min(conductor.class_ms(), run.ended_ms)
        position = run.position_ms(now_ms)
        while self._deeds and self._deeds[0].position_ms <= position:
            deed = self._deeds.pop(0)
            due_ms = now_ms - (position - deed.position_ms)
            # What a skip has passed over was never due.
            if run.position_ms(due_ms) != deed.position_ms:
                continue
            when_ns = conductor.class_clock.when(due_ms)
            if deed.event is not None:
                conductor.send(replace(deed.event, at_ms=conductor.stamp(when_ns)))
            else:
                conductor.tap(deed.athlete, when_ns)

    @staticmethod
    def _teams(conductor: Conductor, run: PartRun) -> Iterator[tuple[str, ...]]:
        """Who works together, without those who went home; who works alone is a team of their own."""
        here = [athlete.name for athlete in conductor.state.present]
        for name in conductor.state.rows(run):
            team = next((team for team in run.teams if team[0] == name), (name,))
            left = tuple(member for member in team if member in here)
            if left:
                yield left

    def _plan(self, conductor: Conductor, run: PartRun, index: int) -> Iterator[PlannedAction]:
        for team in self._teams(conductor, run):
            if isinstance(run.part, Windowed):
                yield from self._interval_deeds(conductor, run, index, team)
            elif isinstance(run.part, Paced):
                length_ms = run.timeline.length_ms or 0
                stop = simulate.drop_out_ms(self._person(conductor, team[0]), run.part, length_ms, occasion=str(run.index))
                if stop is not None:
                    yield PlannedAction(stop, team[0])
            else:
                yield from self._lap_deeds(conductor, run, team)

    def _interval_deeds(self, conductor: Conductor, run: PartRun, index: int, team: tuple[str, ...]) -> Iterator[PlannedAction]:
        """A tap, or the coach's word that it was not finished; a score where each set has one."""
        state, interval, part = conductor.state, run.timeline.intervals[index], run.part
        assert isinstance(part, Windowed)
        name = whose_turn(part, interval, team)
        station, work = state.station_of(name, run, index), state.assignment(name, run, index)
        if station is None or work is None or not state.expected(run.recorded_as(name), run.index, index):
            return
        # The place in the round, too: two stations with the same move are two occasions.
        occasion = f"{run.index}/{interval.window % len(part.stations)}/{station}"
        person = self._person(conductor, name)
        if part.score is not None and part.score.each == "set":
            amount = _score(person, work, part.score.unit, interval.round, interval.length_ms, occasion)
            yield PlannedAction(
                interval.end_ms - 1, name, ScoreEntered(at_ms=0, athlete=name, part=run.index, interval=index, amount=amount)
            )
        if part.tap == "none" or not can_be_tapped(work, interval.length_ms):
            return
        pattern = part.stations[station].pattern
        done = simulate.attempt(person, work, interval.round, interval.length_ms, pattern=pattern, occasion=occasion)
        if done.split_ms is not None:
            yield PlannedAction(interval.start_ms + done.split_ms, name)
        elif done.status is Status.NOT_FINISHED:
            missed = NotFinished(at_ms=0, athlete=name, part=run.index, interval=index)
            yield PlannedAction(interval.end_ms - STEP_MS, name, missed)
            if isinstance(part, Rotation) and part.until_out:
                reps = ResultEntered(at_ms=0, athlete=name, part=run.index, reps=done.amount)
                yield PlannedAction(interval.end_ms - STEP_MS + 1, name, reps)

    def _lap_deeds(self, conductor: Conductor, run: PartRun, team: tuple[str, ...]) -> Iterator[PlannedAction]:
        assert isinstance(run.part, Piece)
        delay = conductor.state.start_delay_ms(team[0], run)
        laps = self._laps(conductor, run, team)
        ends = laps.ends_ms
        if isinstance(run.part, ForTime) and run.part.tap == "finish":
            ends = ends[-1:] if len(ends) == course_of(conductor.state, run.index, team[0]).rounds else ()
        # In a team whoever stands nearest says that they are done.
        yield from (PlannedAction(delay + end, team[number % len(team)]) for number, end in enumerate(ends))

    def _laps(self, conductor: Conductor, run: PartRun, team: tuple[str, ...]) -> simulate.Laps:
        assert isinstance(run.part, Piece)
        members = [(self._person(conductor, name), course_of(conductor.state, run.index, name)) for name in team]
        return simulate.laps(members, run.part.limit_ms, turns=run.part.turns, occasion=str(run.index))

    def _tell_results(self, conductor: Conductor) -> None:
        """What only the athletes know at the end of a part: the rounds, reps and metres that no tap stands for."""
        for run in conductor.state.runs:
            if run.ended_ms is None or run.index in self._told or isinstance(run.part, Untapped):
                continue
            self._told.add(run.index)
            for team in self._teams(conductor, run):
                for event in self._told_by(conductor, run, team):
                    conductor.send(event)

    def _told_by(self, conductor: Conductor, run: PartRun, team: tuple[str, ...]) -> Iterator[Event]:
        name, part = team[0], run.part
        if isinstance(part, Piece):
            laps = self._laps(conductor, run, team)
            unfinished = isinstance(part, ForTime) and run.recorded_as(name) not in run.finishes
            if laps.reps and (isinstance(part, Amrap) or unfinished):
                rounds = len(laps.ends_ms) if unfinished else None
                yield ResultEntered(at_ms=conductor.stamp(), athlete=name, part=run.index, rounds=rounds, reps=laps.reps)
            amount = float(math.floor(laps.amounts.get(SCORED[part.score.unit], Fraction(0)))) if part.score is not None else 0
        elif isinstance(part, Windowed) and part.score is not None and part.score.each == "part":
            amount = sum(self._set_scores(conductor, run, team, part.score.unit))
        else:
            return
        if part.score is not None and amount:
            yield ScoreEntered(at_ms=conductor.stamp(), athlete=name, part=run.index, interval=-1, amount=amount)

    def _set_scores(self, conductor: Conductor, run: PartRun, team: tuple[str, ...], unit: ScoreUnit) -> Iterator[float]:
        """What was counted in each window of work that was run to its end."""
        assert isinstance(run.part, Windowed)
        reached_ms = run.position_ms(conductor.class_ms())
        for index, interval in enumerate(run.timeline.intervals):
            name = whose_turn(run.part, interval, team)
            work = conductor.state.assignment(name, run, index)
            if work is not None and interval.end_ms <= reached_ms:
                person = self._person(conductor, name)
                yield _score(person, work, unit, interval.round, interval.length_ms, f"{run.index}/{index}")

    def _person(self, conductor: Conductor, name: str) -> simulate.SimulatedAthlete:
        if name not in self._people:
            self._people[name] = simulate.simulated_athlete(conductor.state.athletes[name], self._seed, moves=self._moves)
        return self._people[name]


def course_of(state: ClassState, index: int, name: str) -> simulate.Course:
    """What an athlete has to do in a part against the clock, with their options, levels and loads."""
    part, choice = state.part(index), state.choice_of(name, index)
    assert isinstance(part, Piece)

    def assigned(stations: Sequence[Station]) -> tuple[Assignment, ...]:
        return tuple(state.assigned(name, item) for item in stations)

    return simulate.Course(
        work=assigned(choice.work if choice and choice.work else part.work),
        rounds=(choice.rounds if choice and choice.rounds else part.rounds) if isinstance(part, ForTime) else None,
        buy_in=assigned(part.buy_in),
        cash_out=assigned(part.cash_out),
        rest_ms=part.round_rest_ms if isinstance(part, ForTime) else 0,
    )


def whose_turn(part: Windowed, interval: Interval, team: Sequence[str]) -> str:
    """Who of a team works in an interval; where all work, the first stands for them."""
    if part.turns == "each interval":
        return team[interval.window % len(team)]
    return team[(interval.round - 1) % len(team)] if part.turns == "each round" else team[0]


def _score(
    person: simulate.SimulatedAthlete, work: Assignment, unit: ScoreUnit, round_number: int, window_ms: int, occasion: str
) -> float:
    """What somebody counts in a window: as many as they can, the amount of the target, or the load on the bar in kg."""
    if unit == "load":
        load = work.load.in_kg if work.load is not None else None
        return float(UNKNOWN_LOAD_KG if load is None else load)
    target = work.target
    if target is not None and not target.most and target.unit is SCORED[unit]:
        return float(target.in_round(round_number))
    return simulate.most_in(person, work, SCORED[unit], round_number, window_ms, occasion=occasion)


class InventedCoach:
    """Goes on by the plan: ends open parts when their time is up, starts the next part after a breath."""

    def __init__(self, *, longest_open_ms: float = math.inf) -> None:
        self._longest_open_ms = longest_open_ms

    def run(self, conductor: Conductor) -> None:
        """Presses what a coach would press now."""
        state = conductor.state
        if state.paused or state.over or conductor.on_their_way:
            return
        run = state.run
        if run is None:
            ended = state.runs[-1].ended_ms if state.runs else None
            rested = ended is None or conductor.class_ms() - ended >= BETWEEN_MS
            if state.next_part is not None and rested:
                conductor.begin(state.next_part)
            return
        if isinstance(run.part, Rotation) and run.part.until_out and self._all_out(conductor, run):
            conductor.send(PartEnded(at_ms=conductor.stamp()))
            return
        if not isinstance(run.part, OpenPart):
            return
        planned_ms = OPEN_WITHOUT_TIME_MS if run.part.time_ms is None else run.part.time_ms
        if run.position_ms(conductor.class_ms()) < min(planned_ms, self._longest_open_ms):
            return
        if state.next_part is not None:
            conductor.begin(state.next_part)
        else:
            conductor.send(PartEnded(at_ms=conductor.stamp()))

    @staticmethod
    def _all_out(conductor: Conductor, run: PartRun) -> bool:
        """True when nobody is left who goes on; the last ones finish the interval that they are out in."""
        state, index = conductor.state, run.interval_at(conductor.class_ms())
        out = [state.out_after(name, run.index) for name in state.rows(run) if name not in state.away]
        return index is not None and bool(out) and all(last is not None and last < index for last in out)


class DemoAutopilot:
    """Both at once, for a floor that shows itself."""

    def __init__(self, athletes: InventedAthletes, coach: InventedCoach) -> None:
        self._athletes, self._coach = athletes, coach

    def run(self, conductor: Conductor) -> None:
        """Everything that is due."""
        self._athletes.run(conductor)
        self._coach.run(conductor)


def play(conductor: Conductor, clock: ManualClock, athletes: InventedAthletes, settle: Callable[[], None]) -> None:
    """Plays the whole class at full speed. `settle` waits until the journal has everything that was sent."""
    coach = InventedCoach()
    while not conductor.state.over and conductor.class_ms() < LONGEST_MS:
        # What was done up to now, what the coach makes of it, what is done from now on.
        for somebody in (athletes, coach, athletes):
            somebody.run(conductor)
            settle()
        conductor.tick()
        clock.move_ms(_quiet_ms(conductor))
    athletes.run(conductor)
    settle()
    conductor.send(ClassEnded(at_ms=conductor.stamp()))
    settle()


def _quiet_ms(conductor: Conductor) -> int:
    """How long nobody has to be looked at: to the end of a timed interval, since what is done in it carries its own time."""
    run = conductor.state.run
    if run is None or isinstance(run.part, OpenPart):
        return STEP_MS
    position = run.position_ms(conductor.class_ms())
    index = run.timeline.interval_at(position)
    until = 0 if position < 0 else position if index is None else run.timeline.intervals[index].end_ms
    # On the same steps as everything else, so that the coach starts the next part at the same instant.
    return max(STEP_MS, -(-(until - position) // STEP_MS) * STEP_MS)
