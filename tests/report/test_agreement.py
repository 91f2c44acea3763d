"""Fifty rehearsals: page, cards, text, picture, JSON, CSV and what the review screen shows never disagree.

What is compared is read back from each output by itself, against JSON, which has the bare values.
"""

from __future__ import annotations

import csv
import html
import io
import re
from dataclasses import dataclass, replace
from random import Random
from typing import Any

import pytest

from floorclock.clock.events import EffortRated
from floorclock.clock.fold import apply
from floorclock.clock.state import ClassState, new_state
from floorclock.digest.build import Label, digest_of
from floorclock.digest.class_digest import Call, ClassDigest, PartDigest
from floorclock.digest.rest_grid import Kind, Order, round_grid
from floorclock.digest.words import time_words
from floorclock.pace.flags import URGENCY, Flag
from floorclock.report.drawing import Drawing
from floorclock.report.export import review_json, splits_csv
from floorclock.report.page import card_targets_table, page_html
from floorclock.report.pictures import picture
from floorclock.report.text import print_review
from floorclock.simulate.coach import LONGEST_MS, DemoAutopilot, InventedAthletes, InventedCoach
from tests.clock.classes import Run
from tests.plan import shipped
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES
from tests.report.printing import printed

PEOPLE = 7
SEEDS = range(4)
STEP_MS = 500
LABEL = Label(class_id="x", started="2026-03-02T18:00:00+00:00", rehearsal=True)
HALFWAY_MS = 17 * 60_000
"""Every second class is looked at while it runs, with rounds still to come."""

REHEARSALS = [(session, roster, seed) for session in SESSION_NAMES for roster in ROSTER_NAMES for seed in SEEDS]


def rehearsal(session: str, roster: str, seed: int) -> ClassState:
    """A class with a few invented athletes, some of whom rate it."""
    plan = shipped.plan(session, roster)
    plan = replace(plan, roster=replace(plan.roster, athletes=plan.roster.athletes[seed : seed + PEOPLE]))
    until_ms = HALFWAY_MS if seed % 2 else LONGEST_MS
    run = Run(new_state(plan.session, plan.roster.athletes))
    autopilot = DemoAutopilot(InventedAthletes(plan.roster, seed), InventedCoach(longest_open_ms=1_000))
    while not run.state.over and run.conductor.class_ms() < until_ms:
        autopilot.run(run.conductor)
        run.wait(STEP_MS)
    dice = Random(seed)
    for name in dice.sample(sorted(run.state.athletes), 3):
        apply(run.state, EffortRated(at_ms=run.state.now_ms, athlete=name, effort=dice.randint(0, 10)))
    return run.state


@dataclass
class Outputs:
    """One class as everything that is made of it."""

    digest: ClassDigest
    json: dict[str, Any]
    csv: list[dict[str, str]]
    text: str
    page: str
    drawn: list[str]

    def tables(self, caption: str) -> list[dict[str, list[str]]]:
        """The tables of the page with a caption: the cells of each row by its heading."""
        found = []
        for table in re.findall(r"<table>.*?</table>", self.page, re.S):
            rows = [[bare(cell) for cell in re.findall(r"<t[hd].*?>(.*?)</t[hd]>", row, re.S)] for row in split_rows(table)]
            if caption in bare(re.findall(r"<caption>(.*?)</caption>", table)[0]):
                found.append({row[0]: row[1:] for row in rows[1:]})
        return found

    def card(self, name: str) -> str:
        """The card of an athlete."""
        number = self.digest.number_of(name)
        (found,) = re.findall(rf'<article class="card" id="card-{number}".*?</article>', self.page, re.S)
        return bare(found)


def split_rows(table: str) -> list[str]:
    return re.findall(r"<tr>.*?</tr>", table, re.S)


def bare(markup: str) -> str:
    """The words of some markup, without the number that stands before a name."""
    without = re.sub(r'<span class="no">\d+</span>', "", markup)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", without)).split())


@pytest.fixture(params=REHEARSALS, ids=lambda case: f"{case[0].split('.')[0]}-{case[1].split('.')[0]}-{case[2]}")
def made(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Outputs:
    session, roster, seed = request.param
    state = rehearsal(session, roster, seed)
    digest = digest_of(state, LABEL)
    # Drawing takes most of the time of a page; what is drawn is looked at in the picture, before it is turned into pixels.
    monkeypatch.setattr(Drawing, "svg", lambda self, label: f'<svg role="img" aria-label="{html.escape(label)}"></svg>')
    return Outputs(
        digest=digest,
        json=review_json(digest),
        csv=list(csv.DictReader(io.StringIO(splits_csv(digest_of(state, LABEL, forecast=False)), newline=""))),
        text=" ".join(printed(lambda console: print_review(digest, console), 400).split()),
        page=page_html(digest),
        drawn=[text.words for text in picture(digest)._texts],
    )


def flags_in_json(part: dict[str, Any]) -> dict[str, set[str]]:
    return {athlete["name"]: {flag for split in athlete["splits"] for flag in split["flags"]} for athlete in part["athletes"]}


def flags_in_words(words: str) -> set[str]:
    """`x ran out, ! tight` as the flags that they are."""
    said = {word.strip().replace("ran out", "runs out")[2:] for word in words.split(",")}
    return set() if words in ("held", "untapped") else said


def line_of(text: str, part: PartDigest, name: str) -> str:
    """What the table of rests says of an athlete, up to the next one."""
    block = text[text.index(f"{part.title} part {part.number},") :]
    names = [*(athlete.name for athlete in part.athletes), "the class"]
    if any(athlete.result is not None for athlete in part.athletes):
        # What everybody reached stands before the rests.
        block = block[block.index(f" {names[0]} ", block.index(f" {names[-2]} ")) :]
    begin = block.index(f" {name} ")
    return block[begin : block.index(f" {names[names.index(name) + 1]} ", begin)]


def timed(made: Outputs) -> list[tuple[PartDigest, dict[str, Any]]]:
    pairs = zip(made.digest.parts, made.json["parts"], strict=True)
    return [(part, values) for part, values in pairs if part.is_timed_by_splits and part.athletes]


def test_they_agree(made: Outputs) -> None:
    agree_on_verdicts(made)
    agree_on_flags(made)
    agree_on_who_to_talk_to(made)
    agree_on_targets(made)
    agree_on_results(made)
    agree_on_load(made)


def agree_on_verdicts(made: Outputs) -> None:
    for part, values in timed(made):
        splits = [split for athlete in values["athletes"] for split in athlete["splits"]]
        tight = [split["station"] for split in splits if "tight" in split["flags"]]
        tapped = sum(split["status"] == "done" for split in splits)
        if not tapped:
            assert part.verdict.startswith("nobody was tapped")
            continue
        if tight:
            assert part.verdict.startswith(f"{len(tight)} of {tapped} tapped intervals")
        for station, named in ((place.name, place in part.hardest) for place in part.stations):
            assert not named or f"{tight.count(station)} " in part.verdict or part.verdict.endswith(f"all at {station}")
        said = f"which station {part.verdict}"
        assert said in bare(made.page)
        assert part.verdict in made.text
        assert part.verdict not in made.drawn
        shown = [row.cells for row in round_grid(part, None, Order.BOARD).rows]
        assert any(cell is not None and cell.kind is Kind.SHORT for row in shown for cell in row) == bool(
            {split["round"] for split in splits if "tight" in split["flags"]} - _hidden(values)
        )


def _hidden(values: dict[str, Any]) -> set[int]:
    """Rounds of somebody in which not finished at one station stands before tight at another."""
    return {
        split["round"]
        for athlete in values["athletes"]
        for split in athlete["splits"]
        if "tight" in split["flags"]
        and any(other["round"] == split["round"] and other["status"] == "not finished" for other in athlete["splits"])
    }


def agree_on_flags(made: Outputs) -> None:
    for number, (part, values) in enumerate(timed(made)):
        flagged = flags_in_json(values)
        table = made.tables("rest of each round in s")[number]
        for athlete in part.athletes:
            name = athlete.name
            assert flags_in_words(table[name][-1]) == flagged[name]
            assert set(map(str, athlete.flags)) == flagged[name]
            assert f"flags {athlete.state_words}" in made.card(name)
            assert athlete.held or part.untapped == part.intervals or f" {athlete.state_words}" in line_of(made.text, part, name)
            assert athlete.state_words not in made.drawn
            rows = [row for row in made.csv if row["athlete"] == name and row["part"] == str(part.number)]
            said = {flag for row in rows for flag in row["flags"].split("; ") if flag}
            assert said == flagged[name] - {"runs out"}
        for group in part.groups:
            if group.flag is not None:
                assert all(group.flag in flagged[name] for name in group.names)
        assert {name for group in part.groups if group.flag for name in group.names} == {
            n for n, raised in flagged.items() if raised
        }


def agree_on_who_to_talk_to(made: Outputs) -> None:
    expected = [
        (athlete.name, part.index)
        for part in made.digest.parts
        for athlete in part.athletes
        if athlete.flags or (athlete.result is not None and athlete.result.not_finished)
    ]
    assert sorted((call.athlete, call.part) for call in made.digest.calls) == sorted(expected)
    urgency = [URGENCY[call.flag] for call in made.digest.calls]
    assert urgency == sorted(urgency)
    (listed,) = re.findall(r'<ul class="calls">(.*?)</ul>', made.page, re.S) or [""]
    on_page = [bare(line) for line in re.findall(r"<li>(.*?)</li>", listed, re.S)]
    places: list[int] = []
    for at, call in enumerate(made.digest.called):
        said = f"{call.label} {call.athlete} {call.reason}"
        assert on_page[at].startswith(said)
        assert said in made.text
        places.append(made.text.index(said, places[-1] if places else 0))
        assert f"{call.label} {call.reason}" in made.card(call.athlete)
        assert call.label not in made.drawn
        if call.advice:
            assert f"{said}. {call.advice}" in made.text
            assert on_page[at].endswith(call.advice)
            assert is_of_the_reasons_station(made.digest.parts[call.part], call)
        flagged = flags_in_json(made.json["parts"][call.part]).get(call.athlete, set())
        assert str(call.flag) in flagged or call.flag is Flag.NOT_FINISHED
    if made.digest.recorded and not made.digest.calls:
        assert made.digest.nobody_words in made.text
        assert made.digest.nobody_words in bare(made.page)


def is_of_the_reasons_station(part: PartDigest, call: Call) -> bool:
    """Whether the number is of the station that the reason is about, or comes with a reason of its own."""
    athlete = next(athlete for athlete in part.athletes if athlete.name == call.athlete)
    (given,) = [
        advice
        for advice in athlete.advice
        if call.advice in (advice.words, f"{part.work_of(advice)}: {advice.words}")
        or call.advice == f"{part.work_of(advice)}, {advice.because.replace(';', ',')}: {advice.words}"
    ]
    alone = len(athlete.stations) == 1
    return alone or part.work_of(given) in call.because or call.advice.startswith(part.work_of(given))


def agree_on_targets(made: Outputs) -> None:
    tables = iter(made.tables(": what to give; "))
    for part, values in timed(made):
        table = next(tables) if any(athlete["advice"] for athlete in values["athletes"]) else {}
        assert set(table) == {athlete["name"] for athlete in values["athletes"] if athlete["advice"]}
        for athlete in values["athletes"]:
            for advice in athlete["advice"]:
                sign = {"less": "↓", "more": "↑", "option": "→", "keep": "="}[advice["way"]]
                cells = [cell for cell in table[athlete["name"]] if cell.endswith(sign)]
                if advice["unit"] == "reps" and advice["target"] is not None:
                    of_each = [f"{advice['target'] / 2:g} each side" in cell for cell in cells]
                    assert any(f"{advice['target']:g}" in cell.split() for cell in cells) or any(of_each)
                card = made.card(athlete["name"])
                assert advice["words"] in card
                assert advice["because"] in card
        for one in part.athletes:
            said = ", ".join(
                f"{part.work_of(advice)} {cell}"
                for advice, cell in zip(one.targets, [row[1] for row in card_targets_table(part, one).rows], strict=True)
            )
            if said:
                assert f"{one.name} {said}" in made.text


def agree_on_results(made: Outputs) -> None:
    tables = iter(made.tables(": results"))
    for number, (part, values) in enumerate(zip(made.digest.parts, made.json["parts"], strict=True), start=1):
        if part.is_timed_by_splits or not part.athletes:
            continue
        table = next(tables)
        rows = {row["athlete"]: row for row in made.csv if row["part"] == str(number)}
        for athlete in values["athletes"]:
            name, result = athlete["name"], athlete["result"]
            said = table[name][0]
            assert f"{name} {said}" in made.text
            assert f"result {said}" in made.card(name)
            # A team stands in the CSV under its first, so that the file can be read back.
            assert rows[name.partition(" + ")[0]]["time"] == ("" if result["time_s"] is None else f"{result['time_s']}")
            if result["time_s"] is not None and part.kind == "for_time":
                assert time_words(round(1000 * result["time_s"])) in said
            if part.kind == "amrap" and result["rounds"] is not None:
                assert said.split()[0] == str(result["rounds"])


def agree_on_load(made: Outputs) -> None:
    (table,) = made.tables("Effort (each athlete's own rating")
    rated = 0
    for one in made.json["load"]:
        effort, minutes, load = table[one["name"]]
        assert minutes == f"{one['minutes']:.0f}"
        if one["effort"] is None:
            assert (effort, load) == ("not rated", "")
            assert f"{one['name']} effort not rated, {minutes} minutes" in made.text
        else:
            rated += 1
            assert load == f"{one['load']:.0f}"
            words = f"effort {effort} x {minutes} minutes = load {load}"
            assert f"{one['name']} {words}" in made.text
            assert words in made.card(one["name"])
    assert rated == 3


def test_there_are_fifty_and_they_have_something_to_disagree_about() -> None:
    assert len(REHEARSALS) >= 50
    over, halfway = (digest_of(rehearsal("harbour.yaml", "harbour-roster.yaml", seed), LABEL) for seed in (0, 1))
    for digest in (over, halfway):
        (part,) = digest.timed
        assert part.hardest
        assert digest.calls
        assert digest.advised
        assert {group.flag for group in part.groups} > {None}
    assert halfway.timed[0].to_come
    assert not over.timed[0].to_come
    assert any(not part.is_timed_by_splits for part in over.recorded)
