"""One picture of a class for the chat group: everybody's rest, and who needs a word.

Invariant: no rating of anybody is in it, and without `names` no name either.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

from floorclock.digest.summary import ClassSummary
from floorclock.digest.words import CALM, STOP, UNKNOWN, counted, whole_facts
from floorclock.journal.write_atomically import write_atomically
from floorclock.pace.flags import SYMBOL
from floorclock.plan.durations import duration_words
from floorclock.report.colours import LIGHT, Ink
from floorclock.report.drawing import Drawing
from floorclock.report.fonts import families_for, printable
from floorclock.report.rest_grid import rest_picture, short_name

PIXELS_WIDE = 1600
NARROWEST = 900.0
EDGE, LINE = 16.0, 17.0
LETTER = 6.3
"""The width of a letter of the running words, about."""
NAME_ROOM, FLAG_ROOM = 150.0, 110.0
MOST_CALLS = 12


def write_picture(summary: ClassSummary, path: Path, *, names: bool = True) -> None:
    """Writes the class at a glance as PNG, 1600 pixels wide.

    Without `names` an athlete is their number in the order of the board, which the page shows beside every name.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    write_atomically(path, picture(summary, names=names).png(LIGHT, PIXELS_WIDE))


def picture(summary: ClassSummary, *, names: bool = True) -> Drawing:
    """The drawing of it: a head, a rest picture for each part timed by splits, who needs a word."""
    called = {name: called_in_picture(name, place, names=names) for place, name in enumerate(summary.athletes, start=1)}
    blocks = [_head(summary)]
    for part in summary.parts:
        if part.is_timed_by_splits and part.athletes:
            blocks += [_part_head(part.title, whole_facts(part)), rest_picture(part, [called[one.name] for one in part.athletes])]
    width = max(NARROWEST, *(block.width + 2 * EDGE for block in blocks))
    blocks += [_calls(summary, called, width), _lines([STOP], width, ink=Ink.DIM)]
    page = Drawing(width, EDGE + sum(block.height for block in blocks))
    top = EDGE / 2
    for block in blocks:
        page.place(block, (EDGE, top))
        top += block.height
    return page


def called_in_picture(name: str, place: int, *, names: bool = True) -> str:
    """A name, or the number of its place; both where a font has only some of its letters, as of a name with an emoji."""
    number = f"athlete {place}"
    if not names:
        return number
    families = families_for(name)
    kept = "".join(letter for letter in name if letter == "?" or printable(letter, families) != "?")
    if kept == name:
        return name
    return f"{place} {kept.strip()}" if any(letter.isalnum() for letter in kept) else number


def _head(summary: ClassSummary) -> Drawing:
    facts = [summary.started[:16].replace("T", " "), counted(len(summary.athletes), "athlete")]
    facts.append(f"margin {duration_words(round(summary.rest_margin_s * 1000))}")
    if summary.rehearsal:
        facts.append("REHEARSAL: every tap is invented")
    block = Drawing(NARROWEST, 56)
    block.text((0, 26), short_name(summary.session, 70), size=20, bold=True)
    block.text((0, 46), "    ".join(fact for fact in facts if fact), ink=Ink.DIM, size=12)
    return block


def _part_head(title: str, facts: Sequence[str]) -> Drawing:
    block = Drawing(NARROWEST, 46)
    block.text((0, 20), short_name(title, 90), size=14, bold=True)
    block.text((0, 38), short_name(", ".join(facts), 140), size=11.5)
    return block


def _calls(summary: ClassSummary, called: dict[str, str], width: float) -> Drawing:
    shown = summary.calls[:MOST_CALLS]
    if not shown:
        tapped = any(athlete.tapped for part in summary.parts for athlete in part.athletes)
        return _lines([CALM if tapped else UNKNOWN], width, title="Who to talk to")
    letters = int((width - 2 * EDGE - FLAG_ROOM - NAME_ROOM) / LETTER)
    wrapped = [
        textwrap.wrap(call.because + (f". {call.advice}" if call.advice else ""), letters, max_lines=2, placeholder=" …")
        for call in shown
    ]
    more = len(summary.calls) - len(shown)
    block = Drawing(width, 40 + LINE * (sum(map(len, wrapped)) + bool(more)))
    block.text((0, 24), "Who to talk to", size=14, bold=True)
    base = 44.0
    for call, lines in zip(shown, wrapped, strict=True):
        block.text((0, base), f"{SYMBOL[call.flag]} {call.flag}", bold=True)
        block.text((FLAG_ROOM, base), short_name(called[call.athlete]))
        for place, words in enumerate(lines):
            block.text((FLAG_ROOM + NAME_ROOM, base + LINE * place), words)
        base += LINE * len(lines)
    if more:
        block.text((0, base), f"and {more} more", ink=Ink.DIM)
    return block


def _lines(paragraphs: Sequence[str], width: float, *, title: str = "", ink: Ink = Ink.INK) -> Drawing:
    letters = int((width - 2 * EDGE) / LETTER)
    lines = [line for words in paragraphs for line in textwrap.wrap(words, letters)]
    top = 26.0 if title else 6.0
    block = Drawing(width, top + LINE * len(lines) + 8)
    block.text((0, 20), title, size=14, bold=True)
    for place, words in enumerate(lines):
        block.text((0, top + LINE * (place + 0.8)), words, ink=ink)
    return block
