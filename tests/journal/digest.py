"""Two states of a class are the same if their digests are."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Set
from dataclasses import fields, is_dataclass
from typing import Any

from floorclock.clock.state import ClassState
from floorclock.clock.tally import results, splits


def digest(state: ClassState) -> str:
    """Everything in a state but its plan, and what its taps come to, as one short text. The same in every process."""
    parts = {part.name: getattr(state, part.name) for part in fields(state) if part.name != "session"}
    return hashlib.sha256(repr(_plain({**parts, "splits": splits(state), "results": results(state)})).encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Values whose `repr` is the same in every process: sets in order, no addresses."""
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value).__name__, [(part.name, _plain(getattr(value, part.name))) for part in fields(value)])
    if isinstance(value, Mapping):
        return [(_plain(key), _plain(held)) for key, held in value.items()]
    if isinstance(value, Set):
        return sorted(repr(_plain(one)) for one in value)
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value
