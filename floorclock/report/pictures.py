"""One picture of a class for the chat group, for the athletes: what they did together, and what everybody reached.

Invariant: no flag, no forecast and no rating of anybody is in it, and without `names` nobody at all.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from floorclock.clock.splits import Status
from floorclock.digest.class_digest import ClassDigest, PartDigest
from floorclock.digest.words import NOT_ENTERED, STOP, UNTAPPED
from floorclock.plan.durations import duration_words
from floorclock.plan.names import counted
from floorclock.plan.work import Unit
from floorclock.report.colours import Ink
from floorclock.report.drawing import Drawing, families_for, printable
from floorclock.report.terminal import short_name

NARROWEST = 900.0
EDGE, LINE = 16.0, 17.0
LETTER = 6.3
"""The width of a letter of the running words, about."""
NAME_ROOM = 150.0
RESULT_CELLS = 44


def picture(digest: ClassDigest, *, names: bool = True) -> Drawing:
    """A head, and for each part what the class did together and, with `names`, what everybody reached."""
    blocks = [_head(digest)]
    for part in digest.recorded:
        blocks.append(lines(_together(part), NARROWEST + 2 * EDGE, title=short_name(part.title, 90)))
        if names:
            blocks.append(_results(part))
    blocks.append(lines([STOP], NARROWEST + 2 * EDGE, ink=Ink.DIM))
    return stacked(blocks, NARROWEST)


def stacked(blocks: Sequence[Drawing], width: float) -> Drawing:
    """Blocks so wide one under the other, with an edge around them."""
    page = Drawing(width + 2 * EDGE, EDGE + sum(block.height for block in blocks))
    top = EDGE / 2
    for block in blocks:
        page.place(block, (EDGE, top))
        top += block.height
    return page


def called_in_picture(name: str) -> str:
    """A name with the letters that a font has: of one with an emoji, the others."""
    families = families_for(name)
    kept = "".join(letter for letter in name if letter == "?" or printable(letter, families) != "?").strip()
    return kept if any(letter.isalnum() for letter in kept) or kept == name else "an athlete"


def _head(digest: ClassDigest) -> Drawing:
    facts = [digest.day_words, digest.people_words]
    if digest.rehearsal:
        facts.append("REHEARSAL: every tap is invented")
    block = Drawing(NARROWEST, 56)
    block.text((0, 26), short_name(digest.session, 70), size=20, bold=True)
    block.text((0, 46), "    ".join(fact for fact in facts if fact), ink=Ink.DIM, size=12)
    return block


def _together(part: PartDigest) -> list[str]:
    """What everybody did, added up; of nobody by name. What was not recorded is in no sum."""
    sums: dict[tuple[str, Unit], Fraction] = {}
    done = 0
    for split in (taken.split for athlete in part.athletes for taken in athlete.splits):
        if split.status is Status.DONE:
            done += 1
            if split.amount is not None and split.unit is not None and split.unit is not Unit.WHOLE:
                sums[split.move, split.unit] = sums.get((split.move, split.unit), Fraction(0)) + split.amount
    words = [f"{move} {_amount(amount, unit)}" for (move, unit), amount in sums.items()]
    if not done:
        return []
    return [f"Together: {counted(done, 'interval')} of work done" + (f". {', '.join(words)}." if words else ".")]


def _amount(amount: Fraction, unit: Unit) -> str:
    if unit is Unit.SECONDS:
        return duration_words(round(amount * 1000))
    return f"{float(amount):,.10g} {'reps' if unit is Unit.REPS else unit}"


def _results(part: PartDigest) -> Drawing:
    """Name and result of everybody of whom one is known, in two columns; ranked where the plan wants it."""
    rows = []
    for athlete in part.in_order:
        if athlete.result is not None:
            reached = part.result_words(replace(athlete, result=replace(athlete.result, not_finished=False)))
            if reached not in (UNTAPPED, NOT_ENTERED):
                rows.append((called_in_picture(athlete.label), reached))
    half = (len(rows) + 1) // 2
    block = Drawing(NARROWEST, LINE * half + (8 if rows else 0))
    for place, (name, reached) in enumerate(rows):
        column, line = divmod(place, half)
        left, base = column * NARROWEST / 2, LINE * (line + 0.8)
        block.text((left, base), short_name(name), bold=True)
        block.text((left + NAME_ROOM, base), short_name(reached, RESULT_CELLS))
    return block


def lines(paragraphs: Sequence[str], width: float, *, title: str = "", ink: Ink = Ink.INK) -> Drawing:
    """Running words under a title, for a picture so wide."""
    letters = int((width - 2 * EDGE) / LETTER)
    lines = [line for words in paragraphs for line in textwrap.wrap(words, letters)]
    top = 26.0 if title else 6.0
    block = Drawing(width, top + LINE * len(lines) + 8)
    block.text((0, 20), title, size=14, bold=True)
    for place, words in enumerate(lines):
        block.text((0, top + LINE * (place + 0.8)), words, ink=ink)
    return block
