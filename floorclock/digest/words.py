"""What figures mean in words, the same on paper, page, screen and terminal.

Invariant: what is not known is said to be so, never left out and never a number; what is over is no forecast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Final, Protocol

from floorclock.clock.splits import Result, Split, Status
from floorclock.pace.advice import Advice, Way
from floorclock.pace.flags import SYMBOL, Flag, is_tight
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.pace.sayable import LIKELY, chance_said
from floorclock.plan.names import counted
from floorclock.plan.session import PartKind, ScoreUnit
from floorclock.plan.work import amount_words

UNKNOWN: Final = "Nobody is known to need it: no split was taken."
CALM: Final = "Nobody. Everybody who was tapped kept the margin and the pace."
NOTHING: Final = "Nothing was recorded in it."
NO_ADVICE: Final = "This is no medical advice: local rules and qualified staff decide."
SAFETY: Final = "Sharp or chest pain, dizziness, faintness: stop and tell the coach."
ASK_FIRST: Final = f"Ask how it felt before you change a target. Pain, dizziness or illness ends the work. {NO_ADVICE}"
STOP: Final = f"{SAFETY} A lighter option or a lower number is no step back. {NO_ADVICE}"
PERSONAL: Final = "Names, splits and ratings are personal data: hand on only what a person has agreed to, and delete the rest."
HELD: Final = "held"
FORECAST: Final = "forecast to run out"
RAN_OUT: Final = "ran out"
UNTAPPED: Final = str(Status.UNTAPPED)
NOT_ENTERED: Final = "not entered"
"""A number that is typed, never tapped."""
BAR: Final = "In a row of rests `|` stands where the target changed."
WAY_SIGN: Final[Mapping[Way, str]] = {Way.LESS: "↓", Way.MORE: "↑", Way.OPTION: "→", Way.KEEP: "="}
WAYS: Final = "↓ less, ↑ more, → another option, = as it was"
PLAIN_SIGNS: Final = str.maketrans("↓↑→", "-+~")
"""For terminals that cannot show arrows."""
STEADY_MS: Final = 200
"""A pace that changes by less than this with each round is called the same: a tap by hand is off by more."""


class Reached(Protocol):
    """What somebody reached in a part without splits: as it was taken, or as the index has it.

    `time_ms` is the finish, or how long they stayed; `rounds` are whole ones, or the last whole stage; `reps` those beyond, or
    all shuttles; `not_finished` is what the coach said; `scores` what was counted, as (set, amount).
    """

    @property
    def time_ms(self) -> int | None: ...
    @property
    def rounds(self) -> int | None: ...
    @property
    def reps(self) -> int | None: ...
    @property
    def not_finished(self) -> bool: ...
    @property
    def scores(self) -> Sequence[tuple[int, Fraction]]: ...


def flag_words(flag: Flag, *, over: bool = False) -> str:
    """A flag with its sign: `! tight`; `x runs out` is a forecast, and `x ran out` where it has come true."""
    return f"{SYMBOL[flag]} {RAN_OUT if over and flag is Flag.RUNS_OUT else flag}"


def held_words(held: int, tapped: int, people: int) -> str:
    """How many kept their rest and their pace: `6 of 16 held margin and pace`, `6 of the 14 who were tapped held ...`."""
    of = f"{tapped}" if tapped == people else f"the {tapped} who were tapped"
    return f"{held} of {of} held margin and pace" if tapped else "nobody was tapped"


def drift_words(slope_ms: float | None) -> str:
    """How much longer a split takes with each round, as a coach would say it: `1.4 s slower each round`."""
    if slope_ms is None:
        return "too little was tapped to tell the pace"
    if abs(slope_ms) < STEADY_MS:
        return "the same pace from round to round"
    return f"{abs(slope_ms) / 1000:.1f} s {'slower' if slope_ms > 0 else 'faster'} each round"


def margin_words(round_number: int, chance: float | None) -> str:
    """In which round the margin goes: `the margin likely goes in round 5`; without a chance it `went`."""
    if chance is None:
        return f"the margin went in round {round_number}"
    if chance >= LIKELY:
        return f"the margin likely goes in round {round_number}"
    return f"the margin may go in round {round_number}: {chance_said(chance)}"


def rest_words(split: Split) -> str:
    """The rest of one round: `24`, `12!` under the margin, `/` not finished, `?` untapped. Never more than there was."""
    if split.rest_ms is None:
        return SYMBOL[Flag.NOT_FINISHED] if split.status is Status.NOT_FINISHED else "?"
    return f"{split.rest_ms // 1000}{SYMBOL[Flag.TIGHT] if is_tight(split) else ''}"


def target_words(advice: Advice, load: str = "", *, with_move: bool = True) -> str:
    """What to give and the sign of its way: `8 ↓`, `200 m =`, `lighter 14 →`, of a ladder `8 in round 4, +2 each round ↓`.

    `load` follows the number where the move stays. Who does another move than the station's has it said with the number
    (`box step-up 12 =`), unless it stands beside it already.
    """
    amount = ""
    if advice.item_target is not None:
        amount = f"{advice.item} {advice.item_target.words(advice.round)}"
    elif advice.target is not None:
        amount = advice.target.plan_words() if advice.target.amounts else advice.target.words(advice.round)
    elif advice.amount is not None and advice.unit is not None:
        amount = amount_words(advice.amount, advice.unit)
    if advice.target is not None and advice.target.step:
        amount += f" in round {advice.round}, {float(advice.target.step):+g} each round"
    if amount and not advice.option:
        amount += load
    move = advice.option or (advice.own_move if with_move else "")
    return " ".join(word for word in (move, amount, WAY_SIGN[advice.way]) if word)


def chance_words(advice: Advice) -> str:
    """How likely it keeps the margin, no surer than anybody can be: `likely (92%)`; of a new option nothing is known."""
    chance = advice.chance
    if advice.option and not chance:
        return "not known"
    percent = "over 99%" if chance > 0.99 else "under 1%" if chance < 0.01 else f"{100 * chance:.0f}%"
    return f"{chance_said(chance)} ({percent})"


def forecast_words(forecast: Forecast) -> str:
    """A split to come with its span, and what is in doubt: `46 s (42 to 51; margin kept: too close to call)`."""
    words = f"{forecast.split_ms / 1000:.0f} s ({forecast.low_ms / 1000:.0f} to {forecast.high_ms / 1000:.0f}"
    for what, chance in (("in time", 1 - forecast.chance_late()), ("margin kept", 1 - forecast.chance_tight())):
        if chance < LIKELY:
            return f"{words}; {what}: {chance_said(chance)})"
    return f"{words})"


def load_words(load: SessionLoad) -> str:
    """Effort times minutes: `effort 6 x 42 minutes = load 252`."""
    minutes = f"{load.minutes:.0f} minutes"
    if load.effort is None or load.load is None:
        return f"effort not rated, {minutes}"
    return f"effort {load.effort:g} x {minutes} = load {load.load:.0f}"


def result_words(result: Reached | None, kind: PartKind, score: ScoreUnit | None = None) -> str:
    """What somebody reached, and counted: `6:12.4`, `3 rounds + 12, 350 m`, `stage 7, 52 shuttles`, `104 reps, lowest 11`,
    `/ not finished`, `untapped`, `not entered`.
    """
    counts = score_words(result, score)
    if result is None:
        reached = "did not stop (no tap)" if kind == "paced" else UNTAPPED
    elif result.not_finished:
        reached = ": ".join(filter(None, (flag_words(Flag.NOT_FINISHED), _reached(result, kind))))
    else:
        reached = _reached(result, kind) or UNTAPPED
    if reached == UNTAPPED and score is not None:
        return counts or NOT_ENTERED
    return f"{reached}, {counts}" if counts else reached


def tenths(ms: float | None) -> str:
    """Seconds, `42.0`; empty where nothing is known."""
    return "" if ms is None else f"{ms / 1000:.1f}"


def signed(ms: float | None) -> str:
    """Seconds more or less, `+4.0`; empty where nothing is known."""
    # Adding zero turns the -0.0 of a tiny loss into +0.0.
    return "" if ms is None else f"{round(ms / 1000, 1) + 0.0:+.1f}"


def time_words(ms: int) -> str:
    """A time in tenths, cut off as a stopwatch does: `0:58.2`, `12:30.0`."""
    minutes, tenths = divmod(ms // 100, 600)
    return f"{minutes}:{tenths // 10:02d}.{tenths % 10}"


def lap_times_ms(result: Result | None, rest_ms: int = 0) -> tuple[int, ...]:
    """How long each tapped round took, without the athlete's own rest before it."""
    laps = () if result is None else result.laps_ms
    return tuple(end - start - (rest_ms if start else 0) for start, end in pairwise((0, *laps)))


def lap_words(times_ms: Sequence[int]) -> str:
    """How long each round took: `1:28  1:30`; empty where there is none."""
    return "  ".join(f"{ms // 60_000}:{ms // 1000 % 60:02d}" for ms in times_ms)


def score_words(result: Reached | None, score: ScoreUnit | None) -> str:
    """What was counted: `104 reps, lowest 11`, `350 m`, `60 kg at most`; empty where nothing was."""
    total = score_total(result, score)
    if result is None or score is None or total is None:
        return ""
    if score == "load":
        return f"{_plain(total)} kg" + (" at most" if len(result.scores) > 1 else "")
    words = counted(total.numerator, "rep") if score == "reps" and total.denominator == 1 else _plain(total)
    words += "" if score == "reps" else f" {_SCORE_UNIT[score]}"
    if len(result.scores) < 2:
        return words
    return f"{words}, lowest {_plain(min(amount for _, amount in result.scores))}"


def score_total(result: Reached | None, score: ScoreUnit | None) -> Fraction | None:
    """All sets together; of loads the most. None where nothing was counted."""
    amounts = [] if result is None or score is None else [amount for _, amount in result.scores]
    if score is None or not amounts:
        return None
    return max(amounts) if score == "load" else sum(amounts, Fraction(0))


def set_words(result: Result | None, sets: Sequence[int]) -> str:
    """What was counted in each of these sets: `14  -  12`, `-` where there is no number; empty for a part counted once."""
    amounts = {} if result is None else dict(result.scores)
    if not amounts or 0 in amounts or len(sets) < 2:
        return ""
    return "  ".join(_plain(amounts[number]) if number in amounts else "-" for number in sets)


def work_words(split: Split) -> str:
    """What somebody was to do in an interval, as a coach would say it: `5 at 70 kg`, `200 m row + 10 burpee`."""
    if split.items:
        share = "" if split.amount in (None, 1) else f"{float(100 * (split.amount or 0)):.0f} % of "
        return share + " + ".join(f"{item.words(split.round)} {item.move}".strip() for item in split.items)
    goal = "" if not split.amount or split.unit is None else amount_words(split.amount, split.unit)
    load = "" if split.load is None else split.load.words()
    return f"{goal} at {load}" if goal and load else goal or load


_SCORE_UNIT: Final = {"calories": "cal", "metres": "m"}


def _plain(number: Fraction) -> str:
    return f"{float(number):,.10g}"


def _reached(result: Reached, kind: PartKind) -> str:
    time = "" if result.time_ms is None else time_words(result.time_ms)
    if kind == "for_time" and time:
        return time
    if kind == "paced":
        count = "" if result.reps is None else counted(result.reps, "rep")
        if result.rounds is not None:
            count = f"{counted(result.rounds, 'stage')}, {counted(result.reps or 0, 'shuttle')}"
        return ", ".join(filter(None, (f"stopped at {time}" if time else "", count)))
    if result.rounds is None and result.reps is None:
        return time
    return counted(result.rounds or 0, "round") + (f" + {result.reps}" if result.reps else "")
