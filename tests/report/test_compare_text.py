"""Two classes beside each other on a terminal."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len

from floorclock.insight.compare import Change, Comparison, compare
from floorclock.report.compare_text import change_words, print_comparison
from floorclock.store.indexing import bring_up_to_date
from floorclock.store.store import open_store
from tests.insight.season import BRIDGES, FIRST, LOCKS, Person, record
from tests.report.printing import printed


@pytest.fixture
def found(tmp_path: Path) -> Comparison:
    return _compared(tmp_path, LOCKS)


def _compared(folder: Path, session: str) -> Comparison:
    before = {"Ilka": Person(), "Sefa": Person(), "Noor": Person(), "Odd": Person(tapped=0.0), "Bram": Person()}
    after = {"Ilka": Person(pace=0.8), "Sefa": Person(pace=1.2), "Noor": Person(), "Odd": Person(), "Teo": Person()}
    after["Noor"] = Person(not_finished=frozenset({5}))
    home = folder / "own"
    with open_store(f"sqlite:///{folder / 'own.sqlite3'}", "home") as store:
        ids = [record(home, FIRST, before), record(home, FIRST.replace(day=9), after, session)]
        bring_up_to_date(home, store)
        return compare(store, *ids)


def test_who_changed_and_who_cannot_be_told(found: Comparison) -> None:
    text = printed(lambda console: print_comparison(found, console), 80)
    assert "7 days later" in text
    assert "3 athletes can be compared: 1 faster, 1 slower, 1 too close to call." in " ".join(text.split())
    assert "By chance alone about 0.3 would be called either." in " ".join(text.split())
    assert "The class as a whole: too close to call:" in text
    rows = [line for line in text.splitlines() if line.split(" ")[0] in {"Ilka", "Sefa", "Noor", "Odd"}]
    assert [line.split()[0] for line in rows] == ["Ilka", "Sefa", "Noor", "Odd"]
    assert "% faster (" in rows[0]
    assert "swing -" in rows[0]
    assert "% slower (" in rows[1]
    assert "too close to call" in rows[2]
    assert "too little: under 3 rounds" in rows[3]
    assert "not finished 0, then 1" in text
    assert "-60.0 s" in text
    assert "Only on 2026-03-02: Bram" in text
    assert "Only on 2026-03-09: Teo" in text
    assert "a good or a bad day is in it" in " ".join(text.split())


def test_two_sessions_say_that_only_their_moves_in_common_are_compared(tmp_path: Path) -> None:
    text = printed(lambda console: print_comparison(_compared(tmp_path, BRIDGES), console), 80)
    assert text.startswith("Three locks and Two bridges")
    assert "only the moves that both have are compared" in text
    assert "# 14 reps to 16 reps" in " ".join(text.split())


@pytest.mark.parametrize("width", [40, 80, 120])
def test_it_fits_any_width_and_names_are_data(found: Comparison, width: int) -> None:
    strange = replace(found, athletes=(replace(found.athletes[0], name="[b]" + "Liselotte " * 5), *found.athletes[1:]))
    text = printed(lambda console: print_comparison(strange, console), width)
    assert max(map(cell_len, text.splitlines())) <= width
    assert "[b]Lisel" in text
    assert "…" not in text


def test_nobody_in_common_is_said(found: Comparison) -> None:
    text = printed(lambda console: print_comparison(replace(found, athletes=(), results=()), console), 80)
    assert "Nobody was in both" in text


def test_a_change_is_said_with_its_span() -> None:
    assert change_words(Change(percent=-4.88, low=-7.69, high=-1.98, n=10)) == "4.9 % faster (2.0 to 7.7)"
    assert change_words(Change(percent=5.13, low=2.02, high=8.33, n=10)) == "5.1 % slower (2.0 to 8.3)"
    assert change_words(Change(percent=-0.001, low=-1.98, high=2.02, n=10)) == "too close to call: +0.0 % (-2.0 to +2.0)"
