"""The chances of a class before it runs, as one page for the coach."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from floorclock.insight.rehearsals import ChanceColumn, ChanceRow, Rehearsals, chance_grid, percent
from floorclock.journal.files import write_atomically
from floorclock.report.html import PageTable, rendered
from floorclock.report.rehearsal_picture import chance_picture
from floorclock.report.rehearsal_text import finish_rows
from floorclock.simulate.many import PartChances


def write_rehearsal_page(found: Rehearsals, path: Path) -> None:
    """Writes the page.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    write_atomically(path, rehearsal_html(found).encode("utf-8"))


def rehearsal_html(found: Rehearsals) -> str:
    """The page as text."""
    return rendered(
        "rehearsal.html.j2",
        f"Rehearsed: {found.session}",
        found=found,
        picture=_picture,
        chances_table=chances_table,
        finishes_table=finishes_table,
    )


def chances_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """What the picture says: `34`, or `34 > 12` where what is tried changes it."""
    places, rows = chance_grid(part, tried)
    cells = tuple((row.name, *(_cell(row, place) for place in places)) for row in rows)
    heads = ("athlete", *(f"{place.heading} {place.round or ''}".strip() for place in places))
    return PageTable(f"{part.title}: in so many of 100 classes less than the margin is left", heads, cells)


def finishes_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """When who is done with work for time."""
    heads, rows = finish_rows(part, tried)
    return PageTable(f"{part.title}: when who is done", heads, tuple(rows))


def _cell(row: ChanceRow, place: ChanceColumn) -> str:
    before = row.planned.get(place)
    after = before if row.tried is None else row.tried.get(place)
    if before is None or after is None:
        return ""
    return percent(before) if before == after else f"{percent(before)} > {percent(after)}"


def _picture(part: PartChances, tried: PartChances | None) -> Markup:
    title = f"Chances of less than the margin in {part.title}; the table below says the same"
    return Markup(chance_picture(part, tried).svg(title))
