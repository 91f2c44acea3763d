"""What figures mean in words, the same on paper, page, screen and terminal.

Invariant: what is not known is said to be so, never left out and never a number; what is over is no forecast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final, Protocol

from floorclock.clock.splits import Result, Split, Status
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import SYMBOL, Flag, is_tight
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.session import PartKind
from floorclock.plan.work import amount_words

UNKNOWN: Final = "Nobody is known to need it: no split was taken."
CALM: Final = "Nobody. Everybody who was tapped kept the margin and the pace."
NOTHING: Final = "Nothing was recorded in it."
ASK_FIRST: Final = (
    "Ask how it felt before you change a target. Pain, dizziness or illness ends the work; "
    "this is no medical advice, local rules and qualified staff decide."
)
STOP: Final = (
    "Stop on sharp or chest pain, dizziness or faintness, and say so. A lighter option or a lower number is no step back. "
    "This is no medical advice: local rules and qualified staff decide."
)
PERSONAL: Final = "Names, splits and ratings are personal data: hand on only what a person has agreed to, and delete the rest."
HELD: Final = "held"
FORECAST: Final = "forecast to run out"
RAN_OUT: Final = "ran out"
UNTAPPED: Final = str(Status.UNTAPPED)
BAR: Final = "In a row of rests `|` stands where the target changed."
WAY_SIGN: Final[Mapping[Way, str]] = {Way.LESS: "-", Way.MORE: "+", Way.OPTION: "~", Way.KEEP: "="}
WAYS: Final = "- less, + more, ~ another option, = as it was"
STEADY_MS: Final = 200
"""A pace that changes by less than this with each round is called the same: a tap by hand is off by more."""


class Reached(Protocol):
    """What somebody reached in a part without splits: as it was taken, or as the index has it."""

    @property
    def time_ms(self) -> int | None:
        """The finish, or how long they stayed."""

    @property
    def rounds(self) -> int | None:
        """Whole rounds, or the last whole stage."""

    @property
    def reps(self) -> int | None:
        """The reps beyond them, or all shuttles."""

    @property
    def not_finished(self) -> bool:
        """Whether the coach said so."""


def flag_words(flag: Flag, *, over: bool = False) -> str:
    """A flag with its sign: `! tight`; `x runs out` is a forecast, and `x ran out` where it has come true."""
    return f"{SYMBOL[flag]} {RAN_OUT if over and flag is Flag.RUNS_OUT else flag}"


def drift_words(slope_ms: float | None) -> str:
    """How much longer a split takes with each round, as a coach would say it: `1.4 s slower each round`."""
    if slope_ms is None:
        return "too little was tapped to tell the pace"
    if abs(slope_ms) < STEADY_MS:
        return "the same pace from round to round"
    return f"{abs(slope_ms) / 1000:.1f} s {'slower' if slope_ms > 0 else 'faster'} each round"


def margin_words(round_number: int | None, *, to_come: bool) -> str:
    """In which round the margin goes: `the margin likely goes in round 5`; empty where it does not."""
    if round_number is None:
        return ""
    return f"the margin {'likely goes' if to_come else 'went'} in round {round_number}"


def rest_words(split: Split) -> str:
    """The rest of one round: `24`, `12!` under the margin, `/` not finished, `?` untapped. Never more than there was."""
    if split.rest_ms is None:
        return SYMBOL[Flag.NOT_FINISHED] if split.status is Status.NOT_FINISHED else "?"
    return f"{split.rest_ms // 1000}{SYMBOL[Flag.TIGHT] if is_tight(split) else ''}"


def target_words(advice: Advice, *, with_move: bool = True) -> str:
    """What to give and the sign of its way: `8 -`, `200 m =`, `lighter 14 ~`, of a ladder `8 in round 4, +2 each round -`.

    Who does another move than the station's has it said with the number (`box step-up 12 =`), unless it stands beside it already.
    """
    amount = ""
    if advice.target is not None:
        amount = advice.target.words(advice.round)
    elif advice.amount is not None and advice.unit is not None:
        amount = amount_words(advice.amount, advice.unit)
    if advice.target is not None and advice.target.step:
        amount += f" in round {advice.round}, {float(advice.target.step):+g} each round"
    move = advice.option or (advice.own_move if with_move else "")
    return " ".join(word for word in (move, amount, WAY_SIGN[advice.way]) if word)


def chance_words(advice: Advice) -> str:
    """How likely it keeps the margin, no surer than anybody can be: `92%`, `over 99%`; of a new option nothing is known."""
    chance = advice.chance
    if advice.option and not chance:
        return "not known"
    if chance > 0.99:
        return "over 99%"
    return "under 1%" if chance < 0.01 else f"{100 * chance:.0f}%"


def forecast_words(forecast: Forecast) -> str:
    """A split to come with its span: `46 s (42 to 51)`."""
    return f"{forecast.split_ms / 1000:.0f} s ({forecast.low_ms / 1000:.0f} to {forecast.high_ms / 1000:.0f})"


def load_words(load: SessionLoad) -> str:
    """Effort times minutes: `effort 6 x 42 minutes = load 252`."""
    minutes = f"{load.minutes:.0f} minutes"
    if load.effort is None or load.load is None:
        return f"effort not rated, {minutes}"
    return f"effort {load.effort:g} x {minutes} = load {load.load:.0f}"


def result_words(result: Reached | None, kind: PartKind) -> str:
    """What somebody reached: `6:12.4`, `3 rounds + 12`, `stage 7, 52 shuttles`, `/ not finished`, `untapped`."""
    if result is None:
        return "did not stop (no tap)" if kind == "paced" else UNTAPPED
    reached = _reached(result, kind)
    if result.not_finished:
        return flag_words(Flag.NOT_FINISHED) + (f": {reached}" if reached else "")
    return reached or UNTAPPED


def time_words(ms: int) -> str:
    """A time in tenths, cut off as a stopwatch does: `0:58.2`, `12:30.0`."""
    minutes, tenths = divmod(ms // 100, 600)
    return f"{minutes}:{tenths // 10:02d}.{tenths % 10}"


def lap_words(result: Result | None) -> str:
    """How long each tapped round took: `1:28  1:30`; empty where there is none."""
    laps = () if result is None else pairwise((0, *result.laps_ms))
    return "  ".join(f"{(end - start) // 60_000}:{(end - start) // 1000 % 60:02d}" for start, end in laps)


def counted(number: int, noun: str) -> str:
    """`1 round`, `2 rounds`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    """`swing`, `swing and row`, `swing, row and plank`."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def _reached(result: Reached, kind: PartKind) -> str:
    time = "" if result.time_ms is None else time_words(result.time_ms)
    if kind == "for_time" and time:
        return time
    count = _count_words(result, kind)
    if kind == "paced" and time:
        return f"stopped at {time}" + (f", {count}" if count else "")
    return count or time


def _count_words(result: Reached, kind: PartKind) -> str:
    if kind == "paced":
        if result.rounds is not None:
            return f"{counted(result.rounds, 'stage')}, {counted(result.reps or 0, 'shuttle')}"
        return "" if result.reps is None else counted(result.reps, "rep")
    if result.rounds is None and result.reps is None:
        return ""
    return counted(result.rounds or 0, "round") + (f" + {result.reps}" if result.reps else "")
