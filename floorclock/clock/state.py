"""The class as it stands, and every question about it.

Invariant: only the fold (`fold.py`) and `advance` change a state. `advance` adds what time alone brings about: a part
that is over, an open part that follows it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from floorclock.clock.announce import announcements
from floorclock.clock.cues import Cue
from floorclock.clock.run import PartRun, Stretch, Taken
from floorclock.clock.splits import Mark, Status
from floorclock.clock.timeline import PartTimeline, part_timeline, station_index
from floorclock.plan.roster import Assignment, Athlete, assign, give_keys, make_teams
from floorclock.plan.session import AnyPart, Choice, OpenPart, Paced, Piece, RestPart, Rotation, Session, Untapped
from floorclock.plan.shares import amount_in_round
from floorclock.plan.work import Station


@dataclass
class ClassState:
    """One class at `now_ms` on its clock. Read it freely; change it with events only (`fold.apply`)."""

    session: Session
    athletes: dict[str, Athlete]
    now_ms: int = 0
    runs: list[PartRun] = field(default_factory=list)
    next_part: int | None = 0
    paused: bool = False
    over: bool = False
    ended_by_coach: bool = False
    said_length_ms: int | None = None
    """How long the class was, where somebody said so."""
    away: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Who went home: the first (part, interval) that they missed."""
    absences: dict[str, list[tuple[tuple[int, int], tuple[int, int]]]] = field(default_factory=dict)
    """Who came late, or left and came back: from the first (part, interval) they missed to the first that is theirs again."""
    groups: dict[str, list[tuple[int, int, int]]] = field(default_factory=dict)
    """Changes of start group: (part, first interval, group)."""
    choices: dict[tuple[str, int], str] = field(default_factory=dict)
    margin_ms: int | None = None
    part_margins: dict[int, int] = field(default_factory=dict)
    taken: Taken = field(default_factory=dict)
    quiet: set[str] = field(default_factory=set)
    """Athletes whose flags call nobody: the coach knows about them."""
    efforts: dict[str, float] = field(default_factory=dict)
    _assigned: dict[tuple[str, int], tuple[Athlete, Station, Assignment]] = field(default_factory=dict, repr=False, compare=False)
    """What each athlete, as they were then, has at a station: asked for with every split."""

    @property
    def run(self) -> PartRun | None:
        """The part that runs now; None before the first, between parts and at the end."""
        if self.runs and self.runs[-1].ended_ms is None:
            return self.runs[-1]
        return None

    @property
    def present(self) -> tuple[Athlete, ...]:
        """Who is in the class now, in the order of the board."""
        return tuple(athlete for name, athlete in self.athletes.items() if name not in self.away)

    def part(self, index: int) -> AnyPart:
        """A part of the session."""
        return self.session.parts[index]

    def run_of(self, part: int) -> PartRun | None:
        """The run of a part, if it was begun."""
        return next((run for run in self.runs if run.index == part), None)

    def group_of(self, name: str, part: int, interval: int) -> int:
        """The start group an athlete moved with in an interval."""
        group = None
        for changed_part, first, new in self.groups.get(name, ()):
            if (changed_part, first) <= (part, interval):
                group = new
        return self.athletes[name].group if group is None else group

    def station_of(self, name: str, run: PartRun, interval: int) -> int | None:
        """The station (from 0) where an athlete is in an interval of a part; None where nobody works."""
        window = run.timeline.intervals[interval].window
        if window < 0 or not run.part.stations:
            return None
        return station_index(run.part, window, self.group_of(name, run.index, interval))

    def assignment(self, name: str, run: PartRun, interval: int) -> Assignment | None:
        """What an athlete does in an interval, as things stand; None for a rest."""
        if isinstance(run.part, Piece | Paced):
            return None
        index = self.station_of(name, run, interval)
        if index is None or run.part.stations[index].is_rest:
            return None
        return self.assigned(name, run.part.stations[index])

    def assigned(self, name: str, station: Station) -> Assignment:
        """What an athlete does at a station, as things stand."""
        athlete, known = self.athletes[name], self._assigned.get((name, id(station)))
        if known is None or known[0] is not athlete or known[1] is not station:
            known = athlete, station, assign(athlete, station, self.session.load_step)
            self._assigned[name, id(station)] = known
        return known[2]

    def mark(
        self,
        name: str,
        run: PartRun,
        interval: int,
        status: Status,
        split_ms: int | None = None,
        *,
        station: int | None = None,
        **how: bool,
    ) -> Mark:
        """A mark of an interval in which they work, with the work as it stands now; `how` are `credited` and `corrected`.

        `station` saves looking it up where it is known.
        """
        at = self.station_of(name, run, interval) if station is None else station
        assert at is not None
        work = self.assigned(name, run.part.stations[at])
        return Mark(
            status=status,
            split_ms=split_ms,
            move=work.move,
            amount=amount_in_round(run.part.stations[at], work, run.timeline.intervals[interval].round),
            unit=work.target.unit if work.target else None,
            load=work.load,
            items=work.items,
            **how,
        )

    def expected(self, name: str, part: int, interval: int) -> bool:
        """True when the athlete was in the class in an interval."""
        place = (part, interval)
        if any(first <= place < back for first, back in self.absences.get(name, ())):
            return False
        out = self.out_after(name, part)
        if out is not None and interval > out:
            return False
        return name not in self.away or place < self.away[name]

    def out_after(self, name: str, part: int) -> int | None:
        """The interval that put an athlete out of a part with `until_out`; None while they are in."""
        run = self.run_of(part)
        if run is None or not isinstance(run.part, Rotation) or not run.part.until_out:
            return None
        return run.first_missed(name)

    def margin_for(self, name: str, part: int, station: Station | None = None) -> int:
        """The rest margin in force for an athlete: the nearest value that was set, on the floor before in the plan."""
        own = self.athletes[name].rest_margin_ms if name else None
        if own is not None:
            return own
        if part in self.part_margins:
            return self.part_margins[part]
        if self.margin_ms is not None and (station is None or station.rest_margin_ms is None):
            planned = self.part(part).rest_margin_ms
            return self.margin_ms if planned is None else planned
        return self.session.margin_ms(self.part(part), station)

    def choice_of(self, name: str, part: int) -> Choice | None:
        """The alternative to a part's whole work that an athlete does; None for the work as written."""
        written = self.part(part)
        if not isinstance(written, Piece):
            return None
        wanted = self.choices.get((name, part), "")
        return next((choice for choice in written.choose if choice.name == wanted), None)

    def start_delay_ms(self, name: str, run: PartRun) -> int:
        """How much later than the first wave an athlete starts a `for_time` or `amrap` part."""
        if not isinstance(run.part, Piece):
            return 0
        return (self.group_of(name, run.index, 0) - 1) * run.part.wave_every_ms

    def cues_between(self, after_ms: int, through_ms: int) -> Iterator[Cue]:
        """The cues in the class-time window (after_ms, through_ms], as things stand, in order."""
        for run in self.runs:
            if run.ended_ms is None or run.ended_ms > after_ms:
                yield from run.cues_between(after_ms, through_ms)

    def words_between(self, after_ms: int, through_ms: int) -> Iterator[tuple[int, str]]:
        """What is said in the class-time window (after_ms, through_ms], as (when the words are over, words)."""
        run = self.run
        if run is None or not self.session.cues.voice:
            return
        groups = {self.group_of(athlete.name, run.index, 0) for athlete in self.present} or {1}
        last = run.stretches[-1]
        shift = last.moves_from_ms - last.position_ms
        for said in announcements(run.part, run.timeline, groups):
            if said.ends_at_ms > last.position_ms and after_ms < said.ends_at_ms + shift <= through_ms:
                yield said.ends_at_ms + shift, said.words

    def advance(self, to_ms: int) -> None:
        """Brings about what time alone does up to a class time. Never goes back."""
        while True:
            run = self.run
            end_ms = run.natural_end_ms() if run and not self.paused else None
            if run is None or end_ms is None or end_ms > to_ms:
                break
            run.ended_ms = end_ms
            self.follow(run.index, end_ms)
        self.now_ms = max(self.now_ms, to_ms)

    def timeline(self, part: int, also: Collection[int] = ()) -> PartTimeline:
        """The timeline of a part for the start groups that are here now, and others that were."""
        groups = {*also, *(self.group_of(athlete.name, part, 0) for athlete in self.present)} or {1}
        return part_timeline(self.part(part), self.session, groups)

    def planned_run(self, part: int, at_ms: int = 0, groups: Collection[int] = ()) -> PartRun:
        """The run of a part as it would be if it began at a class time; for questions about a part that was not begun."""
        timeline = self.timeline(part, groups)
        return PartRun(part, self.part(part), timeline, at_ms, [Stretch(at_ms, -timeline.count_in_ms)])

    def begin(self, part: int, at_ms: int, groups: Collection[int] = ()) -> None:
        """A part starts, with its count-in. For the fold only."""
        run = self.planned_run(part, at_ms, groups)
        run.teams = self.teams(part)
        self.runs.append(run)
        self.next_part = part + 1 if part + 1 < len(self.session.parts) else None

    def teams(self, part: int) -> list[tuple[str, ...]]:
        """Who would work together in a part if it began now; empty where everybody works alone."""
        size = self.part(part).team_size
        return make_teams(self.present, size) if size > 1 else []

    def rows(self, run: PartRun) -> tuple[str, ...]:
        """The names under which something is recorded in a part, in the order of the board: a team's is its first's."""
        return tuple(name for name in self.athletes if run.recorded_as(name) == name)

    def follow(self, ended: int, at_ms: int) -> None:
        """What comes by itself after a part. For the fold only."""
        if self.next_part is None:
            self.over = True
            return
        rolls_on = isinstance(self.part(ended), RestPart)
        # Nobody should have to press a key to be allowed to rest.
        rests = isinstance(self.part(self.next_part), Untapped) and not isinstance(self.part(ended), OpenPart)
        if rolls_on or rests:
            self.begin(self.next_part, at_ms)


def new_state(session: Session, athletes: Sequence[Athlete], margin_ms: int | None = None) -> ClassState:
    """The state of a class before its first event."""
    here = {athlete.name: athlete for athlete in give_keys(athletes)}
    # Alternatives to whole parts, which the roster gives as options under the part's title.
    choices = {
        (athlete.name, index): athlete.options[part.written]
        for index, part in enumerate(session.parts)
        if isinstance(part, Piece)
        for athlete in athletes
        if athlete.options.get(part.written) in {choice.name for choice in part.choose}
    }
    return ClassState(session, here, margin_ms=margin_ms, choices=choices)
