"""The lanes and the brief: what to do now, what comes next, who is where; and what it came to when the class is over.

Invariant: what is said of a class that is over has happened: nothing that was only forecast, for no round is to come any more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from floorclock.clock.run import PartRun
from floorclock.clock.splits import Status
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.clock.timeline import station_index
from floorclock.digest.brief import choice_lines, part_lines, said_of, start_lines
from floorclock.digest.words import NO_ADVICE, SAFETY, held_words
from floorclock.digest.work_words import as_written, goal_of, own_words, part_words, planned_words
from floorclock.pace.flags import URGENCY, Flag, flags, most_urgent
from floorclock.plan.roster import Assignment, Athlete
from floorclock.plan.session import ForTime, Paced, Piece, RestPart, Untapped, Windowed
from floorclock.plan.work import Station
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.view import BriefLine, BriefView, LanesView, LaneView, PersonView, Shows
from floorclock.tui.floor.words import TAP_TO_STOP, clock_words

OUT = "out: "


def lanes_view(state: ClassState, here: Moment, shows: Shows = "coach") -> LanesView:
    """The stations in use now with the people at each, and a line of what comes next. To the class everybody is named."""
    run = here.run
    if run is None or isinstance(run.part, Untapped):
        return LanesView((), "")
    if isinstance(run.part, Windowed):
        return _station_lanes(state, here, run, by_name=shows == "class")
    if isinstance(run.part, Paced):
        return _paced_lanes(here, run)
    return _piece_lanes(state, run)


def lanes_after_taps(state: ClassState, before: LanesView, here: Moment) -> LanesView:
    """The same lanes with everybody's mark as it stands now; taps change nothing else of them, and are many."""
    run = here.run
    if run is not None and run.teams and run.part.turns == "each round":
        return lanes_view(state, here)
    if run is None or not isinstance(run.part, Windowed):
        return before
    index = _shown(run, here)
    lanes = tuple(
        replace(lane, people=tuple(replace(person, done=_is_done(run, person.name, index)) for person in lane.people))
        for lane in before.lanes
    )
    return before if lanes == before.lanes else replace(before, lanes=lanes)


def _shown(run: PartRun, here: Moment) -> int | None:
    """The interval whose stations the lanes show: in a rest between sets, the one that comes."""
    at = here.index or 0
    return at if run.timeline.intervals[at].window >= 0 else _next_work(run, at)


def _station_lanes(state: ClassState, here: Moment, run: PartRun, *, by_name: bool) -> LanesView:
    at, shown = here.index or 0, _shown(run, here)
    if shown != at:
        return LanesView(_lanes_at(state, run, shown, by_name=by_name) if shown is not None else (), "", "next")
    coming = _next_work(run, at) if here.index is not None else at
    title = "first" if here.phase is Phase.COUNT and here.position_ms < 0 else "now"
    return LanesView(_lanes_at(state, run, at, by_name=by_name), _next_words(state, run, at, coming), title)


def _next_work(run: PartRun, index: int) -> int | None:
    following = (i for i in range(index + 1, len(run.timeline.intervals)) if run.timeline.intervals[i].window >= 0)
    return next(following, None)


def _lanes_at(state: ClassState, run: PartRun, index: int, *, by_name: bool) -> tuple[LaneView, ...]:
    interval = run.timeline.intervals[index]
    stations = run.part.stations
    people: dict[int, list[Athlete]] = {}
    in_turn = turn_of(run, index) if run.part.turns == "each interval" else None
    for athlete in state.present:
        at = state.station_of(athlete.name, run, index)
        out = state.out_after(athlete.name, run.index)
        # Who came late stands at their station already.
        if at is not None and (in_turn is None or athlete.name in in_turn) and (out is None or index <= out):
            people.setdefault(at, []).append(athlete)
    if not people:
        people = {at: [] for at in range(len(stations))}
    alone = len(people) == 1
    everybody = alone and not by_name and len(people[min(people)]) == len(state.present) > 0
    lanes = []
    for at in sorted(people):
        for number, station in enumerate((stations[at].items if alone else ()) or (stations[at],)):
            written = _common(state, station, people[at])
            persons = [_person(state, run, index, station, written, athlete) for athlete in people[at]]
            if everybody:
                # Where some are named, so are the others, after them: who is not on a list seems to be nowhere.
                named = number == 0 and any(person.own for person in persons)
                persons = sorted((person for person in persons if person.own or named), key=lambda person: not person.own)
            note = "everybody" if everybody and number == 0 and not persons else ""
            lanes.append(_lane(station, written, tuple(persons), interval.round, note))
    return tuple(lanes)


def _lane(station: Station, written: Assignment, people: tuple[PersonView, ...], number: int, note: str) -> LaneView:
    if station.is_rest:
        return LaneView("rest", "", people, True, note)
    if station.items:
        return LaneView(" + ".join(f"{item.words(number)} {item.move}".strip() for item in written.items), "", people, note=note)
    return LaneView(station.move, goal_of(written.target, written.load, number), people, note=note)


def _common(state: ClassState, station: Station, people: Sequence[Athlete]) -> Assignment:
    """The work of a station as written, with the load where all of these people have the same one."""
    written = as_written(station)
    loads = {work.load for work in (state.assigned(athlete.name, station) for athlete in people) if work.move == station.move}
    if len(loads) == 1:
        return replace(written, load=loads.pop())
    by_level = people and station.load is not None and station.load.levels
    return replace(written, load=None) if by_level else written


def _person(state: ClassState, run: PartRun, index: int, station: Station, written: Assignment, athlete: Athlete) -> PersonView:
    number = run.timeline.intervals[index].round
    own = "" if station.is_rest else own_words(state.assigned(athlete.name, station), written, number)
    if not state.expected(athlete.name, run.index, index):
        own = "from the next"
    return PersonView(athlete.name, own, _is_done(run, athlete.name, index))


def _is_done(run: PartRun, name: str, index: int | None) -> bool:
    """Whether they did the work of an interval: who did not finish it has no tick."""
    mark = run.marks.get((run.recorded_as(name), index)) if index is not None else None
    return mark is not None and mark.status is not Status.NOT_FINISHED


def turn_of(run: PartRun, index: int | None) -> set[str]:
    """Whose turn it is in each team, where turns alternate: by the interval, or by the rounds that the team has done."""
    following = run.timeline.intervals[index or 0 :]
    window = next((interval.window for interval in following if interval.window >= 0), 0)
    by_round = run.part.turns == "each round"
    if not by_round and run.part.turns != "each interval":
        return set()
    return {team[(len(run.laps.get(team[0], ())) if by_round else window) % len(team)] for team in run.teams}


def _next_words(state: ClassState, run: PartRun, at: int, coming: int | None) -> str:
    if coming is None:
        return f"next: {_after_part(state)}"
    interval = run.timeline.intervals[coming]
    between = run.timeline.intervals[coming - 1] if coming - 1 > at else None
    rest = f"{clock_words(between.length_ms)} rest, then " if between is not None else ""
    groups = {state.group_of(athlete.name, run.index, coming) for athlete in state.present} or {1}
    if len(groups) > 1 and len({station_index(run.part, interval.window, group) for group in groups}) > 1:
        return f"next: {rest}move on one station"
    station = run.part.stations[station_index(run.part, interval.window, groups.pop())]
    if station.is_rest:
        return "next: rest"
    last = ", last round" if interval.round == run.timeline.intervals[-1].round > run.timeline.intervals[at].round else ""
    written = _common(state, station, state.present)
    goal = "" if station.items else goal_of(written.target, written.load, interval.round)
    move = _lane(station, written, (), interval.round, "").move if station.items or len(run.part.stations) > 1 else ""
    in_turn = [athlete.name for athlete in state.present if athlete.name in turn_of(run, coming)]
    before = run.timeline.intervals[at].round
    if len(run.part.stations) == 1 and _work_in_round(station, before) == _work_in_round(station, interval.round):
        move, goal = "", "the same again"
    who = f": {', '.join(in_turn)}" if in_turn and run.part.turns == "each interval" else ""
    return f"next: {rest}{f'{move} {goal}'.strip() or station.move}{last}{who}"


def _work_in_round(station: Station, number: int) -> str:
    """The work of a station in a round, with its moves."""
    written = as_written(station)
    return _lane(station, written, (), number, "").move + goal_of(written.target, written.load, number)


def _after_part(state: ClassState) -> str:
    """What follows the part that runs."""
    if state.next_part is None:
        return "the end"
    part = state.part(state.next_part)
    if not isinstance(part, RestPart):
        return part.title
    then = state.session.parts[state.next_part + 1 : state.next_part + 2]
    return f"{clock_words(part.time_ms)} rest" + (f", then {then[0].title}" if then else "")


def _piece_lanes(state: ClassState, run: PartRun) -> LanesView:
    part = run.part
    assert isinstance(part, Piece)
    lanes = [
        *(_piece_lane(state, station, "buy-in") for station in part.buy_in),
        *(_piece_lane(state, station) for station in part.stations),
        *(_piece_lane(state, station, "cash-out") for station in part.cash_out),
    ]
    in_turn = turn_of(run, None)
    notes = [f"▸ now: {', '.join(athlete.name for athlete in state.present if athlete.name in in_turn)}"] if in_turn else []
    for choice in part.choose:
        who = [athlete.name for athlete in state.present if state.choices.get((athlete.name, run.index)) == choice.name]
        if who:
            notes.append(f"{choice.name}: {', '.join(who)}")
    notes.append(f"next: {_after_part(state)}")
    rounds = "as many rounds as possible of"
    if isinstance(part, ForTime):
        rounds = f"{part.rounds} rounds of" if part.rounds > 1 else "once through"
    return LanesView(tuple(lanes), "; ".join(notes), rounds)


def _piece_lane(state: ClassState, station: Station, note: str = "") -> LaneView:
    written = _common(state, station, state.present)
    own = ((athlete.name, own_words(state.assigned(athlete.name, station), written, None)) for athlete in state.present)
    differing = tuple(PersonView(name, words) for name, words in own if words)
    if station.items:
        return _lane(station, written, differing, 1, note)
    target = station.target
    if target is not None and target.step:
        sign = "+" if target.step > 0 else ""
        note = f"{sign}{float(target.step):g} each round: {', '.join(target.words(k) for k in range(1, 5))} ..."
    if target is not None and target.amounts:
        load = written.load.words() if written.load is not None else ""
        return LaneView(station.move, f"{target.plan_words()}{' at ' if load else ''}{load}", differing, note=note)
    return LaneView(station.move, goal_of(written.target, written.load, 1), differing, note=note)


def _paced_lanes(here: Moment, run: PartRun) -> LanesView:
    part = run.part
    assert isinstance(part, Paced)
    move = part.stations[0].move
    if part.shuttle is None:
        beats = len([cue for cue in run.timeline.cues_between(0, max(0, here.position_ms) + 1) if cue.name == "pace"])
        rep = max(1, -(-beats // part.beats_per_rep))
        note = f"{float(part.beats_per_minute or 0):g} beats a minute; {TAP_TO_STOP}"
        return LanesView((LaneView(move, f"rep {rep}", (), note=note),), "")
    index = here.index or 0
    stage, interval = part.shuttle.stages[index], run.timeline.intervals[index]
    done = sum(cue.name == "shuttle" for cue in run.timeline.cues_between(interval.start_ms, max(0, here.position_ms) + 1))
    done -= interval.start_ms > 0  # the cue at its first instant ends the stage before
    length = f"{min(done + 1, stage.shuttles)} of {stage.shuttles}"
    lane = LaneView(f"stage {index + 1}: {float(stage.speed_kmh):g} km/h", length, (), note=TAP_TO_STOP)
    following = part.shuttle.stages[index + 1 : index + 2]
    return LanesView((lane,), f"next: {float(following[0].speed_kmh):g} km/h" if following else "next: the end")


def brief_view(state: ClassState, here: Moment, shows: Shows = "coach") -> BriefView | None:
    """The part that is still to come, explained, while nobody works; None while a timed part runs.

    The class is told no keys, and who was flagged is not read out to it.
    """
    brief = _brief_of(state, here, shows)
    if brief is None or shows == "coach":
        return brief
    return replace(brief, lines=tuple(line for line in brief.lines if line[0] != "hint"))


def _brief_of(state: ClassState, here: Moment, shows: Shows) -> BriefView | None:
    if here.phase is Phase.OVER:
        hint: BriefLine = ("hint", "F3 corrects, F6 enters results, F10 leaves; then floorclock review")
        told = [line for run in state.runs for line in _measured_lines(state, run, shows == "coach")]
        return BriefView("", (*told, hint))
    resting = isinstance(here.part, RestPart)
    if here.phase not in (Phase.READY, Phase.BETWEEN, Phase.OPEN) and not resting:
        return None
    coming = state.next_part
    now = list(said_of(here.part)) if here.part is not None else []
    if coming is None:
        return BriefView("", (*now, ("hint", "then the class is over" if resting else "Enter ends the class")))
    part = state.part(coming)
    lines: list[BriefLine] = [*part_lines(part), *choice_lines(part), *start_lines(state, coming)]
    if here.phase is Phase.READY and isinstance(part, Untapped):
        lines += _outline(state, coming + 1)
    # The clock's plate names the part that runs; what it says of itself comes first.
    title = f"then: {part.title}" if here.part is not None else part.title
    if now:
        now.append(("heading", title))
        title = ""
    return BriefView(title, (*now, *lines, ("caution", SAFETY), ("small", NO_ADVICE)))


def _outline(state: ClassState, first: int) -> Iterator[BriefLine]:
    """What is to come in a line or two for each part, and who starts where in the first: the whole class before it begins."""
    timed = [index for index in range(first, len(state.session.parts)) if not isinstance(state.part(index), Untapped)]
    for index in timed:
        part = state.part(index)
        yield "heading", part.title
        yield "text", part_words(part)
        if isinstance(part, Paced):
            continue
        around = (part.buy_in, part.cash_out) if isinstance(part, Piece) else ((), ())
        for when, stations in (("first: ", around[0]), ("", part.stations), ("last: ", around[1])):
            if stations:
                yield "text", when + ", ".join(map(planned_words, stations))
    if timed:
        yield from start_lines(state, timed[0])


def _measured_lines(state: ClassState, run: PartRun, flags: bool) -> Iterator[BriefLine]:
    """A heading and a line or two for a part that measured anything; with who was flagged, where that is for who reads it."""
    if isinstance(run.part, Windowed):
        lines = list(_pace_lines(state, run))
        # To the class nobody's outcome is read out.
        told = lines if flags else [line for line in lines[:2] if not line[1].startswith(OUT)]
        yield from told if len(told) > 1 else ()
        return
    rows = state.rows(run)
    reached = [name for name in rows if athlete_result(state, run, name) is not None]
    if reached:
        yield "heading", run.part.title
        yield "text", f"{len(reached)} of {len(rows)} {'teams ' if run.teams else ''}with a result"


def _pace_lines(state: ClassState, run: PartRun) -> Iterator[BriefLine]:
    people: dict[Flag | None, list[str]] = {}
    for name in state.rows(run):
        splits = tuple(athlete_splits(state, run, name))
        if any(split.split_ms is not None for split in splits):
            raised = [flag for several in flags(splits).values() for flag in several]
            people.setdefault(most_urgent(raised), []).append(name)
    if not people:
        return
    yield "heading", run.part.title
    out = [(number, name) for name in state.rows(run) if (number := state.out_after(name, run.index)) is not None]
    intervals = run.timeline.intervals
    if out:
        yield (
            "text",
            OUT + ", ".join(f"{name} in round {intervals[number].round}" for number, name in sorted(out, reverse=True)),
        )
        return
    tapped = sum(len(names) for names in people.values())
    yield "text", held_words(len(people.pop(None, [])), tapped, len(state.rows(run)))
    for flag in sorted(Flag, key=URGENCY.__getitem__):
        if flag in people:
            yield "text", f"{flag}: {', '.join(people[flag])}"


def brief_pages(state: ClassState) -> tuple[BriefView, ...]:
    """The whole session explained: a page for each part, with who starts where and the safety line where people work."""
    pages = []
    for number, part in enumerate(state.session.parts, 1):
        lines: list[BriefLine] = list(part_lines(part))
        if not isinstance(part, Untapped):
            lines += [*choice_lines(part), *start_lines(state, number - 1)]
            lines += [("caution", SAFETY), ("small", NO_ADVICE)]
        pages.append(BriefView(f"{number}. {part.title}", tuple(lines)))
    return tuple(pages)
