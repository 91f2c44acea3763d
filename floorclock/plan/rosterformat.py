"""The shapes of a roster file: who is here, and what is theirs alone.

Invariant: an unknown key is a problem, never ignored.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, Tag

from floorclock.plan.fields import Amount, FromText, Margin, Name, Title, counted, kind_of
from floorclock.plan.names import clean_key
from floorclock.plan.workformat import Shape

MOST_ATHLETES = 200
MOST_GROUPS = 60


class AthleteFile(Shape):
    """Somebody who is here today."""

    name: Name
    key: Annotated[str, FromText(clean_key, "a letter or digit", {"type": ["string", "integer"]})] | None = None
    level: Name | None = None
    options: dict[Name, Name] | None = None
    targets: dict[Name, Amount] | None = None
    experienced: (
        Annotated[Annotated[list[Name], Tag("<list>")] | Annotated[Name, Tag("<text>")], kind_of("<text>", "<list>", "<text>")]
        | None
    ) = None
    group: Annotated[int, counted(1, MOST_GROUPS)] | None = None
    rest_margin: Margin | None = None


class RosterFile(Shape):
    """A roster file."""

    roster: Title | None = None
    athletes: Annotated[
        list[
            Annotated[
                Annotated[AthleteFile, Tag("<mapping>")] | Annotated[Name, Tag("<text>")],
                kind_of("<text>", "<text>", "<mapping>"),
            ]
        ],
        Field(min_length=1, max_length=MOST_ATHLETES),
    ]
