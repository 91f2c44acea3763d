"""A class as one page, for the coach, with a card for each athlete.

Invariant: a card speaks of nobody else.
"""

from __future__ import annotations

from markupsafe import Markup

from floorclock.clock.splits import Status
from floorclock.digest import words
from floorclock.digest.class_digest import AthleteDigest, ClassDigest, FlaggedSplit, PartDigest
from floorclock.digest.words import WAYS, chance_words, forecast_words, target_words
from floorclock.pace.flags import Flag
from floorclock.report.html import PageTable, rendered
from floorclock.report.page_pictures import rest_picture, split_lines


def page_html(digest: ClassDigest) -> str:
    """The page of a class: one file, for a browser or a printer."""
    of_class = (loads_table, volume_table)
    of_parts = (rest_svg, rests_table, stations_table, results_table, targets_table)
    on_cards = (split_svg, card_facts, rounds_table, card_targets_table)
    shown: dict[str, object] = {function.__name__: function for function in (*of_class, *of_parts, *on_cards)}
    return rendered("page.html.j2", digest.session, digest=digest, words=words, **shown)


def stations_table(part: PartDigest) -> PageTable:
    """The class at each station."""
    heads = ("station", "median split, s", "median rest, s", "drift, s a round", "tapped", "under the margin", "untapped")
    rows = tuple(
        (
            station.name,
            words.tenths(station.median_split_ms),
            words.tenths(station.median_rest_ms),
            words.signed(station.drift_ms),
            str(station.tapped),
            str(station.tight),
            str(station.untapped),
        )
        for station in part.stations
    )
    return PageTable(f"{part.title}: the class at each station", heads, rows, named=False)


def rests_table(part: PartDigest) -> PageTable:
    """What the rest picture says."""
    heads = ("athlete", *(station.name for station in part.stations), "least", "flags")
    rows = []
    for athlete in part.athletes:
        cells = [
            ", ".join(words.rest_words(taken.split) for taken in athlete.splits_at(station.station)) for station in part.stations
        ]
        rows.append((athlete.label, *cells, _whole_seconds(athlete.least_rest_ms), athlete.state_words))
    caption = f"{part.title}: rest of each round in s; ! under the margin, / not finished, ? untapped"
    return PageTable(caption, heads, tuple(rows))


def results_table(part: PartDigest) -> PageTable:
    """What everybody reached, the best first where the plan wants ranks."""
    heads, *rows = part.result_rows
    words = "results, the same work together, the best first" if part.is_ranked else "results"
    return PageTable(f"{part.title}: {words}", heads, tuple(rows))


def targets_table(part: PartDigest) -> PageTable:
    """A row for each athlete who has an advice, a column for each station that somebody has one for."""
    stations = sorted({advice.station for athlete in part.athletes for advice in athlete.advice})
    rows = []
    for athlete in part.athletes:
        given = {advice.station: target_words(advice, part.load_words(athlete, advice.station)) for advice in athlete.advice}
        if given:
            rows.append((athlete.label, *(given.get(station, "") for station in stations)))
    return PageTable(f"{part.title}: what to give; {WAYS}", ("athlete", *map(part.station_name, stations)), tuple(rows))


def loads_table(digest: ClassDigest) -> PageTable:
    """Effort, minutes and load."""
    rows = tuple(
        (
            load.name,
            "not rated" if load.effort is None else f"{load.effort:g}",
            f"{load.minutes:.0f}",
            "" if load.load is None else f"{load.load:.0f}",
        )
        for load in digest.load
    )
    caption = "Effort (each athlete's own rating, 0 to 10), minutes in the class, and load: effort x minutes"
    return PageTable(caption, ("athlete", "effort", "minutes", "load"), rows)


def card_facts(part: PartDigest, athlete: AthleteDigest) -> list[tuple[str, str]]:
    """What stands first on a card: headings with words, without those of which there is nothing to say."""
    facts = [("shared by", f"a team of {len(athlete.team)}" if athlete.team else "")]
    if athlete.result is not None or not part.is_timed_by_splits:
        heads, *rows = part.result_rows
        own = next(row for row in rows if row[0] == athlete.label)
        facts += zip(heads[1:], own[1:], strict=True)
    if not athlete.splits:
        return [(head, words) for head, words in facts if words]
    facts += [
        ("flags", athlete.state_words),
        ("pace", part.pace_words(athlete)),
        ("least rest", "" if athlete.least_rest_ms is None else f"{_whole_seconds(athlete.least_rest_ms)} s"),
        ("spread", "" if athlete.cv_percent is None else f"{athlete.cv_percent:.1f} % of the split"),
        ("margin", athlete.margin_words),
    ]
    return [(head, words) for head, words in facts if words]


def rounds_table(part: PartDigest, athlete: AthleteDigest) -> PageTable:
    """A row for each round, a column for each station; what is to come follows what was."""
    cells = {
        (forecast.slot.round, forecast.slot.station): f"forecast {forecast_words(forecast)}" for forecast in athlete.forecast
    }
    cells |= {(taken.split.round, taken.split.station): _split_cell(taken) for taken in athlete.splits}
    rounds = sorted({number for number, _ in cells})
    rows = tuple((str(number), *(cells.get((number, station), "") for station in athlete.worked_at)) for number in rounds)
    heads = ["round"]
    for station in athlete.worked_at:
        loads = dict.fromkeys(load.words() for taken in athlete.splits_at(station) if (load := taken.split.load) is not None)
        heads.append(part.work_at(athlete, station) + (f" at {', '.join(loads)}" if loads else ""))
    return PageTable(f"{part.title}: split / rest, in s", tuple(heads), rows, named=False)


def volume_table(digest: ClassDigest) -> PageTable:
    """Reps times load, by athlete and move."""
    rows = tuple(
        (
            lift.label,
            lift.move,
            f"{float(lift.reps):,.10g}",
            f"{float(round(lift.amount, 1)):,.10g} {lift.unit}",
        )
        for lift in digest.volume
    )
    caption = "Volume load: reps x load over the whole class, as far as it is known to be done"
    return PageTable(caption, ("athlete", "move", "reps", "volume load"), rows)


def card_targets_table(part: PartDigest, athlete: AthleteDigest) -> PageTable:
    """What to give one athlete, and why."""
    rows = tuple(
        (
            part.work_of(advice),
            target_words(advice, part.load_words(athlete, advice.station), with_move=False),
            advice.words,
            advice.because,
            chance_words(advice),
        )
        for advice in athlete.targets
    )
    heads = ("work", "target", "in words", "because", "keeps the margin")
    return PageTable(f"{part.title}: what to give", heads, rows, named=False)


def _split_cell(taken: FlaggedSplit) -> str:
    if taken.split.status is Status.NOT_FINISHED:
        return words.flag_words(Flag.NOT_FINISHED)
    if taken.split.split_ms is None:
        return str(Status.UNTAPPED)
    return f"{taken.split.split_ms // 100 / 10:.1f}\u00a0/\u00a0{words.rest_words(taken.split)}"


def rest_svg(part: PartDigest) -> Markup:
    """Everybody's rest, drawn."""
    label = f"Rest of every athlete in every round of {part.title}; the table below says the same"
    return Markup(rest_picture(part).svg(label))


def split_svg(part: PartDigest, athlete: AthleteDigest) -> Markup:
    """The splits of one athlete, drawn."""
    whose = "the team" if athlete.team else athlete.name
    label = f"Splits of {whose} round by round at each station of {part.title}; the table beside it says the same"
    return Markup(split_lines(part, athlete).svg(label))


def _whole_seconds(ms: int | None) -> str:
    return "" if ms is None else str(ms // 1000)
