"""Two spellings that may be one person. A guess for the coach to say yes or no to, and nothing more.

Invariant: names that stood on the board of the same class are never offered: they were two people there. What is compared are
letters alone; nothing is known of names, so a guess rests on how alike two spellings are, never on what is common.

A short name changes into another person's by one letter, so letters may differ only in long ones; the end of a name often tells
a woman's from a man's, so it may never differ.
"""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from itertools import combinations

LEAST_FOR_ONE_EDIT = 7
"""Letters of a name that may have one letter wrong, missing, too many or swapped with its neighbour."""
LEAST_FOR_TWO_EDITS = 11
LEAST_BESIDE_A_SAME_WORD = 5
"""The same for one word of several, where all others are the same."""
MOST_LETTERS = 60
_NO_LETTERS_OF = str.maketrans(
    {"ß": "ss", "ø": "o", "Ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)
_SOUNDS = (
    ("sch", "sh"), ("tch", "ch"), ("chr", "kr"), ("ph", "f"), ("th", "t"), ("ck", "k"), ("qu", "kw"), ("ch", "\0"), ("c", "k"),
    ("\0", "ch"), ("ie", "i"), ("y", "i"), ("j", "i"), ("w", "v"), ("z", "s"),
)  # fmt: skip
"""Ways to write one sound, applied in this order (common practice, no source)."""


class Likeness(IntEnum):
    """How much a guess is worth; the smaller, the surer."""

    SAME_LETTERS = 0
    SWAPPED = 1
    SAME_SOUND = 2
    INITIAL = 3
    FIRST_NAME = 4
    ONE_EDIT = 5
    TWO_EDITS = 6


@dataclass(frozen=True, slots=True)
class Double:
    """Two names that may be one person. `name` was in fewer classes, so it is the one to merge into `other`."""

    name: str
    other: str
    because: str
    likeness: Likeness


def possible_doubles(classes: Mapping[str, Collection[str]]) -> tuple[Double, ...]:
    """Pairs of names that may be one person, from the classes that each name was in; the surest first.

    Work grows with the number of names and with how many are alike, not with all pairs of them.
    """
    words = {name: _words(name) for name in classes}
    found: dict[frozenset[str], Double] = {}
    for likeness, because, one, other in _alike(words):
        pair = frozenset((one, other))
        if one == other or pair in found or not set(classes[one]).isdisjoint(classes[other]):
            continue
        rarer, usual = sorted((one, other), key=lambda name: (len(classes[name]), name))
        found[pair] = Double(rarer, usual, because, likeness)
    return tuple(sorted(found.values(), key=lambda double: (double.likeness, double.other, double.name)))


def _alike(words: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[Likeness, str, str, str]]:
    """Pairs that are alike in some way, the surest ways first."""
    for one, other in _same_key({name: "".join(own) for name, own in words.items()}):
        yield Likeness.SAME_LETTERS, _what_differs(one, other), one, other
    several = {name: own for name, own in words.items() if len(own) > 1}
    for one, other in _same_key({name: " ".join(sorted(own)) for name, own in several.items()}):
        yield Likeness.SWAPPED, "the same words in another order", one, other
    for one, other in _same_key({name: _sound("".join(own)) for name, own in words.items()}):
        yield Likeness.SAME_SOUND, "written another way, but it sounds the same", one, other
    yield from _initials(several)
    yield from _first_names(words)
    yield from _edits(words)


def _what_differs(one: str, other: str) -> str:
    if unicodedata.normalize("NFC", one) == unicodedata.normalize("NFC", other):
        return "the same letters, stored in another form"
    if one.lower() == other.lower():
        return "only capital letters differ"
    if bare_letters(one) == bare_letters(other):
        return "only marks over letters or special letters (ø, ß) differ"
    return "only spaces, points, hyphens or marks over letters differ"


def bare_letters(name: str) -> str:
    """Small letters without marks over them."""
    spread = unicodedata.normalize("NFKD", name.casefold().translate(_NO_LETTERS_OF))
    return "".join(letter for letter in spread if not unicodedata.combining(letter))


def _words(name: str) -> tuple[str, ...]:
    """The words of a name in bare letters and digits. An apostrophe joins, everything else that is no letter parts."""
    joined = bare_letters(name[: 2 * MOST_LETTERS]).replace("'", "").replace("’", "")
    kept = "".join(letter if letter.isalnum() or unicodedata.category(letter).startswith("M") else " " for letter in joined)
    return tuple(kept[:MOST_LETTERS].split())


def _sound(letters: str) -> str:
    """The letters with one way to write for each sound, doubled letters once, a silent h left out."""
    for written, sound in _SOUNDS:
        letters = letters.replace(written, sound)
    kept: list[str] = []
    for place, letter in enumerate(letters):
        silent = letter == "h" and place > 0 and letters[place - 1] in "aeiounrtk"
        if not silent and letter != (kept[-1] if kept else ""):
            kept.append(letter)
    return "".join(kept)


def _same_key(keys: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    groups: dict[str, list[str]] = defaultdict(list)
    for name, key in keys.items():
        if len(key) > 1:
            groups[key].append(name)
    for group in groups.values():
        yield from combinations(group, 2)


def _initials(several: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[Likeness, str, str, str]]:
    """`Ilka B.` for the one person called Ilka whose last name begins so; where there are two, nobody can tell."""
    whole: dict[tuple[tuple[str, ...], str], list[str]] = defaultdict(list)
    for name, own in several.items():
        if len(own[-1]) > 1:
            whole[own[:-1], own[-1][0]].append(name)
    for name, own in several.items():
        candidates = whole.get((own[:-1], own[-1]), []) if len(own[-1]) == 1 else []
        if len({several[candidate] for candidate in candidates}) == 1:
            for candidate in candidates:
                yield Likeness.INITIAL, "the last name is cut to its first letter", name, candidate


def _first_names(words: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[Likeness, str, str, str]]:
    """`Ilka` for the one person written Ilka and an initial; where there are two, or an Ilka more, nobody can tell."""
    longer: dict[str, list[str]] = defaultdict(list)
    for name, own in words.items():
        if len(own) > 1:
            longer[own[0]].append(name)
    for name, own in words.items():
        candidates = longer.get(own[0], []) if len(own) == 1 and len(own[0]) > 1 else []
        rest = {words[candidate][1:] for candidate in candidates}
        if len(rest) == 1 and all(len(word) == 1 and word.isalpha() for word in min(rest)) and len(min(rest)) == 1:
            for candidate in candidates:
                yield Likeness.FIRST_NAME, "one has the first letter of a last name, the other none", name, candidate


def _edits(words: Mapping[str, tuple[str, ...]]) -> Iterator[tuple[Likeness, str, str, str]]:
    """Names of as many words that differ in the letters of one word."""
    places: dict[tuple[int, int, tuple[str, ...], str], list[str]] = defaultdict(list)
    for name, own in words.items():
        for place, word in enumerate(own):
            if len(word) >= (LEAST_BESIDE_A_SAME_WORD if len(own) > 1 else LEAST_FOR_ONE_EDIT) - 1:
                rest = own[:place] + own[place + 1 :]
                for shorter in _shortened(word, 2 if len(word) >= LEAST_FOR_TWO_EDITS - 1 else 1):
                    places[len(own), place, rest, shorter].append(name)
    seen: set[tuple[str, str, int]] = set()
    for (count, place, _, _), names in places.items():
        for name, other in combinations(dict.fromkeys(names), 2):
            if (name, other, place) in seen:
                continue
            seen.add((name, other, place))
            edits = _edits_between(words[name][place], words[other][place], several=count > 1)
            if edits == 1:
                yield Likeness.ONE_EDIT, "one letter differs", name, other
            elif edits == 2:
                yield Likeness.TWO_EDITS, "two letters differ", name, other


def _shortened(word: str, most: int) -> set[str]:
    """A word and what is left of it when up to `most` letters are taken out: two words so many edits apart share one."""
    found = layer = {word}
    for _ in range(most):
        layer = {shorter[:place] + shorter[place + 1 :] for shorter in layer for place in range(len(shorter))}
        found = found | layer
    return found


def _edits_between(one: str, other: str, *, several: bool) -> int | None:
    """How many edits make one word the other, where so many may be a slip of the pen; None where they may not."""
    longer = max(len(one), len(other))
    if one == other or one[-1] != other[-1]:
        return None
    most = 2 if longer >= LEAST_FOR_TWO_EDITS else 1
    if longer < (LEAST_BESIDE_A_SAME_WORD if several else LEAST_FOR_ONE_EDIT):
        return None
    edits = edit_distance(one, other)
    return edits if edits <= most else None


def edit_distance(one: str, other: str) -> int:
    """Letters to change, add, take out or swap with their neighbour (optimal string alignment) to make one word the other."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for place, letter in enumerate(one, start=1):
        older, before, row = before, row, [place]
        for where, wanted in enumerate(other, start=1):
            cost = min(before[where] + 1, row[where - 1] + 1, before[where - 1] + (letter != wanted))
            if place > 1 and where > 1 and letter == other[where - 2] and one[place - 2] == wanted:
                cost = min(cost, older[where - 2] + 1)
            row.append(cost)
    return row[-1]
