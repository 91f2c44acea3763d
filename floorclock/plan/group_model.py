"""Start groups as a programme in whole numbers: its columns are how many of each sort of people are in each group.

Invariant: who is equal in level and kit, and in nobody's wish, is one sort. One group number holds for all rotations and waves
of a class, so they are one programme; what kit is in use is asked of `kit_needs`, so that the answer can be counted by it.

What is wished for, the first first: groups of one size, nothing carried between stations, levels spread, last week's groups.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from floorclock.plan.integer_programme import Budget, Programme, SolveStatus
from floorclock.plan.kit_needs import KitCount, KitUse, StationKit, in_group, place_of
from floorclock.plan.roster import Athlete, Roster, apart_pairs, clusters
from floorclock.plan.session import Session, Windowed
from floorclock.plan.totals import interval_count

MOST_PIECES = 999


def group_count(session: Session) -> int:
    """How many start groups the rotations of a session have: that of the longest; 1 where all move together."""
    return max(
        (len(part.stations) for part in session.parts if isinstance(part, Windowed) and not part.moves_together),
        default=1,
    )


@dataclass(frozen=True)
class PeopleSort:
    """People whom nothing tells apart: `units` of one or more names who stay together, `uses` of one unit in the first group."""

    units: tuple[tuple[str, ...], ...]
    levels: Counter[str]
    uses: Counter[KitUse]
    choices: tuple[EasierOption, ...] = ()

    @property
    def people(self) -> int:
        """How many one unit is."""
        return len(self.units[0])


@dataclass(frozen=True)
class EasierOption:
    """An easier option that a member of a unit could take: what the unit would use then."""

    member: int
    move: str
    option: str
    uses: Counter[KitUse] = field(hash=False)


def sorts_of(
    session: Session,
    roster: Roster,
    teams: Sequence[Sequence[str]],
    choose: Callable[[Athlete], Iterable[EasierOption]] | None = None,
) -> list[PeopleSort]:
    """The sorts of people of a class, in the order of the board; with `choose`, by what they could do instead, too."""
    athletes = {athlete.name: athlete for athlete in roster.athletes}
    working: dict[str, Counter[KitUse]] = defaultdict(Counter)
    for team, uses in KitCount(session, roster.athletes).workers:
        working[team[0]].update(uses)
    alone = {name for pair in apart_pairs(roster.athletes) for name in pair}
    found: dict[object, PeopleSort] = {}
    for unit in clusters(roster.athletes, teams):
        uses = sum((working[name] for name in unit), Counter[KitUse]())
        choices = tuple(
            replace(choice, member=at) for at, name in enumerate(unit) for choice in (choose(athletes[name]) if choose else ())
        )
        levels = Counter(athletes[name].level for name in unit)
        same = (
            *levels,
            frozenset(uses.items()),
            tuple((choice.move, choice.option, frozenset(choice.uses.items())) for choice in choices),
        )
        key: object = unit if len(unit) > 1 or unit[0] in alone else same
        known = found.get(key)
        found[key] = PeopleSort((*(known.units if known else ()), unit), levels, uses, choices)
    return list(found.values())


class Model:
    """The programme of one number of groups. `more` allows kit to be bought, `options` allows easier options to be taken."""

    def __init__(
        self,
        session: Session,
        roster: Roster,
        sorts: Sequence[PeopleSort],
        count: int,
        *,
        more: bool = False,
        options: bool = False,
    ) -> None:
        self.session, self.roster, self.sorts, self.count = session, roster, sorts, count
        self.programme = Programme()
        self.many = [[self.programme.column(0, len(sort.units)) for _ in range(count)] for sort in sorts]
        self.bought: dict[str, int] = {}
        self.taken: dict[tuple[int, int, int], int] = {}
        self._more, self._options = more, options
        for sort, columns in zip(sorts, self.many, strict=True):
            self.programme.row(dict.fromkeys(columns, 1), len(sort.units), len(sort.units))
        self._carried = self._kit()
        self._apart()
        self._size = self._spread([sort.people for sort in sorts], len(roster.athletes))
        if group_count(session) == 1:
            # A wave in which nobody starts is none.
            for group in range(count):
                self.programme.row({columns[group]: 1 for columns in self.many}, 1, None)

    def solve_first(self, cost: Mapping[int, int], budget: Budget) -> SolveStatus:
        """Groups of one size, and then the smallest sum of something else."""
        return self.programme.in_order([(self._size, int(len(self.roster.athletes) % self.count > 0)), (cost, 0)], budget)

    def solve(self, budget: Budget) -> SolveStatus:
        """Everything that is wished for, one after the other."""
        total, count = len(self.roster.athletes), self.count
        levels = Counter(athlete.level for athlete in self.roster.athletes)
        mixed: Counter[int] = Counter()
        for level, people in levels.items():
            mixed.update(self._spread([sort.levels[level] for sort in self.sorts], people))
        stays = self._stays()
        wishes = [
            (self._size, int(total % count > 0)),
            (dict.fromkeys(self._carried, 1), 0),
            (mixed, sum(people % count > 0 for people in levels.values())),
            (stays, -len(self._known())),
        ]
        return self.programme.in_order([wish for wish in wishes if wish[0]], budget)

    def groups(self) -> dict[str, int]:
        """Everybody's group by the last answer, in the order of the board; of equal people those who know a group stay in it."""
        known = self._known()
        found: dict[str, int] = {}
        for sort, columns in zip(self.sorts, self.many, strict=True):
            left = {group: self.programme.values[column] for group, column in enumerate(columns, start=1)}
            moving = []
            for unit in sort.units:
                own = Counter(known[name] for name in unit if name in known).most_common(1)
                group = own[0][0] if own and left.get(own[0][0]) else 0
                if group:
                    left[group] -= 1
                    found.update(dict.fromkeys(unit, group))
                else:
                    moving.append(unit)
            free = [group for group, places in left.items() for _ in range(places)]
            for unit, group in zip(moving, free, strict=True):
                found.update(dict.fromkeys(unit, group))
        return {athlete.name: found[athlete.name] for athlete in self.roster.athletes}

    def options_taken(self) -> Iterator[tuple[str, str, str]]:
        """Who takes which option at which move, by the last answer."""
        groups = self.groups()
        for (number, group, which), column in self.taken.items():
            sort = self.sorts[number]
            choice, units = sort.choices[which], [unit for unit in sort.units if groups[unit[0]] == group]
            # Of one move everybody takes one option at most: who has one is passed over.
            before = sum(
                self.programme.values[self.taken[number, group, other]]
                for other in range(which)
                if (sort.choices[other].member, sort.choices[other].move) == (choice.member, choice.move)
            )
            for unit in units[before : before + self.programme.values[column]]:
                yield unit[choice.member], choice.move, choice.option

    def _known(self) -> dict[str, int]:
        """Last week's groups, of those who have one that there still is."""
        grouped = self.roster.grouped
        return {
            athlete.name: athlete.group
            for athlete in self.roster.athletes
            if athlete.name in grouped and athlete.group <= self.count
        }

    def _kit(self) -> list[int]:
        """Rows for what there is of each kind at each moment; the columns of what has to be carried."""
        now: dict[tuple[int, int, str], Counter[int]] = defaultdict(Counter)
        has: dict[str, int] = {}
        known: dict[tuple[int, int, str, str], tuple[list[tuple[str, int]], StationKit | None]] = {}
        places: dict[StationKit, dict[tuple[int, str], dict[int, Counter[int]]]] = defaultdict(
            lambda: defaultdict(lambda: defaultdict(Counter))
        )
        for use, column, many in self._terms():
            of = (use.part, use.station, use.kit, use.load)
            if of not in known:
                counts_of = self.session.kit_counts(use.kit, use.load)
                known[of] = [(kind, there) for kind, there in counts_of if there is not None], place_of(self.session, use)
            counted, place = known[of]
            for kind, there in counted:
                now[use.part, use.moment, kind][column] += many
                has[kind] = there
            if place is not None:
                places[place][use.station, use.load][use.moment][column] += many
        if self._more:
            self.bought = {kind: self.programme.column(0, MOST_PIECES) for kind in has}
        rows = {(kind, frozenset(terms.items())): terms for (_, _, kind), terms in now.items()}
        for (kind, _), terms in rows.items():
            if self._more or sum(max(0, many) * self.programme.bounds[column][1] for column, many in terms.items()) > has[kind]:
                self.programme.row({**terms, **self._buying(kind)}, None, has[kind])
        return [self._carry(place, at) for place, at in places.items() if len(at) > 1]

    def _buying(self, kind: str) -> dict[int, int]:
        """The columns that make more of a kind: its own, and those of its loads."""
        loads = (f"{load} {kind}" for load in self.session.kit_loads.get(kind, ()))
        return {self.bought[name]: -1 for name in (kind, *loads) if name in self.bought}

    def _carry(self, place: StationKit, at: Mapping[tuple[int, str], Mapping[int, Mapping[int, int]]]) -> int:
        """The column of how many pieces of one kind do not stay where they were put."""
        part = self.session.parts[place.part]
        over, peaks = self.programme.column(0, MOST_PIECES), []
        for (station, load), moments in at.items():
            # Where everybody comes by once, a peak is no less than the average: said, because it makes the search short.
            whole = sum(
                many * len(sort.units)
                for sort in self.sorts
                for use, many in sort.uses.items()
                if (use.part, use.station, use.load) == (place.part, station, load) and place_of(self.session, use) == place
            )
            stations = len(part.stations)
            known = not self._options and interval_count(part) >= stations
            peak = self.programme.column(-(-whole // stations) if known else 0, MOST_PIECES)
            peaks.append(peak)
            for terms in moments.values():
                self.programme.row({**terms, peak: -1}, None, 0)
        self.programme.row({**dict.fromkeys(peaks, 1), over: -1, **self._buying(place.kit)}, None, place.has)
        return over

    def _terms(self) -> Iterator[tuple[KitUse, int, int]]:
        """Every use with its column: of a unit in a group, and what an option would change of it."""
        for number, (sort, columns) in enumerate(zip(self.sorts, self.many, strict=True)):
            for group, column in enumerate(columns, start=1):
                yield from ((use, column, many) for use, many in in_group(self.session, sort.uses, group).items())
                taken: dict[tuple[int, str], list[int]] = defaultdict(list)
                for which, choice in enumerate(sort.choices if self._options else ()):
                    chosen = self.taken[number, group, which] = self.programme.column(0, len(sort.units))
                    taken[choice.member, choice.move].append(chosen)
                    yield from ((use, chosen, many) for use, many in in_group(self.session, choice.uses, group).items())
                for chosen_columns in taken.values():
                    self.programme.row({**dict.fromkeys(chosen_columns, 1), column: -1}, None, 0)

    def _apart(self) -> None:
        sort_of = {name: number for number, sort in enumerate(self.sorts) for unit in sort.units for name in unit}
        for first, second in apart_pairs(self.roster.athletes):
            for column, other in zip(self.many[sort_of[first]], self.many[sort_of[second]], strict=True):
                self.programme.row({column: 1, other: 1} if column != other else {column: 2}, None, 1)

    def _spread(self, people: Sequence[int], total: int) -> Counter[int]:
        """The largest group less the smallest, where a unit of each sort counts as so many people."""
        count = self.count
        low, high = self.programme.column(0, total // count), self.programme.column(-(-total // count), total)
        for group in range(count):
            terms = {columns[group]: many for many, columns in zip(people, self.many, strict=True) if many}
            self.programme.row({**terms, low: -1}, 0, None)
            self.programme.row({**terms, high: -1}, None, 0)
        return Counter({high: 1, low: -1})

    def _stays(self) -> Counter[int]:
        """Less one for everybody who stays in last week's group."""
        known, stays = self._known(), Counter[int]()
        for sort, columns in zip(self.sorts, self.many, strict=True):
            for group, people in Counter(known[name] for unit in sort.units for name in unit if name in known).items():
                column = self.programme.column(0, people)
                self.programme.row({column: 1, columns[group - 1]: -sort.people}, None, 0)
                stays[column] = -1
        return stays
