"""Who may be one person under two spellings: a table of invented pairs that are, and of pairs that are not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from floorclock.people import doubles
from floorclock.people.doubles import Likeness, edit_distance, possible_doubles

SAME = [
    ("Ilka", "ilka", "only capital letters differ"),
    ("Bråm", "Bra\u030am", "the same letters, stored in another form"),
    ("Bråm", "Bram", "only marks over letters or special letters (ø, ß) differ"),
    ("Søren Holt", "Soren Holt", "only marks over letters or special letters (ø, ß) differ"),
    ("Jana Weiß", "Jana Weiss", "only marks over letters or special letters (ø, ß) differ"),
    ("Ilka Brandt", "Ilka  Brandt", "only spaces, points, hyphens or marks over letters differ"),
    ("Ann-Kari", "Ann Kari", "only spaces, points, hyphens or marks over letters differ"),
    ("Ilka B.", "Ilka B", "only spaces, points, hyphens or marks over letters differ"),
    ("Noor O'Dell", "Noor O’Dell", "only spaces, points, hyphens or marks over letters differ"),
    ("Ilka Brandt", "Brandt, Ilka", "the same words in another order"),
    ("Ilka", "Ilca", "written another way, but it sounds the same"),
    ("Stephan Roth", "Stefan Rot", "written another way, but it sounds the same"),
    ("Hanna", "Hannah", "written another way, but it sounds the same"),
    ("Mathis", "Matthis", "written another way, but it sounds the same"),
    ("Kristof", "Christoph", "written another way, but it sounds the same"),
    ("Ilka B.", "Ilka Brandt", "the last name is cut to its first letter"),
    ("Ilka", "Ilka B.", "one has the first letter of a last name, the other none"),
    ("ilka", "Ilka B", "one has the first letter of a last name, the other none"),
    ("Ilka Brandt", "Ilka Brant", "one letter differs"),
    ("Wilhelmina", "Wilhemlina", "one letter differs"),
    ("Odd Sandberg", "Odd Sanberg", "one letter differs"),
    ("Teo Vandenbergen", "Teo Vandenbrgn", "two letters differ"),
    ("Нура Волкова", "Нура Валкова", "one letter differs"),
]
NOT_SAME = [
    ("Ilka", "Inka"),
    ("Anna", "Anne"),
    ("Jan", "Jon"),
    ("Mara", "Maria"),
    ("Martin", "Martina"),
    ("Daniel", "Daniela"),
    ("Simon", "Simone"),
    ("Christian", "Christina"),
    ("Julian", "Juliane"),
    ("Marius", "Markus"),
    ("Karin", "Katrin"),
    ("Helena", "Helene"),
    ("Bram Holt", "Brad Holt"),
    ("Ilka Brandt", "Odd Brandt"),
    ("Ilka Brandt", "Ilka Stein"),
    ("Ilka B.", "Ilka Stein"),
    ("Ilka", "Ilka Brandt"),
    ("Guest", "Guest 1"),
    ("Guest 1", "Guest 2"),
    ("Guest 11", "Guest 12"),
    ("Lane 3", "Lane 13"),
    ("紗希", "沙希"),
    ("عُدي", "عُمر"),
]


@pytest.mark.parametrize(("first", "second", "because"), SAME)
def test_one_person_under_two_spellings_is_offered_with_a_reason(first: str, second: str, because: str) -> None:
    (double,) = possible_doubles({first: {"a"}, second: {"b", "c"}, "Somebody Else": {"a", "b"}})
    assert (double.name, double.other, double.because) == (first, second, because)
    (turned,) = possible_doubles({first: {"a", "d", "e"}, second: {"b", "c"}})
    assert (turned.name, turned.other) == (second, first)
    assert possible_doubles({first: {"a", "b"}, second: {"b", "c"}}) == (), "they stood on one board together"


def test_two_people_with_names_alike_are_not_offered() -> None:
    for first, second in NOT_SAME:
        assert possible_doubles({first: {"a"}, second: {"b"}}) == ()


def test_an_initial_that_fits_two_people_fits_nobody() -> None:
    classes = {"Ilka B.": {"a"}, "Ilka Brandt": {"b"}, "Ilka Berg": {"c"}}
    assert possible_doubles(classes) == ()
    assert len(possible_doubles({"Ilka B.": {"a"}, "Ilka Brandt": {"b"}, "Ilka brandt": {"c"}})) == 3


def test_a_first_name_that_fits_two_people_fits_nobody() -> None:
    assert possible_doubles({"Ilka": {"a"}, "Ilka B.": {"b"}, "Ilka C.": {"c"}}) == ()
    # Nor where they stood on one board, whoever else is called so.
    assert possible_doubles({"Ilka": {"a"}, "Ilka B.": {"a", "b"}}) == ()
    with_whole = possible_doubles({"Ilka": {"a"}, "Ilka B.": {"b"}, "Ilka Brandt": {"c"}})
    assert [(double.name, double.other) for double in with_whole] == [("Ilka B.", "Ilka Brandt")]


def test_the_surest_come_first() -> None:
    found = possible_doubles({"Wilhelmina": {"a"}, "Wilhemlina": {"b"}, "ilka": {"c"}, "Ilka": {"d"}})
    assert [double.likeness for double in found] == [Likeness.SAME_LETTERS, Likeness.ONE_EDIT]


def test_edits_are_those_of_the_restricted_distance() -> None:
    """Optimal string alignment: `ca` to `abc` is 3 there, 2 with unrestricted swaps (from memory, sure)."""
    table = (("ca", "abc", 3), ("kitten", "sitting", 3), ("abcd", "acbd", 1), ("", "abc", 3), ("abc", "abc", 0))
    for first, second, edits in table:
        assert edit_distance(first, second) == edit_distance(second, first) == edits


@given(st.dictionaries(st.text(max_size=12), st.sets(st.sampled_from("abc")), max_size=8))
def test_whatever_the_names_are_no_pair_shares_a_class_or_comes_twice(classes: dict[str, set[str]]) -> None:
    found = possible_doubles(classes)
    pairs = [frozenset((double.name, double.other)) for double in found]
    assert len(set(pairs)) == len(pairs)
    assert all(len(pair) == 2 and pair <= classes.keys() for pair in pairs)
    assert all(not classes[double.name] & classes[double.other] for double in found)


def test_of_many_names_only_those_that_could_be_alike_are_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """All pairs of 1,200 names would be 720,000."""
    first = ["Ilka", "Bram", "Noor", "Odd", "Runa", "Sefa", "Teo", "Wim", "Jorun", "Eske"]
    last = [
        f"{a}{b}{c}" for a in ("Hol", "Ber", "Sand", "Vel", "Rak") for b in ("men", "gar", "tis", "lop") for c in ("stad", "vik")
    ]
    names = {f"{one} {two}{three}": {f"{one}{two}"} for one in first for two in last for three in "abc"}
    compared: list[str] = []

    def counted(word: str, other: str) -> int:
        compared.append(word)
        return edit_distance(word, other)

    monkeypatch.setattr(doubles, "edit_distance", counted)
    possible_doubles(names)
    assert len(names) == 1_200
    assert 0 < len(compared) < 40_000
