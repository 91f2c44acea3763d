"""Every question over years is answered from a key or an index: no table that grows with the classes is read whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event

from floorclock.store import questions as ask
from floorclock.store.store import Store, open_store
from floorclock.store.tallies import people_there
from tests.store.sample_rows import EVENING, LATER, a_class

QUESTIONS: dict[str, Callable[[Store], object]] = {
    "class_ids": lambda store: ask.class_ids(store, a_class(1).id[:8]),
    "class_rows": lambda store: ask.class_rows(store, a_class(1).id),
    "history_of": lambda store: ask.history_of(store, "Ilka", since=EVENING),
    "past_classes": lambda store: ask.past_classes(store, ["Ilka", "Bram"], before=EVENING + 9 * LATER),
    "athletes": lambda store: ask.athletes(store, ["Ilka", "Bram"]),
    "station_rows": lambda store: ask.station_rows(store, since=EVENING, until=EVENING + LATER),
    "people_there": lambda store: people_there(store, EVENING, EVENING + LATER),
    "drop": lambda store: store.drop([a_class(1).id]),
    "put again": lambda store: store.put([a_class(1, "Bram")]),
}


@pytest.mark.parametrize("question", QUESTIONS)
def test_no_table_is_read_whole(tmp_path: Path, question: str) -> None:
    plans: list[str] = []

    def planned(connection: Connection, cursor: Any, statement: str, parameters: Any, context: Any, many: bool) -> None:
        if not many and statement.lstrip().startswith(("SELECT", "DELETE", "UPDATE")):
            plans.extend(row[-1] for row in cursor.connection.execute(f"EXPLAIN QUERY PLAN {statement}", parameters))

    with open_store(f"sqlite:///{tmp_path / 'store.sqlite3'}", "home") as store:
        store.put([a_class(number, "Ilka", "Bram") for number in range(10)])
        event.listen(store._engine, "before_cursor_execute", planned)
        QUESTIONS[question](store)
    assert any(step.startswith("SEARCH") for step in plans)
    assert [step for step in plans if step.startswith("SCAN") and "person" not in step] == []
    assert all("site=?" in step for step in plans if step.startswith("SEARCH"))
