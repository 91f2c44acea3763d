"""What the floor says: on its plates, on the line of keys, in answer to what was done; and how it says times and amounts.

Invariant: times are said in one way, so that they read the same everywhere. What the keys do is in `commands.py`, who needs the
coach in `calls.py`.
"""

from __future__ import annotations

from floorclock.clock import events
from floorclock.clock.cues import CueName
from floorclock.clock.outcome import Outcome, What
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
PLATES = {"call": " COACH ", "chance": " ROOM FOR MORE ", "offer": " TARGETS "}
"""The word before the first line of a kind; the lines after it are set in as deep."""
TAP_TO_STOP = "tap whoever stops"


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


def outcome_words(outcome: Outcome) -> str:
    """What a tap or a command came to, as the floor answers it; empty where silence is the answer."""
    who, what = outcome.athlete, outcome.what
    if what is What.COUNTED and outcome.amount_ms is not None:
        # Only laps and finishes have no rest: their time is that of the part, and not of the round.
        after = " since the start" if outcome.rest_ms is None else f", {rest_words(outcome.rest_ms)} left"
        return f"{who} {split_words(outcome.amount_ms)}{after}"
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


def event_words(event: events.Event, outcome: Outcome, round_number: int = 1) -> str:
    """What the floor answers to a command that was obeyed; empty where the screen itself is the answer.

    `round_number` is the round for which a new target is given: a ladder is said by what it asks then.
    """
    who = outcome.athlete
    match event:
        case events.Skipped():
            return "skipped"
        case events.WentBack():
            return "this interval again"
        case events.Stretched():
            seconds = (outcome.amount_ms or 0) / 1000
            return f"{seconds:+g} s in this interval"
        case events.MarginChanged(margin_ms=margin_ms):
            return f"{who + ': ' if who else ''}rest margin {clock_words(margin_ms)}"
        case events.Joined():
            return f"{who} is in"
        case events.Left():
            return f"{who} went home"
        case events.Quietened(quiet=quiet):
            return f"{who} muted; F7 again unmutes" if quiet else f"{who} unmuted"
        case _:
            return _about_work(event, who, round_number)


def _about_work(event: events.Event, who: str, round_number: int) -> str:
    match event:
        case events.TargetChanged(move=move, target=target):
            return f"{who}: {move} {target.words(round_number)} from now on"
        case events.LoadChanged(move=move, load=load):
            return f"{who}: {move} at {load.words()} from now on"
        case events.ScoreEntered(amount=amount):
            return f"{who}: {'no number' if amount is None else f'{amount:g}'}"
        case events.OptionChosen(option=option) | events.ChoiceTaken(choice=option):
            return f"{who}: {option or 'as written'} from now on"
        case events.Regrouped(group=group):
            return f"{who}: group {group} from the next interval"
        case events.Allowed(move=move):
            return f"{who} may do {move}"
        case events.SplitCorrected(split_ms=split_ms):
            return f"{who}: corrected to {'untapped' if split_ms is None else split_words(split_ms)}"
        case events.NotFinished():
            return f"{who}: not finished"
        case events.ResultEntered():
            return f"{who}: result entered"
    return ""
