"""What an athlete's card shows, as plain values.

Invariant: a card says nothing of anybody else: it is handed to one person.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from floorclock.clock.splits import Status
from floorclock.digest.results import lap_words, result_words
from floorclock.digest.summary import AthleteSummary, ClassSummary, FlaggedSplit, PartSummary
from floorclock.digest.words import chance_words, drift_words, forecast_words, load_words
from floorclock.digest.work_done import flags_said, work_done
from floorclock.pace.advice import Advice
from floorclock.pace.flags import SYMBOL, Flag
from floorclock.report.split_lines import BESIDE, PANEL_WIDTH, split_lines, stations_of
from floorclock.report.table_cells import Table, rest_cell, sign_words, target_cell, with_part


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPart:
    """One part on an athlete's card."""

    title: str
    facts: tuple[tuple[str, str], ...]
    svg: str = ""
    wide: bool = False
    """The picture is too wide to have the table beside it."""
    rounds: Table | None = None
    targets: Table | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One athlete, to be printed alone."""

    number: int
    name: str
    why: tuple[tuple[str, str], ...]
    load: str
    parts: tuple[CardPart, ...]


def card_of(summary: ClassSummary, parts: Sequence[PartSummary], name: str, number: int) -> Card:
    """The card of one athlete, with every part in which something is known of them."""
    mine = [(part, athlete) for part in parts for athlete in part.athletes if athlete.name == name]
    return Card(
        number=number,
        name=name,
        why=tuple(
            (sign_words(call.flag), with_part(call.part, call.because, parts)) for call in summary.calls if call.athlete == name
        ),
        load=next((load_words(one) for one in summary.load if one.name == name), ""),
        parts=tuple(_card_part(part, athlete) for part, athlete in mine),
    )


def _card_part(part: PartSummary, athlete: AthleteSummary) -> CardPart:
    if not part.is_timed_by_splits:
        result = athlete.result
        facts = [("result", result_words(result, part))]
        if result is not None and result.choice:
            facts.append(("work", result.choice))
        if result is not None and len(result.laps_ms) > 1:
            facts.append(("rounds, each in min:s", lap_words(result)))
        return CardPart(title=part.title, facts=tuple(facts))
    lines = split_lines(part, athlete)
    label = f"Splits of {athlete.name} round by round at each station of {part.title}; the table beside it says the same"
    return CardPart(
        title=part.title,
        facts=tuple(_pace_facts(athlete)),
        svg=lines.svg(label) if lines is not None else "",
        wide=lines is not None and lines.width > PANEL_WIDTH * BESIDE,
        rounds=_rounds(part, athlete),
        targets=_card_targets(part, athlete),
    )


def _pace_facts(athlete: AthleteSummary) -> Iterator[tuple[str, str]]:
    yield "flags", flags_said(athlete) or "none: margin and pace were held"
    yield "pace", drift_words(athlete.drift)
    if athlete.least_rest_ms is not None:
        yield "least rest", f"{athlete.least_rest_ms // 1000} s"
    if athlete.cv_percent is not None:
        yield "spread", f"{athlete.cv_percent:.1f} % of the split"
    if athlete.runs_out_round is not None:
        yield "margin", f"{'likely goes' if athlete.forecast else 'went'} in round {athlete.runs_out_round}"


def _rounds(part: PartSummary, athlete: AthleteSummary) -> Table:
    """A row for each round, a column for each station; what is to come follows what was."""
    cells: dict[tuple[int, int], str] = {}
    for taken in athlete.splits:
        cells[taken.split.round, taken.split.station] = _split_cell(taken)
    for one in athlete.forecast:
        cells.setdefault((one.slot.round, one.slot.station), f"forecast {forecast_words(one)}")
    stations = stations_of(athlete)
    rows = tuple(
        (str(number), *(cells.get((number, station), "") for station in stations))
        for number in sorted({place[0] for place in cells})
    )
    heads = ("round", *(work_done(athlete, part, station) for station in stations))
    return Table(f"{part.title}: split / rest, in s", heads, rows)


def _split_cell(one: FlaggedSplit) -> str:
    if one.split.split_ms is None:
        return f"{SYMBOL[Flag.NOT_FINISHED]} not finished" if one.split.status is Status.NOT_FINISHED else "untapped"
    return f"{one.split.split_ms // 100 / 10:.1f}\u00a0/\u00a0{rest_cell(one)}"


def _work_of(advice: Advice, part: PartSummary) -> str:
    """The athlete's own move, or the station as it is called."""
    return advice.own_move or part.station_name(advice.station)


def _card_targets(part: PartSummary, athlete: AthleteSummary) -> Table | None:
    if not athlete.advice:
        return None
    rows = tuple(
        (_work_of(one, part), target_cell(one, with_move=False), one.words, one.because, chance_words(one))
        for one in athlete.advice
    )
    return Table(f"{part.title}: what to give", ("work", "target", "in words", "because", "keeps the margin"), rows)
