"""Another target for a move, tried before it is written: `box jump=8`.

Invariant: a plan tried out is as sound as the plan it came from; the file stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import Any, TypeVar

from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.names import nearest
from floorclock.plan.quantities import parse_target
from floorclock.plan.session import AnyPart, Piece, Session
from floorclock.plan.work import Option, Station, Target

Tries = Mapping[str, Target]
"""Targets by move."""
Work = TypeVar("Work", Station, Option)
_EXAMPLE = "write it like box jump=8, or row=150 m"


def read_tries(texts: Iterable[str], session: Session) -> Tries:
    """Targets as typed, for moves of a session.

    Raises:
        UnreadableError: no move and target, a move that the session has not, or a target in another unit than its own.
    """
    written: dict[str, Target | None] = {}
    for station in session.moves():
        written |= {station.move: station.target} | {option.move: option.target or station.target for option in station.options}
    found: dict[str, Target] = {}
    for text in texts:
        move, sign, amount = (piece.strip() for piece in text.partition("="))
        if not sign or not move:
            raise UnreadableError(f"{shown(text)} is no move with a target", _EXAMPLE)
        if move not in written:
            near = nearest(move, written)
            hint = f"did you mean {near}?" if near else "name a move of the session"
            raise UnreadableError(f"the session has no {shown(move)}", hint)
        target, plan = parse_target(amount), written[move]
        if plan is not None and plan.unit is not target.unit:
            hint = f"write it like {move}={plan.words()}"
            raise UnreadableError(f"{amount} is in {target.unit}, and {move} in {plan.unit}", hint)
        found[move] = target
    return found


def with_targets(session: Session, tries: Tries) -> Session:
    """The same session with other targets wherever these moves are done; a ladder keeps its step, each side its two sides."""
    return replace(session, parts=tuple(_part(part, tries) for part in session.parts))


def _part(part: AnyPart, tries: Tries) -> AnyPart:
    def tried(stations: tuple[Station, ...]) -> tuple[Station, ...]:
        return tuple(_station(station, tries) for station in stations)

    named = {field.name for field in fields(part)}
    changed: dict[str, Any] = {name: tried(getattr(part, name)) for name in named & {"work", "buy_in", "cash_out"}}
    if isinstance(part, Piece):
        changed["choose"] = tuple(replace(choice, work=tried(choice.work)) for choice in part.choose)
    return replace(part, **changed)


def _station(station: Station, tries: Tries) -> Station:
    # An option without a target of its own has the station's as it was written.
    options = tuple(_tried(option, tries, option.target or station.target) for option in station.options)
    items = tuple(_station(item, tries) for item in station.items)
    return replace(_tried(station, tries, station.target), options=options, items=items)


def _tried(work: Work, tries: Tries, written: Target | None) -> Work:
    target = tries.get(work.move)
    if target is None:
        return work
    if written is not None and written.each_side and not target.each_side:
        target = replace(target, amount=2 * target.amount, each_side=True)
    if written is not None and not target.amounts and not target.most:
        target = replace(target, step=written.step)
    return replace(work, target=target)
