"""The lanes and the brief: what to do now, what comes next, who is where; and what it came to when the class is over.

Invariant: what is said of a class that is over has happened: nothing that was only forecast, for no round is to come any more.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from floorclock.clock.run import PartRun
from floorclock.clock.state import ClassState
from floorclock.clock.tally import athlete_result, athlete_splits
from floorclock.clock.timeline import station_index
from floorclock.pace.flags import URGENCY, Flag, flags, most_urgent
from floorclock.plan.roster import assign
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, Paced, Rotation, Session
from floorclock.plan.work import Station
from floorclock.tui.floor.moment import Moment, Phase
from floorclock.tui.floor.view import BriefLine, BriefView, LanesView, LaneView, PersonView, Shows
from floorclock.tui.floor.words import SAFETY, amount_of, own_words, part_words


def lanes_view(state: ClassState, here: Moment) -> LanesView:
    """The stations in use now with the people at each, and a line of what comes next."""
    run = here.run
    if run is None or run.part.kind == "open":
        return LanesView((), "")
    if isinstance(run.part, Rotation | Intervals):
        return _station_lanes(state, here, run)
    if isinstance(run.part, Paced):
        return _paced_lanes(here, run)
    return _piece_lanes(state, run)


def lanes_after_taps(before: LanesView, here: Moment) -> LanesView:
    """The same lanes with everybody's mark as it stands now; taps change nothing else of them, and are many."""
    run = here.run
    if run is None or not isinstance(run.part, Rotation | Intervals):
        return before
    index = _shown(run, here)
    lanes = tuple(_marked(lane, run, index) for lane in before.lanes)
    return before if lanes == before.lanes else replace(before, lanes=lanes)


def _marked(lane: LaneView, run: PartRun, index: int | None) -> LaneView:
    if all(person.done == ((person.name, index) in run.marks) for person in lane.people):
        return lane
    people = tuple(replace(person, done=(person.name, index) in run.marks) for person in lane.people)
    return replace(lane, people=people)


def _shown(run: PartRun, here: Moment) -> int | None:
    """The interval whose stations the lanes show: in a rest between sets, the one that comes."""
    at = here.index if here.index is not None else 0
    return at if run.timeline.intervals[at].window >= 0 else _next_work(run, at)


def _station_lanes(state: ClassState, here: Moment, run: PartRun) -> LanesView:
    intervals = run.timeline.intervals
    at = here.index if here.index is not None else 0
    coming = _next_work(run, at) if here.index is not None else at
    if intervals[at].window < 0:
        shown = _shown(run, here)
        return LanesView(_lanes_at(state, run, shown) if shown is not None else (), "", "next")
    title = "first" if here.phase is Phase.COUNT and here.position_ms < 0 else "now"
    return LanesView(_lanes_at(state, run, at), _next_words(state, run, at, coming), title)


def _next_work(run: PartRun, index: int) -> int | None:
    following = (i for i in range(index + 1, len(run.timeline.intervals)) if run.timeline.intervals[i].window >= 0)
    return next(following, None)


def _lanes_at(state: ClassState, run: PartRun, index: int) -> tuple[LaneView, ...]:
    interval = run.timeline.intervals[index]
    stations = run.part.stations
    people: dict[int, list[PersonView]] = {}
    for athlete in state.present:
        at = state.station_of(athlete.name, run, index)
        if at is None:
            continue
        station = stations[at]
        own = "" if station.is_rest else own_words(assign(athlete, station), station, interval.round)
        done = (athlete.name, index) in run.marks
        people.setdefault(at, []).append(PersonView(athlete.name, own, done))
    if not state.present:
        people = {at: [] for at in range(len(stations))}
    alone = len(people) == 1
    lanes = []
    for at in sorted(people):
        station, here_now = stations[at], people[at]
        shown = tuple(person for person in here_now if person.own) if alone else tuple(here_now)
        note = "everybody" if alone and here_now else ""
        goal = "" if station.is_rest else amount_of(station, interval.round)
        lanes.append(LaneView("rest" if station.is_rest else station.move, goal, shown, station.is_rest, note))
    return tuple(lanes)


def _next_words(state: ClassState, run: PartRun, at: int, coming: int | None) -> str:
    if coming is None:
        return "next: the end of this part"
    interval = run.timeline.intervals[coming]
    groups = {state.group_of(athlete.name, run.index, coming) for athlete in state.present} or {1}
    if len(groups) > 1:
        return "next: all move one station on"
    station = run.part.stations[station_index(run.part, interval.window, groups.pop())]
    if station.is_rest:
        return "next: rest"
    last = ", last round" if interval.round == run.timeline.intervals[-1].round > run.timeline.intervals[at].round else ""
    return f"next: {station.move} {amount_of(station, interval.round)}".rstrip() + last


def _piece_lanes(state: ClassState, run: PartRun) -> LanesView:
    part = run.part
    assert isinstance(part, ForTime | Amrap)
    lanes = [_piece_lane(state, station) for station in part.stations]
    notes = []
    for choice in part.choose:
        who = [athlete.name for athlete in state.present if state.choices.get((athlete.name, run.index)) == choice.name]
        if who:
            notes.append(f"{choice.name}: {', '.join(who)}")
    rounds = f"{part.rounds} rounds of" if isinstance(part, ForTime) else "as many rounds as possible of"
    return LanesView(tuple(lanes), "   ".join(notes), rounds)


def _piece_lane(state: ClassState, station: Station) -> LaneView:
    differing = []
    for athlete in state.present:
        own = own_words(assign(athlete, station), station, 1)
        if own:
            differing.append(PersonView(athlete.name, own))
    ladder = ""
    if station.target is not None and station.target.step:
        target, step = station.target, station.target.step
        ladder = f"{'+' if step > 0 else ''}{float(step):g} each round: {', '.join(target.words(k) for k in range(1, 5))} ..."
    return LaneView(station.move, amount_of(station, 1), tuple(differing), note=ladder)


def _paced_lanes(here: Moment, run: PartRun) -> LanesView:
    part = run.part
    assert isinstance(part, Paced)
    move = part.stations[0].move
    if part.shuttle is None:
        beats = len([cue for cue in run.timeline.cues_between(0, max(0, here.position_ms) + 1) if cue.name == "pace"])
        rep = max(1, -(-beats // part.beats_per_rep))
        note = f"{float(part.beats_per_minute or 0):g} beats a minute; a tap says: stopped"
        return LanesView((LaneView(move, f"rep {rep}", (), note=note),), "")
    index = here.index if here.index is not None else 0
    stage, interval = part.shuttle.stages[index], run.timeline.intervals[index]
    done = sum(cue.name == "shuttle" for cue in run.timeline.cues_between(interval.start_ms, max(0, here.position_ms) + 1))
    done -= interval.start_ms > 0  # the cue at its first instant ends the stage before
    length = f"{min(done + 1, stage.shuttles)} of {stage.shuttles}"
    lane = LaneView(f"stage {index + 1}: {float(stage.speed_kmh):g} km/h", length, (), note="a tap says: stopped")
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
        return BriefView("The class is over", (*over_lines(state, flags=shows == "coach"), hint))
    if here.phase not in (Phase.READY, Phase.BETWEEN, Phase.OPEN):
        return None
    coming = state.next_part
    lines: list[BriefLine] = []
    if here.phase is Phase.OPEN and here.part is not None:
        lines += [("text", note) for note in here.part.notes]
        lines += [("caution", here.part.caution)] if here.part.caution else []
    if coming is None:
        return BriefView(here.part.title if here.part else "", (*lines, ("hint", "Enter ends the class")))
    part = state.part(coming)
    if lines:
        lines.append(("heading", f"then: {part.title}"))
    lines += _part_lines(part)
    lines += _choice_lines(part)
    if here.phase is Phase.READY and part.kind == "open":
        for later in state.session.parts[coming + 1 :]:
            lines.append(("heading", later.title))
            lines += _part_lines(later)
    lines.append(("caution", SAFETY))
    title = here.part.title if here.phase is Phase.OPEN and here.part is not None and here.part.notes else part.title
    return BriefView(title, tuple(lines))


def over_lines(state: ClassState, *, flags: bool = True) -> tuple[BriefLine, ...]:
    """A heading and a line or two for each part that measured anything; with who was flagged, where that is for who reads it."""
    return tuple(line for run in state.runs for line in _measured_lines(state, run, flags))


def _measured_lines(state: ClassState, run: PartRun, flags: bool) -> Iterator[BriefLine]:
    if isinstance(run.part, Rotation | Intervals):
        lines = list(_pace_lines(state, run))
        yield from lines if flags else lines[:2]
        return
    reached = [athlete.name for athlete in state.present if athlete_result(state, run, athlete.name) is not None]
    if reached:
        yield "heading", run.part.title
        yield "text", f"{len(reached)} of {len(state.present)} with a result"


def _pace_lines(state: ClassState, run: PartRun) -> Iterator[BriefLine]:
    people: dict[Flag | None, list[str]] = {}
    for athlete in state.present:
        splits = tuple(athlete_splits(state, run, athlete.name))
        if any(split.split_ms is not None for split in splits):
            raised = [flag for several in flags(splits).values() for flag in several]
            people.setdefault(most_urgent(raised), []).append(athlete.name)
    if not people:
        return
    yield "heading", run.part.title
    tapped = sum(len(names) for names in people.values())
    yield "text", f"{len(people.pop(None, []))} of the {tapped} who were tapped held margin and pace"
    for flag in sorted(Flag, key=URGENCY.__getitem__):
        if flag in people:
            yield "text", f"{flag}: {', '.join(people[flag])}"


def brief_pages(session: Session) -> tuple[BriefView, ...]:
    """The whole session explained: a page for each part, the safety line on every one where people work."""
    pages = []
    for number, part in enumerate(session.parts, 1):
        lines = list(_part_lines(part))
        if part.kind != "open":
            lines += _choice_lines(part)
            lines.append(("caution", SAFETY))
        pages.append(BriefView(f"{number}. {part.title}", tuple(lines)))
    return tuple(pages)


def _choice_lines(part: AnyPart) -> Iterator[BriefLine]:
    if not isinstance(part, ForTime | Amrap):
        return
    for choice in part.choose:
        yield "heading", f"or {choice.name}"
        rounds = [f"{choice.rounds} rounds"] if choice.rounds else []
        work = [f"{item.move} {amount_of(item, 1)}".rstrip() for item in choice.work]
        yield "text", "; ".join([*rounds, *work])


def _part_lines(part: AnyPart) -> Iterator[BriefLine]:
    yield "text", part_words(part)
    for note in part.notes:
        yield "text", note
    if part.caution:
        yield "caution", part.caution
    if isinstance(part, Paced):
        return
    yield from _work_lines(part.stations)


def _work_lines(stations: Sequence[Station]) -> Iterator[BriefLine]:
    for station in stations:
        if station.is_rest:
            yield "heading", "rest"
            continue
        yield "heading", f"{station.move}  {amount_of(station, 1)}".rstrip()
        if station.standards:
            yield "text", "; ".join(station.standards)
        for option in station.options:
            goal = f" {option.target.words()}" if option.target else ""
            yield "text", f"{option.name}: {option.move}{goal}"
        if station.caution:
            yield "caution", station.caution
        if station.guarded:
            yield "caution", f"{station.move}: only with the coach's yes"
