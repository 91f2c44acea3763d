"""What figures mean in words, the same on paper, page and terminal.

Invariant: what is not known is said to be so, never left out and never a number.
"""

from __future__ import annotations

from collections.abc import Mapping

from floorclock.digest.summary import PartSummary
from floorclock.pace.advice import Advice
from floorclock.pace.flags import Flag
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.work import amount_words

UNKNOWN = "Nobody is known to need it: no split was taken."
CALM = "Nobody. Everybody who was tapped kept the margin and the pace."
ASK_FIRST = (
    "Ask how it felt before you change a target. Pain, dizziness or illness ends the work; "
    "this is no medical advice, local rules and qualified staff decide."
)
STOP = (
    "Stop on sharp or chest pain, dizziness or faintness, and say so. A lighter option or a lower number is no step back. "
    "This is no medical advice: local rules and qualified staff decide."
)
PERSONAL = "Names, splits and ratings are personal data: hand on only what a person has agreed to, and delete the rest."
STEADY_PERCENT = 0.5
"""A change of pace smaller than this from round to round is called none: it is less than a tap is off by."""


def drift_words(drift: float | None) -> str:
    """By what share a split grows with each round, as a coach would say it: `3.2 % slower each round`."""
    if drift is None:
        return "too little was tapped to tell"
    percent = 100 * drift
    if abs(percent) < STEADY_PERCENT:
        return "the same pace from round to round"
    return f"{abs(percent):.1f} % {'slower' if percent > 0 else 'faster'} each round"


def target_words(advice: Advice, *, with_move: bool = True) -> str:
    """What to give: `8`, `200 m`, `lighter`, `lighter 14`, of a ladder `8 in round 4, +2 each round`.

    Who does another move than the station's has it said with the number (`box step-up 12`), unless it stands beside it already.
    """
    amount = ""
    if advice.target is not None:
        amount = advice.target.words(advice.round)
    elif advice.amount is not None and advice.unit is not None:
        amount = amount_words(advice.amount, advice.unit)
    if advice.target is not None and advice.target.step:
        amount += f" in round {advice.round}, {float(advice.target.step):+g} each round"
    return " ".join(word for word in (advice.option or (advice.own_move if with_move else ""), amount) if word)


WAY_SIGN: Mapping[str, str] = {"less": "-", "more": "+", "option": "~", "keep": "="}
BAR = "In a row of rests `|` stands where the target changed."
WAYS = "- less, + more, ~ another option, = as it was"


def chance_words(advice: Advice) -> str:
    """How likely it keeps the margin, no surer than anybody can be: `92%`, `over 99%`; of a new option nothing is known."""
    chance = advice.chance
    if advice.option and not chance:
        return "not known"
    if chance > 0.99:
        return "over 99%"
    return "under 1%" if chance < 0.01 else f"{100 * chance:.0f}%"


def forecast_words(one: Forecast) -> str:
    """A split to come with its span: `46 s (42 to 51)`."""
    return f"{one.split_ms / 1000:.0f} s ({one.low_ms / 1000:.0f} to {one.high_ms / 1000:.0f})"


def load_words(load: SessionLoad) -> str:
    """Effort times minutes: `effort 6 x 42 minutes = load 252`."""
    minutes = f"{load.minutes:.0f} minutes"
    if load.effort is None or load.load is None:
        return f"effort not rated, {minutes}"
    return f"effort {load.effort:g} x {minutes} = load {load.load:.0f}"


def whole_facts(part: PartSummary) -> list[str]:
    """The class as a whole in one part, counted."""
    if not part.is_timed_by_splits:
        known = sum(athlete.result is not None for athlete in part.athletes)
        unfinished = part.count(Flag.NOT_FINISHED)
        facts = [f"{known} of {len(part.athletes)} " + ("tapped out" if part.kind == "paced" else "with a result")]
        return facts + ([f"{unfinished} not finished"] if unfinished else [])
    tapped = sum(athlete.tapped > 0 for athlete in part.athletes)
    facts = [f"{part.held} of the {tapped} who were tapped held margin and pace" if tapped else "nobody was tapped"]
    to_come = any(athlete.forecast for athlete in part.athletes)
    counted_as = {Flag.RUNS_OUT: "forecast to run out" if to_come else "ran out as forecast"}
    facts += [f"{part.count(flag)} {counted_as.get(flag, flag)}" for flag in reversed(Flag) if part.count(flag)]
    if part.untapped:
        facts.append(f"{part.untapped} of {counted(part.intervals, 'interval')} untapped")
    return facts


def hardest(part: PartSummary) -> str:
    """Which station, or which several alike, took the most rounds under the margin, in words; empty where none did."""
    most = max((one.tight for one in part.stations), default=0)
    if not most:
        return ""
    worst, *alike = [one for one in part.stations if one.tight == most]
    under = sum(one.tight for one in part.stations)
    if alike:
        names = [worst.name, *(one.name for one in alike)]
        return f"{', '.join(names[:-1])} and {names[-1]}: {counted(most, 'tapped round')} each under the margin"
    words = f"{worst.name}: {worst.tight} of {counted(worst.tapped, 'tapped round')} there were under the margin"
    return words + (f", and {under - worst.tight} elsewhere" if under > worst.tight else "")


def names_with(part: PartSummary, flag: Flag) -> list[str]:
    """Who had a flag in a part."""
    return [athlete.name for athlete in part.athletes if flag in athlete.flags]


def counted(number: int, noun: str) -> str:
    """`1 round`, `2 rounds`."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
