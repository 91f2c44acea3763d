"""What the questions have in common: which classes are meant, and what belongs to what."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import ColumnElement, FromClause, and_, select

from floorclock.store.tables import classes, moves

NEWEST = (classes.c.started.desc(), classes.c.class_no.desc())
"""The newest class first; of two at the same instant, always the same one."""


def among(
    site: int, rehearsals: bool, *, since: datetime | None = None, before: datetime | None = None
) -> Iterator[ColumnElement[bool]]:
    """Which classes are asked about."""
    yield classes.c.site == site
    if not rehearsals:
        yield classes.c.rehearsal.is_(False)
    if since is not None:
        yield classes.c.started >= since
    if before is not None:
        yield classes.c.started < before


def in_time(
    column: ColumnElement[int], site: int, *, since: datetime | None, before: datetime | None
) -> Iterator[ColumnElement[bool]]:
    """For a question that joins classes with the rows of a big table: its column `class_no`, held to the classes of a time.

    It says nothing that `among` has not said of the classes. But a database that begins with the big table has to read all years
    of it for a few weeks, and this keeps it to those.
    """
    if since is not None or before is not None:
        other = classes.alias()
        mine = [other.c.site == site]
        if since is not None:
            mine.append(other.c.started >= since)
        if before is not None:
            mine.append(other.c.started < before)
        yield column.in_(select(other.c.class_no).where(*mine))


def of_class(table: FromClause) -> ColumnElement[bool]:
    """The rows of a table that belong to a class."""
    return and_(table.c.site == classes.c.site, table.c.class_no == classes.c.class_no)


def of_move(table: FromClause) -> ColumnElement[bool]:
    """The move that a row of a table is about."""
    return and_(moves.c.site == table.c.site, moves.c.move_no == table.c.move_no)
