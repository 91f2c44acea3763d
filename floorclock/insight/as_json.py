"""Answers for other programs, from the dataclasses as they are.

Invariant: seconds are numbers, every key is always there, None where nothing is known; instants are RFC 3339 with the offset of
the place, weeks ISO 8601 (`2026-W09`, from Monday on). A key is the name of its field; of one in milliseconds (`_ms`) seconds are
written (`_s`), and a field whose name Python keeps for itself has an underscore after it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from fractions import Fraction
from typing import Annotated, Any, TypeVar

from floorclock.journal.instants import instant_text
from floorclock.plan.durations import seconds

T = TypeVar("T")


class _Written:
    """How pydantic writes a value. The library is loaded when it does, and not with the answers."""

    def __init__(self, write: Callable[[Any], Any]) -> None:
        self._write = write

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        from pydantic_core import core_schema

        return core_schema.any_schema(serialization=core_schema.plain_serializer_function_ser_schema(self._write))


def _amount_number(value: Fraction | None) -> float | None:
    """An amount as a number, whole where it is."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else float(value)


def _rounded(value: float | Fraction | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(float(value), 4)


Seconds = Annotated[T, _Written(seconds)]
"""Milliseconds, written as seconds."""
Amount = Annotated[T, _Written(_amount_number)]
Figure = Annotated[T, _Written(_rounded)]
"""A measured number: rounded, None where it is not finite."""
Counts = Annotated[T, _Written(lambda scores: [_amount_number(amount) for _, amount in scores])]
"""What was counted, set by set."""
Instant = Annotated[datetime, _Written(instant_text)]


def _key(field: str) -> str:
    return field.removesuffix("_ms") + "_s" if field.endswith("_ms") else field.rstrip("_")


ANSWER: dict[str, Any] = {"alias_generator": _key}
"""The `__pydantic_config__` of an answer; it holds for everything in it."""


def as_json(answer: object) -> Any:
    """The JSON-ready values of an answer: of a dataclass, a dictionary of its fields."""
    from pydantic import TypeAdapter

    return TypeAdapter(type(answer)).dump_python(answer, mode="json", by_alias=True)
