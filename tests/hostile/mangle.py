"""What an enemy does to a text, to bytes, and to values that were JSON.

Invariant: everything follows from the dice.
"""

from __future__ import annotations

import copy
from random import Random
from typing import Any

ODD_TEXTS = [
    *("", " ", "~", "null", "017", "0x1F", "1e999", "nan", "-1", "9" * 30, "9" * 5000, "1:60", "99:99:99", "0:00", "1.30"),
    *("[]", "{}", "[" * 300, "{a: {b: {c: d}}}", "*x", "&x y", "!!python/name:os.system", "? ", "- ", "|", "---", "\t"),
    *("[/]", "[@click=app.quit]x", "\x1b[2J\x1b]0;x\x07", "\x00", "\x85", "\u202e", "\u2028", "\ufeff", "\u0301", "e\u0301" * 40),
    *("👩🏽‍🚒", "\u2764\ufe0f", "سلمى", "紗希", "'", '"', "a" * 3000, "rest", "=cmd()", "../../x", "%s%n", "nf", ";"),
]
ODD_VALUES: list[Any] = [
    *(None, True, False, 0, -1, 1, 5, 2**31, 2**63, 10**25, 10**400, 0.5, -0.0, 1e-300, 1e25, 1e308),
    *(float("inf"), float("-inf"), float("nan"), [], {}, [[]], [None], [1, "x"], {"": ""}, {"x": {"y": []}}, "\ud800"),
    *("0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59-14:00", "2026-11-30", "1/0", "1e9/1", "3/7", "5 reps", *ODD_TEXTS),
]


def any_value(dice: Random) -> Any:
    """A JSON value that somebody did not think of; now and then one nested deep."""
    if dice.random() < 0.03:
        value: Any = "x"
        for _ in range(dice.choice((50, 900))):
            value = [value] if dice.random() < 0.5 else {"x": value}
        return value
    return copy.deepcopy(dice.choice(ODD_VALUES))


def places(values: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) in a value, however deep."""
    found, containers = [], [values]
    for container in containers:
        if isinstance(container, dict | list):
            keys = list(container) if isinstance(container, dict) else range(len(container))
            found += [(container, key) for key in keys]
            containers += [container[key] for key in keys]
    return found


def other_values(values: Any, dice: Random, times: int = 1) -> Any:
    """The same values with some of them changed, gone, added or doubled."""
    made = copy.deepcopy(values)
    for _ in range(times):
        found = places(made)
        if not found:
            return any_value(dice)
        container, key = dice.choice(found)
        way = dice.random()
        if way < 0.12:
            del container[key]
        elif way < 0.2 and isinstance(container, dict):
            container[dice.choice(ODD_TEXTS)] = any_value(dice)
        elif way < 0.3 and isinstance(container, list):
            container.insert(key, dice.choice(container))
        else:
            container[key] = any_value(dice)
    return made


def other_text(text: str, dice: Random) -> str:
    """The same text with a line, a value or a piece of it wrong."""
    lines, where = text.split("\n"), dice.randrange(len(text) + 1)
    at = dice.randrange(len(lines))
    before, line, after = lines[:at], lines[at], lines[at + 1 :]
    mark = next((mark for mark in (": ", ",") if mark in line), "")
    parts = line.split(mark) if mark else [line]
    parts[dice.randrange(len(parts))] = dice.choice(ODD_TEXTS)
    ways = (
        [text[:where]],
        [text[:where] + dice.choice(ODD_TEXTS) + text[where:]],
        [*before, " " * dice.randrange(6) + line.lstrip(), *after],
        [*before, *after],
        [*before, *[line] * dice.choice((2, 3, 400)), *after],
        [line, *before, *after],
        [*before, mark.join(parts), *after],
    )
    return "\n".join(dice.choice(ways))


def other_bytes(data: bytes, dice: Random) -> bytes:
    """The same bytes, cut, flipped, overwritten, doubled or shuffled."""
    at, piece, flipped = dice.randrange(len(data) + 1), dice.choice((1, 2, 4, 64, 1000)), bytearray(data)
    for _ in range(dice.choice((1, 3, 40)) if data else 0):
        flipped[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    before, after, beyond = data[:at], data[at:], data[at + piece :]
    ways = (
        before,
        bytes(flipped),
        before + dice.randbytes(piece) + after,
        before + dice.choice((b"\0", b"\xff", b"\n", b"\xed\xa0\x80")) * piece + beyond,
        before + before[-piece:] * dice.choice((1, 30)) + after,
        before + beyond,
    )
    return dice.choice(ways)


def mangled(text: str, dice: Random, times: tuple[int, ...]) -> bytes:
    """The text as a file of some editor, wrong one of so many times; half a surrogate pair becomes bytes that are no UTF-8."""
    for _ in range(dice.choice(times)):
        text = other_text(text, dice)
    if dice.random() < 0.1:
        return text.replace("\n", "\r\n").encode(dice.choice(("utf-8-sig", "utf-16", "cp1252", "latin-1")), "replace")
    return text.encode("utf-8", "surrogatepass")
