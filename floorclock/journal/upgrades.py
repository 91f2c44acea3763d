"""Lines of a journal as older builds wrote them, brought to the form that today's reader takes.

Invariant: a line says today what it said on the day it was written. What a key meant that was not there yet is written down
here and not left to a default in the code, which may change.

What counts as a new version of the format (`lines.VERSION`), told by what a floorclock that does not know of it would do:

- It would read the line and fold another class from it: a key means something else, has another unit, is gone, or is now needed;
  an event with the same name does something else. That is a new version: raise `VERSION`, and write here how a line of the
  version before becomes one of the new. The old floorclock then sets the line aside and says so, instead of believing it.
- It would set the line aside by itself: a new kind of event. No new version.
- It would pass over a key and lose no more than a nuance (a label, some tenths of a second of a count): no new version. What the
  key's absence meant goes into `_ABSENT`.

The fold is part of the format: whoever changes what an event does to the state changes what old classes say.
`tests/journal/golden` holds classes of every build with the splits and results that this build gave, and its test fails then.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from floorclock.journal.lines import VERSION

Values = Mapping[str, Any]

_ABSENT: Mapping[object, Values] = {
    "opened": {"cues": "", "paper": False, "forgotten": 0},
    "part begun": {"groups": []},
    "pause": {"interrupted": ""},
    "resume": {"lead_ms": 0},
}
"""By event, keys that came while version 1 was written already, and what a line without them means.

The first build of version 1 knew no cue choices, no class from paper, no pause that was a dying machine's, and no notice before
the count after a pause. Its other lines are as today's; `quiet` and `effort` came later, as events of their own.
"""


class UnknownVersion(ValueError):
    """A version of the format that no build has written, or only a newer one."""


def upgraded(values: Values) -> Values:
    """The values of a decoded line as today's floorclock would have written them."""
    if values["v"] != VERSION:
        raise UnknownVersion(f"version {values['v']}")
    name = values.get("event")
    return {**_ABSENT.get(name, {}), **values} if isinstance(name, str) else values
