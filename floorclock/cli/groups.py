"""The command that says who starts where and with whom.

Invariant: the roster file is written only on `--write`, and only where everybody has a place.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from floorclock.cli.options import AsJson, NeededRoster, SessionFile, console, print_json
from floorclock.errors import NotFound

if TYPE_CHECKING:
    from floorclock.plan.roster import Roster

WISHES = (".with", ".not_with")


def groups(
    session: SessionFile,
    roster: NeededRoster,
    write: Annotated[bool, typer.Option("--write", help="Put `group` and `team` into the roster file.")] = False,
    json_: AsJson = False,
) -> None:
    """Who starts where so that nobody waits for kit. And who works with whom; where that can't be, what to change."""
    from floorclock.live.plan_files import read_bytes, read_plan
    from floorclock.plan.arrangement import arrange

    before = read_bytes(roster)
    plan = read_plan(session, roster)
    for problem in plan.warnings:
        if problem.path.endswith(WISHES):
            print(problem, file=sys.stderr)
    found = arrange(plan.session, plan.roster)
    if found.placed is None and not (found.teams or found.short or found.notes):
        raise NotFound("no part of this plan has start groups, waves or teams; everybody works by themselves or together")
    changed = _write(roster, before, plan.roster, found.fields()) if write and found.possible else None
    if json_:
        print_json(found.to_json() | ({} if changed is None else {"changed": changed}))
    else:
        from floorclock.report.groups_text import print_groups

        print_groups(found, console())
        if changed is not None:
            print(f"{roster}: {len(changed)} athlete{'s' * (len(changed) != 1)} changed")
    if not found.possible:
        raise typer.Exit(1)


def _write(path: Path, before: bytes, here: Roster, fields: dict[str, dict[str, int]]) -> list[str]:
    """The names of those whose fields were changed."""
    from floorclock.transfer.roster_writing import has, write_fields

    changed = {
        one.name: own
        for one in here.athletes
        # A first group that is written nowhere is written down: next week it is one to stay in.
        if (own := fields.get(one.name)) and not (has(one, own) and ("group" not in own or one.name in here.grouped))
    }
    if changed:
        write_fields(path, before, changed)
    return list(changed)
