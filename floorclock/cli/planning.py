"""The commands for the day before: the plan rehearsed, explained on paper, written and kept; who starts where and with whom.

Invariant: nothing here touches a record but `rehearse`, which adds one that is marked as a rehearsal. A roster is
written only on `--write`, and only where everybody has a place.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from floorclock.cli.options import (
    AsJson,
    NeededRoster,
    RosterFile,
    SessionFile,
    console,
    home,
    print_json,
    read_from,
    show,
    write_report,
)
from floorclock.errors import NotFound, WrongUsage

if TYPE_CHECKING:
    from floorclock.insight.rehearsals import Rehearsals
    from floorclock.live.plan_files import Plan
    from floorclock.plan.roster import Roster


WISHES = (".with", ".not_with")
MOST_TIMES = 1_000_000
TIMES = 10_000
HtmlOut = Annotated[Path | None, typer.Option("--html", metavar="OUT", help="Write one page, for a browser or a printer.")]


def brief(session: SessionFile, roster: RosterFile = None, html: HtmlOut = None) -> None:
    """Show the brief on the wall, or write it to print. With a clock of three minutes; --html adds a sheet for the board."""
    from floorclock.clock.state import new_state
    from floorclock.live.plan_files import read_plan

    plan = read_plan(session, roster)
    state = new_state(plan.session, plan.roster.athletes)
    if html is not None:
        from floorclock.report.brief_page import brief_html

        write_report(html, brief_html(state), "the brief to print; its last page is a sheet for the board")
        return
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        from floorclock.report.plan_text import print_brief
        from floorclock.tui.floor.present_work import brief_pages

        pages = [(page.title, page.lines) for page in brief_pages(state)]
        print_brief(plan.session.title, pages, console())
        return
    from floorclock.tui.base.safe_driver import SafeDriver
    from floorclock.tui.brief.app import BriefApp

    BriefApp(state, SafeDriver).run()


def rehearse(
    session: SessionFile,
    roster: NeededRoster,
    *,
    times: Annotated[
        int | None,
        typer.Option(
            "--times", metavar="N", min=1, max=MOST_TIMES, help="So many rehearsals at once, for chances; none is recorded."
        ),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Another number, another class.")] = 1,
    tries: Annotated[
        list[str] | None,
        typer.Option("--try", metavar="'box jump=8'", help="Compare with another target for a move; may be repeated."),
    ] = None,
    json_: AsJson = False,
    html: HtmlOut = None,
    png: Annotated[Path | None, typer.Option("--png", metavar="OUT", help="Write the chances as one picture.")] = None,
) -> None:
    """Play the class with simulated athletes. Once, recorded as a rehearsal, or many times (--times 10000) for the chances."""
    from floorclock.live.plan_files import read_plan

    plan = read_plan(session, roster)
    if times is None and not tries and html is None and png is None:
        from floorclock.cli.classes import print_class
        from floorclock.simulate.rehearsal import rehearse_class

        print_class(rehearse_class(plan, home(), seed), json_=json_)
        return
    found = _rehearsals(plan, times or TIMES, seed, tries or [])
    if html is not None:
        from floorclock.report.rehearsal_page import rehearsal_html

        write_report(html, rehearsal_html(found), "the chances on one page for the coach")
    if png is not None:
        from floorclock.report.rehearsal_page import rehearsal_picture

        write_report(png, rehearsal_picture(found).png(), "the chances in one picture for the coach")
    if json_ or (html is None and png is None):
        from floorclock.report.rehearsal_text import print_rehearsals

        show(found, print_rehearsals, json_=json_)


def _rehearsals(plan: Plan, times: int, seed: int, tries: list[str]) -> Rehearsals:
    from floorclock.cli.records import opened_store, progress_bar
    from floorclock.insight.rehearsals import rehearsals
    from floorclock.plan.tried import read_tries

    with read_from("--try"):
        tried = read_tries(tries, plan.session)
    with opened_store(None) as store, progress_bar("rehearsals") as progress:
        return rehearsals(plan, store, times, seed, tried, progress)


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, such as tuesday.yaml.")],
    minutes: Annotated[int | None, typer.Option("--minutes", metavar="60", help="How long the room is yours.")] = None,
    people: Annotated[int | None, typer.Option("--people", metavar="16", help="How many will come.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", metavar="rotation", help="Or intervals, for_time, amrap.")] = None,
    kit: Annotated[str | None, typer.Option("--kit", metavar="'8 kettlebells'", help="What there is of each.")] = None,
) -> None:
    """Write a first plan from a few answers. Asks for what is not given."""
    from floorclock.plan import new_plan as first
    from floorclock.plan.durations import UnreadableError

    if file.exists():
        raise WrongUsage(f"{file} is there already; name a new file")
    kinds = ", ".join(f"{kind} ({words})" for kind, words in first.KIND_WORDS.items())
    try:
        answers = first.Answers(
            minutes=first.read_minutes(_asked(minutes, "How many minutes is the room yours?", "60")),
            people=first.read_people(_asked(people, "For how many people?", "16")),
            kind=first.read_kind(_asked(kind, f"Which kind: {kinds}?", "rotation")),
            kit=first.read_kit(_asked(kit, "Which kit is there (8 kettlebells, 6 boxes; or none)?", "none")),
            title=first.title_of(file.stem),
        )
    except UnreadableError as error:
        raise WrongUsage(str(error)) from error
    words = f"a first plan. Change it beside floorclock edit {file}, then: floorclock check {file}"
    write_report(file, first.new_plan(answers), words)


def _asked(given: object, question: str, usual: str) -> str:
    """What was typed; asked for where somebody can answer, else what is usual."""
    if given is not None:
        return str(given)
    return str(typer.prompt(question, default=usual)) if sys.stdin.isatty() else usual


def edit(
    session: SessionFile,
    roster: RosterFile = None,
    wall: Annotated[str, typer.Option("--wall", metavar="160x45", help="How large the terminal on the wall is.")] = "160x45",
) -> None:
    """Watch a plan while you write it. Findings, times, groups and what can be read, new with every save."""
    from floorclock.live.plan_files import read_files
    from floorclock.tui.run import need_terminal

    columns, _, rows = wall.lower().partition("x")
    if not (columns.isdigit() and rows.isdigit() and 20 <= int(columns) <= 1000 and 10 <= int(rows) <= 500):
        raise WrongUsage(f"--wall: {wall} is no size; write it like 160x45")
    read_files(session, roster)
    need_terminal("edit needs a terminal; `floorclock check` says once what it shows with every save")
    from floorclock.tui.edit.app import edit_on_screen

    edit_on_screen(session, roster, (int(columns), int(rows)))


def shelf(
    folder: Annotated[Path | None, typer.Argument(metavar="[FOLDER]", help="Where your plans are.")] = None, json_: AsJson = False
) -> None:
    """List your own plans: when each was last run, how it went."""
    from floorclock.cli.records import opened_store
    from floorclock.insight.plans import own_plans
    from floorclock.report.records_text import print_plans

    kept = home() / "plans"
    where = folder or (kept if kept.is_dir() else Path())
    with opened_store(None) as store:
        try:
            found = own_plans(where, store)
        except OSError as error:
            raise NotFound(f"{where}: {(error.strerror or str(error)).lower()}; name a folder with plans") from error
    if not json_ and not found.plans:
        raise NotFound(f"no plan in {where.resolve()}; floorclock new FILE writes a first one")
    show(found, print_plans, json_=json_)


def groups(
    session: SessionFile,
    roster: NeededRoster,
    write: Annotated[bool, typer.Option("--write", help="Put `group` and `team` into the roster file.")] = False,
    json_: AsJson = False,
) -> None:
    """Who starts where so that nobody waits for kit. And who works with whom; where that can't be, what to change."""
    from floorclock.live.plan_files import read_bytes, read_plan
    from floorclock.plan.arrangement import arrange
    from floorclock.plan.names import counted

    before = read_bytes(roster)
    plan = read_plan(session, roster)
    for problem in plan.warnings:
        if problem.path.endswith(WISHES):
            print(problem, file=sys.stderr)
    found = arrange(plan.session, plan.roster)
    if found.placed is None and not (found.teams or found.short or found.notes):
        raise NotFound("no part of this plan has start groups, waves or teams; everybody works by themselves or together")
    changed = _write_groups(roster, before, plan.roster, found.fields()) if write and found.possible else None
    if json_:
        print_json(found.to_json() | ({} if changed is None else {"changed": changed}))
    else:
        from floorclock.report.plan_text import print_groups

        print_groups(found, console())
        if changed is not None:
            print(f"{roster}: {counted(len(changed), 'athlete')} changed")
    if not found.possible:
        raise typer.Exit(1)


def _write_groups(path: Path, before: bytes, here: Roster, fields: dict[str, dict[str, int]]) -> list[str]:
    """The names of those whose fields were changed."""
    from floorclock.transfer.roster_writing import has, write_fields

    changed = {
        athlete.name: own
        for athlete in here.athletes
        # A first group that is written nowhere is written down: next week it is one to stay in.
        if (own := fields.get(athlete.name)) and not (has(athlete, own) and ("group" not in own or athlete.name in here.grouped))
    }
    if changed:
        write_fields(path, before, changed)
    return list(changed)
