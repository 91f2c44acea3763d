"""Who is with whom and who starts where, for one plan and one roster: teams, start groups, and what would have to change.

Invariant: teams come first; where a team works in a part with start groups or waves, it stays together in them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from floorclock.plan.durations import seconds
from floorclock.plan.even_teams import even_teams
from floorclock.plan.group_model import group_count
from floorclock.plan.integer_programme import Budget
from floorclock.plan.kit_needs import KitNeed, kit_needs
from floorclock.plan.roster import Roster, make_teams
from floorclock.plan.session import AnyPart, OpenPart, Piece, Session, Windowed
from floorclock.plan.start_groups import Placed, SmallestChange, other_waves, place, smallest_changes
from floorclock.plan.totals import too_long_words
from floorclock.plan.work import station_names

NOBODY: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class Arrangement:
    """What was found. `placed` is None where a plan has no start groups; its groups are empty where none keep all from waiting.

    `teams` are by number, from 1; empty where a plan has none, or none that a roster could hold. `changes` are each enough;
    where everybody has a place, they would let the last wave begin sooner. `short` is kit that is short whatever the groups,
    and `enough` what would be enough there.
    """

    session: Session
    roster: Roster
    placed: Placed | None = None
    teams: Mapping[int, tuple[str, ...]]
    changes: tuple[SmallestChange, ...] = ()
    short: tuple[KitNeed, ...] = ()
    enough: tuple[SmallestChange, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def too_long(self) -> str:
        """That the plan does not fit its class in these groups, as `check` says it; empty where it does."""
        groups = self.placed.groups if self.placed else {}
        return too_long_words(
            self.session, [replace(athlete, group=groups.get(athlete.name, 1)) for athlete in self.roster.athletes]
        )[0]

    @property
    def possible(self) -> bool:
        """Whether everybody has a place."""
        return self.placed is None or bool(self.placed.groups)

    def begins(self, group: int) -> tuple[tuple[str, str | float], ...]:
        """Where a start group begins: by the title of a part, a station, or how many seconds after the first wave."""
        found: list[tuple[str, str | float]] = []
        for part in _grouped_parts(self.session):
            if isinstance(part, Windowed):
                found.append((part.title, station_names(part.stations)[(group - 1) % len(part.stations)]))
            elif isinstance(part, Piece):
                found.append((part.title, seconds((group - 1) * part.wave_every_ms)))
        return tuple(found)

    def members(self) -> dict[int, tuple[str, ...]]:
        """The names of each start group, in the order of the board."""
        placed = self.placed
        if placed is None or not placed.groups:
            return {}
        return {group: tuple(name for name, own in placed.groups.items() if own == group) for group in range(1, placed.count + 1)}

    def fields(self) -> dict[str, dict[str, int]]:
        """What a roster should have: by athlete, `group` and `team`."""
        own: dict[str, dict[str, int]] = {athlete.name: {} for athlete in self.roster.athletes}
        for name, group in (self.placed.groups if self.placed else {}).items():
            own[name]["group"] = group
        for number, team in self.teams.items():
            for name in team:
                own[name]["team"] = number
        return {name: fields for name, fields in own.items() if fields}

    def to_json(self) -> dict[str, Any]:
        """The shape of `groups --json`."""
        names = {number: station_names(part.stations) for number, part in enumerate(self.session.parts)}
        carried = self.placed.carried if self.placed else ()
        return {
            "session": self.session.title,
            "possible": self.possible,
            "proven": self.placed is None or self.placed.proven,
            "groups": [
                {
                    "group": group,
                    "begins": [
                        {"part": title, ("station" if isinstance(begins, str) else "at_s"): begins}
                        for title, begins in self.begins(group)
                    ],
                    "athletes": list(members),
                }
                for group, members in self.members().items()
            ],
            "carried": [
                {
                    "part": self.session.parts[carry.part].title,
                    "kit": carry.kit,
                    "pieces": carry.pieces,
                    "stations": [names[carry.part][at] for at in carry.stations],
                }
                for carry in carried
            ],
            "teams": [{"team": number, "athletes": list(team)} for number, team in self.teams.items()],
            "changes": [_change_json(change) for change in self.changes],
            "short": [
                {"part": self.session.parts[need.part].title, "kit": need.kit, "needed": need.needed, "has": need.has}
                for need in self.short
            ],
            "enough": [_change_json(change) for change in self.enough],
            "notes": [*self.notes, self.too_long] if self.too_long else list(self.notes),
        }


def arrange(session: Session, roster: Roster) -> Arrangement:
    """Teams and start groups for a plan and a roster; where nobody can be kept from waiting, the smallest changes.

    Raises:
        WrongAnswer: the solver's answer does not hold.
    """
    grouped = _grouped_parts(session)
    sizes = sorted({part.team_size for part in session.parts if part.team_size > 1})
    teams, notes = _teams(roster, sizes)
    numbered = {name: number for number, team in teams.items() for name in team}
    roster = replace(
        roster, athletes=tuple(replace(athlete, team=numbered.get(athlete.name, athlete.team)) for athlete in roster.athletes)
    )
    # Whatever the groups: in the other parts everybody begins together.
    others = _without(session, grouped)
    strangers = replace(roster, athletes=tuple(replace(athlete, together=NOBODY, apart=NOBODY) for athlete in roster.athletes))
    short = tuple(need for need in kit_needs(others, roster) if need.short)
    enough = smallest_changes(others, strangers) if short else ()
    placed: Placed | None = None
    changes: tuple[SmallestChange, ...] = ()
    if grouped:
        begin = _without(session, [part for part in session.parts if part not in grouped])
        shared = [team for part in grouped if part.team_size > 1 for team in make_teams(roster.athletes, part.team_size)]
        placed = place(begin, roster, shared)
        changes = _sooner(begin, roster, shared, placed) if placed.groups else smallest_changes(begin, roster, shared)
    return Arrangement(
        session=session, roster=roster, placed=placed, teams=teams, changes=changes, short=short, enough=enough, notes=notes
    )


def _sooner(session: Session, roster: Roster, shared: Sequence[Sequence[str]], placed: Placed) -> tuple[SmallestChange, ...]:
    """Another time between waves, where the last of them begins sooner with it."""
    if group_count(session) > 1 or placed.count == 1:
        return ()
    now_ms = max(part.wave_every_ms for part in _grouped_parts(session) if isinstance(part, Piece)) * (placed.count - 1)
    return tuple(change for change in other_waves(session, roster, shared, Budget()) if change.last_wave_ms < now_ms)


def _grouped_parts(session: Session) -> list[AnyPart]:
    """The parts in which start groups matter; of a block the first only."""
    return [
        part
        for part in session.parts
        if not part.is_again
        if (isinstance(part, Windowed) and not part.moves_together and len(part.stations) > 1)
        or (isinstance(part, Piece) and part.wave_every_ms)
    ]


def _without(session: Session, parts: Sequence[AnyPart]) -> Session:
    """The session with open parts in the place of some, and of what is done once more in a block."""
    left = tuple(OpenPart(title=part.title) if part in parts or part.is_again else part for part in session.parts)
    return replace(session, parts=left)


def _teams(roster: Roster, sizes: Sequence[int]) -> tuple[dict[int, tuple[str, ...]], tuple[str, ...]]:
    """Teams by number, those of the roster under theirs; and why there are none."""
    if not sizes:
        return {}, ()
    said = ["pairs" if size == 2 else f"teams of {size}" for size in sizes]
    if len(sizes) > 1:
        return {}, (f"{' and '.join(said)} in one plan: a team's number holds in all parts, so they are made on the floor",)
    made = even_teams(roster.athletes, sizes[0])
    if made is None:
        return {}, (f"no {said[0]} keep every `with` and `not_with`: take one out; without that they are made level by level",)
    written = {athlete.name: athlete.team for athlete in roster.athletes}
    kept = {
        team: number for team in made if (number := written[team[0]]) is not None and {written[name] for name in team} == {number}
    }
    free = iter(number for number in range(1, len(made) + len(kept) + 1) if number not in kept.values())
    numbers = {kept[team] if team in kept else next(free): team for team in made}
    return dict(sorted(numbers.items())), ()


def _change_json(change: SmallestChange) -> dict[str, Any]:
    return {
        "words": change.words,
        "kit": dict(change.kit),
        "options": [{"athlete": name, "move": move, "option": option} for name, move, option in change.options],
        "wish": list(change.wish),
        "wave_every_s": seconds(change.wave_every_ms),
    }
