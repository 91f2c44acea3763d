"""The commands for the time around a class: what was recorded, one class read, paper taken in, the next targets.

Invariant: these read the records and write only what the coach named; a class that runs is never touched.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from floorclock.cli.options import AsJson, NeededRoster, console, home, print_json, read_from, show, write_report
from floorclock.errors import NotFound, WrongUsage

if TYPE_CHECKING:
    from floorclock.digest.class_digest import ClassDigest
    from floorclock.insight.targets import PlannedTarget
    from floorclock.journal.shelf import ClassEntry


ENTRY_KEYS = ("id", "session", "started", "athletes", "rehearsal", "ended", "running", "paper", "damage", "unread")
"""What `classes --json` says of each."""


def classes(json_: AsJson = False) -> None:
    """List what has been recorded, the newest first."""
    from floorclock.journal.shelf import Shelf

    entries = Shelf(home()).classes()
    if json_:
        values = [{key: getattr(entry, key) for key in ENTRY_KEYS} for entry in entries]
        for entry in values:
            entry["started"] = entry["started"] and entry["started"].isoformat(timespec="seconds")
        print_json({"classes": values})
        return
    if not entries:
        raise NotFound("no class has been recorded yet; `floorclock demo` plays one")
    from floorclock.report.text import print_classes

    print_classes(entries, console())
    _tell_unread(entries)


def _tell_unread(entries: Sequence[ClassEntry]) -> None:
    """Names the classes of which nothing can be made, and says what to do; everything else works without them."""
    from floorclock.plan.names import counted

    unread = [entry for entry in entries if entry.unread]
    if not unread:
        return
    print(f"{counted(len(unread), 'class')} can't be read:", file=sys.stderr)
    for entry in unread:
        print(f"  {entry.id}: {entry.unread}", file=sys.stderr)
    print(
        f"Bring them back from a backup (move the file out of {unread[0].path.parent}, then floorclock restore FILE), or leave"
        " them: no other class needs them.",
        file=sys.stderr,
    )


def review(
    class_: Annotated[str, typer.Argument(metavar="[CLASS]", help="Its id, or the start of it; the latest without.")] = "",
    text: Annotated[bool, typer.Option("--text", help="The pace summary as text; without a terminal it is that anyway.")] = False,
    json_: AsJson = False,
    csv: Annotated[bool, typer.Option("--csv", help="Every split as CSV (RFC 4180).")] = False,
    html: Annotated[
        Path | None, typer.Option("--html", metavar="OUT", help="Write one page for the coach, with a card for each athlete.")
    ] = None,
    png: Annotated[Path | None, typer.Option("--png", metavar="OUT", help="Write one picture for the athletes.")] = None,
    names: Annotated[bool, typer.Option("--names/--no-names", help="Whether the picture says who reached what.")] = True,
) -> None:
    """Read a class afterwards: who held, who faded, next targets. On a terminal it also takes the effort."""
    from floorclock.journal.shelf import Shelf
    from floorclock.live.afterwards import recorded_digest

    if text + json_ + csv + (html is not None or png is not None) > 1:
        raise WrongUsage("choose one of --text, --json, --csv, and files (--html, --png)")
    shelf = Shelf(home())
    journal = shelf.find(class_) if class_ else shelf.latest()
    files = html is not None or png is not None
    if not (files or text or json_ or csv) and sys.stdin.isatty() and sys.stdout.isatty():
        from floorclock.tui.review.app import review_on_screen

        review_on_screen(home(), journal)
        return
    if csv:
        from floorclock.report.export import splits_csv

        sys.stdout.buffer.write(splits_csv(recorded_digest(journal, forecast=False)).encode("utf-8"))
        return
    from floorclock.insight.history import prior_before

    digest = recorded_digest(journal, partial(prior_before, home()))
    if html is not None:
        from floorclock.report.page import page_html

        write_report(html, page_html(digest), "the class on one page for the coach, with a card for each athlete")
    if png is not None:
        from floorclock.report.pictures import picture

        write_report(png, picture(digest, names=names).png(), "the class in one picture for the athletes")
    if not files:
        print_class(digest, json_=json_)


def intake(
    splits: Annotated[
        Path | None, typer.Argument(metavar="[SHEET.csv]", help="A sheet from --blank, or a row for each split.")
    ] = None,
    *,
    session: Annotated[Path, typer.Option("--session", "-s", metavar="SESSION", help="The session file (YAML).")],
    roster: NeededRoster,
    started: Annotated[
        str | None, typer.Option("--started", metavar="2026-11-20T18:00", help="When it began; without it, it ended just now.")
    ] = None,
    minutes: Annotated[
        str | None, typer.Option("--minutes", metavar="52", help="How long the class was, for the load; or a line of the sheet.")
    ] = None,
    blank: Annotated[bool, typer.Option("--blank", help="Print an empty sheet: people down, rounds across.")] = False,
    again: Annotated[bool, typer.Option("--again", help="Record the same splits as another class.")] = False,
    json_: AsJson = False,
) -> None:
    """Record a class that was timed on paper. Whole, or only its first rounds."""
    from floorclock.live.plan_files import read_bytes, read_plan
    from floorclock.transfer.paper import blank_sheet, parse_minutes, read_intake, reckoning, record_intake

    with read_from("--minutes"):
        said_minutes = None if minutes is None else parse_minutes(minutes)
    if blank is (splits is not None):
        raise WrongUsage("name the file with the splits, or ask for an empty sheet with --blank")
    plan = read_plan(session, roster)
    if splits is None:
        sys.stdout.buffer.write(blank_sheet(plan).encode("utf-8"))
        return
    began = _instant(started)
    sheet = read_intake(splits.name, read_bytes(splits), plan)
    if said_minutes is not None:
        sheet = replace(sheet, minutes=said_minutes)
    class_id = record_intake(sheet, plan, home(), began, again=again)
    if json_:
        print_json({"class": class_id})
    else:
        print(f"{sheet.words} ({sheet.form})")
        print(reckoning(sheet, plan))
        print(f"recorded as {class_id}: floorclock review {class_id}")


def targets(
    session: Annotated[Path, typer.Argument(metavar="SESSION", help="The session file (YAML).")],
    roster: NeededRoster,
    write: Annotated[bool, typer.Option("--write", help="Put the targets into the roster file.")] = False,
    json_: AsJson = False,
) -> None:
    """Before a class: the targets that earlier classes speak for."""
    from floorclock.cli.records import opened_store
    from floorclock.insight.targets import planned_targets
    from floorclock.live.plan_files import read_bytes, read_plan
    from floorclock.report.records_text import print_targets

    before = read_bytes(roster)
    plan = read_plan(session, roster)
    with opened_store(None) as opened:
        planned = planned_targets(plan, opened)
    if write and planned.targets:
        _write_targets(roster, before, planned.targets, json_=json_)
        return
    if not json_ and not planned.targets:
        raise NotFound("no earlier class of these athletes and moves asks for another target; the plan's own stand")
    show(planned, print_targets, json_=json_)


def _write_targets(roster: Path, before: bytes, planned: Sequence[PlannedTarget], *, json_: bool) -> None:
    from floorclock.plan.names import counted
    from floorclock.transfer.roster_writing import write_targets

    written = write_targets(roster, before, planned)
    if json_:
        print_json({"changed": written.changed, "left": written.left})
        return
    for words in written.left:
        print(f"left as it is: {words}", file=sys.stderr)
    for words in written.changed:
        print(words)
    print(f"{roster}: {counted(len(written.changed), 'target')} changed")


def print_class(digest: ClassDigest, *, json_: bool = False) -> None:
    """A class on standard output, as text or as JSON."""
    if json_:
        from floorclock.report.export import review_json

        print_json(review_json(digest))
    else:
        from floorclock.report.text import print_review

        print_review(digest, console())


def _instant(text: str | None) -> datetime | None:
    """A wall time as typed; without a zone it is this machine's. None where nothing was typed."""
    now = datetime.now().astimezone()
    if text is None:
        return None
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        raise WrongUsage(f"--started: {text} is no date and time; write it like 2026-11-20T18:00") from None
    try:
        began = found.astimezone()
    except (OverflowError, OSError, ValueError):
        raise WrongUsage(f"--started: {text} is no day that a class could be of; write it like 2026-11-20T18:00") from None
    if began > now:
        raise WrongUsage(f"--started: {text} is still to come")
    return began
