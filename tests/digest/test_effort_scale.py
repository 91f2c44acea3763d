"""The effort scale: its published words, and what is typed on it."""

from __future__ import annotations

import pytest

from floorclock.digest.effort_scale import CR10, effort_of, effort_words, may_become_one, nudged

PUBLISHED = {
    0.0: "nothing at all",
    0.5: "extremely weak (just noticeable)",
    1.0: "very weak",
    2.0: "weak (light)",
    3.0: "moderate",
    4.0: "somewhat strong",
    5.0: "strong (heavy)",
    7.0: "very strong",
    10.0: "extremely strong (almost max)",
}
"""The anchors of the CR10 scale as Borg 1982 (Medicine and Science in Sports and Exercise 14:377-381) has them; seen in a
listing of 2006 and agreeing with memory. There is no word at 6, 8 and 9."""


def test_the_words_are_those_of_the_published_scale() -> None:
    assert {effort: word for effort, word in CR10.items() if word} == PUBLISHED
    assert sorted(CR10) == [0, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10]


@pytest.mark.parametrize(
    ("keys", "effort"),
    [
        ("7", 7.0),
        ("10", 10.0),
        ("7.5", 7.5),
        ("7,5", 7.5),
        ("0.5", 0.5),
        ("0", 0.0),
        ("7.", 7.0),
        ("7.0", 7.0),
        ("73", None),
        ("12", None),
        ("105", None),
        ("10.5", None),
        ("7.3", None),
        (".5", 0.5),
        (".", None),
        ("", None),
        (".3", None),
    ],
)
def test_keys_become_an_effort_from_0_to_10_in_half_steps(keys: str, effort: float | None) -> None:
    assert effort_of(keys) == effort


@pytest.mark.parametrize(("keys", "may"), [("1", True), ("10", True), ("7.", True), (".", True), ("12", False), ("7.3", False)])
def test_what_cannot_become_an_effort_is_known_at_once(keys: str, may: bool) -> None:
    assert may_become_one(keys) is may


def test_between_two_words_both_are_said() -> None:
    assert effort_words(7.0) == "very strong"
    assert effort_words(8.0) == "between very strong and extremely strong"
    assert effort_words(2.5) == "between weak and moderate"


def test_a_nudge_stays_on_the_scale() -> None:
    assert nudged(9.5, 2) == 10.0
    assert nudged(0.0, -1) == 0.0
    assert nudged(None, 1) == 5.0
