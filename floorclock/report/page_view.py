"""What the page shows, as plain values: words, tables and pictures, worked out before any of it is laid out.

Invariant: every text is as it was given, not yet escaped; the only markup is the pictures'.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from floorclock.digest.results import lap_words, result_order, result_words
from floorclock.digest.summary import ClassSummary, PartSummary
from floorclock.digest.words import WAYS, counted, hardest, names_with, whole_facts
from floorclock.digest.work_done import flags_said
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.plan.durations import duration_words
from floorclock.report.card_view import Card, card_of
from floorclock.report.rest_grid import rest_picture
from floorclock.report.table_cells import Table, rest_cell, sign_words, target_cell, with_part

MOST_CALLS = 12
"""With more people than that nobody talks to each of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """One part of the page. `rest_svg` and the tables are empty or None where the part has no such thing."""

    number: int
    title: str
    kind: str
    facts: str
    kept: tuple[str, ...] = ()
    hardest: str = ""
    flagged: tuple[tuple[str, tuple[str, ...]], ...] = ()
    stations: Table | None = None
    rest_svg: str = ""
    rests: Table | None = None
    results: Table | None = None
    targets: Table | None = None


@dataclass(frozen=True, slots=True)
class CallView:
    """Somebody to talk to; `card` is their number, None where they have none."""

    flag: str
    name: str
    because: str
    advice: str
    card: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """The whole page."""

    title: str
    facts: tuple[tuple[str, str], ...]
    rehearsal: bool
    tapped: bool
    calls: tuple[CallView, ...]
    more: tuple[CallView, ...]
    """Whom the list has no room for: nobody talks to so many."""
    parts: tuple[PartView, ...]
    loads: Table | None
    cards: tuple[Card, ...]


def page_view(summary: ClassSummary) -> PageView:
    """Everything a page says of a class."""
    numbers = {name: place for place, name in enumerate(summary.athletes, start=1)}
    recorded = [part for part in summary.parts if part.athletes]
    calls = [
        CallView(
            sign_words(call.flag),
            call.athlete,
            with_part(call.part, call.because, recorded),
            call.advice,
            numbers.get(call.athlete),
        )
        for call in summary.calls
    ]
    return PageView(
        title=summary.session,
        facts=_class_facts(summary),
        rehearsal=summary.rehearsal,
        tapped=any(athlete.tapped for part in recorded for athlete in part.athletes),
        calls=tuple(calls[:MOST_CALLS]),
        more=tuple(calls[MOST_CALLS:]),
        parts=tuple(_part(part, numbers) for part in recorded),
        loads=_loads(summary, numbers),
        cards=tuple(card_of(summary, recorded, name, number) for name, number in numbers.items()),
    )


def _class_facts(summary: ClassSummary) -> tuple[tuple[str, str], ...]:
    facts = [
        ("When", summary.started[:16].replace("T", " ") or "not known"),
        ("Who", counted(len(summary.athletes), "athlete")),
        ("Rest margin", duration_words(round(summary.rest_margin_s * 1000))),
        ("Record", summary.class_id),
    ]
    return tuple(facts)


def _part(part: PartSummary, numbers: Mapping[str, int]) -> PartView:
    plain = PartView(
        number=part.index + 1, title=part.title, kind=part.kind.replace("_", " "), facts=", ".join(whole_facts(part))
    )
    if not part.is_timed_by_splits:
        return PartView(
            number=plain.number, title=plain.title, kind=plain.kind, facts=plain.facts, results=_results(part, numbers)
        )
    names = [f"{numbers[athlete.name]}  {athlete.name}" for athlete in part.athletes]
    return PartView(
        number=plain.number,
        title=plain.title,
        kind=plain.kind,
        facts=plain.facts,
        kept=tuple(athlete.name for athlete in part.athletes if athlete.held),
        hardest=hardest(part),
        flagged=_flagged(part),
        stations=_stations(part),
        rest_svg=rest_picture(part, names).svg(
            f"Rest of every athlete in every round of {part.title}; the table below says the same"
        ),
        rests=_rests(part, numbers),
        targets=_targets(part, numbers),
    )


def _flagged(part: PartSummary) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Who had which flag; whose margin is only forecast to go stands apart from whose went."""
    found = []
    for flag in Flag:
        if flag is Flag.RUNS_OUT:
            ahead = tuple(one.name for one in part.athletes if flag in one.flags and one.runs_out is not None)
            went = tuple(one.name for one in part.athletes if flag in one.flags and one.runs_out is None)
            found += [(f"{SYMBOL[flag]} forecast to run out", ahead), (f"{SYMBOL[flag]} ran out", went)]
        else:
            found.append((sign_words(flag), tuple(names_with(part, flag))))
    return tuple((words, names) for words, names in found if names)


def _stations(part: PartSummary) -> Table:
    rows = tuple(
        (
            one.name,
            _seconds(one.median_split_ms),
            _seconds(one.median_rest_ms),
            str(one.tapped),
            str(one.tight),
            str(one.untapped),
        )
        for one in part.stations
    )
    heads = ("station", "median split, s", "median rest, s", "tapped", "under the margin", "untapped")
    return Table(f"{part.title}: the class at each station", heads, rows)


def _rests(part: PartSummary, numbers: Mapping[str, int]) -> Table:
    heads = ("athlete", *(one.name for one in part.stations), "least", "flags")
    rows = []
    for athlete in part.athletes:
        cells = [
            ", ".join(rest_cell(one) for one in athlete.splits if one.split.station == station.station)
            for station in part.stations
        ]
        least = "" if athlete.least_rest_ms is None else str(athlete.least_rest_ms // 1000)
        rows.append((athlete.name, *cells, least, flags_said(athlete) or "held"))
    caption = f"{part.title}: rest of each round in s; ! under the margin, / not finished, ? untapped"
    return Table(caption, heads, tuple(rows), tuple(numbers[athlete.name] for athlete in part.athletes))


def _results(part: PartSummary, numbers: Mapping[str, int]) -> Table:
    ordered = sorted(part.athletes, key=lambda one: result_order(one, part))
    choices = any(one.result is not None and one.result.choice for one in ordered)
    laps = any(one.result is not None and len(one.result.laps_ms) > 1 for one in ordered)
    heads = ("athlete", "result", *(["work"] * choices), *(["rounds, each in min:s"] * laps))
    rows = []
    for one in ordered:
        work = (one.result.choice or "as written") if one.result else ""
        rows.append((one.name, result_words(one.result, part), *([work] * choices), *([lap_words(one.result)] * laps)))
    return Table(
        f"{part.title}: results, the same work together", heads, tuple(rows), tuple(numbers[one.name] for one in ordered)
    )


def _targets(part: PartSummary, numbers: Mapping[str, int]) -> Table | None:
    """A row for each athlete who has an advice, a column for each station that somebody has one for."""
    given = [(athlete, {advice.station: advice for advice in athlete.advice}) for athlete in part.athletes if athlete.advice]
    stations = sorted({station for _, by_station in given for station in by_station})
    if not stations:
        return None
    heads = ("athlete", *map(part.station_name, stations))
    rows = tuple((athlete.name, *(target_cell(by_station.get(station)) for station in stations)) for athlete, by_station in given)
    caption = f"{part.title}: what to give; {WAYS}"
    return Table(caption, heads, rows, tuple(numbers[athlete.name] for athlete, _ in given))


def _loads(summary: ClassSummary, numbers: Mapping[str, int]) -> Table | None:
    if all(one.effort is None for one in summary.load):
        return None
    rows = tuple(
        (
            one.name,
            "not rated" if one.effort is None else f"{one.effort:g}",
            f"{one.minutes:.0f}",
            "" if one.load is None else f"{one.load:.0f}",
        )
        for one in summary.load
    )
    caption = "Effort (each athlete's own rating, 0 to 10), minutes in the class, and load: effort x minutes"
    return Table(caption, ("athlete", "effort", "minutes", "load"), rows, tuple(numbers.get(one.name) for one in summary.load))


def _seconds(ms: float | None) -> str:
    return "" if ms is None else f"{ms / 1000:.1f}"
