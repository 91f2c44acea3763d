"""How the floor says times, amounts and outcomes.

Invariant: numbers become words here and nowhere else on the floor, so that they read the same everywhere.
"""

from __future__ import annotations

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

SAFETY = (
    "Stop on sharp or chest pain, or dizziness, and tell the coach. This is no medical advice: "
    "local rules and qualified staff decide."
)


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


def outcome_words(outcome: Outcome) -> str:
    """What a tap or a command came to, as the floor answers it; empty where silence is the answer."""
    who, what = outcome.athlete, outcome.what
    if what is What.COUNTED and outcome.amount_ms is not None:
        left = "" if outcome.rest_ms is None else f", {rest_words(outcome.rest_ms)} left"
        return f"{who} {split_words(outcome.amount_ms)}{left}"
    if what is What.CREDITED:
        return f"{who}: on the line, the interval before counts in full"
    if what is What.ALREADY and outcome.amount_ms is not None:
        return f"{who} was tapped already at {split_words(outcome.amount_ms)}; nothing changed"
    sayings = {
        What.TOO_SOON: f"{who}: the same tap twice; nothing changed",
        What.RESTING: f"{who} rests in this interval; nothing changed",
        What.OUT: f"{who} is out of this part; nothing changed",
        What.NOT_STARTED: f"{who}: not before the start; nothing changed",
        What.NOTHING_TO_TAP: f"{who}: nothing to tap now",
        What.UNKNOWN: f"{who} is not on the roster",
        What.AWAY: f"{who} went home; add them again with F4",
        What.TAKEN_BACK: f"{who}: {'the tap' if outcome.amount_ms is None else split_words(outcome.amount_ms)} taken back",
        What.NOTHING_TO_TAKE_BACK: "no tap to take back",
        What.REFUSED: f"{who + ': ' if who else ''}{outcome.because}",
    }
    return sayings.get(what, "")


def event_words(event: Event, outcome: Outcome) -> str:
    """What the floor answers to a command that was obeyed; empty where the screen itself is the answer."""
    who = outcome.athlete
    match event:
        case Skipped():
            return "skipped to the next interval"
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
            return f"{who}: no more calls, the flag stays on the row; F7 again undoes it" if quiet else f"{who} is called again"
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
            return f"{who}: start group {group} from the next interval on"
        case Allowed(move=move):
            return f"{who} may do {move}"
        case SplitCorrected(split_ms=split_ms):
            return f"{who}: {'untapped' if split_ms is None else split_words(split_ms)}, corrected"
        case NotFinished():
            return f"{who}: not finished"
        case ResultEntered():
            return f"{who}: result entered"
    return ""
