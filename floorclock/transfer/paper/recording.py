"""A paper sheet as the events of a class, and those in a journal like that of any class.

Invariant: the class is folded before anything is written, every event of it has its effect, and the journal has all of them or
is not there. Splits come out exactly as on paper: the coach's word, judged by no grace.

Who has no row on the sheet was not there: they are not on the roster of the record, so that no minute, flag or load is theirs.
Their start groups stay in use, so that everybody else is where they were.

How long the class was, where somebody said so, counts for everybody's minutes and for nothing else: the parts have the times of
the plan: count-ins are counted, an open part takes its advisory time, timed parts follow each other
without a break. The class ends after the last interval that anything was written down in; where that was the last work of the
plan, the open parts after it belong to the class too. A part of which nothing was written down, before one of which something
was, was not run if it is measured by splits, and had its time otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

from floorclock import __version__
from floorclock.clock.events import (
    ChoiceTaken,
    ClassEnded,
    Event,
    LoadChanged,
    NotFinished,
    OptionChosen,
    PartBegun,
    PartEnded,
    ResultEntered,
    ScoreEntered,
    SplitCorrected,
)
from floorclock.clock.fold import apply
from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState, new_state
from floorclock.errors import FloorclockError, NotFound, WrongUsage
from floorclock.journal.checks import WHOLE_PART
from floorclock.journal.disk import Disk
from floorclock.journal.home import new_journal_path
from floorclock.journal.instants import EARLIEST_YEAR, instant_text
from floorclock.journal.reading import Header, read_journal
from floorclock.journal.shelf import Shelf
from floorclock.journal.whole import write_whole
from floorclock.live.conductor import SystemClock
from floorclock.live.plan_files import Plan
from floorclock.pace.load import MINUTE_MS
from floorclock.plan.roster import Athlete, Roster, give_keys, make_teams
from floorclock.plan.session import OpenPart, Untapped, Windowed
from floorclock.plan.work import Load, LoadUnit
from floorclock.simulate.coach import OPEN_WITHOUT_TIME_MS
from floorclock.transfer.paper.places import Places
from floorclock.transfer.paper.sheet import IntakeSheet, PaperResult, PaperSplit


def record_intake(
    sheet: IntakeSheet,
    plan: Plan,
    home: Path,
    started: datetime | None = None,
    disk: Disk | None = None,
    *,
    again: bool = False,
) -> str:
    """Records a class from paper and gives its id. Without `started`, the class ended just now.

    A sheet that was recorded already is refused, unless it is to be recorded `again`.

    Raises:
        WrongUsage: the class would have begun in the future, or before there were records.
        NotFound: it is recorded already.
        ResourceError: the data folder cannot be made, or the disk did not take the record; nothing is left of it then.
    """
    retelling = PaperEventBuilder(sheet, plan)
    now = SystemClock().wall()
    if started is not None and started.year < EARLIEST_YEAR:
        raise WrongUsage(f"the class cannot have begun in the year {started.year}")
    lasted_ms = max(retelling.now_ms, (sheet.minutes or 0) * MINUTE_MS)
    began = now - timedelta(milliseconds=lasted_ms) if started is None else started.astimezone()
    if began > now:
        raise WrongUsage(f"the class cannot have begun at {instant_text(began)}: that is still to come")
    known = None if again else recorded_before(home, plan.session.title, retelling.events)
    if known is not None:
        raise NotFound(
            f"this looks like class {known}, already recorded (same session, same splits); --again records it once more"
        )
    path = new_journal_path(home, began)
    header = Header(
        id=path.stem,
        started=began,
        session=plan.session.title,
        session_file=plan.file,
        session_text=plan.text,
        roster=Roster(title=plan.roster.title, athletes=_there(sheet, plan)),
        version=__version__,
        paper=True,
    )
    walls = ((event, began + timedelta(milliseconds=event.at_ms)) for event in retelling.events)
    write_whole(path, header, walls, disk)
    return path.stem


def recorded_before(home: Path, session: str, events: Sequence[Event]) -> str | None:
    """The class from paper that has these very events, whatever was said of it afterwards; the newest, None without one."""
    for entry in Shelf(home).classes():
        if not entry.paper or entry.session != session:
            continue
        try:
            kept = read_journal(entry.path).events
        except FloorclockError:
            # It went while we looked, or cannot be read: then nobody can say that it is the same.
            continue
        if list(kept[: len(events)]) == list(events):
            return entry.id
    return None


def _there(sheet: IntakeSheet, plan: Plan) -> tuple[Athlete, ...]:
    """The roster without those who were not there; keys as the whole roster has them, and teams as on the sheet."""
    here = [athlete for athlete in give_keys(plan.roster.athletes) if athlete.name not in sheet.absent]
    first = next(iter(sheet.teams.values()), ())
    numbers = {name: number for number, team in enumerate(first, start=1) for name in team}
    here = [replace(athlete, team=numbers.get(athlete.name, athlete.team)) for athlete in here]
    for part, teams in sheet.teams.items():
        planned = plan.session.parts[part]
        if {*map(frozenset, make_teams(here, planned.team_size))} != {*map(frozenset, teams)}:
            raise WrongUsage(f"{planned.title} has other teams than a part before it: record the two as classes of their own")
    return tuple(here)


class PaperEventBuilder:
    """The class that a sheet tells of, as its events and the state they come to."""

    def __init__(self, sheet: IntakeSheet, plan: Plan) -> None:
        here = _there(sheet, plan)
        self.state: ClassState = new_state(plan.session, here)
        self.events: list[Event] = []
        self.now_ms = 0
        self._sheet = sheet
        self._places = Places(plan)
        self._empty_groups = tuple(
            sorted({athlete.group for athlete in plan.roster.athletes} - {athlete.group for athlete in here})
        )
        """Start groups of which nobody was there."""
        whole = False
        for part in range(sheet.last_part + 1):
            whole = self._run(self._begin(part), is_last=part == sheet.last_part)
        self._cool_down(whole=whole)
        length_ms = None if sheet.minutes is None else sheet.minutes * MINUTE_MS
        self._say(ClassEnded(at_ms=self.now_ms, length_ms=length_ms))

    def _say(self, event: Event) -> None:
        outcome = apply(self.state, event)
        assert outcome.took_effect, f"{event.name} of a checked sheet: {outcome.because or outcome.what}"
        self.events.append(event)

    def _begin(self, part: int) -> PartRun:
        """The run of a part that begins now; an open part after a timed one has begun by itself."""
        self.state.advance(self.now_ms)
        if self.state.run is None or self.state.run.index != part:
            self._say(PartBegun(at_ms=self.now_ms, part=part, groups=self._empty_groups))
        run = self.state.run_of(part)
        assert run is not None
        return run

    def _run(self, run: PartRun, *, is_last: bool) -> bool:
        """Everything that was written down of a part; whether it was run to its end."""
        if isinstance(run.part, OpenPart):
            told = (ms for ms in (run.part.time_ms, run.part.min_ms, run.part.max_ms) if ms is not None)
            planned = next(told, OPEN_WITHOUT_TIME_MS)
            self.now_ms += planned if run.part.max_ms is None else min(planned, run.part.max_ms)
            return True
        go_ms = run.begun_ms + run.timeline.count_in_ms
        if not isinstance(run.part, Windowed):
            self._results(run, go_ms + (run.timeline.length_ms or 0))
            return True
        last = self._sheet.last_interval(run.index)
        for split in sorted((split for split in self._sheet.splits if split.part == run.index), key=lambda split: split.interval):
            self._split(run, split, go_ms + run.timeline.intervals[split.interval].end_ms)
        counted = any(result.part == run.index for result in self._sheet.results)
        if (last is None and counted) or (last is not None and last >= self._last_work(run)):
            self._results(run, go_ms + (run.timeline.length_ms or 0))
            return True
        self._results(run, self.now_ms if last is None else go_ms + run.timeline.intervals[last].end_ms)
        if not is_last:
            self._say(PartEnded(at_ms=self.now_ms))
        return False

    def _last_work(self, run: PartRun) -> int:
        return max(max(self._places.intervals_of(run.index, name).values(), default=0) for name in self.state.athletes)

    def _split(self, run: PartRun, split: PaperSplit, at_ms: int) -> None:
        name = split.athlete
        # The athlete as on the roster: what the last row said of an option holds for that row.
        usual = self._places.state.assignment(name, run, split.interval)
        wanted = split.option if split.option is not None else usual.option if usual else ""
        here = self.state.assignment(name, run, split.interval)
        if here is not None and here.option != wanted:
            self._say(OptionChosen(at_ms=at_ms, athlete=name, move=split.move, option=wanted))
        self._lifted(run, name, split.interval, split.load, at_ms)
        if split.split_ms is None:
            self._say(NotFinished(at_ms=at_ms, athlete=name, part=run.index, interval=split.interval))
        else:
            corrected = SplitCorrected(
                at_ms=at_ms, athlete=name, part=run.index, interval=split.interval, split_ms=split.split_ms
            )
            self._say(corrected)

    def _lifted(self, run: PartRun, name: str, interval: int, load: Load | None, at_ms: int) -> None:
        """What somebody, or all of a team, moved in an interval: as written, else as planned."""
        usual = self._places.state.assignment(name, run, interval)
        if usual is not None and not usual.items:
            station = self.state.station_of(name, run, interval)
            move = usual.move if station is None else run.part.stations[station].own(usual.move)
            self._load(run, name, move, usual.load, load or usual.load, at_ms)

    def _load(self, run: PartRun, name: str, move: str, usual: Load | None, load: Load | None, at_ms: int) -> None:
        for other in next((team for team in run.teams if name in team), (name,)):
            known = self.state.athletes[other].loads.get(move, usual)
            if load is not None and load != known and load.unit is not LoadUnit.PERCENT:
                self._say(LoadChanged(at_ms=at_ms, athlete=other, move=move, load=load))

    def _results(self, run: PartRun, end_ms: int) -> None:
        results = [result for result in self._sheet.results if result.part == run.index]
        for result in results:
            if result.choice is not None and result.choice != self.state.choices.get((result.athlete, run.index), ""):
                self._say(ChoiceTaken(at_ms=run.begun_ms, athlete=result.athlete, part=run.index, choice=result.choice))
        self.now_ms = end_ms
        for result in results:
            self._result(run, result)
        for score in (score for score in self._sheet.scores if score.part == run.index):
            self._lifted(run, score.athlete, score.interval, score.load, self.now_ms)
            self._counted(score.athlete, score.part, score.interval, score.amount)

    def _result(self, run: PartRun, one: PaperResult) -> None:
        if one.load is not None:
            work = self._places.loaded(one.part, one.athlete)[0]
            self._load(run, one.athlete, work.move, work.load, one.load, self.now_ms)
        reached = {"time_ms": one.time_ms, "rounds": one.rounds, "reps": one.reps}
        if any(value is not None for value in reached.values()):
            self._say(ResultEntered(at_ms=self.now_ms, athlete=one.athlete, part=one.part, **reached))
        if one.score is not None:
            self._counted(one.athlete, one.part, WHOLE_PART, one.score)
        if one.not_finished:
            self._say(NotFinished(at_ms=self.now_ms, athlete=one.athlete, part=one.part, interval=0))

    def _counted(self, athlete: str, part: int, interval: int, amount: Fraction) -> None:
        self._say(ScoreEntered(at_ms=self.now_ms, athlete=athlete, part=part, interval=interval, amount=float(amount)))

    def _cool_down(self, *, whole: bool) -> None:
        """The open parts after the last work of the plan, where all of that was done."""
        parts = self.state.session.parts
        rest = range(self._sheet.last_part + 1, len(parts))
        if whole and all(isinstance(parts[index], Untapped) for index in rest):
            for index in rest:
                self._run(self._begin(index), is_last=False)


def reckoning(sheet: IntakeSheet, plan: Plan) -> str:
    """How the minutes of a class from paper are reckoned, to be told: as somebody said, or by the times of the plan.

    `32 minutes for everybody, by the times of the plan, up to round 3 of The harbour; Carry and sit is not in them`.
    """
    if sheet.minutes is not None:
        return f"{sheet.minutes} minutes for everybody, as was said"
    told = PaperEventBuilder(sheet, plan)
    minutes = told.now_ms / MINUTE_MS
    run = {run.index for run in told.state.runs}
    left = [part.title for index, part in enumerate(plan.session.parts) if index not in run]
    last = told.state.runs[-1]
    words = f"{minutes:.0f} minutes for everybody, by the times of the plan, "
    stopped = sheet.last_interval(sheet.last_part) if last.index == sheet.last_part else None
    if stopped is not None and told.now_ms < (last.natural_end_ms() or told.now_ms):
        words += f"up to the last interval written down (round {last.timeline.intervals[stopped].round} of {last.part.title})"
    else:
        words += f"up to the end of {last.part.title}"
    return words + (f"; what came after it is not in them: {', '.join(left)}" if left else "")
