"""The coach's own plans, with what the records say of each."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from floorclock.insight import as_json
from floorclock.insight.plans import own_plans
from floorclock.report.records_text import print_plans
from floorclock.store.store import Store
from tests.insight.conftest import PEOPLE, WEEKS
from tests.insight.season import BRIDGES, LOCKS
from tests.report.printing import printed


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "locks.yaml").write_text(LOCKS, encoding="utf-8")
    (tmp_path / "bridges.YML").write_text(BRIDGES, encoding="utf-8")
    (tmp_path / "new.yaml").write_text(LOCKS.replace("Three locks", "Never run"), encoding="utf-8")
    (tmp_path / "broken.yaml").write_text("session: x\nparts: [{kind: opem}]\n", encoding="utf-8")
    (tmp_path / "roster.yaml").write_text("athletes: [{name: Ilka}]\n", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("session: not a plan", encoding="utf-8")
    return tmp_path


def test_plans_stand_in_the_order_in_which_they_were_run(shared: tuple[Store, list[str]], folder: Path) -> None:
    found = own_plans(folder, shared[0]).plans
    assert [plan.file for plan in found] == ["bridges.YML", "locks.yaml", "broken.yaml", "new.yaml"]
    bridges, locks, broken, new = found
    assert (locks.runs, bridges.runs, new.runs) == (WEEKS // 2, WEEKS // 2, 0)
    assert bridges.last is not None
    assert locks.last is not None
    assert bridges.last > locks.last
    assert (locks.athletes, locks.measured) == (len(PEOPLE), len(PEOPLE))
    assert 0 <= (locks.held or 0) <= len(PEOPLE)
    assert (broken.problems, broken.title) == (1, "")
    assert (locks.time_ms, new.last, new.held) == ((15 + 2 + 9) * 60_000 + 20_000, None, None)


def test_it_is_said_and_it_is_json(shared: tuple[Store, list[str]], folder: Path) -> None:
    found = own_plans(folder, shared[0])
    text = printed(lambda console: print_plans(found, console), 100)
    assert "held margin and pace" in " ".join(text.split())
    assert "never" in text
    assert "can't be read: floorclock check broken.yaml" in " ".join(text.split())
    told = json.loads(json.dumps(as_json(found)))
    assert set(told["plans"][0]) == {"file", "title", "problems", "time_s", "runs", "last", "athletes", "measured", "held"}
