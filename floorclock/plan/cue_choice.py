"""Which cues sound in one run of a session: what the coach adds on the command line to what the plan says.

Invariant: the words are those of `cues` in the session file, with the same bounds; what cannot be read changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.names import nearest
from floorclock.plan.quantities import parse_count, parse_flag
from floorclock.plan.session import Cues

MOST: Mapping[str, int] = {"count": 10, "pace": 30, "volume": 100}
"""The highest value of each choice that is a number; the others are on or off."""
CHOICES = tuple(field.name for field in fields(Cues))
EXAMPLE = "count=5 last_ten=off volume=60"


def chosen_cues(text: str, usual: Cues) -> Cues:
    """The usual cues with what `text` changes, such as `count=5 last_ten=off half=on pace=4 volume=60 voice=on`.

    Raises:
        UnreadableError: a word is no choice, or its value cannot be read.
    """
    values: dict[str, int | bool] = {}
    for word in text.replace(",", " ").split():
        name, given, value = word.partition("=")
        if not given:
            raise UnreadableError(f"{shown(word)} says nothing", f"write it like {EXAMPLE}")
        if name not in CHOICES:
            near = nearest(name, CHOICES)
            raise UnreadableError(f"there is no cue {shown(name)}", f"did you mean {near}?" if near else ", ".join(CHOICES))
        try:
            number = value.removesuffix("%" if name == "volume" else "")
            values[name] = parse_count(number, 0, MOST[name]) if name in MOST else parse_flag(value)
        except UnreadableError as error:
            raise UnreadableError(f"{name}: {error.message}", error.hint) from error
    return replace(usual, **values)  # type: ignore[arg-type]
