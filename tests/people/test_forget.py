"""A person taken out of the records: nothing of theirs is left anywhere, everybody else's history is as it was."""

from __future__ import annotations

import errno
import json
from collections.abc import Callable, Collection
from contextlib import nullcontext
from pathlib import Path

import pytest

from floorclock.clock.events import ClassEnded, EffortRated, Event, Joined, PartBegun, Tapped
from floorclock.errors import NotFound, ResourceError, WrongUsage
from floorclock.insight.history import ask_history, loads_before, prior_of
from floorclock.journal.beat import Beat, beat_path, write_beat
from floorclock.journal.lock import ClassInUse, ClassLock
from floorclock.journal.reading import read_journal
from floorclock.journal.whole import write_whole
from floorclock.pace.prior import NO_PRIOR, Prior
from floorclock.people import doubles_of, forget, keep_apart, known_names, merge, what_is_kept
from floorclock.people.forget import finish_forgetting
from floorclock.people.register import canonical_names, people_path, read_register
from floorclock.plan.roster import Athlete, Roster
from tests.journal.failing_disk import DyingDisk, RefusingDisk
from tests.journal.sample_class import WALL, sample_header, sealed
from tests.opened_classes import SESSION

BEGIN = (PartBegun(at_ms=0, part=0), PartBegun(at_ms=120_000, part=1))
END = ClassEnded(at_ms=700_000)


def record(
    home: Path, number: int, names: Collection[str], *more: Event, ended: bool = True, session: str = SESSION, **values: object
) -> Path:
    """A class in which everybody taps in the first interval."""
    (home / "classes").mkdir(parents=True, exist_ok=True)
    path = home / "classes" / f"202611{number:02}-1831-aaaa.jsonl"
    roster = Roster(title="x", athletes=tuple(Athlete(name=name) for name in names))
    header = sample_header(path.stem, session_text=session, roster=roster, **values)
    taps = [Tapped(at_ms=150_000 + place, athlete=name) for place, name in enumerate(names)]
    write_whole(path, header, [(event, WALL) for event in (*BEGIN, *taps, *more, *([END] if ended else []))])
    return path


@pytest.fixture
def three(home: Path) -> tuple[Path, ...]:
    """Ilka under two spellings and as a latecomer; the last class is not hers."""
    late = Joined(at_ms=200_000, athlete=Athlete(name="Ilka"))
    paths = (
        record(home, 1, ("Ilka", "Bram"), EffortRated(at_ms=300_000, athlete="Ilka", effort=6.0)),
        record(home, 2, ("Noor", "Ilca")),
        record(home, 3, ("Bram", "Noor"), late),
        record(home, 4, ("Bram", "Noor")),
    )
    merge(home, "Ilca", "Ilka")
    return paths


def every_byte(home: Path) -> bytes:
    return b"\0".join(path.name.encode() + path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file())


def test_what_is_kept_says_what_would_go_and_changes_nothing(home: Path, three: tuple[Path, ...]) -> None:
    before = every_byte(home)
    kept = what_is_kept(home, "Ilca")
    assert (kept.name, kept.spellings) == ("Ilka", ("Ilka", "Ilca"))
    assert kept.classes == tuple(path.stem for path in three[:3])
    assert kept.would_go == "Ilka is in 3 classes: 2 splits, 0 results, 1 effort rating.\n2 spellings: Ilka, Ilca."
    assert every_byte(home) == before


def test_rehearsals_are_counted_by_themselves_as_an_athlete_s_page_has_none(home: Path, three: tuple[Path, ...]) -> None:
    record(home, 5, ("Ilka",), rehearsal=True)
    assert what_is_kept(home, "Ilka").would_go.startswith("Ilka is in 3 classes and 1 rehearsal: ")
    assert forget(home, "Ilka").went.startswith("Ilka was taken out of 3 classes and 1 rehearsal: ")
    record(home, 6, ("Odd",), rehearsal=True)
    assert what_is_kept(home, "Odd").would_go.startswith("Odd is in 1 rehearsal: ")


def test_nothing_is_left_and_the_statement_says_what_went(home: Path, three: tuple[Path, ...]) -> None:
    untouched = three[3].read_bytes()
    done = forget(home, "Ilka", wall=WALL)
    left = every_byte(home)
    assert b"Ilka" not in left
    assert b"Ilca" not in left
    assert three[3].read_bytes() == untouched
    assert done.went.splitlines()[:2] == [
        "Ilka was taken out of 3 classes: 2 splits, 0 results, 1 effort rating, 4 lines in all.",
        "2 spellings: Ilka, Ilca.",
    ]
    assert "backups, exports and pages that were made before" in done.went
    assert read_register(home).forgotten == ("2026-11-25T18:31:04.120+01:00",)
    assert all(path.stat().st_mode & 0o777 == 0o600 for path in home.rglob("*.jsonl"))
    assert sorted(path.name for path in home.rglob("*") if path.is_file()) == sorted(
        ["people.jsonl", *(path.name for path in three)]
    )
    with pytest.raises(NotFound, match="nobody called Ilka is in the records"):
        forget(home, "Ilka")


def prior(home: Path, *names: str) -> Prior:
    return ask_history(home, lambda store: prior_of(store, names), NO_PRIOR)


def test_everybody_elses_history_is_as_it_was(home: Path, three: tuple[Path, ...]) -> None:
    day = WALL.date()
    before = prior(home, "Bram", "Noor"), loads_before(home, ["Bram", "Noor"], day)
    assert before[0]
    assert prior(home, "Ilka")
    forget(home, "Ilka")
    assert (prior(home, "Bram", "Noor"), loads_before(home, ["Bram", "Noor"], day)) == before
    assert not prior(home, "Ilka")
    assert set(known_names(home)) == {"Bram", "Noor"}
    assert all(read_journal(path).damage == () for path in three)


def test_an_interrupted_class_is_refused_before_anything_is_changed(home: Path, three: tuple[Path, ...]) -> None:
    path = record(home, 9, ("Ilka",), ended=False)
    before = every_byte(home)
    with pytest.raises(
        WrongUsage, match=rf"has not ended: end it first \(floorclock resume {path.stem}, then F10\); nothing was changed"
    ):
        forget(home, "Ilka")
    assert f"Not ended yet: {path.stem}." in what_is_kept(home, "Ilka").would_go
    assert every_byte(home) == before
    # Of other people, it is no matter.
    assert forget(home, "Noor").classes == tuple(path.stem for path in three[1:])


def test_a_class_that_runs_is_refused_before_anything_is_changed(home: Path, three: tuple[Path, ...]) -> None:
    with ClassLock.take(three[1]):
        before = every_byte(home)
        with pytest.raises(ClassInUse):
            forget(home, "Ilka")
        assert every_byte(home) == before
    assert len(forget(home, "Ilka").classes) == 3


def test_torn_ends_half_made_files_and_heartbeats_go_too(home: Path, three: tuple[Path, ...]) -> None:
    three[0].with_suffix(".torn").write_bytes(b'{"v":1,"seq":9,"athlete":"Il')
    three[3].with_suffix(".torn").write_bytes(b'{"v":1,"seq":9,"athlete":"Ilka"')
    three[1].with_suffix(".new").write_bytes(three[1].read_bytes())
    write_beat(beat_path(three[2]), Beat(5, WALL))
    (home / "people.torn").write_bytes(b'"name":"Ilca"')
    done = forget(home, "Ilka")
    assert done.files == 4
    assert not [path.name for path in home.rglob("*") if path.suffix in (".torn", ".new", ".beat")]
    assert "damaged or torn pieces of journals" in done.went


def test_a_plan_with_the_name_in_it_is_reported_and_left(home: Path) -> None:
    path = record(home, 1, ("Ilka", "Bram"), session=SESSION.replace("The quay", "Ilka's quay"))
    done = forget(home, "Ilka")
    assert done.in_plans == (path.stem,)
    assert f"in the text of the plan of {path.stem}: that is the coach's own text" in done.went
    assert b"Ilka's quay" in path.read_bytes()


class Index:
    """Takes note of what it is told."""

    def __init__(self) -> None:
        self.shown = "the store"
        self.told: list[tuple[Collection[str], Collection[str]]] = []

    def forget(self, names: Collection[str], class_ids: Collection[str]) -> None:
        self.told.append((names, class_ids))


class Broken(Index):
    def forget(self, names: Collection[str], class_ids: Collection[str]) -> None:
        raise ResourceError("the store is locked")


def test_the_index_is_told_after_the_journals_and_before_the_spellings(home: Path, three: tuple[Path, ...]) -> None:
    index = Index()
    forget(home, "Ilka", index=index)
    assert index.told == [(("Ilka", "Ilca"), tuple(path.stem for path in three[:3]))]

    merge(home, "Nour", "Noor")
    with pytest.raises(ResourceError):
        forget(home, "Noor", index=Broken())
    assert canonical_names(home) == {"Nour": "Noor"}
    assert [path.name for path in home.rglob("*") if path.is_file() and b"Noor" in path.read_bytes()] != []
    classes = tuple(path.stem for path in three[1:])
    assert (finish_forgetting(home, lambda: nullcontext(index))) == (
        "taking Noor out of the records was not finished; it is now",
    )
    assert index.told[-1] == (("Noor", "Nour"), classes)
    assert [path.name for path in home.rglob("*") if path.is_file() and b"No" in path.read_bytes()] == []
    assert finish_forgetting(home, lambda: nullcontext(index)) == ()


def test_what_is_not_finished_says_what_is_left_and_a_second_try_knows_the_name(home: Path, three: tuple[Path, ...]) -> None:
    with pytest.raises(ResourceError, match="the index may hold the name still, the spellings do: the store is locked"):
        forget(home, "Bram", index=Broken())
    assert "begun before and not finished" in what_is_kept(home, "Bram").would_go
    assert what_is_kept(home, "Bram").classes == ()
    (told,) = finish_forgetting(home, lambda: nullcontext(Broken()))
    assert told.startswith("taking Bram out of the records is not finished: ")
    elsewhere = Index()
    elsewhere.shown = "another store"
    (told,) = finish_forgetting(home, lambda: nullcontext(elsewhere))
    assert "the store may hold the name still; floorclock forget with --store" in told
    index = Index()
    forget(home, "Bram", index=index)
    assert index.told == [(("Bram",), tuple(three[number].stem for number in (0, 2, 3)))]
    with pytest.raises(NotFound):
        what_is_kept(home, "Bram")


def test_a_journal_that_cannot_be_read_costs_itself_and_is_named(home: Path, three: tuple[Path, ...]) -> None:
    three[3].unlink()
    three[3].mkdir()
    assert f"the journal of class {three[3].stem} cannot be read: that is a folder" in what_is_kept(home, "Ilka").would_go
    assert "Not looked into, so they may hold the name still" in forget(home, "Ilka").went


def test_whenever_the_disk_dies_each_journal_is_whole_and_the_same_command_finishes(
    home: Path, three: tuple[Path, ...], tmp_path: Path
) -> None:
    old = {path: path.read_bytes() for path in (*three, home / "people.jsonl")}
    forget(home, "Ilka", wall=WALL)
    new = {path: path.read_bytes() for path in old}
    died = 0
    for deeds in range(0, 200, 3):
        for path, data in old.items():
            path.write_bytes(data)
        try:
            forget(home, "Ilka", wall=WALL, disk=DyingDisk(three[0], deeds))
        except ResourceError:
            died += 1
        assert all(path.read_bytes() in (old[path], new[path]) for path in old)
        if {path: path.read_bytes() for path in old} == new:
            break
        forget(home, "Ilka", wall=WALL)
        assert {path: path.read_bytes() for path in old} == new
    assert died > 5


def test_a_full_disk_is_said_without_a_name(home: Path, three: tuple[Path, ...]) -> None:
    with pytest.raises(ResourceError) as refused:
        forget(home, "Ilka", disk=RefusingDisk(errno.ENOSPC))
    assert str(refused.value) == "nothing was changed; it was not kept: disk full"
    assert list(home.rglob("*.new")) == []


def test_somebody_who_is_not_there_is_answered_with_the_nearest(home: Path, three: tuple[Path, ...]) -> None:
    with pytest.raises(NotFound, match="nobody called Brom is in the records; did you mean Bram"):
        what_is_kept(home, "Brom")


def test_names_are_known_from_boards_and_latecomers_but_not_from_rehearsals(home: Path, three: tuple[Path, ...]) -> None:
    record(home, 20, ("Pretend",), rehearsal=True)
    (home / "classes" / "20261121-1831-aaaa.jsonl").write_bytes(b"\xff\n")
    (home / "classes" / "20261122-1831-aaaa.jsonl").mkdir()
    assert {name: len(ids) for name, ids in known_names(home).items()} == {"Bram": 3, "Ilca": 1, "Ilka": 2, "Noor": 3}


def test_doubles_are_offered_until_they_are_merged_or_told_apart(home: Path, three: tuple[Path, ...]) -> None:
    record(home, 5, ("ilka",))
    record(home, 6, ("Nooor",))
    found = {(double.name, double.other) for double in doubles_of(home)}
    assert found == {("ilka", "Ilka"), ("Nooor", "Noor")}
    keep_apart(home, "Nooor", "Noor")
    merge(home, "ilka", "Ilka")
    assert doubles_of(home) == ()


@pytest.mark.parametrize("keep", [lambda line: line["event"] != "opened", lambda line: False])
def test_a_journal_without_its_header_loses_the_person_too(home: Path, keep: Callable[[dict[str, object]], bool]) -> None:
    path = record(home, 1, ("Ilka", "Bram"))
    lines = [line for line in path.read_bytes().splitlines(keepends=True) if keep(json.loads(line))]
    path.write_bytes(b"".join(lines) or b'{"v":1,"roster":["Ilka"')
    forget(home, "Ilka")
    assert not path.exists() or b"Ilka" not in path.read_bytes()
    assert path.exists() is bool(lines)


def test_a_spelling_that_cannot_be_read_ends_nothing_and_goes_with_the_person(home: Path, three: tuple[Path, ...]) -> None:
    del three
    lines = [sealed(b'{"v":1,"event":"same","name":"%s","is":NaN' % name) for name in (b"Ilka", b"Bram")]
    with people_path(home).open("ab") as file:
        file.writelines(lines)
    assert what_is_kept(home, "Ilka").classes
    forget(home, "Ilka")
    left = people_path(home).read_bytes()
    assert b"Ilka" not in left
    assert lines[1] in left
