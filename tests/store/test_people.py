"""Who is the same person, whose history is whose, and what is left of a name that nobody has any more."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from floorclock.store import ask
from floorclock.store.engine import Store, open_store
from floorclock.store.rows import AttendanceRow
from floorclock.store.tables import persons
from tests.store.sample_rows import EVENING, LATER, a_class, pace, split


def test_a_name_takes_in_all_its_spellings_and_gives_them_back_when_parted(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilca", "Bram"), a_class(3, "Ilka")])
    store.same({"Ilca": "Ilka"})
    for name in ("Ilka", "Ilca"):
        assert [one.class_id[-1] for one in ask.athlete_paces(store, name)] == ["3", "2", "1"]
        assert [one.pace.name for one in ask.athlete_paces(store, name)] == ["Ilka", "Ilca", "Ilka"]
        assert [one.name for one in ask.athlete_classes(store, name)] == ["Ilka", "Ilca", "Ilka"]
        assert len(ask.athlete_results(store, name)) == 3
    [bram, ilka] = ask.athletes(store)
    assert (bram.name, bram.classes) == ("Bram", 1)
    assert (ilka.name, ilka.spellings, ilka.classes) == ("Ilka", ("Ilca",), 3)
    assert (ilka.first, ilka.last) == (EVENING + LATER, EVENING + 3 * LATER)
    store.same({})
    assert [line.name for line in ask.athletes(store)] == ["Bram", "Ilca", "Ilka"]
    assert len(ask.athlete_paces(store, "Ilka")) == 2


def test_spellings_of_spellings_end_at_the_name_that_counts_and_a_circle_is_refused(store: Store) -> None:
    store.put([a_class(1, "A"), a_class(2, "B"), a_class(3, "C")])
    store.same({"A": "B", "B": "C", "C": "C"})
    assert [(line.name, line.spellings) for line in ask.athletes(store)] == [("C", ("A", "B"))]
    with pytest.raises(ValueError, match="the same as themselves"):
        store.same({"A": "B", "B": "A"})
    assert [line.name for line in ask.athletes(store)] == ["C"]


def test_a_spelling_that_no_class_has_yet_counts_once_one_has_it(store: Store) -> None:
    store.same({"Ilca": "Ilka"})
    assert ask.athletes(store) == ()
    store.put([a_class(1, "Ilca")])
    assert [(line.name, line.spellings) for line in ask.athletes(store)] == [("Ilka", ("Ilca",))]
    assert len(ask.athlete_paces(store, "Ilka")) == 1


def test_a_name_that_no_class_has_any_more_is_gone(store: Store) -> None:
    store.put([a_class(1, "Ilka", "Bram")])
    store.same({"Ilca": "Ilka"})
    store.put([a_class(1, "Bram", forgotten=1)])
    store.same({})
    with store.reading() as connection:
        names = connection.scalars(select(persons.c.name).where(persons.c.site == store.number)).all()
    assert names == ["Bram"]


def test_nothing_of_a_forgotten_name_is_in_the_files(tmp_path: Path) -> None:
    with open_store(f"sqlite:///{tmp_path / 'store.sqlite3'}", "home") as store:
        store.put([a_class(number, f"Zerlindis{number:03d}", "Bram") for number in range(30)])
        assert b"Zerlindis" in everything_in(tmp_path)
        store.put([a_class(number, "Bram", forgotten=1) for number in range(30)])
        store.scrub()
        assert b"Zerlindis" not in everything_in(tmp_path)
        assert b"Bram" in everything_in(tmp_path)


def everything_in(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.iterdir())


def test_scrubbing_changes_no_answer(store: Store) -> None:
    store.put([a_class(1, "Ilka")])
    store.scrub()
    assert [line.name for line in ask.athletes(store)] == ["Ilka"]


def test_rehearsals_are_nobodys_history_unless_they_are_asked_for(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilka", rehearsal=True)])
    assert [line.id[-1] for line in ask.classes(store)] == ["1"]
    assert [line.id[-1] for line in ask.classes(store, rehearsals=True)] == ["2", "1"]
    assert ask.athletes(store)[0].classes == 1
    assert ask.athletes(store, rehearsals=True)[0].classes == 2
    for question in (ask.athlete_paces, ask.athlete_classes, ask.athlete_results):
        assert len(question(store, "Ilka")) == 1
        assert len(question(store, "Ilka", rehearsals=True)) == 2
    assert len(ask.past_paces(store, ["Ilka"])) == 1
    assert len(ask.station_rows(store)) == 1
    assert len(ask.session_classes(store, "Five trips round the harbour")) == 1


def test_paces_are_asked_by_move_by_day_and_by_how_many(store: Store) -> None:
    two = tuple(pace("Ilka", move=move, station=place) for place, move in enumerate(("swing", "step-up")))
    store.put([a_class(number, "Ilka", paces=two) for number in range(3)])
    assert [one.pace.move for one in ask.athlete_paces(store, "Ilka")] == ["swing", "step-up"] * 3
    assert {one.pace.move for one in ask.athlete_paces(store, "Ilka", move="step-up")} == {"step-up"}
    assert ask.athlete_paces(store, "Ilka", move="row") == ()
    assert [one.started for one in ask.athlete_paces(store, "Ilka", limit=2)] == [EVENING + 2 * LATER] * 2
    assert len(ask.athlete_paces(store, "Ilka", since=EVENING + LATER)) == 4
    assert ask.athlete_paces(store, "Nobody") == ()


def test_the_past_is_of_the_last_classes_with_splits_under_the_name_that_was_asked(store: Store) -> None:
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
    past = ask.past_paces(store, ["Ilca", "Bram", "Nobody"], before=EVENING + 5 * LATER, most_classes=2)
    assert [(one.class_id[-1], one.pace.name) for one in past] == [("3", "Bram"), ("2", "Ilca")]
    whole = ask.past_paces(store, ["Ilca", "Bram"], before=EVENING + 5 * LATER)
    assert [(one.class_id[-1], one.pace.name) for one in whole] == [("3", "Bram"), ("2", "Ilca"), ("1", "Ilca")]
    taken = ask.past_splits(store, ["Ilca", "Bram"], before=EVENING + 5 * LATER)
    assert [(one.class_id[-1], one.split.name, one.split.split_ms) for one in taken] == [
        (number, name, split_ms)
        for number, name in (("3", "Bram"), ("2", "Ilca"), ("1", "Ilca"))
        for split_ms in (31_000, 31_501)
    ]
    assert ask.past_paces(store, []) == ()
    assert ask.past_paces(store, ["Nobody"]) == ()


def test_somebody_on_the_board_under_two_spellings_was_in_one_class(store: Store) -> None:
    rows = a_class(1, "Ilka", "Ilca")
    store.put([replace(rows, attendance=(*rows.attendance, AttendanceRow(name="Bram", minutes=20.0)))])
    store.same({"Ilca": "Ilka"})
    assert [(line.name, line.classes) for line in ask.athletes(store)] == [("Bram", 1), ("Ilka", 1)]
    assert [one.name for one in ask.athlete_classes(store, "Ilka")] == ["Ilca", "Ilka"]


def test_two_sites_in_one_store_do_not_see_each_other(url: str, site: str) -> None:
    with open_store(url, site) as here, open_store(url, site + " too") as there:
        here.put([a_class(1, "Ilka"), a_class(2, "Bram")])
        there.put([a_class(1, "Noor", session="Tide tables")])
        here.same({"Bram": "Ilka"})
        assert [line.name for line in ask.athletes(there)] == ["Noor"]
        assert ask.athlete_paces(there, "Ilka") == ()
        assert [line.session for line in ask.classes(there)] == ["Tide tables"]
        assert [row.name for row in ask.splits_of(there, a_class(1).id)] == ["Noor"] * 3
        assert set(there.marks()) == {a_class(1).id}
        assert len(ask.station_rows(there)) == 1
        there.drop([a_class(1).id, a_class(2).id])
        there.clear()
        assert len(ask.classes(here)) == 2
        assert [row.name for row in ask.splits_of(here, a_class(1).id)] == ["Ilka"] * 3
        assert [line.name for line in ask.athletes(here)] == ["Ilka"]


def test_the_list_of_classes_is_newest_first_and_goes_on_where_it_stopped(store: Store) -> None:
    store.put([a_class(number, "Ilka", session="Tide tables" if number % 2 else "Harbour") for number in (3, 1, 4, 2)])
    first = ask.classes(store, limit=2)
    assert [line.id[-1] for line in first] == ["4", "3"]
    assert [line.id[-1] for line in ask.classes(store, limit=2, before=first[-1].started)] == ["2", "1"]
    assert [line.id[-1] for line in ask.session_classes(store, "Tide tables")] == ["3", "1"]
    assert [(line.athletes, line.splits, line.tapped, line.not_finished) for line in first] == [(1, 3, 2, 0)] * 2
    trend = ask.station_rows(store, since=EVENING + 2 * LATER, until=EVENING + 4 * LATER - timedelta(seconds=1))
    assert [one.class_id[-1] for one in trend] == ["2", "3"]


def test_ids_are_found_by_how_they_begin_and_nothing_in_them_is_a_pattern(store: Store) -> None:
    store.put([a_class(1, "Ilka"), a_class(2, "Ilka"), a_class(3, "Ilka", id="%_x")])
    assert ask.class_ids(store, "20260303") == (a_class(1).id,)
    assert ask.class_ids(store, "%") == ("%_x",)
    assert len(ask.class_ids(store)) == 3
