"""Where a name stands: as a value, as a word, never inside another word."""

from __future__ import annotations

import json

import pytest

from floorclock.clock.events import Joined, Paused, Tapped
from floorclock.journal.redact import Mentions
from floorclock.plan.roster import Athlete


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Ilka", True),
        ("for Ilka's birthday", True),
        ('"athlete":"Ilka","at', True),
        ("Ilkamar", False),
        ("Milka", False),
        ("ilka", False),
        ("Ilka_2", False),
        ("", False),
    ],
)
def test_a_name_is_a_word_of_a_text(text: str, found: bool) -> None:
    assert Mentions(["Ilka"]).are_words_of(text) is found
    assert Mentions(["Oda", "Ilka"]).are_words_of(text.encode() + b"\xff") is found


@pytest.mark.parametrize("name", ["Bråm", "紗希", 'Quo"te, \\', "\U0001f3cb Runa", "C. (Coach)"])
def test_any_name_is_found_in_json_with_and_without_escapes(name: str) -> None:
    mentions = Mentions([name])
    for ascii_only in (False, True):
        data = json.dumps({"athlete": name}, ensure_ascii=ascii_only).encode()
        assert mentions.may_stand_in(data)
        assert mentions.are_words_of(data)
    assert not mentions.may_stand_in(b'{"athlete":"Somebody"}')


def test_values_and_keys_count_and_parts_of_them_do_not() -> None:
    mentions = Mentions(["Ilka"])
    assert mentions.stand_in({"a": [{"b": "Ilka"}]})
    assert mentions.stand_in({"a": {"Ilka": 1}})
    assert not mentions.stand_in({"a": ["Ilka Brandt", 3, None, True]})


def test_an_event_is_about_whom_it_names() -> None:
    mentions = Mentions(["Ilka"])
    assert mentions.are_told_by(Tapped(at_ms=0, athlete="Ilka"))
    assert mentions.are_told_by(Joined(at_ms=0, athlete=Athlete(name="Ilka")))
    assert not mentions.are_told_by(Tapped(at_ms=0, athlete="Ilka Brandt"))
    assert not mentions.are_told_by(Paused(at_ms=0))
