"""What should sound in a class, worked out once more and in another way: a class is played step by step along one line of time.

The code under test never plays anything: it keeps functions of class time and looks windows up. Here there is a hand that
moves: it stands at a position of a part, moves, is held, is set elsewhere, and says what it passes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise

from floorclock.clock.events import (
    ClassEnded,
    Event,
    Joined,
    Left,
    PartBegun,
    PartEnded,
    Paused,
    Regrouped,
    Resumed,
    Skipped,
    Stretched,
    WentBack,
)
from floorclock.plan.roster import Athlete
from floorclock.plan.session import Amrap, AnyPart, ForTime, Intervals, OpenPart, Paced, RestPart, Rotation, Session, Shuttle

Row = list[int]
"""An interval as [length, 1 for work or 0 for rest, round]."""
Signal = tuple[int, str]


def ends_of_shuttles(shuttle: Shuttle) -> list[int]:
    """When each length ends, one after another."""
    clock, ends = Fraction(0), []
    for stage in shuttle.stages:
        for _ in range(stage.shuttles):
            clock += shuttle.distance_m / (stage.speed_kmh / Fraction(36, 10)) * 1000
            ends.append(round(clock))
    return ends


class Plan:
    """One part as rows that can be stretched; says which signals lie where."""

    def __init__(self, part: AnyPart, session: Session, groups: set[int]) -> None:
        self.part = part
        self.cues = session.cues
        self.margin_ms = session.margin_ms(part)
        self.groups = groups
        given = session.count_in_ms if part.count_in_ms is None else part.count_in_ms
        self.count_in_ms = 0 if isinstance(part, OpenPart) else given
        self.rows = self._rows()

    def _rows(self) -> list[Row]:
        part = self.part
        if isinstance(part, Rotation):
            return [[part.every_ms, self._works(number), number // len(part.work) + 1] for number in range(part.count)]
        if isinstance(part, Intervals):
            return self._sets(part)
        if isinstance(part, ForTime):
            return [[part.cap_ms + (max(self.groups) - 1) * part.wave_every_ms, 1, 1]]
        if isinstance(part, Amrap):
            return [[part.time_ms + (max(self.groups) - 1) * part.wave_every_ms, 1, 1]]
        if isinstance(part, Paced):
            return self._stages(part.shuttle) if part.shuttle else [[part.time_ms or 0, 1, 1]]
        if isinstance(part, RestPart):
            return [[part.length_ms, 0, 1]]
        return [[part.max_ms, 0, 1]] if part.max_ms else []

    def _sets(self, part: Intervals) -> list[Row]:
        rows: list[Row] = []
        for number in range(part.sets):
            round_number = number // len(part.work) + 1
            rows.append([part.work_ms, self._works(number), round_number])
            if part.rest_ms and (part.final_rest or number + 1 < part.sets):
                rows.append([part.rest_ms, 0, round_number])
        return rows

    def _stages(self, shuttle: Shuttle) -> list[Row]:
        ends, done = [0], 0
        for stage in shuttle.stages:
            done += stage.shuttles
            ends.append(ends_of_shuttles(shuttle)[done - 1])
        return [[b - a, 1, k + 1] for k, (a, b) in enumerate(pairwise(ends))]

    def _works(self, number: int) -> int:
        work = self.part.stations
        return int(any(not work[(number + group - 1) % len(work)].is_rest for group in self.groups))

    @property
    def length_ms(self) -> int | None:
        """Where the part ends by itself."""
        return sum(row[0] for row in self.rows) if self.rows else None

    def starts(self) -> list[int]:
        """Where each row begins."""
        return [sum(row[0] for row in self.rows[:k]) for k in range(len(self.rows))]

    def signals(self) -> list[Signal]:
        """Every signal as (position, name)."""
        part, length = self.part, self.length_ms
        found: list[Signal] = []
        if isinstance(part, OpenPart):
            if part.time_ms is not None and part.time_ms != part.max_ms:
                found.append((part.time_ms, "attention"))
        else:
            found += self._rows_signals()
        if length is not None:
            found.append((length, "end"))
        return found

    def _rows_signals(self) -> list[Signal]:
        part, found = self.part, self._own_signals()
        steady = isinstance(part, Paced)
        shuttles = isinstance(part, Paced) and part.shuttle is not None
        one_window = isinstance(part, ForTime | Amrap)
        last_round = self.rows[-1][2]
        before = self.count_in_ms
        for number, (start, (length, works, round_number)) in enumerate(zip(self.starts(), self.rows, strict=True)):
            if works:
                found.append((start, "go"))
                if number == 0 or not shuttles:
                    found += [(start - k * 1000, "count") for k in range(1, self.cues.count + 1) if k * 1000 <= before]
                found += self._inside(start, length, steady, one_window)
                first_of_last = round_number == last_round > 1 and not any(name == "last_round" for _, name in found)
                if first_of_last and self.cues.last_round and not steady:
                    found.append((start - 6000 if before >= 12_000 else start + 1000, "last_round"))
            elif self.cues.rest:
                found.append((start, "rest"))
            before = length
        return found

    def _inside(self, start: int, length: int, steady: bool, one_window: bool) -> list[Signal]:
        found: list[Signal] = []
        if steady:
            return found
        if not one_window and self.cues.pace:
            share = Fraction(length - self.margin_ms, self.cues.pace)
            found += [(start + round(share * k), "pace") for k in range(1, self.cues.pace + 1)]
        if length >= 30_000 and (self.cues.half or one_window):
            found.append((start + length // 2, "half"))
        if length >= 30_000 and self.cues.last_ten:
            found.append((start + length - 10_000, "last_ten"))
        return found

    def _own_signals(self) -> list[Signal]:
        part = self.part
        if isinstance(part, ForTime) and part.wave_every_ms:
            waves = [(group - 1) * part.wave_every_ms for group in self.groups if group > 1]
            waves = [wave for wave in waves if wave < (self.length_ms or 0)]
            pips = [(w - k * 1000, "count") for w in waves for k in range(1, self.cues.count + 1) if k * 1000 <= w]
            return pips + [(wave, "go") for wave in waves]
        if isinstance(part, Paced) and part.beats_per_minute:
            beats: list[Signal] = []
            time_ms = part.time_ms or 0
            while Fraction(60_000 * len(beats)) / part.beats_per_minute < time_ms:
                beats.append((round(Fraction(60_000 * len(beats)) / part.beats_per_minute), "pace"))
            return beats
        if isinstance(part, Paced) and part.shuttle:
            return [(end, "shuttle") for end in ends_of_shuttles(part.shuttle)]
        return []


class Hand:
    """The hand that moves. `heard` is what it passed, as (class time, name)."""

    def __init__(self, session: Session, athletes: Sequence[Athlete]) -> None:
        self.session = session
        self.group_of = {athlete.name: athlete.group for athlete in athletes}
        self.home: set[str] = set()
        self.now = 0
        self.plan: Plan | None = None
        self.number = -1
        self.at = 0
        self.held = self.counted = 0
        self.let_go_at = -1
        self.paused = self.over = self.waiting = False
        self.heard: set[Signal] = set()

    def play(self, events: Iterable[Event], through_ms: int) -> set[Signal]:
        """Plays a class and says what it heard through a class time."""
        for event in events:
            self.run(event.at_ms)
            move = getattr(self, f"on_{type(event).__name__.lower()}", None)
            if move is not None:
                move(event)
        self.run(through_ms)
        return self.heard

    def run(self, to_ms: int) -> None:
        """Lets time pass."""
        while self.now < to_ms and self.plan is not None and not self.paused:
            if self.held:
                self._hold(min(self.held, to_ms - self.now))
                continue
            length = self.plan.length_ms
            step = to_ms - self.now if length is None else min(to_ms - self.now, length - self.at)
            for place, name in self.plan.signals():
                if self.at < place <= self.at + step:
                    self.heard.add((self.now + place - self.at, name))
            self.at += step
            self.now += step
            if length is not None and self.at == length:
                self._follow()
        self.now = max(self.now, to_ms)

    def _hold(self, step: int) -> None:
        until = self.now + self.held
        for k in range(1, min(3, self.counted // 1000) + 1):
            if self.now < until - k * 1000 <= self.now + step:
                self.heard.add((until - k * 1000, "count"))
        self.now += step
        self.held -= step
        if not self.held:
            self.let_go_at = self.now
            self.heard.add((until, "go" if self._row()[1] else "rest"))

    def _row(self) -> Row:
        assert self.plan is not None
        return self.plan.rows[self._index()]

    def _index(self) -> int:
        assert self.plan is not None
        passed = [k for k, start in enumerate(self.plan.starts()) if start <= self.at]
        return passed[-1] if passed else 0

    def _follow(self) -> None:
        assert self.plan is not None
        was_open = isinstance(self.plan.part, OpenPart)
        self.plan, self.waiting, self.held = None, False, 0
        if self.number + 1 == len(self.session.parts):
            self.over = True
        elif not was_open and isinstance(self.session.parts[self.number + 1], OpenPart):
            self._start()

    def _start(self) -> None:
        self.number += 1
        self.plan = Plan(self.session.parts[self.number], self.session, self._groups())
        self.set_to(-self.plan.count_in_ms)

    def _groups(self) -> set[int]:
        return {group for name, group in self.group_of.items() if name not in self.home} or {1}

    def on_regrouped(self, event: Regrouped) -> None:
        if event.athlete in self.group_of:
            self.group_of[event.athlete] = event.group

    def on_joined(self, event: Joined) -> None:
        self.group_of.setdefault(event.athlete.name, event.athlete.group)
        self.home.discard(event.athlete.name)

    def on_left(self, event: Left) -> None:
        self.home |= {event.athlete} & set(self.group_of)

    def set_to(self, place: int) -> None:
        """Sets the hand somewhere; what stands exactly there sounds, in a pause once it is over."""
        self.at, self.held, self.waiting = place, 0, self.paused
        if not self.paused:
            self.here()

    def here(self) -> None:
        """Says what stands where the hand is."""
        assert self.plan is not None
        self.heard |= {(self.now, name) for place, name in self.plan.signals() if place == self.at}
        self.waiting = False

    @property
    def timed(self) -> Plan | None:
        """The part that runs, unless the coach ends it."""
        return None if self.plan is None or isinstance(self.plan.part, OpenPart) else self.plan

    def on_partbegun(self, event: PartBegun) -> None:
        if not self.over and not self.paused and self.timed is None and event.part == self.number + 1 < len(self.session.parts):
            self._start()

    def on_paused(self, event: Paused) -> None:
        self.paused = self.paused or (not self.over and self.number >= 0)

    def on_resumed(self, event: Resumed) -> None:
        if not self.paused:
            return
        self.paused = False
        if self.timed is not None and event.count_in_ms and self.at >= 0:
            self.counted, self.waiting = event.count_in_ms, False
            self.held = event.count_in_ms + event.lead_ms
            if event.count_in_ms in (1000, 2000, 3000) and not event.lead_ms:
                self.heard.add((self.now, "count"))
        elif self.timed is not None and event.count_in_ms and self.at > -event.count_in_ms - event.lead_ms:
            self.set_to(-event.count_in_ms - event.lead_ms)
        elif self.waiting:
            self.here()

    def on_skipped(self, event: Skipped) -> None:
        if self.timed is None:
            return
        target = 0 if self.at < 0 else self._index() + 1
        if target < len(self.timed.rows):
            self.set_to(self.timed.starts()[target])

    def on_wentback(self, event: WentBack) -> None:
        if self.timed is not None:
            self.set_to(-self.timed.count_in_ms if self.at < 0 else self.timed.starts()[self._index()])

    def on_stretched(self, event: Stretched) -> None:
        if self.timed is None or isinstance(self.timed.part, Paced):
            return
        index = self._index()
        left = self.timed.starts()[index] + self.timed.rows[index][0] - max(self.at, self.timed.starts()[index])
        delta = event.delta_ms if event.delta_ms > 0 else max(event.delta_ms, 1000 - left)
        if event.delta_ms > 0 or delta < 0:
            self.timed.rows[index][0] += delta
            if not self.held and self.now != self.let_go_at:
                self.set_to(self.at)

    def on_partended(self, event: PartEnded) -> None:
        if self.plan is None:
            return
        if self.timed is not None:
            self.heard.add((self.now, "end"))
        self.paused = False
        self._follow()

    def on_classended(self, event: ClassEnded) -> None:
        if self.timed is not None and not self.over:
            self.heard.add((self.now, "end"))
        self.plan, self.over, self.paused = None, True, False
