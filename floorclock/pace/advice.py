"""The number to change to: the target that keeps the margin to the last round.

Invariant: an advice is something a coach would say, and never less than the floor the coach set.

Less is advised for a flag, more only for who has no flag and much rest: in each of the latest `ROUNDS_FOR_MORE` tapped rounds
with the present target at least twice the margin and a quarter of the interval over it. More of a guarded move only for who is
listed as experienced in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Final

from floorclock.clock.splits import Coming, Split, Status
from floorclock.pace.largest import LIKELY_ENOUGH, OptionFound, Rounds, as_target, cut_item, find_option
from floorclock.pace.model.forecast import AthletePace, fit_class
from floorclock.pace.prior import Prior
from floorclock.pace.sayable import rests_words, steps_of
from floorclock.plan.names import counted
from floorclock.plan.roster import Athlete
from floorclock.plan.session import AnyPart
from floorclock.plan.work import LoadUnit, Station, Target, Unit, amount_said

ROUNDS_FOR_MORE = 3
IN_DOUBT: Final = ", but even that may not hold"
"""After the least that is advised, where it is not likely to keep the margin."""
STRENGTH_REPS: Final = 6
LEAST_CLASSES_FOR_MORE = 2
LEAST_SPLITS_FOR_NEXT = 2
"""Next time's target stays as it is where an athlete worked in fewer intervals at a station: one split proves little."""
RESTS_SHOWN = 8
OVER_SHARE = 0.25


class Way(StrEnum):
    """Which way an advice goes."""

    LESS = "less"
    MORE = "more"
    OPTION = "option"
    KEEP = "keep"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """For one athlete at one station (from 0).

    `move` is the move it is about: that of the athlete's work for a target, that of the station as written for an option.
    `target` is what to give, such that `target.in_round(r)` is right for each round still to come; None for an option
    that has no target of its own. `option` is the option to take, empty where the move stays.
    `words` say what to do (`drop to 8 reps?`, `switch to lighter?`), `because` why. `chance` is how likely it keeps
    the margin to the last round, 0..1; 0 for an option that nothing is known of, as its words say.
    `round` is the first round it is for, from 1; `amount` of `unit` is what is to be done in it, with an option too.
    """

    athlete: str
    part: int
    station: int
    move: str
    way: Way
    target: Target | None
    option: str = ""
    words: str
    because: str
    chance: float
    round: int = 1
    amount: Fraction | None = None
    unit: Unit | None = None
    option_move: str = ""
    """The move of the option; empty without one."""
    item: str = ""
    """At a station of several moves the one to change, to `item_target`; `target` is then what all of them come to."""
    item_target: Target | None = None
    own_move: str = ""
    """The athlete's move where it is another than the station's, by an option they have already: never to be left out then."""


def advise_less(
    rounds: Rounds, pace: AthletePace, station: Station, athlete: Athlete, because: str, cap: Fraction | None = None
) -> Advice | None:
    """What to change at a station for who is losing the margin: a smaller target, else an option that holds better.

    Always something, unless the present target is best left as it is. What is not likely to hold says so.

    Args:
        rounds: what is to come there.
        pace: that of the athlete, to ask about options.
        station: as the plan has it.
        athlete: for gates and own targets.
        because: why it is needed, in words.
        cap: no more than this, whatever the forecast says.
    """
    found = rounds.cut(station, cap)
    if found is not None and rounds.chance(found) >= LIKELY_ENOUGH:
        return _less(rounds, found, athlete, because, station)
    if found is None and cap is None and rounds.chance(rounds.next.amount) >= LIKELY_ENOUGH:
        return None
    option = find_option(rounds, pace, station, athlete)
    if option is not None:
        return _to_option(option, station, because)
    if found is not None:
        return _less(rounds, found, athlete, because, station)
    words = f"{_keep_words(rounds.next)}{IN_DOUBT}"
    return replace(_keep(rounds.next, rounds.chance(rounds.next.amount), because, station), words=words)


def is_heavy(station: Station, amount: Fraction) -> bool:
    """A set that ends early because it is heavy, so that the rest is part of it and says nothing of more reps.

    At a percentage of somebody's best, or up to six reps with a load: strength work by the tables of the trade (such as Haff and
    Triplett, Essentials of Strength Training and Conditioning, 2016; from memory).
    """
    load, target = station.load, station.target
    if load is None or target is None:
        return False
    percent = any(each.unit is LoadUnit.PERCENT for each in (load, *(level for _, level in load.levels)))
    return percent or (target.unit is Unit.REPS and amount <= STRENGTH_REPS)


def advise_more(rounds: Rounds, station: Station, athlete: Athlete, because: str, taken: Sequence[Split]) -> Advice | None:
    """More work for who has much rest at a station; `taken` are their tapped rounds there, in order.

    Never of heavy sets.
    """
    if (
        is_heavy(station, rounds.next.amount)
        or station.items
        or is_gated(rounds.next, station, athlete)
        or not has_much_rest(rounds.next, taken)
    ):
        return None
    found = rounds.largest(station)
    return _more(rounds, found, because, station) if found is not None and found > rounds.next.amount else None


def _less(rounds: Rounds, amount: Fraction, athlete: Athlete, because: str, station: Station) -> Advice:
    """Less work; of several moves the one that costs the most time is cut."""
    cut = cut_item(rounds, station, athlete, amount) if rounds.next.unit is Unit.WHOLE else None
    item, target, amount = cut or ("", None, amount)
    spoken = _spoken(rounds, amount) if target is None else _item_words(item, target, rounds.next.round)
    doubt = "?" if rounds.chance(amount) >= LIKELY_ENOUGH else IN_DOUBT
    made = _advice(rounds.next, amount, Way.LESS, rounds.chance(amount), f"drop to {spoken}{doubt}", because, station)
    return replace(made, item=item, item_target=target)


def _more(rounds: Rounds, amount: Fraction, because: str, station: Station) -> Advice:
    words = f"go up to {_spoken(rounds, amount)}, leaving {int(rounds.rest_ms(amount) // 1000)} s?"
    return _advice(rounds.next, amount, Way.MORE, rounds.chance(amount), words, because, station)


def has_much_rest(slot: Coming, taken: Sequence[Split]) -> bool:
    """Whether each of the latest tapped rounds with the target of `slot` left so much that more work is wanted.

    That is twice the margin, and a quarter of the interval over it.
    """
    latest = taken[-ROUNDS_FOR_MORE:]
    return len(latest) == ROUNDS_FOR_MORE and all(
        split.move == slot.move
        and split.unit is slot.unit
        and (split.rest_ms or 0) >= max(2.0 * split.margin_ms, split.margin_ms + OVER_SHARE * split.window_ms)
        and split.amount == slot.amount + slot.step * (split.round - slot.round)
        for split in latest
    )


def is_gated(slot: Coming, station: Station, athlete: Athlete) -> bool:
    """True for work that is guarded, where the athlete is not listed as experienced in it."""
    option = next((option for option in station.options if option.name == slot.option), None)
    guarded = station.guarded if option is None else option.guarded
    return guarded and slot.move not in athlete.experienced


def targets_from_history(
    part: AnyPart, whole: Sequence[Coming], prior: Prior, confidence: int, athlete: Athlete
) -> tuple[Advice, ...]:
    """What earlier classes say that one athlete can hold today, station by station; nothing where the plan will do.

    The largest target that keeps the margin as surely as was asked, no more than a fifth more (once two classes say so); else an
    option, else the least.
    Nothing at a station whose work they have never done.

    Args:
        part: as the plan has it.
        whole: all their work in the part, as the plan and the roster give it.
        prior: what earlier classes say.
        confidence: in percent, as in `Session`.
        athlete: for guarded moves and own targets.
    """
    if not whole:
        return ()
    pace, found = fit_class((), prior).pace_of(athlete.name, ()), []
    for index, slots in by_station(whole).items():
        known, station = prior.get((athlete.name, slots[0].move, slots[0].unit)), part.stations[index]
        rounds = rounds_of(pace, slots, confidence)
        if known is None or rounds is None:
            continue
        last = rounds.ahead[-1]
        rest_s = max(0, int((last.slot.window_ms - last.split_ms) // 1000))
        end = f"in round {slots[-1].round}; margin {slots[-1].margin_ms / 1000:g}"
        because = f"{counted(known.classes, 'class')}: about {rest_s} s of rest {end}"
        made = _largest(rounds, pace, station, athlete, because)
        if made is not None and (made.way is not Way.MORE or known.classes >= LEAST_CLASSES_FOR_MORE):
            found.append(made)
    return tuple(found)


def _largest(rounds: Rounds, pace: AthletePace, station: Station, athlete: Athlete, because: str) -> Advice | None:
    """The largest target that holds where that is another one than the present; where none does, what helps most."""
    largest, present = rounds.largest(station), rounds.next.amount
    if largest is None:
        return advise_less(rounds, pace, station, athlete, because, rounds.least(station))
    if largest < present:
        return _less(rounds, largest, athlete, because, station)
    if largest == present or station.items or is_heavy(station, present) or is_gated(rounds.next, station, athlete):
        return None
    return _more(rounds, largest, because, station)


def next_targets(
    part: AnyPart,
    splits: Sequence[Split],
    whole: Sequence[Coming],
    pace: AthletePace,
    *,
    confidence: int,
    athlete: Athlete | None = None,
) -> tuple[Advice, ...]:
    """Next time's target at every station, after a class: what would have held from the first round to the last.

    Nothing for who has no split at all: a class that was not taken says nothing of them.

    Args:
        part: as the plan has it.
        splits: those of the athlete in the part, in order.
        whole: all their work in it, as targets stood at the end.
        pace: the athlete, given all of them.
        confidence: in percent, as in `Session`.
        athlete: for guarded moves and own targets; without it nobody is taken for experienced.
    """
    if all(split.status is Status.UNTAPPED for split in splits):
        return ()
    found = []
    for index, slots in by_station(whole).items():
        here = [split for split in splits if split.station == index]
        person = athlete or Athlete(name=slots[0].athlete)
        found.append(_next(part.stations[index], here, slots, pace, person, confidence))
    return tuple(found)


def _next(
    station: Station, here: Sequence[Split], slots: Sequence[Coming], pace: AthletePace, athlete: Athlete, confidence: int
) -> Advice:
    rounds = rounds_of(pace, slots, confidence)
    because = "nobody tapped there"
    if any(split.status is not Status.UNTAPPED for split in here):
        rests = rests_words(here, steps_of(slots), RESTS_SHOWN, not_finished="-")
        because = f"{rests}; margin {slots[-1].margin_ms / 1000:g}"
    tried = [split for split in here if split.status is not Status.UNTAPPED and split.move == slots[0].move]
    if rounds is None or len(tried) < LEAST_SPLITS_FOR_NEXT:
        return _keep(slots[0], 0.0 if rounds is None else rounds.chance(rounds.next.amount), because, station)
    made = _largest(rounds, pace, station, athlete, because)
    if made is None or made.way is Way.KEEP:
        return made or _keep(slots[0], rounds.chance(rounds.next.amount), because, station)
    if made.option:
        return replace(made, words=f"{made.option} next time" if made.chance else made.words)
    doubt = IN_DOUBT if made.chance < LIKELY_ENOUGH else ""
    return replace(made, words=_next_words(made, slots[0]) + doubt)


def rounds_of(pace: AthletePace, slots: Sequence[Coming], confidence: int) -> Rounds | None:
    """The rounds of one station with their forecasts; None where there are none, or nothing is known of the work."""
    forecasts = pace.forecasts([slot for slot in slots if slot.amount > 0])
    ahead = [forecast for forecast in forecasts if forecast is not None]
    return Rounds(tuple(ahead), confidence / 100) if ahead else None


def by_station(slots: Sequence[Coming]) -> dict[int, list[Coming]]:
    """Slots by station, each in order."""
    found: dict[int, list[Coming]] = {}
    for slot in slots:
        found.setdefault(slot.station, []).append(slot)
    return found


def _keep(slot: Coming, chance: float, because: str, station: Station) -> Advice:
    return _advice(slot, slot.amount, Way.KEEP, chance, _keep_words(slot), because, station)


def _advice(slot: Coming, amount: Fraction, way: Way, chance: float, words: str, because: str, station: Station) -> Advice:
    return Advice(
        athlete=slot.athlete,
        part=slot.part,
        station=slot.station,
        move=slot.move,
        way=way,
        target=as_target(slot, amount),
        words=words,
        because=because,
        chance=chance,
        round=slot.round,
        amount=amount,
        unit=slot.unit,
        own_move=slot.move if slot.move != station.move else "",
    )


def _to_option(found: OptionFound, station: Station, because: str) -> Advice:
    option, first, amount = found.option, found.first, found.amount
    words = f"switch to {option.name}?"
    if amount is None:
        amount, words = first.amount, f"{option.name} instead; no splits of it yet"
    elif not found.own:
        words = f"switch to {option.name} with {amount_said(amount, first.unit, first.sides)}?"
    made = _advice(first, amount, Way.OPTION, found.chance, words, because, station)
    return replace(made, move=station.move, target=found.target, option=option.name, option_move=option.move, own_move="")


def _spoken(rounds: Rounds, amount: Fraction) -> str:
    """`8 reps`, with what a ladder adds to it afterwards."""
    then = _then(rounds.next.step / rounds.next.sides, rounds.next.unit) if len(rounds.ahead) > 1 else ""
    if rounds.next.amounts and len(rounds.ahead) > 1:
        then = ", then in proportion"
    return f"{amount_said(amount, rounds.next.unit, rounds.next.sides)}{then}"


def _item_words(move: str, target: Target, round_number: int) -> str:
    return f"{amount_said(target.in_round(round_number), target.unit, target.sides)} of {move}"


def _then(step: Fraction, unit: Unit) -> str:
    """What a ladder adds: `, then 2 more each round`; empty for an even target."""
    if not step:
        return ""
    by = amount_said(abs(step), unit) if unit is not Unit.REPS else f"{abs(step)}"
    return f", then {by} {'more' if step > 0 else 'less'} each round"


def _keep_words(slot: Coming) -> str:
    if slot.amounts:
        return f"keep {as_target(slot, slot.amount).plan_words()}"
    return f"keep {amount_said(slot.amount, slot.unit, slot.sides)}{_then(slot.step / slot.sides, slot.unit)}"


def _next_words(made: Advice, slot: Coming) -> str:
    """`8 reps next time`; of a ladder `next time start at 3 reps, then 1 more each round`."""
    if made.item_target is not None:
        return f"{_item_words(made.item, made.item_target, slot.round)} next time"
    target = made.target or as_target(slot, slot.amount)
    if target.amounts:
        return f"{target.plan_words()} next time"
    first = amount_said(target.in_round(slot.round), target.unit, target.sides)
    if not target.step:
        return f"{first} next time"
    return f"next time start at {first}{_then(target.step / target.sides, target.unit)}"
