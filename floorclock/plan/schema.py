"""The JSON Schema of the session file, for editors that complete and check it while the coach writes.

Invariant: made from the very shapes that the reader uses, so the two cannot drift; where an editor's YAML sees a number
or true/false, so does the schema. It knows less than the reader: what must fit together is for `check` to say.
"""

from __future__ import annotations

from typing import Any

from floorclock.plan.fileformat import SessionFile
from floorclock.plan.moves import Moves

DRAFT = "https://json-schema.org/draft/2020-12/schema"

_ONE_OF: dict[str, list[list[str]]] = {
    "Rotation": [["rounds"], ["for"]],
    "Paced": [["beat", "time"], ["shuttle"]],
    "Shuttle": [["stages"], ["start", "step", "stage", "count"]],
}
_WITH_MOVES = ("Station", "Option", "Paced")
_ANY_OF: dict[str, list[list[str]]] = {"Option": [["move"], ["target"]], "Choice": [["rounds"], ["work"]]}


def session_schema(moves: Moves) -> dict[str, Any]:
    """The schema of a session file, draft 2020-12, as a fresh dict of plain JSON values.

    It proposes these moves; any other name is as good.
    """
    made: dict[str, Any] = _tidy(SessionFile.model_json_schema(by_alias=True, mode="validation"))
    shapes = made["$defs"]
    for name, choices in _ONE_OF.items():
        shapes[name]["oneOf"] = [{"required": keys} for keys in choices]
    for name, choices in _ANY_OF.items():
        shapes[name]["anyOf"] = [{"required": keys} for keys in choices]
    for name in _WITH_MOVES:
        own = shapes[name]["properties"]["move"]
        shapes.setdefault("Move", {"anyOf": [{"enum": sorted({move.name for move in moves.all})}, own]})
        shapes[name]["properties"]["move"] = {"$ref": "#/$defs/Move"}
    return {"$schema": DRAFT, "title": "A floorclock session", **made}


def _tidy(node: Any) -> Any:
    """Without pydantic's titles and defaults, and without `null`: a key that says nothing is left out, not written empty."""
    if isinstance(node, list):
        return [_tidy(item) for item in node]
    if not isinstance(node, dict):
        return node.removesuffix("File") if isinstance(node, str) and node.startswith("#/$defs/") else node
    kept = {}
    for key, value in node.items():
        if key in ("properties", "$defs"):
            kept[key] = {name.removesuffix("File"): _tidy(inner) for name, inner in value.items()}
        elif key not in ("title", "default"):
            kept[key] = _tidy(value)
    several = kept.get("anyOf")
    if isinstance(several, list) and {"type": "null"} in several:
        real = [item for item in several if item != {"type": "null"}]
        kept.pop("anyOf")
        kept = {**real[0], **kept} if len(real) == 1 else {**kept, "anyOf": real}
    return kept
