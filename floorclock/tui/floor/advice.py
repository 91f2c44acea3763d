"""An advice as the floor says it (on the calls, on the key, in the answer to it), and as the events that give it.

Invariant: amounts are those of the round that comes next at the station, also where the target climbs from round to round; the
events that take an advice back leave the athlete with the work they had.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from floorclock.clock.events import OptionChosen, TargetChanged
from floorclock.clock.state import ClassState
from floorclock.plan.roster import Assignment, Athlete, assign
from floorclock.plan.work import Station, Target, amount_said
from floorclock.tui.floor.outlooks import Look

if TYPE_CHECKING:
    from floorclock.pace.advice import Advice
    from floorclock.pace.flags import Standing

Change = TargetChanged | OptionChosen
AS_WRITTEN = "as written"


@dataclass(frozen=True, slots=True)
class Giving:
    """An advice as events: `changes` give it, `back` undo them in order; work `before` and `after` at its station.

    `round` is the first round that it is for.
    """

    athlete: str
    station: Station
    before: Assignment
    after: Assignment
    changes: tuple[Change, ...]
    back: tuple[Change, ...]
    round: int = 1

    def still_stands(self, state: ClassState) -> bool:
        """Whether nobody has changed the work since."""
        athlete = state.athletes.get(self.athlete)
        return athlete is not None and assign(athlete, self.station) == self.after

    @property
    def needs_yes(self) -> bool:
        """Whether it leads to a guarded move that nobody has allowed this athlete."""
        return self.after.gated and self.after.move != self.before.move


def giving(state: ClassState, advice: Advice) -> Giving:
    """The events of an advice as the class stands; their class time is that of the sending."""
    athlete = state.athletes[advice.athlete]
    station = state.part(advice.part).stations[advice.station]
    before = assign(athlete, station)
    changed, changes, back = athlete, list[Change](), list[Change]()
    if advice.way == "option":
        changes.append(OptionChosen(at_ms=0, athlete=athlete.name, move=station.move, option=advice.option))
        was = athlete.options.get(station.move, "")
        back.append(OptionChosen(at_ms=0, athlete=athlete.name, move=station.move, option=was))
        changed = replace(changed, options={**changed.options, station.move: advice.option})
    work = assign(changed, station)
    given = next((item for item in work.items if item.move == advice.item), work)
    target = advice.item_target or advice.target
    if target is not None and given.target != target:
        own = station.own(given.move)
        changes.append(TargetChanged(at_ms=0, athlete=athlete.name, move=own, target=target))
        old = athlete.targets.get(own) or given.target
        if old is not None:
            back.insert(0, TargetChanged(at_ms=0, athlete=athlete.name, move=own, target=old))
        changed = _with_target(changed, own, target)
    return Giving(athlete.name, station, before, assign(changed, station), tuple(changes), tuple(back), advice.round)


def _with_target(athlete: Athlete, move: str, target: Target) -> Athlete:
    return replace(athlete, targets={**athlete.targets, move: target})


def given_words(advice: Advice) -> str:
    """What the key would give, as short as can be: `8`, `200 m`, `lighter`."""
    if advice.way == "option":
        return advice.option or AS_WRITTEN
    return advice.target.words(advice.round) if advice.target is not None else ""


def call_words(name: str, look: Look, advice: Advice | None, *, keyed: bool = False, own_margin: bool = False) -> tuple[str, ...]:
    """Who needs the coach, why, and what would help, in several wordings, each shorter than the one before.

    A line speaks of one move: where what would help is at another station than the flag, of that one alone.

    Args:
        name: whose.
        look: with a flag that stands.
        advice: what the line gives, if anything.
        keyed: beside the key that gives the number: where there is no room for both, the number stands there only.
        own_margin: the margin is not that of the class; it is among the last things left out.
    """
    if advice is not None and advice.station != look.standing.station:
        return _elsewhere_words(name, advice, keyed=keyed)
    head, rests, tail = _head(name, look), look.standing.rests, _tail(look.standing)
    short = f". {_opened(advice.words)}" if advice is not None else ""
    whole = _joined(head, rests, tail)
    forms = [f"{whole}{short}", f"{whole}{'' if keyed else short}"]
    latest, margin = look.standing.latest_rest_ms, look.standing.margin_ms
    if own_margin and margin is not None and latest is not None:
        forms += [_joined(head, f"rest {latest // 1000} s", _margin(margin)) + ("" if keyed else short)]
        forms += [f"{some}, {_margin(margin)}{'' if keyed else short}" for some in (head, _head(name, look, "round"))]
    else:
        forms += [_joined(head, why, "") + ("" if keyed else short) for why in (rests, rests.removeprefix("rest "))]
    forms += [f"{head}{'' if keyed else short}", head]
    return tuple(dict.fromkeys(forms))


def _elsewhere_words(name: str, advice: Advice, *, keyed: bool) -> tuple[str, ...]:
    head = f"{name} at {advice.move}"
    because = f": {advice.because.replace(';', ',')}" if advice.because else ""
    short = "" if keyed else f". {_opened(advice.words)}"
    return tuple(dict.fromkeys((f"{head}{because}. {_opened(advice.words)}", f"{head}{because}{short}", f"{head}{short}", head)))


def _head(name: str, look: Look, when: str = "in round") -> str:
    """`Sefa runs out in round 5 at step-up`."""
    stands = look.standing
    goes = look.outlook.runs_out if look.outlook is not None and stands.flag == "runs out" else None
    number = goes.slot.round if goes is not None else stands.round
    return f"{name} {stands.flag}" + (f" {when} {number}" if number else "") + (f" at {stands.move}" if stands.move else "")


def _tail(stands: Standing) -> str:
    """What the rests are to be held against."""
    if stands.slope_ms is not None:
        return f"{stands.slope_ms / 1000:.1f} s slower each round"
    return "" if stands.margin_ms is None or stands.flag == "not finished" else _margin(stands.margin_ms)


def _margin(margin_ms: int) -> str:
    return f"margin {margin_ms / 1000:g}"


def _joined(head: str, rests: str, tail: str) -> str:
    why = ", ".join(word for word in (rests, tail) if word)
    return f"{head}: {why}" if why else head


def chance_words(name: str, advice: Advice, *, keyed: bool = False) -> tuple[str, ...]:
    """Who could do more, and how much: a chance, not an alarm; each wording shorter than the one before, as `call_words`."""
    what = f"{name} has rest to spare at {advice.move}"
    because = advice.because.replace(";", ",")
    forms = [f"{what}: {because}. {_opened(advice.words)}"] if because else []
    forms += [f"{what}: {because}"] if because and keyed else []
    number = full_target(advice.target, advice.round)
    forms += [what] if keyed else [f"{what}. {_opened(advice.words)}", *([f"{what}: {number}"] if number else []), what]
    return tuple(forms)


def _opened(words: str) -> str:
    """Words that begin a sentence."""
    return words[:1].upper() + words[1:]


def full_target(target: Target | None, round_number: int) -> str:
    """`8 reps`, `200 m`, `8 reps each side`; empty without a target."""
    return "" if target is None else amount_said(target.in_round(round_number), target.unit, target.sides)


def answer_words(found: Giving, tail: str = "") -> str:
    """What was changed: `Sefa: step-up 8 reps, was 10; Shift+F2 takes it back`."""
    before, after = found.before, found.after
    now = f"{after.move} {full_target(after.target, found.round)}".strip()
    was = f"{before.move} {full_target(before.target, found.round)}".strip()
    if after.move == before.move:
        was = before.target.words(found.round) if before.target is not None else "without a target"
    return f"{found.athlete}: {now}, was {was}" + (f"; {tail}" if tail else "")
