"""The two forms in which a journal goes out and comes back to the byte: a line of JSON, or a row of CSV, for each of its lines.

Invariant: what `journal_lines` gives is the journal; a line that is whole and reads as JSON is carried as it is, any other one in
hexadecimal digits. A carried line that was whole and does not fit its check any more is refused: it was changed on the way.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from floorclock.journal.lines import decode, encode, is_whole

CLASS_ID = re.compile(r"[0-9A-Za-z][0-9A-Za-z_-]{0,79}")
"""What may name a class that comes in: it becomes the name of a file."""
EVENT_COLUMNS = ("class", "line", "event", "at", "athlete", "wall", "form", "record")
TEXT, HEX = "text", "hex"
OPEN = " open"
"""Behind the form of a last line that has no end."""
_HEX_MARK = "hex:"
"""In front of hexadecimal digits, which a spreadsheet could take for a number."""
_FRACTIONAL = ("speed", "effort")
"""Keys whose values are written with a fraction, even if it is zero."""
_AS_WRITTEN = re.compile(rb'\{"class":"[^"\\]*","line":[0-9]+,(?:"open":true,)?"record":(\{.*\})\}', re.DOTALL)


class ChangedLine(ValueError):
    """A carried line that cannot be what went out; says why, without its content."""


@dataclass(frozen=True, slots=True)
class CarriedLine:
    """One line of a journal: its class, its number from 1, its bytes without the line end; `open` where it has none."""

    class_id: str
    number: int
    data: bytes
    open: bool = False


def journal_lines(class_id: str, data: bytes) -> Iterator[CarriedLine]:
    """The lines of a journal."""
    *whole, rest = data.split(b"\n")
    for number, line in enumerate(whole, start=1):
        yield CarriedLine(class_id, number, line)
    if rest:
        yield CarriedLine(class_id, len(whole) + 1, rest, open=True)


def to_json(line: CarriedLine) -> bytes:
    """The line as JSON, with its end."""
    ending = b'"open":true,' if line.open else b""
    start = b'{"class":%b,"line":%d,%b' % (json.dumps(line.class_id).encode("ascii"), line.number, ending)
    if _reads(line.data) is None:
        return start + b'"bytes":"%b"}\n' % line.data.hex().encode("ascii")
    return start + b'"record":' + line.data + b"}\n"


def from_json(raw: bytes) -> CarriedLine:
    """The line that `to_json` wrote, also where another program has written the same JSON in its own way.

    Raises:
        ChangedLine: it is not; says what is wrong.
    """
    try:
        values = json.loads(raw)
    except (ValueError, RecursionError):
        raise ChangedLine("this is no JSON") from None
    if not isinstance(values, dict):
        raise ChangedLine("this is no JSON object")
    class_id, number = _place(values.get("class"), values.get("line"))
    if isinstance(values.get("bytes"), str):
        return CarriedLine(class_id, number, _from_hex(values["bytes"]), values.get("open") is True)
    as_written = _AS_WRITTEN.fullmatch(raw.rstrip(b"\r\n"))
    data = as_written[1] if as_written and is_whole(as_written[1]) else _rewritten(values.get("record"))
    return CarriedLine(class_id, number, data, values.get("open") is True)


def to_row(line: CarriedLine) -> tuple[object, ...]:
    """The line as the fields of a row: what it says in plain columns, and its bytes in the last one."""
    values = _reads(line.data)
    ending = OPEN if line.open else ""
    if values is None:
        return (line.class_id, line.number, "", None, "", "", HEX + ending, _HEX_MARK + line.data.hex())
    about = values.get("athlete")
    name = about.get("name") if isinstance(about, dict) else about
    at_ms = values.get("at_ms")
    return (
        line.class_id,
        line.number,
        str(values.get("event", "")),
        at_ms / 1000 if isinstance(at_ms, int) else None,
        name if isinstance(name, str) else "",
        str(values.get("wall", values.get("started", ""))),
        TEXT + ending,
        line.data.decode("utf-8"),
    )


def from_row(fields: dict[str, str]) -> CarriedLine:
    """The line that `to_row` wrote; only its class, number, form and record are looked at.

    Raises:
        ChangedLine: it is not; says what is wrong.
    """
    number = fields.get("line", "")
    class_id, place = _place(fields.get("class"), int(number) if number.isascii() and number.isdigit() else None)
    form, record = fields.get("form", ""), fields.get("record", "")
    kind = form.removesuffix(OPEN)
    if kind == HEX and record.startswith(_HEX_MARK):
        return CarriedLine(class_id, place, _from_hex(record.removeprefix(_HEX_MARK)), form.endswith(OPEN))
    data = record.encode("utf-8", "surrogatepass")
    if kind != TEXT or not is_whole(data):
        raise ChangedLine("the record does not fit its check: it was changed, or cut by a spreadsheet")
    return CarriedLine(class_id, place, data, form.endswith(OPEN))


def _reads(data: bytes) -> dict[str, Any] | None:
    """The values of a line that can be carried as it is."""
    if not is_whole(data) or b"\r" in data:
        return None
    try:
        data.decode("utf-8")
        return decode(data)
    except ValueError:
        return None


def _place(class_id: object, number: object) -> tuple[str, int]:
    if not isinstance(class_id, str) or not CLASS_ID.fullmatch(class_id):
        raise ChangedLine("the class has no id that could be one, such as 20261125-1831-7f3a")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise ChangedLine("the line of the journal has no number from 1")
    return class_id, number


def _from_hex(text: str) -> bytes:
    try:
        data = bytes.fromhex(text)
    except ValueError:
        raise ChangedLine("these are no hexadecimal digits") from None
    if b"\n" in data:
        raise ChangedLine("there is a line end inside a line")
    return data


def _rewritten(record: object) -> bytes:
    """The bytes of a record that another program wrote down in its own way, by its own check."""
    if isinstance(record, dict):
        values = {key: value for key, value in record.items() if key != "check"}
        # Many programs write 1.0 as 1.
        floats = {key: float(value) for key, value in values.items() if key in _FRACTIONAL and isinstance(value, int)}
        for same in (values, values | floats):
            try:
                data = encode(same)[:-1]
            except ValueError:
                break
            if data.endswith(f'"check":{json.dumps(record.get("check"))}}}'.encode()):
                return data
    raise ChangedLine("the record does not fit its check: it was changed")
