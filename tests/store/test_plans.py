"""Every question over years is answered from a key or an index: no table that grows with the classes is read whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event

from floorclock.store import ask
from floorclock.store.engine import Store, open_store
from tests.store.sample_rows import EVENING, LATER, a_class

QUESTIONS: dict[str, Callable[[Store], object]] = {
    "classes": lambda store: ask.classes(store, limit=20, before=EVENING + LATER),
    "session_classes": lambda store: ask.session_classes(store, "Five trips round the harbour", limit=5),
    "class_facts": lambda store: ask.class_facts(store, a_class(1).id),
    "splits_of": lambda store: ask.splits_of(store, a_class(1).id),
    "paces_of": lambda store: ask.paces_of(store, a_class(1).id),
    "athlete_paces": lambda store: ask.athlete_paces(store, "Ilka"),
    "athlete_classes": lambda store: ask.athlete_classes(store, "Ilka"),
    "athlete_results": lambda store: ask.athlete_results(store, "Ilka"),
    "past_paces": lambda store: ask.past_paces(store, ["Ilka", "Bram"], before=EVENING + 9 * LATER),
    "past_splits": lambda store: ask.past_splits(store, ["Ilka", "Bram"], before=EVENING + 9 * LATER),
    "station_rows": lambda store: ask.station_rows(store, since=EVENING, until=EVENING + LATER),
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
