"""YAML text into a tree of texts with places.

Invariant: safe on any input. Events are taken one at a time and nothing recurses, so size, depth, number of nodes and
alias expansion are capped before they can cost anything; scalars stay as written (`1:30`, `on`, `017`, `~` are texts).
"""

from __future__ import annotations

import re
import unicodedata
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from dataclasses import dataclass

import yaml

from floorclock.errors import Problem
from floorclock.plan.document import Document, Path, Place, Tree
from floorclock.plan.durations import shown

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

# Without libyaml a scalar takes eighty times as long to scan; a plan of a whole year still fits.
MOST_BYTES = 1024 * 1024 if _Loader is not yaml.SafeLoader else 256 * 1024
MOST_NODES = 20_000
MOST_DEPTH = 24

_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


class UnusableError(Exception):
    """The file cannot be read any further; carries the one problem that says why."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(str(problem))


def read_text(source: str | bytes, file: str) -> str:
    """The text of a file, without a byte order mark.

    Raises:
        UnusableError: too large, not UTF-8, or with control characters in it.
    """
    if len(source) > MOST_BYTES:
        raise UnusableError(Problem(file, 0, 0, "", f"the file is too large: {len(source):,} bytes", f"at most {MOST_BYTES:,}"))
    text = source if isinstance(source, str) else _decoded(source, file)
    text = text.removeprefix("\ufeff")
    stray = _CONTROL.search(text)
    if stray:
        line, column = _place_in(text, stray.start())
        what = f"U+{ord(stray.group()):04X} is a control character; a plan is plain text"
        raise UnusableError(Problem(file, line, column, "", what, "take it out"))
    return text


def _decoded(source: bytes, file: str) -> str:
    if source.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) and len(source) % 2 == 0:
        # What a spreadsheet calls Unicode text.
        return source.decode("utf-16", "replace")
    try:
        return source.decode("utf-8")
    except UnicodeDecodeError as error:
        before = source[: error.start].decode("utf-8")
        line, column = _place_in(before, len(before))
        what = f"the file is not UTF-8: byte 0x{source[error.start]:02X}"
        raise UnusableError(Problem(file, line, column, "", what, "save it as UTF-8")) from None


def _place_in(text: str, index: int) -> Place:
    return text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index)


def read_yaml(source: str | bytes, file: str) -> tuple[Document | None, list[Problem]]:
    """The tree of a YAML file, or None and why there is none.

    Problems that leave a tree (a key written twice, a tag) come along with it.
    """
    try:
        text = read_text(source, file)
        return _Builder(file).build(text)
    except UnusableError as reason:
        return None, [reason.problem]
    except yaml.MarkedYAMLError as error:
        return None, [_syntax_problem(error, text, file)]
    except yaml.YAMLError:
        return None, [Problem(file, 0, 0, "", "the file cannot be read as YAML")]


def _syntax_problem(error: yaml.MarkedYAMLError, text: str, file: str) -> Problem:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    lines = text.split("\n")
    here = lines[line - 1] if 0 < line <= len(lines) else ""
    hint = "check the indent, the colons and the brackets around here"
    if "\t" in here[: len(here) - len(here.lstrip())] or "cannot start any token" in str(error.problem):
        hint = "indent with spaces, not with tabs" if "\t" in here else "put texts that begin with a sign in quotes"
    elif "mapping values are not allowed" in str(error.problem):
        hint = 'put a text that has ": " in it in quotes, and begin keys of one mapping in the same column'
    words = " ".join(str(part) for part in (error.context, error.problem) if part)
    return Problem(file, line, column, "", f"this is not YAML: {words}", hint)


@dataclass(slots=True)
class _Open:
    """A list or mapping that is being read. `key` is the key whose value comes next."""

    tree: list[Tree] | dict[str, Tree]
    anchor: str | None
    path: Path
    nodes_before: int
    key: str | None = None
    deepest: int = 0


@dataclass(frozen=True, slots=True)
class _Anchored:
    """What an anchor stands for: its tree, where it was written, how many nodes and levels it has."""

    tree: Tree
    path: Path
    nodes: int
    levels: int


class _Builder:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []
        self.places: dict[Path, Place] = {}
        self.key_places: dict[Path, Place] = {}
        self.anchors: dict[str, _Anchored] = {}
        self.stack: list[_Open] = []
        self.nodes = 0
        self.root: Tree | None = None
        self.at: Place = (1, 1)

    def build(self, text: str) -> tuple[Document | None, list[Problem]]:
        loader = _Loader(text)
        documents = 0
        try:
            while loader.check_event():
                event = loader.get_event()
                self.at = (event.start_mark.line + 1, event.start_mark.column + 1)
                if isinstance(event, yaml.DocumentStartEvent):
                    documents += 1
                    if documents > 1:
                        raise self._unusable("a second document begins here", "one plan a file: take out the `---`")
                self._take(event)
        finally:
            loader.dispose()
        if self.root is None:
            return None, [Problem(self.file, 1, 1, "", "the file is empty", "begin with `session: Name of the session`")]
        return Document(self.file, self.root, self.places, self.key_places), self.problems

    def _take(self, event: yaml.Event) -> None:
        tag = getattr(event, "tag", None)
        if tag is not None:
            self.problems.append(Problem(self.file, *self.at, "", f"tags such as {shown(tag)} mean nothing here", "leave it out"))
        if isinstance(event, yaml.AliasEvent):
            self._alias(event.anchor or "")
        elif isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, yaml.SequenceStartEvent | yaml.MappingStartEvent):
            self._begin([] if isinstance(event, yaml.SequenceStartEvent) else {}, event.anchor)
        elif isinstance(event, yaml.SequenceEndEvent | yaml.MappingEndEvent):
            self._end()

    def _unusable(self, message: str, hint: str) -> UnusableError:
        return UnusableError(Problem(self.file, *self.at, "", message, hint))

    def _count(self, nodes: int, depth: int) -> None:
        self.nodes += nodes
        if self.nodes > MOST_NODES:
            raise self._unusable("there is too much in this file", f"at most {MOST_NODES:,} values, repeated ones included")
        if depth > MOST_DEPTH:
            raise self._unusable("this is nested too deep", f"at most {MOST_DEPTH} levels")

    def _next_path(self) -> Path:
        if not self.stack:
            return ()
        top = self.stack[-1]
        return (*top.path, len(top.tree)) if isinstance(top.tree, list) else (*top.path, top.key or "")

    def _wants_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].tree, dict) and self.stack[-1].key is None

    def _scalar(self, event: yaml.ScalarEvent) -> None:
        if self._wants_key():
            self._key(event.value)
        else:
            path = self._next_path()
            self._count(1, len(self.stack) + 1)
            self.places[path] = self.at
            self._put(event.value, 1)
            if event.anchor:
                self.anchors[event.anchor] = _Anchored(event.value, path, 1, 1)

    def _key(self, text: str) -> None:
        top = self.stack[-1]
        key = unicodedata.normalize("NFC", text[:200]).strip()
        path = (*top.path, key)
        if key in top.tree:
            first = self.key_places[path]
            message = f"the key {shown(key)} stands here twice, first on line {first[0]}"
            self.problems.append(Problem(self.file, *self.at, "", message, "keep one of them"))
        else:
            self.key_places[path] = self.at
        top.key = key

    def _begin(self, tree: list[Tree] | dict[str, Tree], anchor: str | None) -> None:
        if self._wants_key():
            raise self._unusable("a list or mapping cannot be a key", "write keys as plain words")
        path = self._next_path()
        self._count(1, len(self.stack) + 1)
        self.places[path] = self.at
        self.stack.append(_Open(tree, anchor, path, self.nodes - 1))

    def _end(self) -> None:
        done = self.stack.pop()
        levels = done.deepest + 1
        if done.anchor:
            self.anchors[done.anchor] = _Anchored(done.tree, done.path, self.nodes - done.nodes_before, levels)
        self._put(done.tree, levels)

    def _put(self, tree: Tree, levels: int) -> None:
        if not self.stack:
            self.root = tree
            return
        top = self.stack[-1]
        top.deepest = max(top.deepest, levels)
        if isinstance(top.tree, list):
            top.tree.append(tree)
        else:
            top.tree.setdefault(top.key or "", tree)
            top.key = None

    def _alias(self, name: str) -> None:
        target = self.anchors.get(name)
        if target is None:
            raise self._unusable(f"`*{shown(name).strip('`')}` stands for nothing that was written before it", "write it out")
        if self._wants_key():
            if not isinstance(target.tree, str):
                raise self._unusable("a list or mapping cannot be a key", "write keys as plain words")
            self._key(target.tree)
            return
        path = self._next_path()
        self._count(target.nodes, len(self.stack) + target.levels)
        self._copy_places(target, path)
        self._put(target.tree, target.levels)

    def _copy_places(self, target: _Anchored, path: Path) -> None:
        # A repeated value stands where it was written: that is where it has to be mended.
        pending: list[tuple[Tree, Path, Path]] = [(target.tree, target.path, path)]
        while pending:
            tree, old, new = pending.pop()
            self.places[new] = self.places.get(old, self.at)
            if old in self.key_places and len(new) > len(path):
                self.key_places[new] = self.key_places[old]
            steps = range(len(tree)) if isinstance(tree, list) else list(tree) if isinstance(tree, dict) else ()
            pending.extend((tree[step], (*old, step), (*new, step)) for step in steps)  # type: ignore[index]
