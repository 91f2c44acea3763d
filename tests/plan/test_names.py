"""Names are any Unicode text, and never a command to a screen."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.plan.durations import REFUSED_CATEGORIES, UnreadableError
from floorclock.plan.names import clean_key, clean_name, clean_prose, nearest, plain


@pytest.mark.parametrize(
    "name", ["Ilka", "Zoë", "李小雨", "ליאור", "سلمى", "मीरा", "Đạt", "[/]", "[@click=app.quit]x", "O'Bo", "a: b"]
)
def test_names_of_any_script_and_with_markup_are_kept_as_data(name: str) -> None:
    assert clean_name(name) == name


def test_names_come_out_in_nfc_with_single_spaces() -> None:
    assert clean_name("Zoe\u0308  van   Dam") == "Zoë van Dam"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a\x1b[2J", "U+001B"),
        ("a\tb", "U+0009"),
        ("a\u202eb", "U+202E"),
        ("a\u200db", "U+200D"),
        ("\ufeffa", "U+FEFF"),
        ("a\ue000", "U+E000"),
        ("a\ud800", "U+D800"),
        ("a\u0378", "U+0378"),
        ("a\u2028b", "U+2028"),
    ],
)
def test_control_and_format_characters_are_refused_by_their_code_point(text: str, code: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        clean_name(text)
    assert code in caught.value.message


def test_an_emoji_is_welcome_and_loses_its_selector() -> None:
    assert clean_name("Runa ❤\ufe0f") == plain("Runa ❤\ufe0f") == "Runa ❤"


@pytest.mark.parametrize("text", ["\u0301", " \u0301 Ilka", "\u20dd"])
def test_a_mark_without_a_letter_is_no_name(text: str) -> None:
    with pytest.raises(UnreadableError, match="begins with a mark"):
        clean_name(text)


@pytest.mark.parametrize("text", ["", "   ", "x" * 61, "x" * 100_000])
def test_a_name_is_neither_empty_nor_endless(text: str) -> None:
    with pytest.raises(UnreadableError):
        clean_name(text)


def test_prose_on_several_lines_becomes_one_line() -> None:
    assert clean_prose("keep clear\n  of the swing\n") == "keep clear of the swing"


@pytest.mark.parametrize("key", ["a", "Z", "7", "ж", "字", "é", "e\u0301", "٣"])
def test_a_tap_key_is_one_letter_or_digit_of_any_script(key: str) -> None:
    assert clean_key(key) == unicodedata.normalize("NFC", key)


@pytest.mark.parametrize("key", ["ab", "!", " ", "½", "\u0301", "🙂", "\x1b", ""])
def test_anything_else_is_no_tap_key(key: str) -> None:
    with pytest.raises(UnreadableError):
        clean_key(key)


def test_the_nearest_spelling_is_found_or_none() -> None:
    assert nearest("evry", ["every", "rounds"]) == "every"
    assert nearest("Kettlebel", ["kettlebell", "box"]) == "kettlebell"
    assert nearest("zzzz", ["every", "rounds"]) == ""


@given(st.text(max_size=80))
def test_no_name_that_comes_out_holds_a_refused_character(text: str) -> None:
    try:
        name = clean_name(text)
    except UnreadableError:
        return
    assert name == unicodedata.normalize("NFC", name) == name.strip()
    assert not any(unicodedata.category(letter) in REFUSED_CATEGORIES or letter == "\ufe0f" for letter in name)
