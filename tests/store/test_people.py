"""Who is the same person, whose history is whose, and what is left of a name that nobody has any more."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from floorclock.store.questions import athletes, class_ids, class_rows, history_of, known_names, past_classes, station_rows
from floorclock.store.rows import AttendanceRow
from floorclock.store.store import Store, open_store
from tests.store.sample_rows import EVENING, LATER, a_class, pace, split


def everybody(store: Store) -> list[tuple[str, tuple[str, ...], int]]:
    return [(line.name, line.spellings, line.classes) for line in athletes(store, known_names(store))]


def test_a_name_takes_in_all_its_spellings_and_gives_them_back_when_parted(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilca", "Bram"), a_class(3, "Ilka")])
    store.same({"Ilca": "Ilka"})
    for name in ("Ilka", "Ilca"):
        found = history_of(store, name)
        assert [one.class_id[-1] for one in found] == ["1", "2", "3"]
        for rows in ("attendance", "paces", "results"):
            assert [row.name for one in found for row in getattr(one, rows)] == ["Ilka", "Ilca", "Ilka"]
    assert everybody(store) == [("Bram", (), 1), ("Ilka", ("Ilca",), 3)]
    ilka = athletes(store, ["Ilca"])[0]
    assert (ilka.first, ilka.last) == (EVENING + LATER, EVENING + 3 * LATER)
    store.same({})
    assert everybody(store) == [("Bram", (), 1), ("Ilca", (), 1), ("Ilka", (), 2)]
    assert len(history_of(store, "Ilka")) == 2


def test_spellings_of_spellings_end_at_the_name_that_counts_and_a_circle_is_refused(store: Store) -> None:
    store.put([a_class(1, "A"), a_class(2, "B"), a_class(3, "C")])
    store.same({"A": "B", "B": "C", "C": "C"})
    assert everybody(store) == [("C", ("A", "B"), 3)]
    with pytest.raises(ValueError, match="the same as themselves"):
        store.same({"A": "B", "B": "A"})
    assert everybody(store) == [("C", ("A", "B"), 3)]


def test_a_spelling_that_no_class_has_yet_counts_once_one_has_it(store: Store) -> None:
    store.same({"Ilca": "Ilka"})
    assert everybody(store) == []
    store.put([a_class(1, "Ilca")])
    assert everybody(store) == [("Ilka", ("Ilca",), 1)]
    assert len(history_of(store, "Ilka")) == 1


def test_a_name_that_no_class_has_any_more_is_gone(store: Store) -> None:
    store.put([a_class(1, "Ilka", "Bram")])
    store.same({"Ilca": "Ilka"})
    store.put([a_class(1, "Bram")])
    store.same({})
    assert known_names(store) == ("Bram",)


def test_nothing_of_a_forgotten_name_is_in_the_files(tmp_path: Path) -> None:
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite3'}", "home") as store:
        store.put([a_class(number, f"Zerlindis{number:03d}", "Bram") for number in range(30)])
        assert b"Zerlindis" in everything_in(tmp_path)
        store.put([a_class(number, "Bram") for number in range(30)])
        store.scrub()
        assert b"Zerlindis" not in everything_in(tmp_path)
        assert b"Bram" in everything_in(tmp_path)


def everything_in(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.iterdir())


def test_scrubbing_changes_no_answer(store: Store) -> None:
    store.put([a_class(1, "Ilka")])
    store.scrub()
    assert known_names(store) == ("Ilka",)


def test_rehearsals_are_nobodys_history(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilka", "Odd", rehearsal=True)])
    assert len(class_ids(store)) == 2
    assert everybody(store) == [("Ilka", (), 1)]
    assert len(history_of(store, "Ilka")) == 1
    assert len(past_classes(store, ["Ilka"])) == 1
    assert len(station_rows(store)) == 1


def test_a_history_is_told_class_by_class_from_a_day_on(store: Store) -> None:
    two = tuple(pace("Ilka", move=move, station=place) for place, move in enumerate(("swing", "step-up")))
    store.put([a_class(number, "Ilka", paces=two) for number in range(3)])
    found = history_of(store, "Ilka", since=EVENING + LATER)
    assert [one.started for one in found] == [EVENING + LATER, EVENING + 2 * LATER]
    assert [[row.move for row in one.paces] for one in found] == [["swing", "step-up"]] * 2
    assert history_of(store, "Nobody") == ()


def test_the_past_is_of_the_last_classes_with_splits_under_the_name_that_was_asked(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    untimed = tuple(pace(name, tapped=0) for name in ("Ilka", "Bram"))
    store.put(
        [
            a_class(1, "Ilka", "Sefa"),
            a_class(2, "Ilca"),
            a_class(3, "Bram"),
            a_class(4, "Ilka", "Bram", paces=untimed, splits=(split("Ilka", split_ms=None),)),
            a_class(5, "Ilka"),
        ]
    )
    store.same({"Ilca": "Ilka"})
    days = {number: (EVENING + number * LATER).date() for number in range(6)}
    with monkeypatch.context() as patched:
        patched.setattr("floorclock.store.questions.MOST_PAST", 2)
        past = past_classes(store, ["Ilca", "Bram", "Nobody"], before=EVENING + 5 * LATER)
    assert [one.day for one in past] == [days[3], days[2]]
    whole = past_classes(store, ["Ilca", "Bram"], before=EVENING + 5 * LATER)
    assert [(one.day, split.athlete, split.split_ms) for one in whole for split in one.splits] == [
        (days[number], name, split_ms)
        for number, name in ((3, "Bram"), (2, "Ilca"), (1, "Ilca"))
        for split_ms in (31_000, 31_501, None)
    ]
    assert past_classes(store, []) == ()
    assert past_classes(store, ["Nobody"]) == ()


def test_the_targets_that_stood_at_the_end_are_told_under_the_name_that_was_asked(store: Store) -> None:
    changed = replace(pace("Ilca"), target=a_class(1, "Ilca").paces[0].amount)
    store.put([a_class(1, "Ilca", paces=(changed,)), a_class(2, "Ilca")])
    store.same({"Ilca": "Ilka"})
    older = past_classes(store, ["Ilka"])[1]
    assert older.amounts == {("Ilka", changed.move, changed.unit): changed.target}
    assert past_classes(store, ["Ilka"])[0].amounts == {}


def test_somebody_on_the_board_under_two_spellings_was_in_one_class(store: Store) -> None:
    rows = a_class(1, "Ilka", "Ilca")
    store.put([replace(rows, attendance=(*rows.attendance, AttendanceRow(name="Bram", minutes=20.0)))])
    store.same({"Ilca": "Ilka"})
    assert everybody(store) == [("Bram", (), 1), ("Ilka", ("Ilca",), 1)]
    [found] = history_of(store, "Ilka")
    assert [row.name for row in found.attendance] == ["Ilca", "Ilka"]


def test_two_sites_in_one_store_do_not_see_each_other(url: str, site: str) -> None:
    with open_store(url, site) as here, open_store(url, site + " too") as there:
        here.put([a_class(1, "Ilka"), a_class(2, "Bram")])
        there.put([a_class(1, "Noor", session="Tide tables")])
        here.same({"Bram": "Ilka"})
        assert known_names(there) == ("Noor",)
        assert history_of(there, "Ilka") == ()
        found = class_rows(there, a_class(1).id)
        assert found is not None
        assert (found.session, {row.athlete for row in found.splits}) == ("Tide tables", {"Noor"})
        assert set(there.marks()) == {a_class(1).id}
        assert len(station_rows(there)) == 1
        assert there.drop([a_class(1).id, a_class(2).id]) == 1
        assert len(class_ids(here)) == 2
        assert everybody(here) == [("Ilka", ("Bram",), 2)]


def test_ids_are_found_by_how_they_begin_and_nothing_in_them_is_a_pattern(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilka"), a_class(3, "Ilka", id="%_x")])
    assert class_ids(store, "20260303") == (a_class(1).id,)
    assert class_ids(store, "%") == ("%_x",)
    assert len(class_ids(store)) == 3


def test_stations_are_told_of_a_time_the_oldest_class_first(store: Store) -> None:
    store.put([a_class(number, "Ilka") for number in (3, 1, 4, 2)])
    found = station_rows(store, since=EVENING + 2 * LATER, until=EVENING + 4 * LATER)
    assert [one.class_id[-1] for one in found] == ["2", "3"]
