"""Who is meant by what somebody typed."""

from __future__ import annotations

import pytest

from floorclock.errors import NotFound
from floorclock.insight.whose import who_is_meant
from floorclock.store.questions import names_that_count
from floorclock.store.store import Store
from tests.store.sample_rows import EVENING, LATER, a_class


def filled(store: Store) -> Store:
    store.put(
        [
            a_class(0, "Ilka", "Bram", "Noor"),
            a_class(1, "ilka b.", "Bram", "Zoë"),
            a_class(2, "Ilka", "Ivo", "Bo", "bo"),
            a_class(3, "Ilja", "Idris", rehearsal=True),
        ]
    )
    store.same({"ilka b.": "Ilka"})
    return store


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Ilka", "Ilka"),
        ("ilka b.", "Ilka"),
        ("ILKA", "Ilka"),
        ("  ilka   B. ", "Ilka"),
        ("il", "Ilka"),
        ("zoe", "Zoë"),
        ("ZOE\u0308", "Zoë"),
        ("bra", "Bram"),
        ("bo", "bo"),
        ("Bo", "Bo"),
    ],
)
def test_a_name_is_found_however_it_is_typed(store: Store, typed: str, name: str) -> None:
    assert who_is_meant(filled(store), typed).name == name


def test_both_spellings_count_together(store: Store) -> None:
    found = who_is_meant(filled(store), "ilka b.")
    assert (found.spellings, found.classes) == (("ilka b.",), 3)
    assert (found.first, found.last, found.first.utcoffset()) == (EVENING, EVENING + 2 * LATER, EVENING.utcoffset())
    asked = {"Ilka", "ilka b.", "Noor", "nobody"}
    assert names_that_count(store, asked) == {name: name for name in asked} | {"ilka b.": "Ilka"}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("I", "2 people could be meant by I: Ilka, Ivo;"),
        ("BO", "2 people could be meant by BO: Bo, bo;"),
        ("Norr", "did you mean Noor?"),
        ("Xerxes", "nobody called Xerxes is in the records (rehearsals do not count)"),
        ("Ilja", "did you mean Ilka?"),
        ("%", "nobody called %"),
        ("", "nobody called"),
    ],
)
def test_who_cannot_be_told_is_said_with_what_is_near(store: Store, typed: str, words: str) -> None:
    with pytest.raises(NotFound) as raised:
        who_is_meant(filled(store), typed)
    assert words in str(raised.value)
