"""A coach's own YAML file, changed in place: comments, order, indent and line ends stay.

Invariant: whatever is changed is read again by the caller before it is written; a file that another hand changed meanwhile stays
as it is.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError

from floorclock.errors import WrongUsage
from floorclock.journal.files import write_atomically
from floorclock.live.plan_files import read_bytes

_LIST = re.compile(r"^(?:athletes|parts):.*\n(?:[ ]*(?:#.*)?\n)*([ ]*)-( +)", re.MULTILINE)
"""The list that the file is about, with the indent of its dashes and what follows them."""


def text_changed(before: bytes, change: Callable[[str], str]) -> bytes:
    """A file with its text changed, and the line ends and the byte order mark that it had."""
    made = change(before.decode("utf-8-sig").replace("\r\n", "\n"))
    if before.count(b"\r\n") > before.count(b"\n") / 2:
        made = made.replace("\n", "\r\n")
    return (b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b"") + made.encode("utf-8")


def yaml_changed(text: str, change: Callable[[Any], None]) -> str:
    """A YAML text after `change` had its way with the tree.

    Raises:
        WrongUsage: it cannot be read or written so that everything else stays.
    """
    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = 1 << 16
    yaml.brace_single_entry_mapping_in_flow_sequence = True
    dash = _LIST.search(text)
    if dash is not None:
        offset = len(dash[1])
        yaml.indent(mapping=2, sequence=offset + 1 + len(dash[2]), offset=offset)
    try:
        tree = yaml.load(text)
        change(tree)
        out = io.StringIO()
        yaml.dump(tree, out)
    except (YAMLError, LookupError, TypeError, AttributeError, ValueError) as error:
        raise WrongUsage("the file cannot be written by a program as it is; write it in by hand") from error
    return out.getvalue()


def put_in(mapping: CommentedMap, key: str, value: object) -> None:
    """A new key where it parts no comment from what it is about."""
    keys = list(mapping)
    places = [at for at in range(1, len(keys)) if not _has_lines_below(mapping, keys[at - 1])]
    mapping.insert(len(keys) if mapping.fa.flow_style() else places[0] if places else 0, key, value)


def rename(mapping: CommentedMap, old: str, new: str) -> None:
    """A key under another name, in its place and with its comments."""
    at, value, comments = list(mapping).index(old), mapping[old], mapping.ca.items.pop(old, None)
    del mapping[old]
    mapping.insert(at, new, value)
    if comments is not None:
        mapping.ca.items[new] = comments


def _has_lines_below(mapping: CommentedMap, key: str) -> bool:
    """Whether comments on lines of their own, or a value of several lines, stand between a key and the next."""
    value = mapping[key]
    if isinstance(value, CommentedMap | CommentedSeq) and not value.fa.flow_style():
        return True
    tokens = [token for token in mapping.ca.items.get(key) or () if token is not None]
    return any("\n" in token.value.strip("\n") for token in tokens if not isinstance(token, list))


def write_changed(path: Path, before: bytes, content: bytes) -> None:
    """Puts a changed file in its place.

    Raises:
        WrongUsage: it changed meanwhile.
        ResourceError: the disk does not take it.
    """
    if read_bytes(path) != before:
        raise WrongUsage(f"{path} was changed meanwhile; nothing was written, do it again")
    write_atomically(path, content)
