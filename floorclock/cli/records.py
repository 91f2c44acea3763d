"""The commands over all classes: one athlete, two classes, months; who is who; carrying records out and back.

Invariant: journals are the truth and the store an index of them, brought up to date before it is asked; whatever takes
something out of the records asks first.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from floorclock.cli.options import AsJson, home, print_json, show
from floorclock.errors import NotFound, WrongUsage

if TYPE_CHECKING:
    from floorclock.people import Double
    from floorclock.store.indexing import Indexed, Progress
    from floorclock.store.store import Store

StoreUrl = Annotated[
    str | None,
    typer.Option("--store", metavar="URL", help="Another store than the file in the data folder; or set FLOORCLOCK_STORE."),
]
BAR_FROM_S = 1.0
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")]
ClassId = Annotated[str, typer.Argument(metavar="CLASS", help="Its id, or the start of it.")]


def athlete(
    name: Annotated[str, typer.Argument(metavar="NAME", help="As on the roster, or the start of it.")],
    json_: AsJson = False,
    store: StoreUrl = None,
) -> None:
    """One athlete over time: pace, load by week, next targets. Attendance, held and faded, too."""
    from floorclock.insight import athlete_page
    from floorclock.report.athlete_text import print_athlete

    with opened_store(store) as opened:
        page = athlete_page(opened, name, date.today(), home=home())
    show(page, print_athlete, json_=json_)


def compare(first: ClassId, second: ClassId, json_: AsJson = False, store: StoreUrl = None) -> None:
    """The same session on two days: who got faster, who slower. And what is beyond noise."""
    from floorclock.insight import compare as compared
    from floorclock.journal.shelf import Shelf
    from floorclock.report.records_text import print_comparison

    shelf = Shelf(home())
    ids = [shelf.find(named).stem for named in (first, second)]
    with opened_store(store) as opened:
        comparison = compared(opened, *ids)
    show(comparison, print_comparison, json_=json_)


def trends(
    since: Annotated[
        str | None, typer.Option("--since", metavar="2026-09-01", help="From this day on; the last twelve weeks without.")
    ] = None,
    until: Annotated[str | None, typer.Option("--until", metavar="2026-11-30", help="Through this day.")] = None,
    json_: AsJson = False,
    store: StoreUrl = None,
) -> None:
    """Weeks at a glance: what makes people fade, and who comes. Session by session, station by station."""
    from floorclock.insight import WEEKS_SHOWN
    from floorclock.insight import trends as over_time
    from floorclock.report.records_text import print_trends

    last = _day("--until", until)
    first = _day("--since", since) or (last or date.today()) - timedelta(weeks=WEEKS_SHOWN)
    if last is not None and first > last:
        raise WrongUsage("--since lies after --until")
    with opened_store(store) as opened:
        # A day that is named belongs to what is asked for.
        found = over_time(opened, first, None if last is None else last + timedelta(days=1))
    show(found, print_trends, json_=json_)


def people(
    name: Annotated[str, typer.Argument(metavar="[NAME]", help="A spelling; without one, all who may be one person.")] = "",
    same_as: Annotated[str | None, typer.Option("--is", metavar="OTHER", help="NAME is the same person as OTHER.")] = None,
    not_same: Annotated[str | None, typer.Option("--is-not", metavar="OTHER", help="They are two; do not ask again.")] = None,
    undo: Annotated[bool, typer.Option("--undo", help="NAME stands for itself again.")] = False,
    json_: AsJson = False,
) -> None:
    """Who may be one person under two spellings. Merged on a yes, and parted again."""
    from floorclock import people as who

    chosen = sum(other is not None for other in (same_as, not_same)) + undo
    if bool(name) != bool(chosen) or chosen > 1:
        raise WrongUsage("give a NAME with one of --is OTHER, --is-not OTHER and --undo, or neither")
    if same_as is not None:
        _need_known(name, same_as)
        print(who.merge(home(), name, same_as))
    elif not_same is not None:
        _need_known(name, not_same)
        print(who.keep_apart(home(), name, not_same))
    elif undo:
        print(who.undo(home(), name))
    else:
        _offer(who.doubles_of(home()), json_=json_)


def forget(
    name: Annotated[str, typer.Argument(metavar="NAME", help="As on the roster.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would go, and change nothing.")] = False,
    yes: Yes = False,
    store: StoreUrl = None,
) -> None:
    """Take a person out of the records, and say what went. Under every spelling."""
    from floorclock.people import forget as forgotten
    from floorclock.people import what_is_kept

    kept = what_is_kept(home(), name)
    print(kept.would_go)
    if dry_run:
        return
    if not yes and not _asked(f"Take {kept.name} out of all of it, for good?"):
        raise NotFound("nothing was changed")
    with opened_store(store, up_to_date=False) as opened:
        print(forgotten(home(), name, index=_Index(opened)).went)


def export(folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder, or an empty one.")]) -> None:
    """Write everything as tables for a spreadsheet (CSV)."""
    from floorclock.transfer import export as written

    print(written(home(), folder))


def backup(file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, such as floorclock.tar.gz.")]) -> None:
    """Put all records into one file. With checks; a class may run meanwhile."""
    from floorclock.transfer import back_up

    print(back_up(home(), file))


def restore(file: Annotated[Path, typer.Argument(metavar="FILE", help="What `backup` wrote.")]) -> None:
    """Bring a backup back. Nothing that is here is written over."""
    from floorclock.transfer import restore as restored

    print(restored(home(), file).words)


def index(
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Make it anew from the journals.")] = False, store: StoreUrl = None
) -> None:
    """Bring the index of all classes up to date, or make it anew. From the journals; stopped, it goes on the next time."""
    from floorclock.store.connection import DamagedStore, read_url, store_url, throw_away

    try:
        made = _indexed(store, anew=rebuild)
    except DamagedStore:
        if not rebuild or not throw_away(read_url(store_url(os.environ, home(), store)), home()):
            raise
        made = _indexed(store, anew=False)
    if made.damaged:
        print(f"{made.damaged} journals cannot be read; `floorclock classes` lists what is left of them", file=sys.stderr)
    if made.running:
        print(f"{made.running} still running, left for later")


def go_on_forgetting() -> None:
    """Finishes taking people out of the records where that was begun and not finished; says what it did, or what is left."""
    from floorclock.people.forget import FILE, finish_forgetting

    if (home() / FILE).exists():
        for words in finish_forgetting(home(), _opened_index):
            print(words, file=sys.stderr)


@contextmanager
def _opened_index() -> Iterator[_Index]:
    with opened_store(None, up_to_date=False) as store:
        yield _Index(store)


def _indexed(option: str | None, *, anew: bool) -> Indexed:
    from floorclock.plan.names import counted
    from floorclock.store import indexing

    make = indexing.rebuild if anew else indexing.bring_up_to_date
    with opened_store(option, up_to_date=False) as opened, progress_bar() as progress:
        made = make(home(), opened, progress=progress)
    print(f"{opened.shown}: {counted(made.added, 'class')} added, {made.changed} changed, {made.dropped} dropped")
    return made


class _Index:
    """The store, for taking somebody out of it."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.shown = store.shown

    def forget(self, names: Collection[str], class_ids: Collection[str]) -> None:
        """Takes the names out, and makes these classes again from their journals."""
        from floorclock.people import canonical_names
        from floorclock.store.indexing import bring_up_to_date

        gone = set(names)
        others = {name: other for name, other in canonical_names(home()).items() if name not in gone}
        self._store.drop(class_ids)
        bring_up_to_date(home(), self._store, others)
        self._store.scrub()


@contextmanager
def opened_store(option: str | None, *, up_to_date: bool = True) -> Iterator[Store]:
    """The store that is meant, brought up to date with the journals."""
    from floorclock.store.connection import site_name, store_url
    from floorclock.store.store import open_store

    with open_store(store_url(os.environ, home(), option), site_name(os.environ)) as store:
        if up_to_date:
            from floorclock.store.indexing import bring_up_to_date

            with progress_bar() as progress:
                bring_up_to_date(home(), store, progress=progress)
        yield store


@contextmanager
def progress_bar(what: str = "classes into the index") -> Iterator[Progress]:
    """A bar on standard error for what takes more than a second, on a terminal only."""
    from rich.console import Console
    from rich.progress import MofNCompleteColumn, TimeRemainingColumn
    from rich.progress import Progress as Bar

    screen, began_s = Console(stderr=True), time.monotonic()
    columns = (*Bar.get_default_columns()[:-1], MofNCompleteColumn(), TimeRemainingColumn())
    bar = Bar(*columns, console=screen, transient=True, disable=not screen.is_terminal)
    task = bar.add_task(what, total=None)

    def told(read: int, total: int) -> None:
        if time.monotonic() - began_s > BAR_FROM_S:
            bar.start()
        bar.update(task, completed=read, total=total)

    try:
        yield told
    finally:
        bar.stop()


def _offer(doubles: tuple[Double, ...], *, json_: bool) -> None:
    """Each pair with a question, where somebody can answer."""
    from floorclock import people as who

    if json_:
        print_json({"doubles": [{"name": double.name, "other": double.other, "because": double.because} for double in doubles]})
        return
    if not doubles:
        raise NotFound("no two names look like one person")
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        for double in doubles:
            print(f"{double.name} and {double.other}: {double.because}")
        print("floorclock people NAME --is OTHER merges two, --is-not OTHER keeps them apart, --undo parts them again")
        return
    for double in doubles:
        question = f"Is {double.name} the same person as {double.other}? {double.because} [y, n, Enter: ask again later] "
        answer = input(question).strip().lower()
        if answer.startswith("y"):
            print(who.merge(home(), double.name, double.other))
        elif answer.startswith("n"):
            print(who.keep_apart(home(), double.name, double.other))


def _need_known(*names: str) -> None:
    from floorclock.people import known_names, nobody_called
    from floorclock.plan.names import plain

    known = known_names(home())
    for name in names:
        if plain(name) not in known:
            raise nobody_called(name, known)


def _asked(question: str) -> bool:
    if not sys.stdin.isatty():
        raise WrongUsage("nobody can be asked here; --yes does it without asking")
    return input(f"{question} [y/N] ").strip().lower() in ("y", "yes")


def _day(option: str, text: str | None) -> date | None:
    if text is None:
        return None
    from floorclock.journal.instants import EARLIEST_YEAR, LATEST_YEAR

    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise WrongUsage(f"{option}: {text} is no day; write it like 2026-09-01") from None
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise WrongUsage(f"{option}: no class is of the year {day.year}; write it like 2026-09-01")
    return day
