"""What has one right answer, written into the coach's own files.

Invariant: the file that is written has exactly these answers in it and everything else as it was: it is read again before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from copy import deepcopy
from pathlib import Path
from typing import Any

from floorclock.errors import Fix, Problem, WrongUsage
from floorclock.live.plan_files import read_bytes
from floorclock.plan.check import PlanCheck
from floorclock.plan.document import Tree
from floorclock.plan.reader import read_yaml
from floorclock.plan.roster_csv import looks_like_csv
from floorclock.transfer.kept_yaml import put_in, rename, text_changed, write_changed, yaml_changed

MOST_TIMES = 5
"""A key that is spelt right may show what else is wrong behind it."""


def mend(checked: PlanCheck, again: Callable[[], PlanCheck], files: Sequence[Path]) -> tuple[PlanCheck, tuple[str, ...]]:
    """Writes what has one right answer, and checks again until there is nothing more of that.

    Returns:
        The last check, and what was written, a line for each.

    Raises:
        WrongUsage: a file changed meanwhile, or cannot be written without changing more.
        ResourceError: the disk does not take it.
    """
    told: list[str] = []
    for _ in range(MOST_TIMES):
        written = [line for path in files for line in _mend_file(path, checked.problems)]
        if not written:
            break
        told += written
        checked = again()
    return checked, tuple(told)


def _mend_file(path: Path, problems: Iterable[Problem]) -> list[str]:
    fixes = {problem.fix: problem for problem in problems if problem.fix is not None and problem.file == str(path)}
    before = read_bytes(path) if fixes else b""
    if not fixes or looks_like_csv(before, path.name):
        return []
    content = text_changed(before, lambda text: yaml_changed(text, lambda tree: _change(tree, fixes, _into_file)))
    tree, now = (read_yaml(text, str(path))[0] for text in (before, content))
    wanted = deepcopy(tree.tree) if tree is not None else {}
    _change(wanted, fixes, _into_tree)
    if now is None or now.tree != wanted:
        raise WrongUsage(f"{path} cannot be mended without changing more than that; write it in by hand")
    write_changed(path, before, content)
    return [f"{path}:{problem.line}: {_said(fix)} ({problem.message})" for fix, problem in fixes.items()]


def _said(fix: Fix) -> str:
    return f"{fix.path[-1]} is now {fix.key}" if fix.key else f"{fix.path[-1]}: {fix.value}"


def _change(tree: Any, fixes: Iterable[Fix], put: Callable[[Any, Fix], None]) -> None:
    """Values first, and what is deepest: a key that gets another name is still found under its old one."""
    for fix in sorted(fixes, key=lambda fix: (bool(fix.key), -len(fix.path))):
        here = tree
        for step in fix.path[:-1]:
            here = here[step]
        put(here, fix)


def _into_file(here: Any, fix: Fix) -> None:
    last = fix.path[-1]
    value = {"true": True, "false": False}.get(fix.value, fix.value)
    if fix.key:
        rename(here, str(last), fix.key)
    elif isinstance(last, int) or last in here:
        here[last] = value
    else:
        put_in(here, last, value)


def _into_tree(here: dict[str, Tree] | list[Tree], fix: Fix) -> None:
    last = fix.path[-1]
    if isinstance(here, dict):
        here[fix.key or str(last)] = here.pop(str(last)) if fix.key else fix.value
    elif isinstance(last, int):
        here[last] = fix.value
