"""The chances of a class before it runs, as one page for the coach."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from floorclock.insight.rehearsals import (
    ANY,
    GUESS_LEGEND,
    LEGEND,
    THE_CLASS,
    Rehearsals,
    called,
    chances_of,
    class_row,
    part_words,
    percent,
    places_of,
    tried_words,
)
from floorclock.journal.files import write_atomically
from floorclock.report.html import PageTable, rendered
from floorclock.report.rehearsal_picture import chance_picture
from floorclock.report.rehearsal_text import finish_rows
from floorclock.simulate.chances import PartChances


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
        part_words=part_words,
        tried_words=tried_words,
        picture=lambda part, tried: Markup(_svg(part, tried)),
        chances_table=chances_table,
        finishes_table=finishes_table,
        legend=[LEGEND, *([GUESS_LEGEND] if found.is_guessed else [])],
    )


def chances_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """What the picture says: `34`, or `34 > 12` where what is tried changes it."""
    places = [*places_of(part), ANY]
    rows = [(called(one), chances_of(one)) for one in part.athletes] + [(THE_CLASS, class_row(part))]
    others = [chances for _, chances in rows] if tried is None else [*map(chances_of, tried.athletes), class_row(tried)]
    cells = tuple(
        (name, *(_cell(before.get(place), after.get(place)) for place in places))
        for (name, before), after in zip(rows, others, strict=True)
    )
    heads = ("athlete", *(f"{place.heading} {place.round or ''}".strip() for place in places))
    return PageTable(f"{part.title}: in so many of 100 classes less than the margin is left", heads, cells)


def finishes_table(part: PartChances, tried: PartChances | None) -> PageTable:
    """When who is done with work for time."""
    heads, rows = finish_rows(part, tried)
    return PageTable(f"{part.title}: when who is done", heads, tuple(rows))


def _cell(before: float | None, after: float | None) -> str:
    if before is None or after is None:
        return ""
    return percent(before) if before == after else f"{percent(before)} > {percent(after)}"


def _svg(part: PartChances, tried: PartChances | None) -> str:
    return chance_picture(part, tried).svg(f"Chances of less than the margin in {part.title}; the table below says the same")
