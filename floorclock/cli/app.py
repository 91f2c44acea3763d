"""The commands: parse, call, print. The only place that sees every room.

Invariant: whatever goes wrong ends in a few plain lines on standard error and an exit status, never in a traceback;
a command imports what it needs when it needs it.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from floorclock import __version__
from floorclock.cli import classes, planning, records
from floorclock.cli.options import (
    AsJson,
    CueChoices,
    Margin,
    Offset,
    Output,
    RosterFile,
    SessionFile,
    Sounds,
    Speed,
    console,
    home,
    home_if_any,
    print_json,
    read_from,
    sound_options,
)
from floorclock.errors import FloorclockError, InputProblems, NotFound, ResourceError, WrongUsage

if TYPE_CHECKING:
    from floorclock.live.class_sound import SoundOptions
    from floorclock.live.opening import OpenClass
    from floorclock.plan.check import PlanCheck
    from floorclock.plan.findings import Records
    from floorclock.plan.roster import Roster
    from floorclock.plan.session import Session

app = typer.Typer(
    name="floorclock",
    help="An interval clock and pacing coach for the gym floor.\n\n"
    "Write a plan (floorclock new begins one), check it, rehearse it, run it on the wall, review it afterwards.",
    epilog="Exit status: 0 done; 1 the input has problems, or there was nothing to do; 2 wrong usage; "
    "3 the machine lacks something (no terminal, no room on the disk).",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def main() -> None:
    """Runs the command that was typed, and turns every known trouble into words and an exit status."""
    # The matrices here are small; threads that wait for each other on a busy machine cost more than they bring.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A terminal that cannot show a name shows a question mark in it; it does not end the command.
            stream.reconfigure(errors="replace")
    try:
        app(prog_name="floorclock")
    except FloorclockError as error:
        # Problems say themselves in which file they are.
        print(error if isinstance(error, InputProblems) else f"floorclock: {error}", file=sys.stderr)
        sys.exit(error.exit_status)
    except BrokenPipeError:
        # The reader closed the pipe.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except OSError as error:
        # The disk under a redirected output, mostly.
        print(f"floorclock: {(error.strerror or str(error)).lower()}", file=sys.stderr)
        sys.exit(ResourceError.exit_status)
    except Exception as error:
        # The edge of the program: a defect of ours is told in words too; who wants the traceback asks for it.
        if os.environ.get("FLOORCLOCK_TRACE"):
            raise
        print(f"floorclock: a defect of floorclock itself: {type(error).__name__}: {error}", file=sys.stderr)
        print("set FLOORCLOCK_TRACE=1 to see where; what a class had taken is saved", file=sys.stderr)
        sys.exit(3)


@app.callback(invoke_without_command=True)
def top(context: typer.Context, version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False) -> None:
    """An interval clock and pacing coach for the gym floor."""
    if version:
        print(f"floorclock {__version__}")
        raise typer.Exit
    if context.invoked_subcommand in _OPENS_RECORDS:
        records.go_on_forgetting()


@app.command()
def demo(speed: Annotated[float, typer.Option("--speed", min=0.1, max=1000, help="How much faster than life.")] = 4.0) -> None:
    """Play a shipped class, whose invented athletes tap by themselves."""
    from floorclock.live import shipped
    from floorclock.live.plan_files import read_plan

    folder = shipped.folder("sessions")
    session_file, roster_file = folder / shipped.DEMO_SESSION, folder / shipped.DEMO_ROSTER
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        planning.rehearse(session_file, roster_file, seed=shipped.DEMO_SEED)
        return
    from floorclock.simulate.coach import DEMO_OPEN_MS, DemoAutopilot, InventedAthletes, InventedCoach
    from floorclock.tui.options import RunOptions
    from floorclock.tui.run import run_on_the_wall

    plan = read_plan(session_file, roster_file)
    athletes = InventedAthletes(plan.roster, shipped.DEMO_SEED)
    autopilot = DemoAutopilot(athletes, InventedCoach(longest_open_ms=round(DEMO_OPEN_MS * speed)))
    options = RunOptions(sound=sound_options(None, None, None), rate=speed, autopilot=autopilot, badge=f"demo x{speed:g}")
    say_goodbye(run_on_the_wall(plan, home(), options))


@app.command()
def check(
    session: SessionFile,
    roster: RosterFile = None,
    fix: Annotated[bool, typer.Option("--fix", help="Write what has one right answer into the files.")] = False,
    json_: AsJson = False,
) -> None:
    """Say what a plan comes to, and everything that is wrong with it."""
    checked, mended = _checked(session, roster), None
    if fix:
        from floorclock.transfer.mending import mend

        checked, mended = mend(checked, lambda: _checked(session, roster), [session, *([roster] if roster else [])])
    if json_:
        print_json(checked.to_json() | ({} if mended is None else {"fixed": mended}))
    else:
        from floorclock.report.plan_text import print_check

        for line in mended or ():
            print(f"fixed: {line}")
        if mended == ():
            print("nothing here has only one right answer")
        if checked.title:
            print_check(checked, console())
            sys.stdout.flush()
        for problem in checked.problems:
            if problem.severity == "error":
                print(problem, file=sys.stderr)
    if checked.has_errors:
        raise typer.Exit(1)


def _checked(session: Path, roster: Path | None) -> PlanCheck:
    from floorclock.live.plan_files import own_moves_file, read_files
    from floorclock.plan.check import check_files

    text, people = read_files(session, roster)
    return check_files(
        text,
        str(session),
        people,
        None if roster is None else str(roster),
        own_moves=own_moves_file(home_if_any()),
        records=_records_of,
    )


def _records_of(session: Session, roster: Roster) -> Records | None:
    """What the records say of these people at this plan; None where there are none, or they cannot be reached."""
    from datetime import date

    from floorclock.insight.history import ask_history
    from floorclock.insight.targets import plan_records

    folder = home_if_any()
    return ask_history(folder, lambda store: plan_records(session, roster, store, date.today()), None) if folder else None


@app.command()
def sheet(
    session: SessionFile,
    roster: RosterFile = None,
    page: Annotated[bool, typer.Option("--page", help="One page: the stations, the times, who starts where.")] = False,
    json_: AsJson = False,
) -> None:
    """Print the run sheet: every interval and every cue."""
    from floorclock.clock.sheet import run_sheet, sheet_json
    from floorclock.live.plan_files import read_plan

    plan = read_plan(session, roster)
    parts = run_sheet(plan.session, plan.roster.athletes)
    if json_:
        print_json(sheet_json(parts))
        return
    from floorclock.report.plan_text import print_page, print_sheet

    if page:
        print_page(plan, parts, console())
    else:
        print_sheet(plan.session.title, parts, console())


@app.command()
def run(
    session: SessionFile,
    roster: RosterFile = None,
    margin: Margin = None,
    speed: Speed = 1.0,
    cues: CueChoices = "",
    sound: Output = None,
    sound_offset: Offset = None,
    sounds: Sounds = None,
) -> None:
    """Run the class on the wall. Enter starts it; ? shows all keys."""
    from floorclock.live.plan_files import read_plan
    from floorclock.plan.cue_choice import chosen_cues
    from floorclock.plan.durations import parse_duration_ms
    from floorclock.plan.session import Cues
    from floorclock.tui.options import RunOptions
    from floorclock.tui.run import need_terminal, run_on_the_wall

    with read_from("--margin"):
        margin_ms = None if margin is None else parse_duration_ms(margin)
    with read_from("--cues"):
        chosen_cues(cues, Cues())
    options = RunOptions(
        sound=sound_options(sound, sound_offset, sounds),
        rate=speed,
        margin_ms=margin_ms,
        cues=cues,
        badge="" if speed == 1 else f"rehearsal x{speed:g}",
        remark=lambda: to_think_about(session, roster),
    )
    plan = read_plan(session, roster)
    need_terminal()
    say_goodbye(run_on_the_wall(plan, home(), options))


def to_think_about(session: Path, roster: Path | None) -> str:
    """How many things to think about `check` finds; empty for none, or where the files cannot be read any more."""
    from floorclock.plan.names import counted

    try:
        count = _checked(session, roster).to_think_about
    except FloorclockError:
        return ""
    return f"{counted(count, 'thing')} to think about: floorclock check says which" if count else ""


@app.command()
def resume(
    class_: Annotated[str, typer.Argument(metavar="[CLASS]", help="Its id, or the start of it.")] = "",
    sound: Output = None,
    sound_offset: Offset = None,
    sounds: Sounds = None,
) -> None:
    """Carry on an interrupted class, with every tap it had."""
    from floorclock.journal.shelf import Shelf
    from floorclock.tui.run import need_terminal, resume_on_the_wall

    shelf = Shelf(home())
    if class_:
        path = shelf.find(class_)
    else:
        waiting = shelf.interrupted()
        if not waiting:
            raise NotFound("no class was interrupted; `floorclock classes` lists all")
        path = waiting[0].path
    need_terminal()
    say_goodbye(resume_on_the_wall(path, sound_options(sound, sound_offset, sounds)))


@app.command()
def wall(
    class_: Annotated[
        str, typer.Argument(metavar="[CLASS]", help="Its id, or the start of it; the one that runs, without.")
    ] = "",
) -> None:
    """Show the running class on a second screen of this machine. Clock, work, names, who is done; Esc closes it."""
    from floorclock.tui.run import import_floor, need_terminal

    import_floor()
    from floorclock.tui.wall import follow_on_the_wall, running_class

    journal = running_class(home(), class_)
    need_terminal("the second screen needs a terminal")
    follow_on_the_wall(journal)


@app.command()
def cues(
    session: Annotated[Path | None, typer.Argument(metavar="[SESSION]", help="The session to render.")] = None,
    render: Annotated[Path | None, typer.Option("--render", metavar="OUT.wav", help="Write the class's sound here.")] = None,
    tune: Annotated[bool, typer.Option("--tune", help="Line a beep up with a flash, for a speaker that sounds late.")] = False,
    sound: Output = None,
    sound_offset: Offset = None,
    sounds: Sounds = None,
) -> None:
    """List and play the cues, or write the sound of a class to a file."""
    from floorclock.cli.listen import play_cues, render_session

    if (session is None) != (render is None) or (tune and render is not None):
        raise WrongUsage("to render, name both: floorclock cues --render OUT.wav SESSION")
    if session is not None and render is not None:
        from floorclock.live.plan_files import read_plan
        from floorclock.plan.durations import duration_words

        length_ms, problems = render_session(read_plan(session, None).session, render, sounds)
        for problem in problems:
            print(problem, file=sys.stderr)
        print(f"{render}: {duration_words(length_ms)} as planned")
        return
    options = sound_options(sound, sound_offset, sounds)
    if tune:
        _tune(options)
    else:
        play_cues(print, options)


@app.command()
def schema() -> None:
    """Print the JSON Schema of the session file, for editors. It proposes the usual moves and your own."""
    from floorclock.live.plan_files import moves_of
    from floorclock.plan.schema import session_schema

    print_json(session_schema(moves_of(home_if_any())))


def say_goodbye(opened: OpenClass) -> None:
    """What the coach reads after the floor has gone."""
    if not opened.conductor.state.runs:
        print("the class had not begun; there is nothing to keep")
    elif opened.conductor.state.over:
        print(f"saved as {opened.id}: floorclock review {opened.id}")
    else:
        print(f"interrupted; everything is saved: floorclock resume {opened.id}")


def _tune(options: SoundOptions) -> None:
    from floorclock.cli import listen
    from floorclock.journal.settings import read_settings, write_settings
    from floorclock.tui.run import need_terminal

    need_terminal("tuning needs a terminal")
    offset_ms = listen.tune(options)
    if offset_ms is None:
        print("nothing was changed")
        return
    write_settings(home(), replace(read_settings(home())[0], sound_offset_ms=offset_ms))
    print(f"kept: the speaker of this machine sounds {offset_ms} ms late")


_AROUND: tuple[tuple[str, Callable[..., None]], ...] = (
    ("new", planning.new),
    ("edit", planning.edit),
    ("shelf", planning.shelf),
    ("brief", planning.brief),
    ("rehearse", planning.rehearse),
    ("classes", classes.classes),
    ("review", classes.review),
    ("intake", classes.intake),
    ("targets", classes.targets),
    ("groups", planning.groups),
    ("athlete", records.athlete),
    ("compare", records.compare),
    ("trends", records.trends),
    ("people", records.people),
    ("forget", records.forget),
    ("export", records.export),
    ("backup", records.backup),
    ("restore", records.restore),
    ("index", records.index),
)
_OPENS_RECORDS = {
    "demo",
    "run",
    "resume",
    *(name for name, _ in _AROUND if name not in ("forget", "groups", "brief", "new", "edit")),
}
for _name, _command in _AROUND:
    app.command(_name)(_command)
