"""Names, titles and prose: any Unicode text that no terminal takes for a command; near spellings; lists and plurals in words.

Invariant: what comes out is in NFC, on one line, and holds no character of the categories Cc, Cf, Cs, Co, Cn, Zl, Zp. An emoji
loses its variation selector.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher, get_close_matches
from itertools import islice

from floorclock.plan.durations import REFUSED_CATEGORIES, UnreadableError, shown

EMOJI_SELECTOR = "\ufe0f"
"""Variation selector 16 makes terminals disagree on the width of the letter before it; the letter is the same without it."""
LONGEST_NAME = 60
LONGEST_TITLE = 100
LONGEST_PROSE = 600
MOST_COMPARED = 100
SIGN_KEYS = ",.;'"
"""Tap keys that are no letters and stay the same with caps lock on."""
MOST_LISTED = 5
MOST_NAMES = 6
"""In what `check` finds."""
SURE = 0.8


def clean_name(text: str, longest: int = LONGEST_NAME) -> str:
    """A name in NFC, with single spaces.

    Raises:
        UnreadableError: empty, too long, or with a character that is refused; names the code point.
    """
    if len(text) > 4 * longest:
        raise UnreadableError(f"{len(text):,} characters are too many here", f"at most {longest}")
    text = text.replace(EMOJI_SELECTOR, "")
    stray = next((letter for letter in text if is_refused(letter)), None)
    if stray is not None:
        allowed = "".join(letter for letter in text if not is_refused(letter)).strip()
        label = unicodedata.name(stray, "a control or unassigned character").lower()
        raise UnreadableError(f"U+{ord(stray):04X} ({label}) is not allowed here", f"take it out: {shown(allowed)}")
    clean = " ".join(unicodedata.normalize("NFC", text).split())
    if not clean:
        raise UnreadableError("nothing is written here", "write a name, or leave the key out")
    if unicodedata.category(clean[0]).startswith("M"):
        raise UnreadableError(f"{shown(text)} begins with a mark that belongs over a letter", "write the letter before it")
    if len(clean) > longest:
        raise UnreadableError(f"{len(clean)} characters are too many here", f"at most {longest}")
    return clean


def clean_prose(text: str) -> str:
    """A sentence or two on one line; line ends and tabs become spaces."""
    if len(text) > 4 * LONGEST_PROSE:
        raise UnreadableError(f"{len(text):,} characters are too many here", f"at most {LONGEST_PROSE}")
    return clean_name(" ".join(text.split()), LONGEST_PROSE)


def is_refused(letter: str) -> bool:
    """Whether a character may stand in no name."""
    return unicodedata.category(letter) in REFUSED_CATEGORIES


def clean_key(text: str) -> str:
    """A tap key: one letter or digit of any script, in NFC, or one of the four signs that are given out after those."""
    key = unicodedata.normalize("NFC", text.strip()[:8])
    if len(key) != 1 or not (key.isalpha() or unicodedata.category(key) == "Nd" or key in SIGN_KEYS):
        raise UnreadableError(f"{shown(text)} is no tap key", "write one letter or digit, such as i")
    return key


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word that is spelt most like `word`, or nothing. Looks at no more words than a plan could well have."""
    by_folded = {name[:LONGEST_NAME].casefold(): name for name in islice(known, MOST_COMPARED)}
    found = get_close_matches(word[:LONGEST_NAME].casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[found[0]] if found else ""


def surely(word: str, near: str) -> bool:
    """Whether a word can hardly be anything but a slip of the pen in the known one."""
    return bool(near) and SequenceMatcher(None, word.casefold(), near.casefold()).ratio() >= SURE


def plain(text: str) -> str:
    """A text as names are compared: NFC, single spaces, no emoji selector. Unlike `clean_name` it refuses nothing."""
    return " ".join(unicodedata.normalize("NFC", text[: 4 * LONGEST_NAME].replace(EMOJI_SELECTOR, "")).split())


def first_few(names: Sequence[str], most: int = MOST_LISTED) -> str:
    """`Ilka, Bram and 7 more`: no more than `most` of them are named."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def listed(words: Sequence[str], most: int | None = None) -> str:
    """`swing`, `swing and row`, `swing, row and plank`; of more than `most`, the first few."""
    if most is not None and len(words) > most:
        return first_few(words, most)
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def plural(noun: str, number: int) -> str:
    """`round`, `rounds`, `boxes`: a noun as it stands behind a number."""
    return noun if number == 1 else noun + ("es" if noun.endswith(("s", "x", "ch", "sh")) else "s")


def counted(number: int, noun: str) -> str:
    """`1 round`, `2 rounds`, `2 classes`."""
    return f"{number} {plural(noun, number)}"
