"""Where the names of one person stand in a journal.

Invariant: a name is found as a whole value or a whole word, never inside another word.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping
from typing import Any

from floorclock.clock.events import Event
from floorclock.plan.roster import Athlete


class Mentions:
    """The spellings of one person, to be looked for."""

    def __init__(self, names: Collection[str]) -> None:
        self.names = frozenset(names)
        written = {form for name in self.names for form in (_json(name, ascii_=False), _json(name, ascii_=True))}
        self._needles = tuple(form.encode("utf-8", "surrogatepass") for form in sorted(written))
        words = "|".join(re.escape(form) for form in sorted(written | self.names, key=len, reverse=True))
        self._words = re.compile(rf"(?<!\w)(?:{words})(?!\w)")

    def may_stand_in(self, data: bytes) -> bool:
        """A quick look: false where none of the names can stand in these bytes."""
        return any(needle in data for needle in self._needles)

    def are_words_of(self, text: str | bytes) -> bool:
        """Whether one of the names is a word of a text, or of bytes that are no whole record."""
        return bool(self._words.search(text if isinstance(text, str) else text.decode("utf-8", "replace")))

    def are_told_by(self, event: Event) -> bool:
        """Whether an event is about the person."""
        about = getattr(event, "athlete", "")
        return (about.name if isinstance(about, Athlete) else about) in self.names

    def stand_in(self, value: Any) -> bool:
        """Whether one of the names is a value or a key anywhere in JSON values."""
        if isinstance(value, str):
            return value in self.names
        if isinstance(value, Mapping):
            return any(self.stand_in(one) for pair in value.items() for one in pair)
        return isinstance(value, list) and any(self.stand_in(one) for one in value)


def _json(name: str, *, ascii_: bool) -> str:
    return json.dumps(name, ensure_ascii=ascii_)[1:-1]
