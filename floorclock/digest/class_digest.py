"""What a class came to, as values and sentences: everything shown of a class that is over, or was taken halfway.

Invariant: each thing is worked out in one place, and nothing is judged that splits and results do not support. An untapped
interval is counted as unknown, nowhere else; of what is over only what happened is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import mode
from typing import Final

from floorclock.clock.splits import Coming, Result, Split, Status
from floorclock.digest.figures import StationFigures, StationOverview, median_of_known
from floorclock.digest.volume import VolumeLoad
from floorclock.digest.words import (
    CALM,
    FORECAST,
    HELD,
    RAN_OUT,
    STEADY_MS,
    UNKNOWN,
    UNTAPPED,
    drift_words,
    flag_words,
    held_words,
    lap_times_ms,
    lap_words,
    margin_words,
    result_words,
    score_total,
    set_words,
)
from floorclock.pace.advice import Advice
from floorclock.pace.flags import SYMBOL, URGENCY, Flag
from floorclock.pace.load import SessionLoad
from floorclock.pace.model.forecast import Forecast
from floorclock.plan.durations import duration_words
from floorclock.plan.names import counted, listed
from floorclock.plan.session import PartKind, Score, ScoreUnit

FEWEST_TIGHT: Final = 3
"""Fewer tight intervals than that are no sign of a station, they are somebody's bad round."""
STANDS_OUT: Final = 1.5
"""A station is named when it has this many times its share of the tight intervals, or more."""
MOST_CALLS: Final = 12
"""With more people than that nobody talks to each of them; the others are only named."""


@dataclass(frozen=True, slots=True)
class FlaggedSplit:
    """A split, the name of its station in the plan, and the flags that it raised.

    `changed` is true where its target or move is another one than that of the round before at the station. `fitted_ms` is
    what the line through the athlete's splits has in its place.
    """

    split: Split
    station: str
    flags: tuple[Flag, ...] = ()
    changed: bool = False
    fitted_ms: float | None = None


@dataclass(frozen=True, slots=True)
class MarginGoes:
    """The first round in which the margin goes, or went: at which station (from 0), and how likely (0..1, 1 where it did)."""

    round: int
    station: int
    chance: float = 1.0


@dataclass(frozen=True, slots=True)
class Drift:
    """By what share a split grows with each round; `low` to `high` holds it in 80 of 100 cases."""

    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteDigest:
    """One athlete in one part. Slope, spread and decrement are the medians of their stations.

    `flags` are all that were raised; `runs out`, which is a forecast, only where it stands for rounds to come, or came true.
    `splits` belong to rotations and intervals, `result` to the other parts; without either nothing is known.
    `forecast` is what is still to come, `runs_out` the round in which the margin goes where that flag stands. `advice` is what
    to change while rounds are to come, the most urgent first, and next time's target for every station when all was run.
    """

    name: str
    splits: tuple[FlaggedSplit, ...] = ()
    stations: tuple[StationFigures, ...] = ()
    slope_ms: float | None = None
    cv_percent: float | None = None
    decrement_percent: float | None = None
    least_rest_ms: int | None = None
    flags: tuple[Flag, ...] = ()
    untapped: int = 0
    result: Result | None = None
    forecast: tuple[Forecast, ...] = ()
    runs_out: Forecast | None = None
    margin_goes: MarginGoes | None = None
    """Of the rounds still to come where there are any, else as it was."""
    drift: Drift | None = None
    advice: tuple[Advice, ...] = ()
    team: tuple[str, ...] = ()
    """Who shares all of this, where a team did it together; `name` is the first of them."""

    @property
    def label(self) -> str:
        """The name, or those of the team: `Ilka + Bram`."""
        return " + ".join(self.team) or self.name

    @property
    def tapped(self) -> int:
        """In how many intervals there is a split."""
        return sum(taken.split.status is Status.DONE for taken in self.splits)

    @property
    def held(self) -> bool:
        """True when something was tapped and nothing was flagged."""
        return bool(self.tapped) and not self.flags

    def flag_words(self, flag: Flag) -> str:
        """A flag of theirs with its sign: `! tight`, `x ran out` where the forecast has come true."""
        return flag_words(flag, over=self.runs_out is None)

    @property
    def state_words(self) -> str:
        """All their flags with signs, else `held`, or `untapped` where nothing is known."""
        flags = ", ".join(map(self.flag_words, self.flags))
        return flags or (HELD if self.tapped else UNTAPPED)

    @property
    def margin_words(self) -> str:
        """`the margin likely goes in round 5`, `the margin went in round 4`; empty where it was kept."""
        goes = self.margin_goes
        return "" if goes is None else margin_words(goes.round, goes.chance if self.forecast else None)

    @property
    def worked_at(self) -> tuple[int, ...]:
        """The stations where they worked or are to work, in order."""
        places = {taken.split.station for taken in self.splits} | {ahead.slot.station for ahead in self.forecast}
        return tuple(sorted(places))

    def splits_at(self, station: int) -> tuple[FlaggedSplit, ...]:
        """Their splits at one station."""
        return tuple(taken for taken in self.splits if taken.split.station == station)

    def forecast_at(self, station: int) -> tuple[Forecast, ...]:
        """What is still to come for them at one station."""
        return tuple(ahead for ahead in self.forecast if ahead.slot.station == station)

    def slots_at(self, station: int) -> tuple[Split | Coming, ...]:
        """What they did there and what is to come; an interval that was made longer is longer in its own round alone."""
        return (*(taken.split for taken in self.splits_at(station)), *(ahead.slot for ahead in self.forecast_at(station)))

    def usual_at(self, station: int) -> tuple[int, int]:
        """The interval, and the latest split that keeps the margin, of most rounds there, in milliseconds."""
        return mode((slot.window_ms, slot.window_ms - slot.margin_ms) for slot in self.slots_at(station))

    @property
    def last_forecasts(self) -> tuple[Forecast, ...]:
        """The last round of each station still to come; none of who was never tapped: it would only say what the class does."""
        latest = {ahead.slot.station: ahead for ahead in sorted(self.forecast, key=lambda ahead: ahead.slot.round)}
        return tuple(latest[station] for station in sorted(latest)) if self.tapped else ()

    @property
    def targets(self) -> tuple[Advice, ...]:
        """Their advice in the order of the stations."""
        return tuple(sorted(self.advice, key=lambda advice: advice.station))


@dataclass(frozen=True, slots=True)
class Group:
    """Some people of a part and what they have in common: a flag, or (without one) `word`."""

    word: str
    flag: Flag | None
    names: tuple[str, ...]

    @property
    def label(self) -> str:
        """The word, after the sign of the flag: `! tight`, `held`."""
        return self.word if self.flag is None else f"{SYMBOL[self.flag]} {self.word}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartDigest:
    """One part of the plan. Parts that nothing is known of have no athletes.

    `names` are those of its stations, in order, `moves` the moves as written there. `is_ranked`: the plan wants results ranked.
    """

    index: int
    kind: PartKind
    title: str
    athletes: tuple[AthleteDigest, ...] = ()
    stations: tuple[StationOverview, ...] = ()
    names: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    is_ranked: bool = False
    score: Score | None = None
    round_rest_ms: int = 0
    """Each athlete's own rest between two rounds, which is in no round time."""
    written: str = ""
    """The title in the plan, without the block."""
    path: tuple[str | int, ...] = ()
    """Of a part in blocks, where it stands in the plan; the same for all its blocks."""

    @property
    def same_work(self) -> tuple[str | int, ...]:
        """What all blocks of the same work have in common, and no other part."""
        return self.path or (self.index,)

    @property
    def score_unit(self) -> ScoreUnit | None:
        """What is counted in it, if anything."""
        return None if self.score is None else self.score.unit

    @property
    def sets(self) -> tuple[int, ...]:
        """The sets, from 1, in which anybody counted something."""
        results = [athlete.result for athlete in self.athletes if athlete.result is not None]
        return tuple(sorted({number for result in results for number, _ in result.scores if number}))

    @property
    def number(self) -> int:
        """Its place in the plan, from 1."""
        return self.index + 1

    @property
    def kind_words(self) -> str:
        """`for time`."""
        return self.kind.replace("_", " ")

    @property
    def is_timed_by_splits(self) -> bool:
        """True for rotations and intervals, unless all that was taken in them are results."""
        timed = self.kind in ("rotation", "intervals")
        return timed and (not self.has_results or any(athlete.splits for athlete in self.athletes))

    @property
    def has_results(self) -> bool:
        """Whether anybody has a result; a part with splits may have both."""
        return any(athlete.result is not None for athlete in self.athletes)

    @property
    def tapped(self) -> int:
        """How many athletes have a split."""
        return sum(athlete.tapped > 0 for athlete in self.athletes)

    @property
    def held(self) -> int:
        """How many athletes were tapped and never flagged."""
        return sum(athlete.held for athlete in self.athletes)

    @property
    def intervals(self) -> int:
        """The work intervals of all athletes together."""
        return sum(len(athlete.splits) for athlete in self.athletes)

    @property
    def untapped(self) -> int:
        """How many of them nobody tapped."""
        return sum(athlete.untapped for athlete in self.athletes)

    @property
    def to_come(self) -> bool:
        """Whether rounds are still to come for anybody."""
        return any(athlete.forecast for athlete in self.athletes)

    def count(self, flag: Flag) -> int:
        """How many athletes had a flag in it."""
        return sum(flag in athlete.flags for athlete in self.athletes)

    def station_name(self, station: int) -> str:
        """The name of a station (from 0), unique in the part."""
        if station < len(self.names):
            return self.names[station]
        return next((overview.name for overview in self.stations if overview.station == station), "")

    def work_name(self, station: int, move: str) -> str:
        """What somebody does at a station: its name, or their own move where that is another one (an option)."""
        written = self.moves[station] if station < len(self.moves) else move
        return move if move and move != written else self.station_name(station)

    def work_at(self, athlete: AthleteDigest, station: int) -> str:
        """What one athlete did and is to do at a station; where that changed, all of it: `swing / deadlift`.

        Who does an option is never shown the name of a move that they do not do.
        """
        moves = [taken.split.move for taken in athlete.splits_at(station)]
        moves += [ahead.slot.move for ahead in athlete.forecast_at(station)]
        return " / ".join(dict.fromkeys(self.work_name(station, move) for move in moves)) or self.station_name(station)

    def load_words(self, athlete: AthleteDigest, station: int) -> str:
        """The load somebody had at a station last, after its target: ` at 70 kg`; empty where there was none."""
        loads = [taken.split.load for taken in athlete.splits_at(station) if taken.split.load is not None]
        return f" at {loads[-1].words()}" if loads else ""

    def work_of(self, advice: Advice) -> str:
        """The work that an advice is about: the athlete's own move, or the station as it is called."""
        return advice.own_move or self.station_name(advice.station)

    def pace_words(self, athlete: AthleteDigest) -> str:
        """The drift of one athlete in one sentence; a station that stands out is named: `..., most at row: 2.4 s`."""
        known = [(figures.slope_ms, figures.station) for figures in athlete.stations if figures.slope_ms is not None]
        usual_ms = median_of_known([slope_ms for slope_ms, _ in known])
        words = drift_words(usual_ms)
        if usual_ms is None:
            return words
        worst_ms, worst = max(known)
        if worst_ms < STEADY_MS or worst_ms - usual_ms < STEADY_MS:
            return words
        place = self.work_at(athlete, worst)
        if usual_ms < STEADY_MS:
            return f"{words}, but {drift_words(worst_ms)} at {place}"
        return f"{words}, most at {place}: {worst_ms / 1000:.1f} s"

    @property
    def groups(self) -> tuple[Group, ...]:
        """Everybody of a part with splits: who held, who had which flag (the most urgent first), who was never tapped.

        A margin that is only forecast to go stands apart from one that went.
        """
        found = [Group(HELD, None, tuple(athlete.label for athlete in self.athletes if athlete.held))]
        for flag in sorted(Flag, key=URGENCY.__getitem__):
            having = [athlete for athlete in self.athletes if flag in athlete.flags]
            if flag is Flag.RUNS_OUT:
                found.append(Group(FORECAST, flag, tuple(athlete.label for athlete in having if athlete.runs_out is not None)))
                found.append(Group(RAN_OUT, flag, tuple(athlete.label for athlete in having if athlete.runs_out is None)))
            else:
                found.append(Group(str(flag), flag, tuple(athlete.label for athlete in having)))
        unknown = tuple(
            athlete.label for athlete in self.athletes if not athlete.tapped and not athlete.flags and athlete.result is None
        )
        found.append(Group(UNTAPPED, None, unknown))
        return tuple(group for group in found if group.names)

    @property
    def facts(self) -> tuple[str, ...]:
        """The class as a whole in this part, counted."""
        if not self.is_timed_by_splits:
            return self.result_facts
        held = held_words(self.held, self.tapped, len(self.athletes))
        flagged = [f"{len(group.names)} {group.word}" for group in self.groups if group.flag is not None]
        unknown = [f"{self.untapped} of {counted(self.intervals, 'interval')} not recorded"] if self.untapped else []
        return (held, *flagged, *unknown, *(self.result_facts if self.has_results else ()))

    @property
    def result_facts(self) -> tuple[str, ...]:
        """How many have a result, counted."""
        known = sum(athlete.result is not None for athlete in self.athletes)
        teams = " teams" if any(athlete.team for athlete in self.athletes) else ""
        counts = f"{known} of {len(self.athletes)}{teams} {'tapped out' if self.kind == 'paced' else 'with a result'}"
        unfinished = sum(athlete.result is not None and athlete.result.not_finished for athlete in self.athletes)
        return (counts, f"{unfinished} {Flag.NOT_FINISHED}") if unfinished else (counts,)

    @property
    def hardest(self) -> tuple[StationOverview, ...]:
        """The station with far more than its share of the tight intervals, or those that have as many; often none."""
        tight, tapped = self._tight_of_tapped
        if tight < FEWEST_TIGHT:
            return ()
        worst = max(self.stations, key=lambda station: (station.tight / max(1, station.tapped), station.tight))
        share = worst.tight * tapped / max(1, tight * worst.tapped)
        if len(self.stations) > 1 and share < min(STANDS_OUT, len(self.stations) * 0.75):
            return ()
        return tuple(station for station in self.stations if station is worst or station.tight >= worst.tight)

    @property
    def verdict(self) -> str:
        """How often the rest was short, and at which station that was most, in a sentence without its stop."""
        tight, tapped = self._tight_of_tapped
        if not tapped:
            return "nobody was tapped: nothing is known"
        if not tight:
            return f"the margin was kept in all {tapped} tapped intervals" if tapped > 1 else "the margin was kept"
        under = f"{tight} of {tapped} tapped intervals {'was' if tight == 1 else 'were'} under the margin"
        if len(self.stations) == 1:
            return under
        hardest = self.hardest
        if not hardest or len(hardest) == len(self.stations):
            return f"{under}; no station stands out"
        first, *others = hardest
        if first.tight == tight:
            return f"{under}, all at {first.name}"
        rest = [f"{station.tight} at {station.name}" for station in others]
        return f"{under}, {listed([f'{first.tight} of them at {first.name}', *rest])}"

    @property
    def in_order(self) -> tuple[AthleteDigest, ...]:
        """The athletes as a list of results has them: as on the board, or the best first where the plan wants ranks.

        Only results of the same work stand in one order.
        """
        return tuple(sorted(self.athletes, key=self._rank)) if self.is_ranked else self.athletes

    @property
    def result_rows(self) -> tuple[tuple[str, ...], ...]:
        """Headings, then a row for each athlete, `in_order`: name and result; the work and the laps where there are any."""
        rows = self.in_order
        results = [athlete.result for athlete in rows]
        columns = [
            ("athlete", *(athlete.label for athlete in rows)),
            ("result", *map(self.result_words, rows)),
        ]
        sets = [set_words(result, self.sets) for result in results]
        if any(sets):
            columns.append(("each set", *sets))
        if any(result is not None and result.choice for result in results):
            columns.append(("work", *((result.choice or "as written") if result else "" for result in results)))
        if any(result is not None and len(result.laps_ms) > 1 for result in results):
            columns.append(("rounds, each in min:s", *(lap_words(self.lap_times_ms(athlete)) for athlete in rows)))
        return tuple(zip(*columns, strict=True))

    def result_words(self, athlete: AthleteDigest) -> str:
        """What somebody reached, and counted: `6:12.4`, `3 rounds + 12, 350 m`, `104 reps, lowest 11`."""
        return result_words(athlete.result, self.kind, self.score_unit)

    def lap_times_ms(self, athlete: AthleteDigest) -> tuple[int, ...]:
        """How long each round took that was tapped."""
        return lap_times_ms(athlete.result, self.round_rest_ms)

    @property
    def _tight_of_tapped(self) -> tuple[int, int]:
        return sum(station.tight for station in self.stations), sum(station.tapped for station in self.stations)

    def _rank(self, athlete: AthleteDigest) -> tuple[str, int, float, int, int]:
        """Work as written first; known before unknown; a time beats a count in `for_time`, a longer stay in `paced`."""
        result = athlete.result
        if result is None:
            return ("", 0 if self.kind == "paced" else 3, 0, 0, 0)
        if self.score is not None:
            total = score_total(result, self.score_unit)
            return (result.choice, 3 if total is None else 1, -float(total or 0), 0, 0)
        count = (-(result.rounds or 0), -(result.reps or 0))
        if self.kind == "paced":
            return (result.choice, 1, -(result.time_ms or 0), *count)
        known = result.time_ms is not None or result.rounds is not None or result.reps is not None
        finished = result.time_ms is not None and self.kind == "for_time"
        rank = 2 if result.not_finished else 0 if finished else 1 if known else 3
        return (result.choice, rank, float(result.time_ms or 0) if rank == 0 else 0, *count)


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody to talk to, why in words, and what to change, where something helps: `step-up: drop to 8 reps?`.

    `over` is true where a forecast has come true; `where` is the title of the part, where there are several it could be.
    """

    athlete: str
    part: int
    flag: Flag
    because: str
    advice: str = ""
    over: bool = False
    where: str = ""
    team: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """The flag with its sign: `! tight`."""
        return flag_words(self.flag, over=self.over)

    @property
    def reason(self) -> str:
        """Why, with the part where it must be told."""
        return f"{self.because} ({self.where})" if self.where else self.because


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassDigest:
    """One class. `parts` are all parts of the plan, in its order; `calls` the most urgent first.

    `started` is the wall time in RFC 3339, a label; empty where it is not known. `athletes` are the names in the order of the
    board, `load` is everybody's, in that order. `paper`: nobody tapped, every split was written down by hand.
    """

    class_id: str
    session: str
    started: str
    rest_margin_s: float
    rehearsal: bool
    athletes: tuple[str, ...]
    parts: tuple[PartDigest, ...]
    calls: tuple[Call, ...] = ()
    load: tuple[SessionLoad, ...] = ()
    volume: tuple[VolumeLoad, ...] = ()
    paper: bool = False

    @property
    def day_words(self) -> str:
        """`2026-11-24 19:00`; empty where it is not known."""
        return self.started[:16].replace("T", " ")

    @property
    def margin_words(self) -> str:
        """`0:15`."""
        return duration_words(round(self.rest_margin_s * 1000))

    @property
    def people_words(self) -> str:
        """`16 athletes`."""
        return counted(len(self.athletes), "athlete")

    @property
    def recorded(self) -> tuple[PartDigest, ...]:
        """The parts that something is known of."""
        return tuple(part for part in self.parts if part.athletes)

    @property
    def timed(self) -> tuple[PartDigest, ...]:
        """Those of them with splits."""
        return tuple(part for part in self.recorded if part.is_timed_by_splits)

    @property
    def advised(self) -> tuple[PartDigest, ...]:
        """The parts in which somebody has an advice."""
        return tuple(part for part in self.parts if any(athlete.advice for athlete in part.athletes))

    def parts_of(self, name: str) -> tuple[tuple[PartDigest, AthleteDigest], ...]:
        """Each part in which something is known of an athlete, with what that is."""
        return tuple(
            (part, athlete) for part in self.parts for athlete in part.athletes if athlete.name == name or name in athlete.team
        )

    def calls_of(self, name: str) -> tuple[Call, ...]:
        """The calls that are about somebody, alone or in a team."""
        return tuple(call for call in self.calls if call.athlete == name or name in call.team)

    @property
    def called(self) -> tuple[Call, ...]:
        """Who to talk to: as many as anybody can."""
        return self.calls[:MOST_CALLS]

    @property
    def also_flagged(self) -> tuple[str, ...]:
        """Who has a flag beside those."""
        called = {call.athlete for call in self.called}
        return tuple(dict.fromkeys(call.athlete for call in self.calls[MOST_CALLS:] if call.athlete not in called))

    @property
    def nobody_words(self) -> str:
        """What stands in place of `calls` where there are none: all held, or nothing is known."""
        return CALM if any(part.tapped for part in self.parts) else UNKNOWN

    @property
    def targets_title(self) -> str:
        """What the advice is for: rounds still to come, or next time."""
        return "What to change" if any(part.to_come for part in self.parts) else "Next targets"

    @property
    def is_rated(self) -> bool:
        """Whether anybody rated the effort."""
        return any(load.effort is not None for load in self.load)

    def number_of(self, name: str) -> int:
        """The place of an athlete on the board, from 1; of a team (by its label) that of its first."""
        if name not in self.athletes:
            name = next(athlete.name for part in self.parts for athlete in part.athletes if athlete.label == name)
        return self.athletes.index(name) + 1
