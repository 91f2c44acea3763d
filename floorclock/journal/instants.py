"""Wall times as text: RFC 3339, which keeps the place's own offset.

Invariant: what `instant_text` writes, `read_instant` reads back as the same instant. A wall time is only ever a label.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

_RFC_3339 = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt][0-2][0-9]:[0-9]{2}:([0-9]{2})(?:\.[0-9]+)?(?:[Zz]|[+-][0-9]{2}:[0-5][0-9])"
)

EARLIEST_YEAR, LATEST_YEAR = 1900, 9000


def instant_text(wall: datetime) -> str:
    """A wall time to the millisecond with its offset, such as `2026-11-25T18:31:04.120+01:00`.

    A time without an offset is taken for the machine's own. An offset that is no whole number of minutes cannot be
    written in RFC 3339; such a time is written in UTC.
    """
    aware = wall.astimezone() if wall.tzinfo is None else wall
    offset = aware.utcoffset() or timedelta(0)
    if offset % timedelta(minutes=1):
        aware = aware.astimezone(UTC)
    return aware.isoformat(timespec="milliseconds")


def read_instant(text: str) -> datetime:
    """The wall time that an RFC 3339 text says (section 5.6).

    A leap second is the instant after it, because `datetime` has no sixty-first second.

    Raises:
        ValueError: the text is no RFC 3339 time.
    """
    found = _RFC_3339.fullmatch(text)
    if found is None:
        raise ValueError("not an RFC 3339 time")
    if found[1] != "60":
        return datetime.fromisoformat(text.upper())
    wall = datetime.fromisoformat(f"{text[:17]}59{text[19:]}".upper()).replace(microsecond=0)
    universal = wall.astimezone(UTC)
    if (universal.hour, universal.minute) != (23, 59):
        raise ValueError("a leap second is the last of a day in UTC")
    return wall + timedelta(seconds=1)


def instant_or_none(value: object) -> datetime | None:
    """The instant of a text that may be anything; None where it is no RFC 3339 time, or no year that a record could be of.

    The first and the last years of the calendar have instants that another zone, or a day more, cannot say.
    """
    try:
        instant = read_instant(value) if isinstance(value, str) else None
    except (ValueError, OverflowError):
        return None
    return instant if instant is not None and EARLIEST_YEAR <= instant.year <= LATEST_YEAR else None
