"""What a journal tells, for the index: the taps of a sound journal go by quickly, all else as `record.journal` has it.

Invariant: what comes out is what `record.journal.read_bytes` would give; where a journal is not sound in every line, it is asked.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from zlib import crc32

from floorclock.clock.events import Event, Tapped
from floorclock.journal.lines import VERSION, decode, is_whole
from floorclock.journal.reading import Header, JournalReading, read_bytes
from floorclock.journal.redact import FORGOTTEN

Tap = tuple[int, str]
"""(class time, athlete)."""

_TAP = re.compile(
    rb'\{"v":%d,"seq":(0|[1-9]\d*),"wall":"[^"\\]*","event":"tap","at_ms":(0|[1-9]\d*),"athlete":("(?:[^"\\]|\\.)*")'
    rb',"check":"([0-9a-f]{8})"\}' % VERSION
)
_CHECK_LENGTH = len(',"check":"00000000"}')


@dataclass(frozen=True, slots=True)
class Told:
    """What a journal tells: `events` in order, a tap as its two values; `damage` counts what is wrong with its lines."""

    header: Header
    events: list[Event | Tap]
    damage: int
    forgotten: int


def read_quickly(data: bytes) -> Told | None:
    """What the bytes of a journal tell; None where they do not say what the class started from."""
    told = _sound(data)
    if told is not None:
        return told
    reading = read_bytes(data)
    return None if reading.header is None else _told(reading, reading.header, data)


def _told(reading: JournalReading, header: Header, data: bytes) -> Told:
    events: list[Event | Tap] = [(one.at_ms, one.athlete) if type(one) is Tapped else one for one in reading.events]
    return Told(header, events, len(reading.damage), forgotten_in(data))


def _sound(data: bytes) -> Told | None:
    """The journal, if each of its lines is whole, of this version, known and in its place."""
    lines = data.split(b"\n")
    if lines.pop():
        return None
    first = read_bytes(lines[0] + b"\n") if lines else None
    if first is None or first.header is None or first.damage:
        return None
    names: dict[bytes, str] = {}
    events: list[Event | Tap] = []
    others: list[tuple[int, bytes]] = []
    for number in range(1, len(lines)):
        line = lines[number]
        found = _TAP.fullmatch(line)
        if found is None:
            others.append((number, line))
            events.append(_NO_TAP)
            continue
        seq, at_ms, written, check = found.groups()
        if int(seq) != number or crc32(b"}", crc32(line[:-_CHECK_LENGTH])) != int(check, 16):
            return None
        name = names.get(written)
        if name is None:
            try:
                name = names[written] = json.loads(written)
            except ValueError:
                return None
        events.append((int(at_ms), name))
    if not _put_others(events, others):
        return None
    return Told(first.header, events, 0, forgotten_in(lines[0]))


_NO_TAP: Tap = (-1, "")


def _put_others(events: list[Event | Tap], others: list[tuple[int, bytes]]) -> bool:
    """Puts the events of other lines into their places; false where a line is not just one event in its place."""
    if not all(is_whole(line) for _, line in others):
        return False
    reading = read_bytes(b"".join(line + b"\n" for _, line in others))
    if reading.header is not None or reading.seqs != tuple(number for number, _ in others):
        return False
    for number, event in zip(reading.seqs, reading.events, strict=True):
        events[number - 1] = (event.at_ms, event.athlete) if type(event) is Tapped else event
    return True


def forgotten_in(data: bytes) -> int:
    """How many people were taken out of a class, as its first line says."""
    line = data.split(b"\n", 1)[0]
    if FORGOTTEN.encode() not in line:
        return 0
    try:
        count = decode(line).get(FORGOTTEN)
    except ValueError:
        return 0
    return count if isinstance(count, int) and not isinstance(count, bool) and count > 0 else 0
