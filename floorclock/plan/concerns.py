"""What a coach would want to know about a plan before the class: warnings, never errors.

Invariant: every warning says what to write instead, and stands at the part or station that it is about.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from floorclock.errors import Problem
from floorclock.plan.document import MOST_PROBLEMS, Path, Place, path_words
from floorclock.plan.durations import duration_words
from floorclock.plan.kit_needs import KitNeed, all_kit
from floorclock.plan.names import nearest
from floorclock.plan.roster import Athlete, Roster, assign
from floorclock.plan.session import AnyPart, ForTime, Intervals, Rotation, Session
from floorclock.plan.totals import count_in_ms, interval_count, planned_ms, rounds_at
from floorclock.plan.work import LoadUnit, Station, amount_said, station_names, under_least
from floorclock.plan.work_fit import Fit, fit_of

MOST_NAMES = 6


class Concerns:
    """Goes through a plan and collects warnings in `found`."""

    def __init__(self, session: Session, roster: Roster | None, file: str, places: Mapping[Path, Place]) -> None:
        self.session = session
        self.athletes: Sequence[Athlete] = roster.athletes if roster else ()
        self.file = file
        self.places = places
        self.found: list[Problem] = []

    def all(self, needs: Iterable[KitNeed]) -> tuple[Problem, ...]:
        """The warnings, part by part; where there are more than anybody reads, the rest of the plan is not looked at."""
        self._class_time()
        for part in self.session.parts:
            if part.block is not None and part.block[0] > 1:
                continue  # What is to be said of a block was said of the first.
            if len(self.found) >= MOST_PROBLEMS:
                self.say(part.path, "there is more to say from here on", "mend some of this first")
                return tuple(self.found)
            if isinstance(part, Rotation | Intervals):
                self._even(part)
                self._patterns(part)
                self._fits(part)
                self._least(part)
                self._windows(part)
            self._ladders(part)
            self._listed_kit(part)
            self._not_for_them(part)
            self._bests(part)
        for need in needs:
            self._kit(need)
        return tuple(self.found)

    def say(self, path: Path, message: str, hint: str) -> None:
        at = path
        while at and at not in self.places:
            at = at[:-1]
        line, column = self.places.get(at, (0, 0)) if at else (0, 0)
        self.found.append(Problem(self.file, line, column, path_words(path), message, hint, "warning"))

    def _class_time(self) -> None:
        limit = self.session.class_time_ms
        planned = sum(planned_ms(part) + count_in_ms(part, self.session) for part in self.session.parts)
        if limit is not None and planned > limit:
            over = duration_words(planned - limit)
            message = f"the plan takes {duration_words(planned)} with its count-ins, {over} longer than the class"
            self.say(("class_time",), message, f"take out {over}, or write class_time: {duration_words(planned)}")

    def _even(self, part: Rotation | Intervals) -> None:
        whole, more = divmod(interval_count(part), len(part.stations))
        if not more:
            return
        names = station_names(part.stations)
        message = f"{interval_count(part)} intervals over {len(names)} stations: one round more at {listed(names[:more])}"
        lower, upper = whole * len(names), (whole + 1) * len(names)
        if isinstance(part, Intervals):
            better = f"sets: {lower} or sets: {upper}" if lower else f"sets: {upper}"
            self.say((*part.path, "sets"), message, f"write {better}")
        else:
            lengths = [f"for: {duration_words(count * part.every_ms)}" for count in (lower, upper) if count]
            self.say((*part.path, "for"), message, f"write {' or '.join(lengths)}")

    def _patterns(self, part: Rotation | Intervals) -> None:
        stations = part.stations
        names = station_names(stations)
        for index in range(len(stations) if len(stations) > 2 else len(stations) - 1):
            following = (index + 1) % len(stations)
            if following == 0 and interval_count(part) <= len(stations):
                continue
            pattern = stations[index].pattern
            if pattern and pattern == stations[following].pattern:
                message = f"{names[following]} follows {names[index]}, and both are {pattern}"
                self.say((*part.path, "stations", following), message, "put a rest or another pattern between them")

    def _fits(self, part: Rotation | Intervals) -> None:
        shortest_ms = min(part.window_ms(index) for index in range(len(part.stations)))
        if self.session.margin_ms(part) >= shortest_ms and any(station.target for station in part.stations):
            margin = duration_words(self.session.margin_ms(part))
            message = f"the rest margin of {margin} leaves no time to work in {duration_words(shortest_ms)}"
            self.say(part.path, message, "give the part its own rest_margin: 0 or so")
            return
        for index, (station, rounds) in enumerate(zip(part.stations, rounds_at(part), strict=True)):
            path, window_ms = (*part.path, "stations", index), part.window_ms(index)
            margin_ms = self.session.margin_ms(part, station)
            as_written = fit_of(station.move, station.target, station.pattern, window_ms, margin_ms)
            if as_written and as_written.first_round_over(rounds):
                self._does_not_fit(path, as_written, rounds, ())
            for fit, names in self._own_fits(station, window_ms, margin_ms).items():
                if fit != as_written and fit.first_round_over(rounds):
                    self._does_not_fit(path, fit, rounds, names)

    def _own_fits(self, station: Station, window_ms: int, margin_ms: int) -> Mapping[Fit, tuple[str, ...]]:
        fits: dict[Fit, tuple[str, ...]] = {}
        for athlete in () if station.is_rest else self.athletes:
            what = assign(athlete, station)
            pattern = next((option.pattern for option in station.options if option.name == what.option), station.pattern)
            own = margin_ms if athlete.rest_margin_ms is None else athlete.rest_margin_ms
            if own >= window_ms:
                # No work fits then; that is said once, where their margin is written (`roster_concerns`).
                continue
            fit = fit_of(what.move, what.target, pattern, window_ms, own)
            if fit is not None:
                fits[fit] = (*fits.get(fit, ()), athlete.name)
        return fits

    def _does_not_fit(self, path: Path, fit: Fit, rounds: int, names: tuple[str, ...]) -> None:
        round_number = fit.first_round_over(rounds) or 1
        who = f"{listed(names)}: " if names else ""
        since = f" in round {round_number}" if round_number > 1 else ""
        left_ms = fit.left_ms(round_number)
        window, margin = duration_words(fit.window_ms), duration_words(fit.margin_ms)
        rest = (
            f"leaves {duration_words(left_ms)} of {window}"
            if left_ms >= 0
            else f"is {duration_words(-left_ms)} too long for {window}"
        )
        work = f"{amount_said(fit.target.in_round(round_number), fit.target.unit)} of {fit.move}{since}"
        message = f"{who}{work} {rest}, under the rest margin of {margin}"
        most = fit.most()
        better = f"{amount_said(most, fit.target.unit)} would keep it" if most else "give it a longer interval"
        self.say(path, message, better + fit.basis())

    def _windows(self, part: Rotation | Intervals) -> None:
        """Windows of different lengths are everybody's at once: nobody can be at another station meanwhile."""
        own = next((index for index, station in enumerate(part.stations) if station.time_ms is not None), None)
        if own is None or part.together or len({athlete.group for athlete in self.athletes}) < 2:
            return
        message = "a station with its own time needs everybody at it, and this roster has several start groups"
        self.say((*part.path, "stations", own, "time"), message, "write together: true in the part, and all move as one")

    def _ladders(self, part: AnyPart) -> None:
        for index, (station, rounds) in enumerate(zip(part.stations, rounds_at(part), strict=False)):
            target = station.target
            if target is not None and target.step < 0 and target.in_round(rounds) == 0:
                last = int(-(-target.amount // -target.step))
                key = "work" if isinstance(part, ForTime) else "stations"
                message = f"the ladder of {station.move} has nothing left after round {last} of {rounds}"
                self.say((*part.path, key, index), message, "begin higher, or step down by less")

    def _least(self, part: Rotation | Intervals) -> None:
        for index, station in enumerate(part.stations):
            for which, option in enumerate(station.options):
                short = under_least(station, option.target)
                if short is not None:
                    path = (*part.path, "stations", index, "options", which)
                    message = f"{option.name} is {short[0]}, under the least of {short[1]}"
                    self.say(path, message, f"{short[1]} or more, or a smaller least")

    def _listed_kit(self, part: AnyPart) -> None:
        if not self.session.kit:
            return
        for steps, station in part.moves():
            path = (*part.path, *steps)
            for kit in all_kit(station):
                if kit not in self.session.kit:
                    near = nearest(kit, self.session.kit)
                    hint = f"did you mean {near}?" if near else f"add it to the session's kit, such as {kit}: 8"
                    self.say(path, f"the session's kit has no {kit}", hint)

    def _kit(self, need: KitNeed) -> None:
        if need.has is None or need.needed <= need.has or need.kit not in self.session.kit:
            return
        part = self.session.parts[need.part]
        names = station_names(part.stations)
        where = f" at {listed([names[index] for index in need.stations])}" if need.stations else ""
        key = "stations" if isinstance(part, Rotation | Intervals) else "work"
        message = f"{need.needed} x {need.kit} are needed at once{where}, and there are {need.has}"
        hint = f"an option without {need.kit}, or "
        hint += "the start groups of `floorclock groups SESSION --roster ROSTER`, which also says what would be enough"
        self.say((*part.path, key, *need.stations[:1]), message, hint)

    def _not_for_them(self, part: AnyPart) -> None:
        """Moves that somebody has no experience in, or stays away from, without an option that is for them."""
        for steps, station in part.moves():
            path = (*part.path, *steps)
            avoiding = [athlete.name for athlete in self.athletes if assign(athlete, station).avoided]
            if avoiding:
                message = f"{listed(avoiding)} {'avoids' if len(avoiding) == 1 else 'avoid'} {station.move}, without an option"
                self.say(path, message, "add an option with another move or pattern")
            names = [athlete.name for athlete in self.athletes if assign(athlete, station).gated]
            if names:
                message = (
                    f"{station.move} is guarded, without an open option for {listed(names)}, not listed as experienced in it"
                )
                hint = f"add an option that is not guarded, or `experienced: [{station.move}]` where you have seen it done well"
                self.say(path, message, hint)

    def _bests(self, part: AnyPart) -> None:
        """Who has no best in a move whose load is a percentage of it."""
        for steps, station in part.moves():
            without = [
                athlete.name
                for athlete in self.athletes
                if (load := assign(athlete, station).load) is not None and load.unit is LoadUnit.PERCENT
            ]
            if without:
                message = f"{listed(without)}: no best in {station.move}, so the load stays a percentage"
                self.say((*part.path, *steps, "load"), message, f"in the roster, best: {{{station.move}: 80 kg}}")


def listed(names: Sequence[str]) -> str:
    """`Ilka, Bram and Noor`; of many, the first few and how many more."""
    if len(names) > MOST_NAMES:
        return f"{', '.join(names[:MOST_NAMES])} and {len(names) - MOST_NAMES} more"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
