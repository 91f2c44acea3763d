"""Who is meant by a name that somebody typed.

Invariant: a name that is written in the records is never taken for another person's; who is in rehearsals alone is nobody.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Final

from floorclock.errors import NotFound
from floorclock.people.doubles import bare_letters
from floorclock.plan.names import LONGEST_NAME, first_few, plain
from floorclock.store.questions import AthleteLine, athletes, known_names
from floorclock.store.store import Store

NEAR: Final = 3
_NEAR_ENOUGH: Final = 0.6


def who_is_meant(store: Store, typed: str) -> AthleteLine:
    """The person somebody means: by the name that counts, by another spelling, by small letters, by the start of a name."""
    wanted = plain(typed)
    found = athletes(store, {wanted, typed})
    if not found:
        names = known_names(store)
        found = _alike(store, wanted, names)
        if not found:
            raise NotFound(_nobody_words(store, wanted, names))
    if len(found) == 1:
        return found[0]
    people = first_few([line.name for line in found])
    raise NotFound(f"{len(found)} people could be meant by {wanted}: {people}; write more of the name")


def _alike(store: Store, wanted: str, names: Iterable[str]) -> tuple[AthleteLine, ...]:
    """Who has the name in other letters; else whose name begins so."""
    short = bare_letters(wanted)
    if not short:
        return ()
    spelt = {name: bare_letters(name) for name in names}
    same = athletes(store, [name for name, own in spelt.items() if own == short])
    return same or athletes(store, [name for name, own in spelt.items() if own.startswith(short)])


def _nobody_words(store: Store, wanted: str, names: Iterable[str]) -> str:
    spelt = {bare_letters(name)[:LONGEST_NAME]: name for name in names}
    near = get_close_matches(bare_letters(wanted)[:LONGEST_NAME], spelt, n=NEAR, cutoff=_NEAR_ENOUGH)
    found = athletes(store, [spelt[name] for name in near])
    words = f"nobody called {wanted} is in the records (rehearsals do not count)"
    return words + (f"; did you mean {' or '.join(line.name for line in found)}?" if found else "")
