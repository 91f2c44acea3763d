"""Lines of a journal as older builds wrote them, brought to the form that today's reader takes.

Invariant: a line says today what it said on the day it was written. What a key meant that was not there yet is written down
here and not left to a default in the code, which may change.

What counts as a new version of the format (`lines.VERSION`), told by what a floorclock that does not know of it would do:

- It would read the line and fold another class from it: a key means something else, has another unit, is gone, or is now needed;
  an event with the same name does something else. That is a new version: raise `VERSION`, and give `STEPS` the way from the
  version before. The old floorclock then sets the line aside and says so, instead of believing it.
- It would set the line aside by itself: a new kind of event. No new version.
- It would pass over a key and lose no more than a nuance (a label, some tenths of a second of a count): no new version. What the
  key's absence meant goes into `_ABSENT`.

The fold is part of the format: whoever changes what an event does to the state changes what old classes say.
`tests/record/golden` holds classes of every build with the splits and results that this build gave, and its test fails then.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from floorclock.journal.lines import VERSION

Values = Mapping[str, Any]
Step = Callable[[Values], Values]
"""From a line of one version to the same line as the next version (for the newest: as today's builds) would have it."""

_ABSENT: Mapping[int, Mapping[str, Values]] = {
    1: {
        "opened": {"cues": "", "paper": False, "forgotten": 0},
        "part begun": {"groups": []},
        "pause": {"interrupted": ""},
        "resume": {"lead_ms": 0},
    },
}
"""By version and event, keys that came while this version was written already, and what a line without them means.

The first build of version 1 knew no cue choices, no class from paper, no pause that was a dying machine's, and no notice before
the count after a pause. Its other lines are as today's; `quiet` and `effort` came later, as events of their own.
"""


class UnknownVersion(ValueError):
    """A version of the format that no build has written, or only a newer one."""


def _with_what_was_absent(version: int) -> Step:
    def step(values: Values) -> Values:
        name = values.get("event")
        absent = _ABSENT[version].get(name) if isinstance(name, str) else None
        return values if absent is None else {**absent, **values}

    return step


STEPS: Mapping[int, Step] = {1: _with_what_was_absent(1)}
"""The way on from each version that was ever released, one entry for each, up to `VERSION` itself."""


def upgraded(values: Values, steps: Mapping[int, Step] = STEPS, newest: int = VERSION) -> Values:
    """The values of a decoded line as today's floorclock would have written them. Steps are taken one after the other.

    Raises:
        UnknownVersion: no step leads on from its version.
        KeyError, TypeError, ValueError, AttributeError: a step met values of the wrong kind.
    """
    version = values["v"]
    if version not in steps or version > newest:
        raise UnknownVersion(f"version {version}")
    for number in range(version, newest + 1):
        values = {**steps[number](values), "v": min(number + 1, newest)}
    return values
