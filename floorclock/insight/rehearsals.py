"""Many rehearsals of a plan before the class, with what earlier classes tell of its athletes; and of two plans side by side.

Invariant: two plans are played with the same luck, so that what differs is the plan's doing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, ClassVar, Final, NamedTuple

from floorclock.clock.state import new_state
from floorclock.insight.as_json import ANSWER, Seconds
from floorclock.insight.history import prior_of
from floorclock.live.plan_files import Plan
from floorclock.plan.durations import duration_words
from floorclock.plan.names import counted, listed
from floorclock.plan.tried import Tries, with_targets
from floorclock.simulate.many import AthleteChance, ClassChances, Finish, PartChances, Progress, Span, rehearse_many
from floorclock.store.store import Store

LIKELY: Final = 0.5
THE_CLASS: Final = "the class"
MOST_NAMED: Final = 8
LEAST_SAID: Final = 0.01
GUESSED: Final = "~"
"""Stands behind the name of somebody some of whose work rests on no earlier class."""
LEGEND: Final = (
    "In 100 classes like this one, so many times less than the margin is left; · is under 1. `any` is at least one round of all, "
    "the last row the mean of all people."
)
GUESS_LEGEND: Final = (
    f"{GUESSED} no class on record tells of some of their work: a usual pace stands in for it (common practice, no source), "
    "and is far less sure."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsals:
    """A plan played many times: `as_planned`, and `tried` with other targets, which `tried_words` say; None and empty without."""

    session: str
    margin_ms: Seconds[int]
    class_time_ms: Seconds[int | None]
    as_planned: ClassChances
    tried: ClassChances | None = None
    tried_words: str = ""
    own_targets: tuple[str, ...] = ()
    """Who has a target of their own for what is tried, so that theirs stands."""
    __pydantic_config__: ClassVar[dict[str, Any]] = ANSWER

    @property
    def is_guessed(self) -> bool:
        """Whether anybody's work rests on no earlier class."""
        return any(part.is_guessed for part in self.as_planned.parts)

    @property
    def parts(self) -> Iterator[tuple[PartChances, PartChances | None]]:
        """Each part as planned, and as tried."""
        others = self.tried.parts if self.tried is not None else (None,) * len(self.as_planned.parts)
        return zip(self.as_planned.parts, others, strict=True)

    @property
    def head_words(self) -> str:
        """`10,000 rehearsals, seed 1, rest margin 0:15`."""
        played = self.as_planned
        return f"{played.times:,} rehearsals, seed {played.seed}, rest margin {duration_words(self.margin_ms)}"

    @property
    def hour_words(self) -> Iterator[str]:
        """How long it all takes, of how much time."""
        hours = {"The hour": self.as_planned.hour_s}
        if self.tried is not None and self.tried.hour_s != self.as_planned.hour_s:
            hours[f"The hour with {self.tried_words}"] = self.tried.hour_s
        limit = "" if self.class_time_ms is None else f", in a class of {duration_words(self.class_time_ms)}"
        for which, hour in hours.items():
            yield f"{which}: {_span_words(hour)}{limit}."

    @property
    def tried_note(self) -> str:
        """Whose own target stands, whatever is tried."""
        stands = f"; own targets in the roster stand: {listed(self.own_targets, MOST_NAMED)}" if self.own_targets else ""
        return f"Tried: {self.tried_words}{stands}." if self.tried is not None else ""

    @property
    def notes(self) -> tuple[str, ...]:
        """What stands over all parts: what is tried, and how long it all takes."""
        return tuple(filter(None, (self.tried_note, *self.hour_words)))

    @property
    def legend(self) -> tuple[str, ...]:
        """What the figures mean, where there are any."""
        chances = (LEGEND,) if any(part.athletes for part, _ in self.parts) else ()
        return (*chances, GUESS_LEGEND) if self.is_guessed else chances

    def sentences(self, part: PartChances, tried: PartChances | None) -> list[str]:
        """What the figures of a part come to, then what else is to be said of it as tried."""
        return [*part_words(part), *(f"With {self.tried_words}: {words}" for words in tried_words(part, tried))]


def rehearsals(plan: Plan, store: Store, times: int, seed: int, tries: Tries, progress: Progress) -> Rehearsals:
    """Plays a plan with its roster many times, and once more with other targets where some are tried.

    Raises:
        ResourceError: the store refuses.
    """
    people = plan.roster.athletes
    prior = prior_of(store, [athlete.name for athlete in people])
    plans = [plan.session, *([with_targets(plan.session, tries)] if tries else [])]
    played = []
    for number, session in enumerate(plans):

        def told(done: int, of: int, number: int = number) -> None:
            progress(number * of + done, len(plans) * of)

        played.append(rehearse_many(new_state(session, people), prior, times, seed, told))
    return Rehearsals(
        session=plan.session.title,
        margin_ms=plan.session.rest_margin_ms,
        class_time_ms=plan.session.class_time_ms,
        as_planned=played[0],
        tried=played[1] if tries else None,
        tried_words=listed([f"{move} {target.words()}" for move, target in tries.items()]),
        own_targets=tuple(athlete.name for athlete in people if set(athlete.targets) & set(tries)),
    )


def part_words(part: PartChances) -> Iterator[str]:
    """What the figures of a part come to, a sentence each."""
    if part.athletes and part.in_trouble is not None:
        yield from _trouble_words(part, part.in_trouble)
    if part.finishes and part.last_s is not None:
        yield f"The last is done after {_span_words(part.last_s)}."
        late = [(finish.name, 1 - finish.in_time) for finish in part.finishes]
        late = sorted((chance for chance in late if chance[1] >= 1 - LIKELY), key=lambda chance: -chance[1])
        if late:
            yield f"More likely than not over the cap: {_chances(late)}."


def tried_words(part: PartChances, tried: PartChances | None) -> list[str]:
    """What is to be said of a part as tried that was not said of it as planned."""
    said = set(part_words(part))
    return [] if tried is None else [words for words in part_words(tried) if words not in said]


def _trouble_words(part: PartChances, trouble: Span) -> Iterator[str]:
    people = counted(len(part.athletes), "athlete")
    what = "are out before the end" if part.until_out else "drop under the margin at least once"
    span = "" if trouble.low == trouble.high else f"; in 80 of 100 classes {trouble.low:.0f} to {trouble.high:.0f}"
    yield f"{trouble.middle:.0f} of {people} {what}{span}."
    likely = sorted(
        ((athlete.name, athlete.any) for athlete in part.athletes if athlete.any >= LIKELY), key=lambda chance: -chance[1]
    )
    if likely:
        yield f"More likely than not: {_chances(likely)}."
    if part.until_out:
        yield "A column says who is out by then."
        return
    hardest, chance = max(class_row(part).items(), key=lambda place: (place[1], place[0].round))
    if chance >= LEAST_SAID:
        yield f"Hardest: {hardest.heading} in round {hardest.round}, {percent(chance)} of 100."


class ChanceColumn(NamedTuple):
    """One column of a grid of chances: a round at a station, or all of them (`ANY`)."""

    station: int
    round: int
    heading: str


ANY: Final = ChanceColumn(-1, 0, "any")
Chances = dict[ChanceColumn, float]


class ChanceRow(NamedTuple):
    """Somebody's chances, by column, as planned and (where something is tried) as tried."""

    name: str
    planned: Chances
    tried: Chances | None


def chance_grid(part: PartChances, tried: PartChances | None) -> tuple[list[ChanceColumn], list[ChanceRow]]:
    """The columns of a part timed by splits, `any` behind the rounds, and a row for everybody, the class as a whole last."""
    planned = [*((called(athlete), chances_of(athlete)) for athlete in part.athletes), (THE_CLASS, class_row(part))]
    others = [None] * len(planned) if tried is None else [*map(chances_of, tried.athletes), class_row(tried)]
    rows = [ChanceRow(*known, other) for known, other in zip(planned, others, strict=True)]
    return [*places_of(part), ANY], rows


def places_of(part: PartChances) -> list[ChanceColumn]:
    """The rounds at each station, in the order of the plan."""
    return sorted({place for athlete in part.athletes for place in chances_of(athlete)} - {ANY})


def chances_of(athlete: AthleteChance) -> Chances:
    """Every chance of one athlete, by column."""
    found = {
        ChanceColumn(at.station, number, at.written): chance
        for at in athlete.stations
        for number, chance in zip(at.rounds, at.chances, strict=True)
    }
    return {**found, ANY: athlete.any}


def class_row(part: PartChances) -> Chances:
    """The mean of everybody in each round at a station."""
    rows = [chances_of(athlete) for athlete in part.athletes]
    return {place: fmean(row[place] for row in rows if place in row) for place in places_of(part)}


def called(one: AthleteChance | Finish) -> str:
    """A name, or those of a team, with the sign of who has no history."""
    team = one.team if isinstance(one, Finish) else ()
    return " + ".join(team or (one.name,)) + (f" {GUESSED}" if one.guessed else "")


def percent(chance: float) -> str:
    """A chance in 100: `·` under one; nobody is surer than 99."""
    return "·" if chance < LEAST_SAID else f"{min(99, round(100 * chance))}"


def _chances(people: Sequence[tuple[str, float]]) -> str:
    named = [f"{name} {percent(chance)}" for name, chance in people]
    return listed(named, MOST_NAMED)


def _span_words(span: Span) -> str:
    low, middle, high = (duration_words(round(seconds) * 1000) for seconds in (span.low, span.middle, span.high))
    return middle if low == high else f"{middle} ({low} to {high} in 80 of 100)"
