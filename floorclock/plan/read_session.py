"""A session file into a `Session`, or into everything that is wrong with it.

Invariant: a session comes out if and only if there is no problem of severity `error`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from pydantic import ValidationError

from floorclock.errors import Problem
from floorclock.plan import fileformat as ff
from floorclock.plan import workformat as wf
from floorclock.plan.document import Path, Place, in_order
from floorclock.plan.quantities import shuttles_nearest
from floorclock.plan.reader import read_yaml
from floorclock.plan.rules import session_problems
from floorclock.plan.session import (
    Amrap,
    AnyPart,
    Choice,
    Cues,
    ForTime,
    Intervals,
    OpenPart,
    Paced,
    Room,
    Rotation,
    Session,
    Shuttle,
    Stage,
)
from floorclock.plan.wording import shape_problems
from floorclock.plan.work import Option, Station, Target

_TITLES = {
    "open": "Open time",
    "rotation": "Rotation",
    "intervals": "Intervals",
    "for_time": "For time",
    "amrap": "As many rounds as possible",
    "paced": "To the beat",
}


@dataclass(frozen=True)
class SessionReading:
    """What came of a session file. `places` says where each part and station stands in it."""

    session: Session | None
    problems: tuple[Problem, ...]
    places: Mapping[Path, Place] = field(default_factory=dict)


def read_session(text: str | bytes, file: str) -> tuple[Session | None, tuple[Problem, ...]]:
    """The session of a file and all problems at once; the session is None if and only if one of them is an error."""
    reading = read_session_places(text, file)
    return reading.session, reading.problems


def read_session_places(text: str | bytes, file: str) -> SessionReading:
    """As `read_session`, with the places that `check_plan` points at."""
    document, problems = read_yaml(text, file)
    if document is None:
        return SessionReading(None, tuple(problems))
    shape = None
    try:
        shape = ff.SessionFile.model_validate(document.tree)
    except ValidationError as error:
        problems += shape_problems(error, document, ff.SessionFile)
    problems += session_problems(document)
    if shape is None or problems:
        return SessionReading(None, in_order(problems))
    return SessionReading(_session(shape), (), document.places)


def _session(shape: ff.SessionFile) -> Session:
    made = Session(title=shape.session, parts=tuple(_part(part) for part in shape.parts))
    room = Room(screen_mm=round(shape.room.screen), farthest_mm=round(shape.room.farthest)) if shape.room else None
    return Session(
        title=shape.session,
        parts=made.parts,
        class_time_ms=shape.class_time,
        rest_margin_ms=_or(shape.rest_margin, made.rest_margin_ms),
        count_in_ms=_or(shape.count_in, made.count_in_ms),
        resume_count_in_ms=_or(shape.resume_count_in, made.resume_count_in_ms),
        tap_grace_ms=_or(shape.tap_grace, made.tap_grace_ms),
        confidence=_or(shape.confidence, made.confidence),
        kit=dict(shape.kit or {}),
        room=room,
        cues=_cues(shape.cues, voice=_flag(shape.voice, False)),
    )


def _or(value: int | None, default: int) -> int:
    return default if value is None else value


def _cues(shape: ff.CuesFile | None, *, voice: bool) -> Cues:
    usual = Cues(voice=voice)
    if shape is None:
        return usual
    return Cues(
        count=_or(shape.count, usual.count),
        last_ten=_flag(shape.last_ten, usual.last_ten),
        half=_flag(shape.half, usual.half),
        rest=_flag(shape.rest, usual.rest),
        last_round=_flag(shape.last_round, usual.last_round),
        attention=_flag(shape.attention, usual.attention),
        pace=_or(shape.pace, usual.pace),
        volume=_or(shape.volume, usual.volume),
        voice=voice,
    )


def _flag(value: bool | None, default: bool) -> bool:
    return default if value is None else value


@dataclass(frozen=True)
class _Shared:
    """What all parts share, made once."""

    title: str
    notes: tuple[str, ...]
    caution: str
    count_in_ms: int | None
    rest_margin_ms: int | None


def _part(shape: ff.AnyPartFile) -> AnyPart:
    title = shape.title or ("Shuttle ladder" if isinstance(shape, ff.PacedFile) and shape.shuttle else _TITLES[shape.kind])
    shared = _Shared(title, _sentences(shape.notes), shape.caution or "", shape.count_in, shape.rest_margin)
    common = vars(shared)
    if isinstance(shape, ff.OpenFile):
        return OpenPart(**common, time_ms=shape.time, min_ms=shape.min, max_ms=shape.max)
    if isinstance(shape, ff.RotationFile):
        work = _slots(shape.stations)
        return Rotation(**common, every_ms=shape.every, work=work, rounds=shape.rounds, for_ms=shape.for_)
    if isinstance(shape, ff.IntervalsFile):
        work = _slots(shape.stations)
        final = bool(shape.final_rest)
        return Intervals(**common, work_ms=shape.work, rest_ms=shape.rest, sets=shape.sets, work=work, final_rest=final)
    if isinstance(shape, ff.ForTimeFile):
        return ForTime(
            **common,
            cap_ms=shape.cap,
            rounds=_or(shape.rounds, 1),
            work=_slots(shape.work),
            choose=_choices(shape.choose),
            wave_every_ms=_or(shape.wave_every, 0),
            tap="round" if shape.tap == "round" else "finish",
        )
    if isinstance(shape, ff.AmrapFile):
        return Amrap(**common, time_ms=shape.time, work=_slots(shape.work), choose=_choices(shape.choose))
    return Paced(
        **common,
        move=shape.move or "",
        beats_per_minute=shape.beat,
        beats_per_rep=_or(shape.beats_per_rep, 1),
        time_ms=shape.time,
        shuttle=_shuttle(shape.shuttle) if shape.shuttle else None,
    )


def _sentences(value: list[str] | str | None) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value or ())


def _slots(slots: Sequence[wf.StationFile | Station]) -> tuple[Station, ...]:
    return tuple(slot if isinstance(slot, Station) else _station(slot) for slot in slots)


def _station(shape: wf.StationFile) -> Station:
    return Station(
        move=shape.move,
        target=_target(shape.target),
        kit=_kit(shape.kit),
        pattern=shape.pattern or "",
        standards=_sentences(shape.standards),
        caution=shape.caution or "",
        guarded=bool(shape.guarded),
        options=tuple(_option(option, shape) for option in shape.options or ()),
        rest_margin_ms=shape.rest_margin,
        least=None if shape.least is None else shape.least[0],
    )


def _option(shape: wf.OptionFile, station: wf.StationFile) -> Option:
    # What an option leaves out it keeps from the station, as long as it is the same move: a lighter target of a guarded
    # move is still guarded, and still needs the kettlebell.
    same = shape.move is None or shape.move == station.move
    return Option(
        name=shape.name,
        move=shape.move or station.move,
        target=_target(shape.target),
        kit=_kit(station.kit if shape.kit is None and same else shape.kit),
        pattern=shape.pattern or (station.pattern if same else None) or "",
        guarded=_flag(shape.guarded, bool(station.guarded) and same),
    )


def _target(shape: wf.LadderFile | Target | None) -> Target | None:
    if isinstance(shape, wf.LadderFile):
        return Target(shape.start.amount, shape.start.unit, shape.step[0])
    return shape


def _kit(shape: dict[str, int] | list[str] | str | None) -> tuple[tuple[str, int], ...]:
    if isinstance(shape, dict):
        return tuple(shape.items())
    counts: dict[str, int] = {}
    for name in _sentences(shape):
        counts[name] = counts.get(name, 0) + 1
    return tuple(counts.items())


def _choices(shapes: Sequence[ff.ChoiceFile] | None) -> tuple[Choice, ...]:
    return tuple(Choice(name=shape.name, rounds=shape.rounds, work=_slots(shape.work or ())) for shape in shapes or ())


def _shuttle(shape: ff.ShuttleFile) -> Shuttle:
    metres = Fraction(shape.distance) / 1000
    if shape.stages is not None:
        return Shuttle(metres, tuple(Stage(stage.speed, stage.shuttles) for stage in shape.stages))
    start, step, stage_ms = shape.start or Fraction(0), shape.step or Fraction(0), shape.stage or 0
    speeds = [start + step * number for number in range(shape.count or 0)]
    return Shuttle(metres, tuple(Stage(speed, shuttles_nearest(metres, speed, stage_ms)) for speed in speeds))
