"""Start groups: who begins where, so that nobody ever waits for kit; where none are so, the smallest changes that would help.

Invariant: what comes out of here, groups or a change, was counted again by `kit_needs`, in plain Python.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from floorclock.plan.durations import duration_words, in_words
from floorclock.plan.group_model import EasierOption, Model, PeopleSort, group_count, sorts_of
from floorclock.plan.integer_programme import Budget, SolveStatus, WrongAnswer
from floorclock.plan.kit_needs import Carried, KitCount, KitNeed, KitUse, carried_in, needs_of, own_uses
from floorclock.plan.names import MOST_NAMES, listed, plural
from floorclock.plan.roster import Athlete, Roster, assign, avoids
from floorclock.plan.session import Piece, Session
from floorclock.plan.work import Station

MOST_WAVES = 12
SPACINGS_S = range(30, 601, 30)
"""What a coach would write behind `wave_every`."""
MOST_WISHES = 8

Teams = Sequence[Sequence[str]]
Groups = Mapping[str, int]
"""By name, the start group from 1."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Everybody's start group; nobody's where there are no groups in which nobody waits. `short` is kit that somebody waits for.

    `proven` is false where the time was up before it was clear that nothing is better.
    """

    groups: Groups
    count: int
    proven: bool = True
    short: tuple[KitNeed, ...] = ()
    carried: tuple[Carried, ...] = ()


def recount(session: Session, athletes: Sequence[Athlete], groups: Groups, count: int) -> Placed:
    """What start groups come to, in plain Python."""
    uses = KitCount(session, athletes).in_groups(groups)
    short = tuple(need for need in needs_of(session, uses) if need.short)
    return Placed(groups=groups, count=count, short=short, carried=carried_in(session, uses))


def place(session: Session, roster: Roster, teams: Teams = (), budget: Budget | None = None) -> Placed:
    """The best start groups in which nobody waits.

    Args:
        session: the plan, with its kit.
        roster: who comes, with their wishes and last week's groups.
        teams: who work as one, by name.
        budget: the time to look for something better.

    Raises:
        WrongAnswer: the solver's answer does not hold.
    """
    budget, sorts, sure = budget or Budget(), sorts_of(session, roster, teams), True
    for count in counts(session, roster):
        if budget.left_s <= 0:
            sure = False
            break
        model = Model(session, roster, sorts, count)
        status = model.solve(budget)
        if model.programme.values:
            placed = recount(session, roster.athletes, model.groups(), count)
            if placed.short:
                raise WrongAnswer("the solver's start groups leave somebody waiting; nothing was changed")
            return replace(placed, proven=sure and status is SolveStatus.BEST)
        sure = sure and status is SolveStatus.IMPOSSIBLE
    return Placed(groups={}, count=0, proven=sure)


def counts(session: Session, roster: Roster) -> range:
    """How many groups there could be: as many as stations, or as few waves as will do."""
    stations = group_count(session)
    if stations == 1 and any(isinstance(part, Piece) and part.wave_every_ms for part in session.parts):
        return range(1, min(MOST_WAVES, len(roster.athletes)) + 1)
    return range(stations, stations + 1)


@dataclass(frozen=True, kw_only=True)
class SmallestChange:
    """One change that is enough: more kit, easier options (athlete, move, option), a wish of two given up, or later waves."""

    words: str
    kit: Mapping[str, int] = field(default_factory=dict)
    options: tuple[tuple[str, str, str], ...] = ()
    wish: tuple[str, ...] = ()
    wave_every_ms: int | None = None
    last_wave_ms: int = 0


def smallest_changes(session: Session, roster: Roster, teams: Teams = ()) -> tuple[SmallestChange, ...]:
    """The smallest change of each kind; none of a kind that does not help by itself. Each kind has its own time."""
    kinds = (more_kit, easier_options, wishes_given_up, other_waves)
    return tuple(change for kind in kinds for change in kind(session, roster, teams, Budget()))


def more_kit(session: Session, roster: Roster, teams: Teams, budget: Budget) -> Iterator[SmallestChange]:
    """The fewest pieces, with groups as even as can be."""
    model = _fewest(session, roster, sorts_of(session, roster, teams), budget, more=True)
    kit = {kind: many for kind, column in model.bought.items() if (many := model.programme.values[column])} if model else {}
    if model and not recount(with_kit(session, kit), roster.athletes, model.groups(), 0).short:
        words = [f"{in_words(many)} more {plural(kind, many)}" for kind, many in kit.items()]
        yield SmallestChange(words=listed(words), kit=kit)


def _fewest(
    session: Session, roster: Roster, sorts: Sequence[PeopleSort], budget: Budget, *, more: bool = False, options: bool = False
) -> Model | None:
    """The programme, solved, of as many groups as need the fewest pieces or options; None where none of them help."""
    best: tuple[int, Model | None] = (0, None)
    for count in counts(session, roster):
        model = Model(session, roster, sorts, count, more=more, options=options)
        columns = [*model.bought.values(), *model.taken.values()]
        model.solve_first(dict.fromkeys(columns, 1), budget)
        many = sum(model.programme.values[column] for column in columns) if model.programme.values else 0
        if many and (not best[0] or many < best[0]):
            best = (many, model)
    return best[1]


def easier_options(session: Session, roster: Roster, teams: Teams, budget: Budget) -> Iterator[SmallestChange]:
    """The fewest athletes on an easier option; each is one that they may do."""
    sorts = sorts_of(session, roster, teams, lambda athlete: _choices(session, athlete))
    model = _fewest(session, roster, sorts, budget, options=True) if any(sort.choices for sort in sorts) else None
    taken = tuple(model.options_taken()) if model else ()
    if model and not recount(session, with_options(roster.athletes, taken), model.groups(), 0).short:
        at: dict[tuple[str, str], list[str]] = defaultdict(list)
        for name, move, option in taken:
            at[option, move].append(name)
        words = [
            f"{in_words(len(names))} {plural('athlete', len(names))} on {option} at {move} ({listed(names, MOST_NAMES)})"
            for (option, move), names in at.items()
        ]
        yield SmallestChange(words=listed(words), options=taken)


def wishes_given_up(session: Session, roster: Roster, teams: Teams, budget: Budget) -> Iterator[SmallestChange]:
    """Any one wish without which there are groups."""
    wishes = [
        (athlete.name, name, key)
        for athlete in roster.athletes
        for key in ("together", "apart")
        for name in sorted(getattr(athlete, key))
    ]
    for name, other, key in islice(wishes, MOST_WISHES):
        without = [
            replace(athlete, **{key: getattr(athlete, key) - {other, name}})
            if athlete.name.casefold() in (name.casefold(), other.casefold())
            else athlete
            for athlete in roster.athletes
        ]
        if place(session, replace(roster, athletes=tuple(without)), teams, budget).groups:
            yield SmallestChange(
                words=f"{name} and {other} {'in two groups' if key == 'together' else 'in one group'}", wish=(name, other)
            )


def other_waves(session: Session, roster: Roster, teams: Teams, budget: Budget) -> Iterator[SmallestChange]:
    """Another time between waves, with which nobody waits and the last wave begins earliest."""
    now = {part.wave_every_ms for part in session.parts if isinstance(part, Piece) and part.wave_every_ms}
    found: list[tuple[int, int, int]] = []
    for every_s in SPACINGS_S if len(now) == 1 else ():
        parts = tuple(
            replace(part, wave_every_ms=every_s * 1000) if isinstance(part, Piece) and part.wave_every_ms else part
            for part in session.parts
        )
        placed = place(replace(session, parts=parts), roster, teams, budget)
        if placed.groups:
            waves = max(placed.groups.values())
            found.append(((waves - 1) * every_s, waves, every_s))
    if found:
        last_s, waves, every_s = min(found)
        words = f"wave_every: {duration_words(every_s * 1000)}, in {in_words(waves)} waves"
        yield SmallestChange(words=words, wave_every_ms=every_s * 1000, last_wave_ms=last_s * 1000)


def with_kit(session: Session, more: Mapping[str, int]) -> Session:
    """The session with more kit, by name or by load and name."""
    kit, loads = dict(session.kit), {name: dict(own) for name, own in session.kit_loads.items()}
    for kind, many in more.items():
        name, load = next(((name, load) for name in loads for load in loads[name] if f"{load} {name}" == kind), (kind, ""))
        kit[name] = kit.get(name, 0) + many
        if load:
            loads[name][load] += many
    return replace(session, kit=kit, kit_loads=loads)


def with_options(athletes: Sequence[Athlete], taken: Sequence[tuple[str, str, str]]) -> list[Athlete]:
    """The athletes with other options taken."""
    own: dict[str, dict[str, str]] = defaultdict(dict)
    for name, move, option in taken:
        own[name][move] = option
    return [
        replace(athlete, options={**athlete.options, **own[athlete.name]}) if athlete.name in own else athlete
        for athlete in athletes
    ]


def _choices(session: Session, athlete: Athlete) -> Iterator[EasierOption]:
    """The options behind the one that they do, as far as they may do them, with what each changes of the kit in use."""
    before = _all_uses(session, athlete)
    stations: dict[str, Station] = {station.move: station for station in session.moves() if station.options}
    for move, station in stations.items():
        names = [option.name for option in station.options]
        at = assign(athlete, station).option
        for option in station.options[names.index(at) + 1 if at in names else 0 :]:
            if (option.guarded and option.move not in athlete.experienced) or avoids(athlete, option):
                continue
            after = _all_uses(session, replace(athlete, options={**athlete.options, move: option.name}))
            change = Counter({use: after[use] - before[use] for use in before | after})
            if any(many < 0 for many in change.values()):
                yield EasierOption(0, move, option.name, Counter({use: many for use, many in change.items() if many}))


def _all_uses(session: Session, athlete: Athlete) -> Counter[KitUse]:
    return sum((own_uses(session, number, athlete) for number in range(len(session.parts))), Counter[KitUse]())
