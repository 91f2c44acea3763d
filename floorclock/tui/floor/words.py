"""What the floor says: on its plates, on the line of keys, in answer to what was done; and how it says times and amounts.

Invariant: numbers become words here and nowhere else on the floor, so that they read the same everywhere. What the keys do is in
`commands.py`, who needs the coach in `advice.py`.
"""

from __future__ import annotations

from dataclasses import replace

from floorclock.clock.cues import CueName
from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    Event,
    Joined,
    Left,
    LoadChanged,
    MarginChanged,
    NotFinished,
    OptionChosen,
    Quietened,
    Regrouped,
    ResultEntered,
    ScoreEntered,
    Skipped,
    SplitCorrected,
    Stretched,
    TargetChanged,
    WentBack,
)
from floorclock.clock.outcome import Outcome, What
from floorclock.digest.words import counted
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, OpenPart, Paced, RestPart, Rotation
from floorclock.plan.work import Load, Station, Target, Unit, amount_said
from floorclock.tui.floor.moment import Phase
from floorclock.tui.floor.view import Shows

KEYS_SOUND = (("F8", "sound"), ("+ -", "volume"))
KEYS_RUNNING = (
    ("space", "pause"),
    ("backspace", "undo tap"),
    ("F3", "correct"),
    ("right", "skip"),
    ("F9", "end part"),
    *KEYS_SOUND,
)
KEYS_STILL = (("F3", "athlete"), ("F4", "latecomer"), ("F5", "margin"), *KEYS_SOUND)
KEYS_OVER = (("F3", "correct"), ("F6", "results"), ("F10", "leave"))
KEY_HELP = ("?", "all keys")
KEY_GIVE = ("F2", "give")
KEY_MUTE = ("F7", "mute")
KEYS_VIEW: dict[Shows, tuple[str, str]] = {"coach": ("F12", "class view"), "class": ("F12", "coach view")}
KEY_WORDS = {Phase.READY: "Enter starts", Phase.BETWEEN: "Enter goes on", Phase.OPEN: "Enter goes on"}

MOOD_WORDS = {
    Phase.READY: "READY",
    Phase.COUNT: "GET READY",
    Phase.WORK: "WORK",
    Phase.REST: "REST",
    Phase.OPEN: "OPEN",
    Phase.BETWEEN: "NEXT PART",
    Phase.OVER: "OVER",
}
CUE_WORDS = {CueName.HALF: "HALF", CueName.LAST_TEN: "LAST TEN", CueName.LAST_ROUND: "LAST ROUND"}
"""Cues that tell something besides the time are shown as words too, for those who cannot hear them."""
PLATES = {"call": " COACH ", "chance": " ROOM FOR MORE ", "offer": " BEFORE "}
"""The word before the first line of a kind; the lines after it are set in as deep."""
SAFETY = "Sharp pain, chest pain, dizziness: stop and tell the coach."
NO_ADVICE = "This is no medical advice: local rules and qualified staff decide."


def clock_words(ms: int, *, up: bool = False) -> str:
    """A running time in whole seconds: left-over time rounds up, so that 0:00 is the boundary; elapsed time rounds down."""
    seconds = ms // 1000 if up else -(-ms // 1000)
    hours, rest = divmod(seconds, 3600)
    if hours:
        return f"{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{rest // 60}:{rest % 60:02d}"


def split_words(ms: int) -> str:
    """A split or a finish in tenths, cut off as a stopwatch does: `31.4`, `1:02.7`."""
    tenths = ms // 100
    minutes, rest = divmod(tenths, 600)
    return f"{minutes}:{rest // 10:02d}.{rest % 10}" if minutes else f"{rest // 10}.{rest % 10}"


def rest_words(ms: int) -> str:
    """Rest in whole seconds, rounded down: never more than there was."""
    return str(ms // 1000)


def left_said(ms: int) -> str:
    """A short time that is left, as it is said: `15`, from a minute on `1:15`."""
    return str(ms // 1000) if ms < 60_000 else clock_words(ms)


_NOBODY = Athlete(name="")


def as_written(station: Station) -> Assignment:
    """The work of a station for nobody in particular: of several levels the middle one."""
    plain = replace(station, guarded=False)
    return assign(_NOBODY, replace(plain, items=tuple(replace(item, guarded=False) for item in station.items)))


def own_words(work: Assignment, written: Assignment, round_number: int) -> str:
    """What differs for one athlete from the work as written: `10 lighter`, `12 at 16 kg`, `60 kg`; empty where nothing does."""
    if work.gated:
        return "needs the coach's yes"
    if work.avoided:
        return "stays away from it"
    if work.items:
        pairs = zip(work.items, written.items, strict=True)
        own = ((own_words(item, plain, round_number), item.move, plain.move) for item, plain in pairs)
        return ", ".join(words if move != plain else f"{words} {move}" for words, move, plain in own if words)
    goal = work.target.words(round_number) if work.target else ""
    if written.target is not None and goal == written.target.words(round_number):
        goal = ""
    load = work.load.words() if work.load is not None and work.load != written.load else ""
    name = "" if work.move == written.move else work.option or work.move
    done = f"{goal} {name}".strip()
    return f"{done} at {load}" if done and load else done or load


def goal_of(target: Target | None, load: Load | None, round_number: int) -> str:
    """`14 reps`, `200 m`, `5 reps at 70 kg`: a target with its unit said, and the load."""
    goal = ""
    if target is not None:
        plain = target.unit is Unit.REPS and not (target.each_side or target.most)
        amount = target.in_round(round_number)
        goal = amount_said(amount, target.unit) if plain and target.upper is None else target.words(round_number)
    return _at_load(goal, load.words() if load is not None else "")


def plan_words(station: Station) -> str:
    """All that the plan says of the work at a station: every level, all rounds, the load; of several moves each with its name."""
    if station.items:
        return " + ".join(f"{plan_words(item)} {item.move}".strip() for item in station.items)
    target, load = station.target, station.load.plan_words() if station.load is not None else ""
    if target is None or target.levels or target.amounts:
        return _at_load(target.plan_words() if target is not None else "", load)
    step = f", {float(target.step):+g} each round" if target.step else ""
    return _at_load(goal_of(target, None, 1) + step, load)


def _at_load(goal: str, load: str) -> str:
    return f"{goal} at {load}" if goal and load else goal or load


def part_words(part: AnyPart) -> str:
    """What kind of part it is, in one line."""
    if isinstance(part, Rotation):
        every = clock_words(part.every_ms)
        moves_on = " the next station" if len(part.stations) > 1 else ""
        pace = "every minute on the minute" if part.every_ms == 60_000 else f"every {every}{moves_on}"
        if part.until_out:
            return f"{pace}, until you miss it; at most {part.count}{_shared_words(part)}"
        return f"{pace}, {counted(part.count, 'interval')} over {counted(len(part.stations), 'station')}{_shared_words(part)}"
    if isinstance(part, Intervals):
        rest = f"{clock_words(part.rest_ms)} rest" if part.rest_ms else "no rest between"
        return f"{part.sets} x {clock_words(part.work_ms)} work, {rest}{_shared_words(part)}"
    if isinstance(part, ForTime):
        return f"{counted(part.rounds, 'round')} for time, cap {clock_words(part.cap_ms)}{_shared_words(part)}"
    if isinstance(part, Amrap):
        return f"as many rounds as possible in {clock_words(part.time_ms)}{_shared_words(part)}"
    if isinstance(part, Paced):
        return _paced_words(part)
    if isinstance(part, RestPart):
        return f"{clock_words(part.time_ms)}, then it goes on by itself"
    assert isinstance(part, OpenPart)
    return f"about {clock_words(part.time_ms)}" if part.time_ms else "as long as the coach wants"


def _shared_words(part: AnyPart) -> str:
    """The rest after each round, and how a part is worked in teams, or empty."""
    rest_ms = part.round_rest_ms if isinstance(part, Rotation | Intervals | ForTime) else 0
    rest = f", {clock_words(rest_ms)} rest after each round" if rest_ms else ""
    if part.team_size < 2:
        return rest
    teams = "in pairs" if part.team_size == 2 else f"in teams of {part.team_size}"
    turns = {"each round": "take turns each round", "each interval": "take turns each interval", "same time": "all at once"}
    return f"{rest}; {teams}, {turns.get(part.turns, 'share the work as you like, one at a time')}"


def _paced_words(part: Paced) -> str:
    if part.shuttle is None:
        return f"{float(part.beats_per_minute or 0):g} beats a minute for {clock_words(part.time_ms or 0)}"
    stages = part.shuttle.stages
    first, last = float(stages[0].speed_kmh), float(stages[-1].speed_kmh)
    return f"{float(part.shuttle.distance_m):g} m lengths, {len(stages)} stages, {first:g} to {last:g} km/h"


def outcome_words(outcome: Outcome) -> str:
    """What a tap or a command came to, as the floor answers it; empty where silence is the answer."""
    who, what = outcome.athlete, outcome.what
    if what is What.COUNTED and outcome.amount_ms is not None:
        left = "" if outcome.rest_ms is None else f", {rest_words(outcome.rest_ms)} left"
        return f"{who} {split_words(outcome.amount_ms)}{left}"
    if what is What.CREDITED:
        return f"{who}: finished on the bell"
    if what is What.ALREADY and outcome.amount_ms is not None:
        return f"{who} already done at {split_words(outcome.amount_ms)}"
    sayings = {
        What.TOO_SOON: f"{who}: same tap twice, counted once",
        What.RESTING: f"{who} is resting: not counted",
        What.OUT: f"{who} is out: not counted",
        What.NOT_STARTED: f"{who}: not started yet",
        What.NOTHING_TO_TAP: f"{who}: nothing to tap now",
        What.UNKNOWN: f"{who} is not on the roster",
        What.AWAY: f"{who} went home; F4 brings them back",
        What.TAKEN_BACK: f"{who}: {'the tap' if outcome.amount_ms is None else split_words(outcome.amount_ms)} undone",
        What.NOTHING_TO_TAKE_BACK: "no tap to undo",
        What.REFUSED: f"{who + ': ' if who else ''}{outcome.because}",
    }
    return sayings.get(what, "")


def event_words(event: Event, outcome: Outcome) -> str:
    """What the floor answers to a command that was obeyed; empty where the screen itself is the answer."""
    who = outcome.athlete
    match event:
        case Skipped():
            return "skipped"
        case WentBack():
            return "this interval again"
        case Stretched():
            seconds = (outcome.amount_ms or 0) / 1000
            return f"{seconds:+g} s in this interval"
        case MarginChanged(margin_ms=margin_ms):
            return f"{who + ': ' if who else ''}rest margin {clock_words(margin_ms)}"
        case Joined():
            return f"{who} is in"
        case Left():
            return f"{who} went home"
        case Quietened(quiet=quiet):
            return f"{who} muted; F7 again unmutes" if quiet else f"{who} unmuted"
        case _:
            return _about_work(event, who)


def _about_work(event: Event, who: str) -> str:
    match event:
        case TargetChanged(move=move, target=target):
            return f"{who}: {move} {target.words()} from now on"
        case LoadChanged(move=move, load=load):
            return f"{who}: {move} at {load.words()} from now on"
        case ScoreEntered(amount=amount):
            return f"{who}: {'no number' if amount is None else f'{amount:g}'}"
        case OptionChosen(option=option) | ChoiceTaken(choice=option):
            return f"{who}: {option or 'as written'} from now on"
        case Regrouped(group=group):
            return f"{who}: group {group} from the next interval"
        case Allowed(move=move):
            return f"{who} may do {move}"
        case SplitCorrected(split_ms=split_ms):
            return f"{who}: corrected to {'untapped' if split_ms is None else split_words(split_ms)}"
        case NotFinished():
            return f"{who}: not finished"
        case ResultEntered():
            return f"{who}: result entered"
    return ""
