"""What was put comes back equal, on both kinds of database."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from floorclock.errors import ResourceError
from floorclock.store.connection import UnstorableRows
from floorclock.store.questions import athletes, class_ids, class_rows, history_of, known_names
from floorclock.store.rows import ClassRows
from floorclock.store.store import Store
from tests.store.sample_rows import a_class, any_class, in_key_order


@settings(
    max_examples=30,
    # No shrinking: with a database in each step it takes minutes.
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(batch=st.lists(any_class, min_size=1, max_size=3), again=st.lists(any_class, min_size=1, max_size=2))
def test_whatever_is_put_comes_back_equal_and_the_later_of_two_counts(
    store: Store, batch: list[ClassRows], again: list[ClassRows]
) -> None:
    store.drop(store.marks())
    store.put(batch)
    store.put(again)
    expected = {rows.id: rows for rows in (*batch, *again)}
    assert set(class_ids(store)) == set(expected)
    assert store.marks() == {id_: rows.mark for id_, rows in expected.items()}
    for id_, rows in expected.items():
        back = class_rows(store, id_)
        assert back == in_key_order(rows)
        assert back is not None
        assert back.started.utcoffset() == rows.started.utcoffset()


@pytest.mark.parametrize(
    ("offset", "told"),
    [(timedelta(hours=13), "2026-03-02T00:05:00+13:00"), (timedelta(minutes=19, seconds=32), "2026-03-01T23:45:28+00:00")],
    ids=["the day is that of the place", "no whole number of minutes is told in UTC"],
)
def test_an_instant_keeps_its_wall_time(store: Store, offset: timedelta, told: str) -> None:
    store.put([a_class(1, "Ilka", started=datetime(2026, 3, 2, 0, 5, tzinfo=timezone(offset)))])
    [found] = history_of(store, "Ilka")
    assert found.started.isoformat() == told


def test_a_class_that_is_put_again_takes_the_place_of_the_old_one_whole(store: Store) -> None:
    store.put([a_class(1, "Ilka", "Bram"), a_class(2, "Bram")])
    thinner = a_class(1, "Noor")
    store.put([thinner])
    assert class_rows(store, thinner.id) == in_key_order(thinner)
    assert set(known_names(store)) == {"Bram", "Noor"}


def test_a_new_class_beside_one_that_is_put_again_gets_a_number_of_its_own(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Bram")])
    both = [a_class(3, "Noor"), a_class(2, "Bram", "Sefa")]
    store.put(both)
    assert [class_rows(store, rows.id) for rows in both] == [in_key_order(rows) for rows in both]


def test_a_put_that_fails_half_way_leaves_the_store_as_it_was(store: Store) -> None:
    store.put([a_class(1, "Ilka")])
    twice = a_class(1, "Bram")
    broken = replace(twice, splits=(*twice.splits, twice.splits[0]))
    with pytest.raises(UnstorableRows) as told:
        store.put([broken])
    assert isinstance(told.value, ResourceError)
    assert "Bram" not in str(told.value)
    assert class_rows(store, twice.id) == in_key_order(a_class(1, "Ilka"))


def test_somebody_with_splits_but_no_attendance_was_in_no_class_and_yet_is_not_lost(store: Store) -> None:
    rows = a_class(1, "Ilka")
    rows = replace(rows, splits=(*rows.splits, replace(rows.splits[0], athlete="Bram")))
    store.put([rows])
    assert class_rows(store, rows.id) == in_key_order(rows)
    assert athletes(store, ["Bram"]) == ()
    assert [found.attendance for found in history_of(store, "Bram")] == [()]


def test_dropping_takes_out_what_is_there_and_says_how_much(store: Store) -> None:
    store.put([a_class(1, "Ilka", home="room 1"), a_class(2, "Bram", home="room 2")])
    assert set(store.marks("room 1")) == {a_class(1).id}
    assert store.drop([a_class(1).id, "no such class"]) == 1
    assert class_rows(store, a_class(1).id) is None
    assert known_names(store) == ("Bram",)
    store.put([a_class(3, "Noor")])
    assert class_ids(store) == (a_class(2).id, a_class(3).id)
