"""How the floor says an advice: on the calls, on the key, in the answer to it.

Invariant: amounts are those of the round that comes next at the station, also where the target climbs from round to round.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from floorclock.floor.advice_events import Giving
from floorclock.floor.part_looks import Look
from floorclock.plan.work import Target, Unit, amount_words

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice

AS_WRITTEN = "as written"


def given_words(advice: Advice) -> str:
    """What the key would give, as short as can be: `8`, `200 m`, `lighter`."""
    if advice.way == "option":
        return advice.option or AS_WRITTEN
    return advice.target.words(advice.round) if advice.target is not None else ""


def call_words(name: str, look: Look) -> tuple[str, str]:
    """Who needs the coach, why, and what would help; and the same without the why."""
    stands = look.standing
    goes = look.outlook.runs_out if look.outlook is not None and stands.flag == "runs out" else None
    rests, at, place = stands.because.partition(";")[0].partition(" at ")
    where = f"{at}{place}"
    what, because = f"{name} {stands.flag}", stands.because
    if goes is not None:
        what, because = f"{name} runs out in round {goes.slot.round}{where}", rests
    short = what if goes is not None else f"{what}{where}"
    help_words = _help(look)
    return (f"{what}: {because}{help_words}" if because else f"{what}{help_words}"), f"{short}{help_words}"


def _help(look: Look) -> str:
    if not look.advice:
        return ""
    advice = look.advice[0]
    elsewhere = advice.station != look.standing.station
    return f". {f'{advice.move}: ' if elsewhere else ''}{advice.words}"


def chance_words(name: str, advice: Advice) -> tuple[str, str]:
    """Who could do more, and how much: a chance, not an alarm; and the same without the reasons."""
    what = f"{name} has rest to spare at {advice.move}"
    return (
        f"{what}: {advice.because}. {advice.words}" if advice.because else f"{what}. {advice.words}"
    ), f"{what}. {advice.words}"


def full_target(target: Target | None, round_number: int) -> str:
    """`8 reps`, `200 m`; empty without a target."""
    if target is None:
        return ""
    words = amount_words(target.in_round(round_number), target.unit)
    return f"{words} {'rep' if words == '1' else 'reps'}" if target.unit is Unit.REPS else words


def answer_words(found: Giving, tail: str = "") -> str:
    """What was changed: `Sefa: step-up 8 reps, was 10; Shift+F2 takes it back`."""
    before, after = found.before, found.after
    now = f"{after.move} {full_target(after.target, found.round)}".strip()
    was = f"{before.move} {full_target(before.target, found.round)}".strip()
    if after.move == before.move:
        was = before.target.words(found.round) if before.target is not None else "without a target"
    return f"{found.athlete}: {now}, was {was}" + (f"; {tail}" if tail else "")
