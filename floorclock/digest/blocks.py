"""The same work in several blocks: one target for next time, said once.

Invariant: a person has no two targets for one move of one part of the plan: of several the least stands, as it has to hold in
every block, said with the last of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from floorclock.digest.class_digest import PartDigest
from floorclock.pace.advice import Advice, Way

_Key = tuple[tuple[str | int, ...], str, int, str]
"""The work, the athlete, the station, and the move they do there."""


def alike_in_blocks(parts: Sequence[PartDigest]) -> list[PartDigest]:
    """The parts with next time's target alike in all blocks of the same work; what is still to come is left as it is."""
    least: dict[_Key, Advice] = {}
    for part, name, advice in _all(parts):
        key = _key(part, name, advice)
        least[key] = min(least.get(key, advice), advice, key=_size)
    return _with(parts, lambda part, name, advice: replace(least[_key(part, name, advice)], part=part.index))


def once_a_work(parts: Sequence[PartDigest]) -> list[PartDigest]:
    """The parts with next time's target in the last block alone."""
    last = {_key(part, name, advice): part.index for part, name, advice in _all(parts)}
    return _with(parts, lambda part, name, advice: advice if last[_key(part, name, advice)] == part.index else None)


def _all(parts: Sequence[PartDigest]) -> Iterator[tuple[PartDigest, str, Advice]]:
    return ((part, athlete.name, advice) for part in parts for athlete in part.athletes for advice in athlete.advice)


def _key(part: PartDigest, name: str, advice: Advice) -> _Key:
    return part.same_work, name, advice.station, advice.own_move


def _size(advice: Advice) -> tuple[bool, Fraction]:
    """An option is less than any target."""
    return advice.way is not Way.OPTION, advice.amount or Fraction(0)


def _with(parts: Sequence[PartDigest], chosen: Callable[[PartDigest, str, Advice], Advice | None]) -> list[PartDigest]:
    """The parts with what is chosen in the place of each advice; as they are while there is work to come."""
    if any(part.to_come for part in parts):
        return list(parts)
    made = []
    for part in parts:
        athletes = []
        for athlete in part.athletes:
            found = (chosen(part, athlete.name, advice) for advice in athlete.advice)
            athletes.append(replace(athlete, advice=tuple(filter(None, found))))
        made.append(replace(part, athletes=tuple(athletes)))
    return made
