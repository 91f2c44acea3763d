"""One picture of a class for the chat group: everybody's rest, and who needs a word.

Invariant: no rating of anybody is in it, and without `names` no name either.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

from floorclock.digest.class_digest import ClassDigest, PartDigest
from floorclock.digest.words import STOP
from floorclock.journal.files import write_atomically
from floorclock.report.colours import LIGHT, Ink
from floorclock.report.drawing import Drawing
from floorclock.report.fonts import families_for, printable
from floorclock.report.rest_picture import rest_picture, short_name

PIXELS_WIDE = 1600
NARROWEST = 900.0
EDGE, LINE = 16.0, 17.0
LETTER = 6.3
"""The width of a letter of the running words, about."""
NAME_ROOM, FLAG_ROOM = 150.0, 110.0


def write_picture(digest: ClassDigest, path: Path, *, names: bool = True) -> None:
    """Writes the class at a glance as PNG, 1600 pixels wide.

    Without `names` an athlete is their number in the order of the board, which the page shows beside every name.

    Raises:
        WrongUsage: the folder does not exist, or something stands there that is no ordinary file.
        ResourceError: the disk does not take it.
    """
    write_atomically(path, picture(digest, names=names).png(LIGHT, PIXELS_WIDE))


def picture(digest: ClassDigest, *, names: bool = True) -> Drawing:
    """The drawing of it: a head, a rest picture for each part timed by splits, who needs a word."""
    called = {name: called_in_picture(name, place, names=names) for place, name in enumerate(digest.athletes, start=1)}
    blocks = [_head(digest)]
    for part in digest.timed:
        blocks += [_part_head(part), rest_picture(part, [called[athlete.name] for athlete in part.athletes])]
    width = max(NARROWEST, *(block.width + 2 * EDGE for block in blocks))
    blocks += [_calls(digest, called, width), _lines([STOP], width, ink=Ink.DIM)]
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


def _head(digest: ClassDigest) -> Drawing:
    facts = [digest.day_words, digest.people_words, f"margin {digest.margin_words}"]
    if digest.rehearsal:
        facts.append("REHEARSAL: every tap is invented")
    block = Drawing(NARROWEST, 56)
    block.text((0, 26), short_name(digest.session, 70), size=20, bold=True)
    block.text((0, 46), "    ".join(fact for fact in facts if fact), ink=Ink.DIM, size=12)
    return block


def _part_head(part: PartDigest) -> Drawing:
    block = Drawing(NARROWEST, 62)
    block.text((0, 20), short_name(part.title, 90), size=14, bold=True)
    block.text((0, 38), short_name(", ".join(part.facts), 140), size=11.5)
    block.text((0, 54), short_name(part.verdict, 140), size=11.5)
    return block


def _calls(digest: ClassDigest, called: dict[str, str], width: float) -> Drawing:
    if not digest.calls:
        return _lines([digest.nobody_words], width, title="Who to talk to")
    letters = int((width - 2 * EDGE - FLAG_ROOM - NAME_ROOM) / LETTER)
    wrapped = [
        textwrap.wrap(". ".join(filter(None, (call.reason, call.advice))), letters, max_lines=2, placeholder=" …")
        for call in digest.called
    ]
    more = len(digest.also_flagged)
    block = Drawing(width, 40 + LINE * (sum(map(len, wrapped)) + bool(more)))
    block.text((0, 24), "Who to talk to", size=14, bold=True)
    base = 44.0
    for call, lines in zip(digest.called, wrapped, strict=True):
        block.text((0, base), call.label, bold=True)
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
