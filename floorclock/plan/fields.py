"""The types of single values in the files: durations, names, targets and the rest, each read from its text.

Invariant: a value comes from a function of `durations`, `quantities` or `names`; nothing is coerced on the way.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Discriminator
from pydantic_core import core_schema

from floorclock.plan import quantities as q
from floorclock.plan.durations import DAY_MS, UnreadableError, duration_words, shown
from floorclock.plan.names import LONGEST_NAME, LONGEST_PROSE, LONGEST_TITLE, clean_name, clean_prose, nearest
from floorclock.plan.work import Load, Target, Unit

MINUTE_MS = 60_000

_FLAG = {"anyOf": [{"type": "boolean"}, {"enum": ["true", "false", "yes", "no", "on", "off"]}]}


class FromText:
    """Marks a type as read from its text by `parse`; lists, mappings and nothing at all are refused in plain words."""

    def __init__(self, parse: Callable[[str], object], kind: str, schema: dict[str, Any]) -> None:
        self.parse = parse
        self.kind = kind
        self.schema = schema

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        """The text goes through `read` and nothing else."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        """What an editor sees: the text, or the number that it takes the text for."""
        return dict(self.schema)

    def read(self, value: object) -> object:
        """The value of a text."""
        if not isinstance(value, str):
            raise UnreadableError(f"{self.kind} goes here, not a {'list' if isinstance(value, list) else 'mapping'}")
        if not value.strip():
            raise UnreadableError("nothing is written here", f"write {self.kind}, or leave the key out")
        return self.parse(value)


_CLOCK = r"^\s*([0-9]{1,3}:[0-5][0-9]:[0-5][0-9]|[0-9]{1,4}:[0-5][0-9])(\.[0-9]+)?\s*$"
_SPAN = r"^\s*[0-9]+(\.[0-9]+)? *(s|secs?|seconds?|min|mins|minutes?|h|hours?)?\s*$"
_NUMBER = r"[0-9]+(\.[0-9]+)?"


def lasting(low_ms: int, high_ms: int) -> FromText:
    """A duration between bounds."""
    words = f"a duration from {duration_words(low_ms)} to {duration_words(high_ms)}: 45, 0:45, 12:30, 1:00:00, 90s or 2 min"
    number = {"type": "number", "minimum": low_ms / 1000, "maximum": high_ms / 1000}
    text = {"type": "string", "pattern": f"{_CLOCK}|{_SPAN}"}
    schema = {"anyOf": [number, text], "description": words}
    return FromText(lambda value: q.bounded_duration_ms(value, low_ms, high_ms), "a duration", schema)


def counted(low: int, high: int) -> FromText:
    """A whole number between bounds."""
    schema = {"anyOf": [{"type": "integer", "minimum": low, "maximum": high}, {"type": "string", "pattern": r"^\s*[0-9]+\s*$"}]}
    return FromText(lambda value: q.parse_count(value, low, high), "a whole number", schema)


def _text(parse: Callable[[str], str], kind: str, longest: int) -> FromText:
    return FromText(parse, kind, {"type": ["string", "number"], "minLength": 1, "maxLength": longest})


def _measure(
    parse: Callable[[str], object], kind: str, pattern: str, low: float | None = None, high: float | None = None
) -> FromText:
    """A quantity: a text of a pattern, or a bare number between bounds where there are any."""
    text = {"type": "string", "pattern": rf"^\s*{pattern}\s*$"}
    number = {"type": "number", "minimum": low, "maximum": high}
    return FromText(parse, kind, text if low is None else {"anyOf": [number, text]})


def length(low_mm: int, high_mm: int, example: str) -> FromText:
    """A length between bounds, in millimetres."""
    pattern = rf"{_NUMBER} *(mm|cm|m|km|in)"
    return _measure(lambda text: q.parse_length_mm(text, low_mm, high_mm, f"write it like {example}"), "a length", pattern)


def _percent(low: int, high: int) -> FromText:
    number = {"type": "integer", "minimum": low, "maximum": high}
    schema = {"anyOf": [number, {"type": "string", "pattern": r"^\s*[0-9]+ *%?\s*$"}]}
    return FromText(lambda text: q.parse_percent(text, low, high), "a percentage", schema)


def one_of(*words: str, kind: str = "") -> FromText:
    """One of these words."""

    def parse(text: str) -> str:
        tidy = " ".join(text.lower().split())
        if tidy not in words:
            raise UnreadableError(f"{shown(text)} means nothing here", f"write {nearest(tidy, words) or ' or '.join(words)}")
        return tidy

    return FromText(parse, kind or " or ".join(words), {"enum": list(words)})


def by_form(*others: Literal["list", "mapping"]) -> Discriminator:
    """Tells a text from the other forms that may stand in its place; what may not is read as a text, and refused as one."""

    def tag(value: object) -> str:
        form = "list" if isinstance(value, list) else "mapping" if isinstance(value, dict) else "text"
        return f"<{form}>" if form in others else "<text>"

    return Discriminator(tag)


Name = Annotated[str, _text(clean_name, "a name", LONGEST_NAME)]
Title = Annotated[str, _text(lambda text: clean_name(text, LONGEST_TITLE), "a title", LONGEST_TITLE)]
Prose = Annotated[str, _text(clean_prose, "a sentence", LONGEST_PROSE)]
Flag = Annotated[bool, FromText(q.parse_flag, "true or false", _FLAG)]
Moment = Annotated[int, lasting(0, 5 * MINUTE_MS)]
Margin = Annotated[int, lasting(0, 60 * MINUTE_MS)]
Window = Annotated[int, lasting(1000, DAY_MS)]
Pause = Annotated[int, lasting(0, DAY_MS)]
Rounds = Annotated[int, counted(1, 10_000)]
_UNITS = "reps?|times|m|km|met(re|er)s?|cals?|calories?|s|secs?|seconds?|mins?|minutes?"
_AMOUNT = rf"({_NUMBER} *({_UNITS})?|[0-9:]+:[0-9]{{2}}(\.[0-9]+)?)"
_LIST = rf"[0-9]+(-[0-9]+)+( *({_UNITS}))?"
_TARGET = rf"({_AMOUNT}( each side)?|{_NUMBER}( *({_UNITS}))? to {_AMOUNT}|{_LIST}|max ({_UNITS})( in [0-9:]+( *[a-z]+)?)?)"
Amount = Annotated[Target, _measure(q.parse_target, "a target", _TARGET, 0.001, q.MOST[Unit.REPS])]
AnyStep = Annotated[
    tuple[Fraction, Unit | None], _measure(q.parse_step, "a step", rf"[+-]?({_NUMBER} *[a-z]*|[0-9:]+)", -1e5, 1e5)
]
Least = Annotated[tuple[Fraction, Unit | None], _measure(q.parse_least, "an amount", _AMOUNT, 0.001, q.MOST[Unit.REPS])]
AnyLoad = Annotated[Load, _measure(q.parse_load, "a load", rf"{_NUMBER} *(kgs?|lbs?|%)")]
Weight = Annotated[Load, _measure(q.parse_weight, "a weight", rf"{_NUMBER} *(kgs?|lbs?)")]
Speed = Annotated[Fraction, _measure(q.parse_speed_kmh, "a speed", rf"{_NUMBER} *(km/h|kmh|kph)?", 0.5, 50)]
SpeedStep = Annotated[
    Fraction,
    _measure(lambda text: q.parse_speed_kmh(text, Fraction(0), Fraction(5)), "a speed", rf"{_NUMBER} *(km/h|kmh|kph)?", 0, 5),
]
Confidence = Annotated[int, _percent(q.LEAST_CONFIDENCE, q.MOST_CONFIDENCE)]
Beat = Annotated[Fraction, _measure(q.parse_beat, "a beat", rf"{_NUMBER} *(per min(ute)?|/ *min|a minute|bpm)?", 1, 400)]
