"""What is wrong with the shape of a file, in plain words and with a place.

Invariant: every complaint of the shapes becomes exactly one `Problem`; none is dropped but a missing key that stands
there misspelt.
"""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import ValidationError

from floorclock.errors import Fix, Problem
from floorclock.plan.document import MOST_PROBLEMS, Document, Path, Tree
from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.fileformat import (
    KINDS,
    PART_FILES,
    TAGS,
    AthleteFile,
    ChoiceFile,
    CuesFile,
    LadderFile,
    OptionFile,
    RepeatFile,
    RoomFile,
    SeveralFile,
    Shape,
    ShuttleFile,
    StageFile,
    StationFile,
    keys_of,
    kind_of,
)
from floorclock.plan.names import nearest, surely

_EXAMPLES = {
    "session": "session: Five trips round the harbour",
    "parts": "parts: and under it a list of parts, each with its kind",
    "kind": "kind: rotation",
    "every": "every: 1:00",
    "stations": "stations: and under it a list, each beginning with - move:",
    "move": "move: kettlebell swing",
    "work": "work: 0:20",
    "rest": "rest: 0:10",
    "sets": "sets: 8",
    "cap": "cap: 9:00",
    "time": "time: 12:00",
    "name": "name: lighter",
    "start": "start: 5 reps",
    "step": "step: 1",
    "speed": "speed: 8.5 km/h",
    "shuttles": "shuttles: 7",
    "times": "times: 3",
    "distance": "distance: 20 m",
    "screen": "screen: 1.40 m",
    "farthest": "farthest: 12 m",
    "athletes": "athletes: and under it a list, each with a name",
    "moves": "moves: and under it a list, each beginning with - move:",
}
_SHAPES_UNDER: dict[str, type[Shape]] = {
    "stations": StationFile,
    "work": StationFile,
    "options": OptionFile,
    "choose": ChoiceFile,
    "buy_in": StationFile,
    "cash_out": StationFile,
    "target": LadderFile,
    "cues": CuesFile,
    "room": RoomFile,
    "shuttle": ShuttleFile,
    "stages": StageFile,
    "athletes": AthleteFile,
}
"""What the mappings under a key look like; a part is known by its kind instead."""
_LISTS_OF_WORK = ("for_time", "amrap", "choose")
_Root = TypeVar("_Root", bound=Shape)


def shape_of(document: Document, root: type[_Root]) -> tuple[_Root | None, list[Problem]]:
    """The shape of a whole file, or None and what is wrong, each problem at the place of the node that has to be mended."""
    try:
        return root.model_validate(document.tree), []
    except ValidationError as error:
        details = error.errors(include_url=False, include_input=False)
    located = [(_path_in(document.tree, detail["loc"]), dict(detail)) for detail in details]
    located.sort(key=lambda found: document.key_place(found[0]))
    unknown = [path for path, detail in located if detail["type"] == "extra_forbidden"]
    # Spelling is looked up for as many as can be shown; a file of thousands of wrong keys must not take seconds.
    near = {path: nearest(str(path[-1]), _known_at(document, path, root)) for path in unknown[:MOST_PROBLEMS]}
    misspelt = {(*path[:-1], word) for path, word in near.items() if word}
    problems = []
    for path, detail in located:
        if detail["type"] == "extra_forbidden":
            problems.append(_unknown_key(document, path, near.get(path, ""), root))
        elif detail["type"] != "missing" or path not in misspelt:
            problems.append(_problem(document, path, detail))
    return None, problems


def _path_in(tree: Tree, loc: tuple[int | str, ...]) -> Path:
    """A path of the file: the same steps without the ones that pydantic adds for its unions and its mapping keys."""
    path: list[int | str] = []
    here: Tree | None = tree
    for step in loc:
        if isinstance(here, dict) and step in here:
            here = here[str(step)]
        elif isinstance(here, list) and isinstance(step, int):
            here = here[step]
        elif step in TAGS or step == "[key]":
            continue
        else:
            here = None
        path.append(step)
    return tuple(path)


def _shape_at(document: Document, path: Path, root: type[Shape]) -> type[Shape]:
    """The shape of the mapping at `path`."""
    if len(path) > 1 and path[-2] == "parts":
        kind = _kind(document, path)
        return RepeatFile if kind == "repeat" else PART_FILES[kind]
    named = [step for step in path if isinstance(step, str)]
    here = _tree_at(document.tree, path)
    if named and named[-1] == "stations" and isinstance(here, dict) and "work" in here and "move" not in here:
        return SeveralFile
    return (_SHAPES_UNDER | root.UNDER).get(named[-1], root) if named else root


def _kind(document: Document, path: Path) -> str:
    last = max((at for at, step in enumerate(path) if step == "parts"), default=0)
    return kind_of(_tree_at(document.tree, path[: last + 2]))


def _tree_at(tree: Tree | None, path: Path) -> Tree | None:
    for step in path:
        if isinstance(tree, dict) and isinstance(step, str):
            tree = tree.get(step)
        elif isinstance(tree, list) and isinstance(step, int) and step < len(tree):
            tree = tree[step]
        else:
            return None
    return tree


def _known_at(document: Document, path: Path, root: type[Shape]) -> tuple[str, ...]:
    """The keys that could stand where `path` ends."""
    return keys_of(_shape_at(document, path[:-1], root))


def _problem(document: Document, path: Path, detail: dict[str, Any]) -> Problem:
    kind = detail["type"]
    context = detail.get("ctx", {})
    if kind == "value_error" and isinstance(context.get("error"), UnreadableError):
        reason = context["error"]
        return document.problem(path, reason.message, reason.hint, at_key="[key]" in detail["loc"])
    if kind == "missing":
        return document.problem(path[:-1], f"{shown(str(path[-1]))} is missing", _example(document, path))
    if kind.startswith("union_tag"):
        return _no_kind(document, path)
    if kind in ("too_short", "too_long"):
        most = context.get("max_length")
        if most is None:
            return document.problem(path, "this list is empty", "begin each line of it with `- `")
        # Where a list is stopped early pydantic does not say how long it is; the file does.
        here = _tree_at(document.tree, path)
        many = len(here) if isinstance(here, list) else most + 1
        return document.problem(path, f"{many:,} are too many", f"at most {most:,}")
    return _wrong_thing(document, path, "list" if kind == "list_type" else "mapping")


def _example(document: Document, path: Path) -> str:
    key = str(path[-1])
    if key == "work" and (_kind(document, path) in _LISTS_OF_WORK or len(path) > 3):
        return "write work: and under it a list, each beginning with - move:"
    return f"write {_EXAMPLES[key]}" if key in _EXAMPLES else ""


def _unknown_key(document: Document, path: Path, near: str, root: type[Shape]) -> Problem:
    around = (*path[:-3], path[-1])
    if near:
        hint = f"did you mean `{near}`?"
    elif len(path) > 2 and path[-1] in _known_at(document, around, root):
        hint = f"write it one level up, beside `{path[-3]}`"
    else:
        hint = f"the keys here are {', '.join(_known_at(document, path, root))}"
    here = _tree_at(document.tree, path[:-1])
    alone = isinstance(here, dict) and near not in here
    fix = Fix(path, key=near) if alone and surely(str(path[-1]), near) else None
    return document.problem(path, f"unknown key {shown(str(path[-1]))}", hint, at_key=True, fix=fix)


def _no_kind(document: Document, path: Path) -> Problem:
    here = _tree_at(document.tree, path)
    kinds = ", ".join(KINDS)
    if not isinstance(here, dict):
        return _wrong_thing(document, path, "mapping")
    if "kind" not in here:
        return document.problem(path, "`kind` is missing", f"write kind: and one of {kinds}")
    kind = here["kind"]
    if not isinstance(kind, str):
        return document.problem((*path, "kind"), "a word goes here", f"write one of {kinds}")
    near = nearest(kind, KINDS)
    hint = f"did you mean {near}?" if near else f"write one of {kinds}"
    fix = Fix((*path, "kind"), near) if surely(kind, near) else None
    return document.problem((*path, "kind"), f"there is no kind of part called {shown(kind)}", hint, fix=fix)


def _wrong_thing(document: Document, path: Path, wanted: str) -> Problem:
    here = _tree_at(document.tree, path)
    found = "list" if isinstance(here, list) else "mapping" if isinstance(here, dict) else "text"
    hint = "begin each line of it with `- `" if wanted == "list" else "write lines of `key: value`, all in the same column"
    if found == "text" and here == "":
        return document.problem(path, f"nothing is written here; a {wanted} is needed", hint)
    return document.problem(path, f"a {wanted} goes here, not a {found}", hint)
