from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.tui.floor.dialogs.parts import cells
from floorclock.tui.floor.dialogs.typed_line import LONGEST, TypedLine


def after(*keys: str, start: TypedLine | None = None) -> TypedLine:
    """Single letters are typed, names of keys edit."""
    line = start or TypedLine()
    for key in keys:
        line = line.typed(key) if len(key) == 1 else line.after(key) or line
    return line


@pytest.mark.parametrize(
    ("keys", "text", "at"),
    [
        (("a", "b"), "ab", 2),
        (("a", "b", "left", "c"), "acb", 2),
        (("a", "b", "backspace"), "a", 1),
        (("backspace", "delete", "left"), "", 0),
        (("a", "b", "home", "delete"), "b", 0),
        (("a", "b", "home", "c", "end", "d"), "cabd", 4),
        (("a", "b", "c", "left", "ctrl+u"), "c", 0),
        (("a", "right", "b", "home", "right", "c"), "acb", 2),
    ],
)
def test_keys_edit_the_line(keys: tuple[str, ...], text: str, at: int) -> None:
    line = after(*keys)
    assert (line.text, line.at) == (text, at)


@pytest.mark.parametrize(("key", "text"), [("8", "8"), ("backspace", ""), ("delete", ""), ("left", "0:15"), ("end", "0:15")])
def test_an_offered_text_is_typed_over_or_kept(key: str, text: str) -> None:
    line = after(key, start=TypedLine.offered("0:15"))
    assert line.text == text
    assert not line.fresh


def test_other_keys_edit_nothing() -> None:
    assert TypedLine("ab", 2).after("f2") is None
    assert TypedLine("ab", 2).after("enter") is None


def test_a_line_has_a_longest() -> None:
    assert len(TypedLine("a" * 59, 59).typed("bcd").text) == LONGEST


@given(
    st.text(st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn")), max_size=60),
    st.integers(0, 60),
    st.integers(2, 40),
    st.booleans(),
    st.booleans(),
)
def test_it_is_drawn_in_exactly_its_width(text: str, at: int, width: int, fresh: bool, active: bool) -> None:
    assert cells(TypedLine(text, min(at, len(text)), fresh).parts(width, active)) == width
