"""What was put comes back equal, on both kinds of database."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from floorclock.errors import ResourceError
from floorclock.store import ask
from floorclock.store.engine import Store
from floorclock.store.rows import ClassRows, SplitRow
from tests.store.sample_rows import EVENING, a_class, any_class, in_key_order


@settings(
    max_examples=30,
    # No shrinking: with a database in each step it takes minutes.
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(batch=st.lists(any_class, max_size=3), again=st.lists(any_class, max_size=2))
def test_whatever_is_put_comes_back_equal_and_the_later_of_two_counts(
    store: Store, batch: list[ClassRows], again: list[ClassRows]
) -> None:
    store.clear()
    store.put(batch)
    store.put(again)
    expected = {one.id: one for one in (*batch, *again)}
    assert set(ask.class_ids(store)) == set(expected)
    assert store.marks() == {id_: one.mark for id_, one in expected.items()}
    for id_, one in expected.items():
        back = ask.class_rows(store, id_)
        assert back == in_key_order(one)
        assert back is not None
        assert back.started.utcoffset() == one.started.utcoffset()
    listed = ask.classes(store, rehearsals=True)
    assert sorted(line.id for line in listed) == sorted(expected)
    assert [line.started for line in listed] == sorted((one.started for one in expected.values()), reverse=True)


def test_an_instant_keeps_the_wall_time_and_the_day_of_its_place(store: Store) -> None:
    late = datetime(2026, 3, 2, 0, 5, tzinfo=timezone(timedelta(hours=13)))
    store.put([a_class(1, "Ilka", started=late)])
    [line] = ask.classes(store)
    assert line.started.isoformat() == "2026-03-02T00:05:00+13:00"
    assert line.started.astimezone(UTC).date() < line.started.date()


def test_an_offset_that_is_no_whole_number_of_minutes_is_told_in_utc(store: Store) -> None:
    odd = datetime(1930, 3, 2, 18, 0, tzinfo=timezone(timedelta(minutes=19, seconds=32)))
    store.put([a_class(1, "Ilka", started=odd)])
    [line] = ask.classes(store)
    assert line.started == odd
    assert line.started.utcoffset() == timedelta(0)


def test_many_classes_are_put_in_batches_and_all_of_them_are_there(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("floorclock.store.write.MOST_SPLITS", 250)
    rows = [a_class(number, "Ilka", "Bram") for number in range(20)]
    assert store.put(iter(rows)) == 20
    assert len(ask.class_ids(store)) == 20
    assert ask.class_rows(store, rows[7].id) == in_key_order(rows[7])


def test_a_class_that_is_put_again_takes_the_place_of_the_old_one_whole(store: Store) -> None:
    store.put([a_class(1, "Ilka", "Bram"), a_class(2, "Bram")])
    thinner = a_class(1, "Noor", forgotten=1)
    store.put([thinner])
    assert ask.class_rows(store, thinner.id) == in_key_order(thinner)
    assert [line.name for line in ask.athletes(store)] == ["Bram", "Noor"]


def test_a_new_class_beside_one_that_is_put_again_gets_a_number_of_its_own(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Bram")])
    both = [a_class(3, "Noor"), a_class(2, "Bram", "Sefa")]
    store.put(both)
    assert [ask.class_rows(store, one.id) for one in both] == [in_key_order(one) for one in both]


def test_a_put_that_fails_half_way_leaves_the_store_as_it_was(store: Store) -> None:
    store.put([a_class(1, "Ilka")])
    twice = a_class(1, "Bram")
    broken = replace(twice, splits=(*twice.splits, twice.splits[0]))
    with pytest.raises(ResourceError, match=r"IntegrityError|SQLSTATE 23505") as told:
        store.put([broken])
    assert "Bram" not in str(told.value)
    assert ask.class_rows(store, twice.id) == in_key_order(a_class(1, "Ilka"))


def test_somebody_with_splits_but_no_attendance_is_not_in_the_count_and_yet_not_lost(store: Store) -> None:
    rows = a_class(1, "Ilka")
    rows = replace(rows, splits=(*rows.splits, SplitRow(**{**_fields(rows.splits[0]), "name": "Bram"})))  # type: ignore[arg-type]
    store.put([rows])
    assert ask.class_rows(store, rows.id) == in_key_order(rows)
    assert [line.athletes for line in ask.classes(store)] == [1]
    assert ask.athlete_classes(store, "Bram") == ()


def test_clearing_takes_out_one_data_folder_or_everything(store: Store) -> None:
    store.put([a_class(1, "Ilka", home="room 1"), a_class(2, "Bram", home="room 2")])
    assert set(store.marks("room 1")) == {a_class(1).id}
    store.clear("room 1")
    assert [line.session for line in ask.classes(store)] == ["Five trips round the harbour"]
    assert [line.name for line in ask.athletes(store)] == ["Bram"]
    store.clear()
    assert ask.classes(store) == ()
    assert ask.athletes(store) == ()
    store.put([a_class(3, "Noor")])
    assert [line.started for line in ask.classes(store)] == [EVENING + timedelta(days=3)]


def test_dropping_takes_out_what_is_there_and_says_how_much(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Bram")])
    assert store.drop([a_class(1).id, "no such class"]) == 1
    assert ask.class_rows(store, a_class(1).id) is None
    assert ask.splits_of(store, a_class(1).id) == ()
    assert [line.name for line in ask.athletes(store)] == ["Bram"]


def _fields(row: SplitRow) -> dict[str, object]:
    return {name: getattr(row, name) for name in SplitRow.__slots__}
