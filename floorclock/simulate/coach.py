"""A class without people: invented athletes who tap, and a coach who goes on by the plan.

Invariant: they send the same events that people would, through the same conductor; nothing else knows that they are not real.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from floorclock.clock.events import ClassEnded, NotFinished, PartEnded, ResultEntered
from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.live.conductor import Conductor, ManualClock
from floorclock.plan.roster import Athlete, Roster, assign
from floorclock.plan.session import Amrap, Choice, ForTime, Intervals, OpenPart, Paced, Rotation, Session
from floorclock.simulate import athletes as simulate

STEP_MS = 500
DEMO_OPEN_MS = 8_000
OPEN_WITHOUT_TIME_MS = 60_000
BETWEEN_MS = 20_000
LONGEST_MS = 12 * 60 * 60 * 1000
"""No rehearsal runs longer on the class clock."""


@dataclass(frozen=True, slots=True, order=True)
class Deed:
    """What somebody will do when the part's clock stands at `position_ms`: a tap, or a word of the coach."""

    position_ms: int
    athlete: str
    not_finished: bool = False


class InventedAthletes:
    """Taps for a class by what each invented athlete would do. Deterministic for a seed."""

    def __init__(self, session: Session, roster: Roster, seed: int) -> None:
        self._session = session
        self._seed = seed
        self._people = {person.name: person for person in simulate.simulated_athletes(roster, seed)}
        self._place: tuple[PartRun, int] | None = None
        self._position_ms = 0
        self._deeds: list[Deed] = []
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
        if run is None or isinstance(run.part, OpenPart):
            return
        position = run.position_ms(conductor.class_ms())
        index = run.timeline.interval_at(position)
        if index is None or position < 0:
            return
        same = self._place is not None and self._place[0] is run and self._place[1] == index
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
        if not isinstance(run.part, Rotation | Intervals):
            return
        for athlete in conductor.state.present:
            before = self._as_planned.get(athlete.name)
            self._as_planned[athlete.name] = athlete
            if before is athlete or all(deed.athlete != athlete.name for deed in self._deeds):
                continue
            others = [deed for deed in self._deeds if deed.athlete != athlete.name]
            own = self._interval_deeds(conductor, run, index, athlete, self._person(athlete))
            theirs = [replace(deed, position_ms=max(deed.position_ms, position_ms)) for deed in own]
            self._deeds = sorted([*others, *theirs])

    def _do_what_is_due(self, conductor: Conductor) -> None:
        """The deeds of the interval that was planned last, also when it ended since the last look."""
        if self._place is None:
            return
        run, index = self._place
        now_ms = conductor.class_ms() if run.ended_ms is None else min(conductor.class_ms(), run.ended_ms)
        position = run.position_ms(now_ms)
        while self._deeds and self._deeds[0].position_ms <= position:
            deed = self._deeds.pop(0)
            due_ms = now_ms - (position - deed.position_ms)
            # What a skip has passed over was never due.
            if run.position_ms(due_ms) == deed.position_ms:
                self._do(conductor, run, deed, index, due_ms)

    @staticmethod
    def _do(conductor: Conductor, run: PartRun, deed: Deed, index: int, due_ms: int) -> None:
        if deed.not_finished:
            conductor.send(NotFinished(at_ms=conductor.stamp(), athlete=deed.athlete, part=run.index, interval=index))
        else:
            conductor.tap(deed.athlete, conductor.class_clock.when(due_ms))

    def _plan(self, conductor: Conductor, run: PartRun, index: int) -> Iterator[Deed]:
        for athlete in conductor.state.present:
            person = self._person(athlete)
            if isinstance(run.part, Rotation | Intervals):
                yield from self._interval_deeds(conductor, run, index, athlete, person)
            elif isinstance(run.part, Paced):
                stop = simulate.drop_out_ms(person, run.part, run.timeline.length_ms or 0, occasion=str(run.index))
                if stop is not None:
                    yield Deed(stop, athlete.name)
            else:
                yield from self._lap_deeds(conductor, run, athlete, person)

    def _interval_deeds(
        self, conductor: Conductor, run: PartRun, index: int, athlete: Athlete, person: simulate.SimulatedAthlete
    ) -> Iterator[Deed]:
        interval = run.timeline.intervals[index]
        work = conductor.state.assignment(athlete.name, run, index)
        station = conductor.state.station_of(athlete.name, run, index)
        if work is None or station is None or work.target is None:
            return
        done = simulate.attempt(
            person,
            work.move,
            work.target.in_round(interval.round),
            work.target.unit,
            interval.round,
            interval.length_ms,
            pattern=run.part.stations[station].pattern,
            # The place in the round, too: two stations with the same move are two occasions.
            occasion=f"{run.index}/{interval.window % len(run.part.stations)}/{station}",
        )
        if done.split_ms is not None:
            yield Deed(interval.start_ms + done.split_ms, athlete.name)
        elif done.status is Status.NOT_FINISHED:
            yield Deed(interval.end_ms - STEP_MS, athlete.name, not_finished=True)

    def _lap_deeds(
        self, conductor: Conductor, run: PartRun, athlete: Athlete, person: simulate.SimulatedAthlete
    ) -> Iterator[Deed]:
        delay = conductor.state.start_delay_ms(athlete.name, run)
        laps = self._laps(conductor, run, athlete, person)
        if isinstance(run.part, ForTime):
            if len(laps.ends_ms) < self._rounds(conductor, run, athlete):
                ends: tuple[int, ...] = laps.ends_ms if run.part.tap == "round" else ()
            else:
                ends = laps.ends_ms if run.part.tap == "round" else laps.ends_ms[-1:]
            yield from (Deed(delay + end, athlete.name) for end in ends)
            return
        yield from (Deed(end, athlete.name) for end in laps.ends_ms)

    def _laps(self, conductor: Conductor, run: PartRun, athlete: Athlete, person: simulate.SimulatedAthlete) -> simulate.Laps:
        choice = conductor.state.choice_of(athlete.name, run.index)
        work = [assign(athlete, item) for item in (choice.work if choice and choice.work else run.part.stations)]
        if isinstance(run.part, ForTime):
            rounds = self._rounds(conductor, run, athlete)
            return simulate.for_time_laps(person, work, rounds, run.part.cap_ms, occasion=str(run.index))
        assert isinstance(run.part, Amrap)
        return simulate.amrap_laps(person, work, run.part.time_ms, occasion=str(run.index))

    @staticmethod
    def _rounds(conductor: Conductor, run: PartRun, athlete: Athlete) -> int:
        choice: Choice | None = conductor.state.choice_of(athlete.name, run.index)
        assert isinstance(run.part, ForTime)
        return choice.rounds if choice and choice.rounds else run.part.rounds

    def _tell_results(self, conductor: Conductor) -> None:
        """What only the athletes know at the end of a part: the rounds and reps that no tap stands for."""
        for run in conductor.state.runs:
            if run.ended_ms is None or run.index in self._told or not isinstance(run.part, ForTime | Amrap):
                continue
            self._told.add(run.index)
            for athlete in conductor.state.present:
                laps = self._laps(conductor, run, athlete, self._person(athlete))
                unfinished = isinstance(run.part, ForTime) and athlete.name not in run.finishes
                if laps.reps and (isinstance(run.part, Amrap) or unfinished):
                    rounds = len(laps.ends_ms) if unfinished else None
                    conductor.send(
                        ResultEntered(
                            at_ms=conductor.stamp(), athlete=athlete.name, part=run.index, rounds=rounds, reps=laps.reps
                        )
                    )

    def _person(self, athlete: Athlete) -> simulate.SimulatedAthlete:
        if athlete.name not in self._people:
            self._people[athlete.name] = simulate.simulated_athlete(athlete, self._seed)
        return self._people[athlete.name]


class InventedCoach:
    """Goes on by the plan: ends open parts when their time is up, starts the next part after a breath."""

    def __init__(self, *, longest_open_ms: int | None = None) -> None:
        self._longest_open_ms = longest_open_ms

    def run(self, conductor: Conductor) -> None:
        """Presses what a coach would press now."""
        state = conductor.state
        if state.paused or state.over or conductor.sent != conductor.folded:
            return
        run = state.run
        if run is None:
            ended = state.runs[-1].ended_ms if state.runs else None
            rested = ended is None or conductor.class_ms() - ended >= BETWEEN_MS
            if state.next_part is not None and rested:
                conductor.begin(state.next_part)
            return
        if not isinstance(run.part, OpenPart) or run.position_ms(conductor.class_ms()) < self._open_ms(run.part):
            return
        if state.next_part is not None:
            conductor.begin(state.next_part)
        else:
            conductor.send(PartEnded(at_ms=conductor.stamp()))

    def _open_ms(self, part: OpenPart) -> int:
        planned = OPEN_WITHOUT_TIME_MS if part.time_ms is None else part.time_ms
        return planned if self._longest_open_ms is None else min(planned, self._longest_open_ms)


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
        coach.run(conductor)
        settle()
        athletes.run(conductor)
        settle()
        conductor.tick()
        clock.move_ms(STEP_MS)
    athletes.run(conductor)
    settle()
    conductor.send(ClassEnded(at_ms=conductor.stamp()))
    settle()
