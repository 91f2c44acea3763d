"""Which names stand in the records, and in which classes.

Invariant: this only reads, and a journal that cannot be read costs no other one. Invented athletes of a rehearsal are nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from floorclock.clock.events import Joined
from floorclock.errors import NotFound
from floorclock.journal.disk import open_file
from floorclock.journal.reading import read_bytes
from floorclock.journal.shelf import LONGEST_HEADER, journals_of
from floorclock.people.doubles import Double, possible_doubles
from floorclock.people.register import read_register
from floorclock.plan.names import nearest, plain

_JOINED = f'"event":"{Joined.name}"'.encode()


def known_names(home: Path) -> Mapping[str, frozenset[str]]:
    """Every name that stood on the board of a class, as it was written, with the ids of those classes."""
    found: dict[str, set[str]] = {}
    for path in journals_of(home):
        for name in _names_in(path):
            found.setdefault(name, set()).add(path.stem)
    return {name: frozenset(found[name]) for name in sorted(found)}


def nobody_called(name: str, known: Iterable[str]) -> NotFound:
    """That nobody of this name is in the records, with the nearest who is."""
    near = nearest(plain(name), known)
    return NotFound(f"nobody called {plain(name)} is in the records" + (f"; did you mean {near}?" if near else ""))


def doubles_of(home: Path) -> tuple[Double, ...]:
    """Who may be one person under two spellings, the surest first; nobody who is merged already or was told apart.

    Raises:
        ResourceError: the disk does not give the file of who is the same person.
    """
    register = read_register(home)
    classes: dict[str, set[str]] = {}
    for name, ids in known_names(home).items():
        classes.setdefault(register.canonical(name), set()).update(ids)
    apart = {frozenset(register.canonical(name) for name in pair) for pair in register.apart}
    return tuple(double for double in possible_doubles(classes) if frozenset((double.name, double.other)) not in apart)


def _names_in(path: Path) -> Iterator[str]:
    try:
        with open_file(path) as file:
            header = read_bytes(file.readline(LONGEST_HEADER)).header
            if header is None or header.rehearsal:
                return
            yield from (athlete.name for athlete in header.roster.athletes)
            # The lines of who came late alone are read.
            for line in file:
                if _JOINED in line:
                    yield from (event.athlete.name for event in read_bytes(line).events if isinstance(event, Joined))
    except OSError:
        return
