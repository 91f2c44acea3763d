"""The pages of the athlete sheet, made from the facts: what can be done for an athlete, and what each of it asks.

Invariant: every entry of the menu is always there; one that makes no sense now says why instead of leading anywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from floorclock.plan.durations import UnreadableError, duration_words
from floorclock.tui.floor.dialogs.ask_margin import nudged_margin
from floorclock.tui.floor.dialogs.athlete_facts import (
    Allow,
    AthleteAction,
    AthleteFacts,
    ChooseOption,
    Correct,
    EnterResult,
    GatedMove,
    GiveTarget,
    MarkNotFinished,
    MoveLine,
    OptionLine,
    SendHome,
    SetGroup,
    SetMargin,
    SetQuiet,
    SplitRow,
    TakeAdvice,
    TakeBack,
    TakeChoice,
)
from floorclock.tui.floor.dialogs.choices import Choice
from floorclock.tui.floor.dialogs.pages import Answer, AskPage, Back, ListPage, Outcome, Said, TypePage
from floorclock.tui.floor.dialogs.reading import (
    RESULT_HINT,
    STEP,
    amount_typed,
    full_words,
    nudged,
    read_amount,
    read_margin,
    read_result,
    read_split,
)

Step = Outcome[AthleteAction]


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the menu: the key that works on it, what it is called, and what it leads to."""

    key: str
    shown: str
    label: str
    lead_to: Callable[[AthleteFacts], Step]


def menu(facts: AthleteFacts) -> ListPage[AthleteAction]:
    """The first page."""
    outcomes = tuple(entry.lead_to(facts) for entry in ENTRIES)
    choices = tuple(
        Choice(_label(entry, facts), entry.key, entry.shown, faint=isinstance(outcome, Said))
        for entry, outcome in zip(ENTRIES, outcomes, strict=True)
    )
    at = 0 if facts.advice else 1
    hints = (("Esc", "close"), ("Enter", "choose"), ("↑↓", "move"))
    return ListPage(sheet_title(facts), choices, outcomes, cursor=at, hints=hints)


def _label(entry: Entry, facts: AthleteFacts) -> str:
    if entry.lead_to is _quiet:
        return "call me again for them" if facts.quiet else "no more calls for them"
    return entry.label


def sheet_title(facts: AthleteFacts) -> str:
    """Who the sheet is about: `Sefa Lind   key s   group 2`."""
    group = f"   group {facts.group}" if len(facts.groups) > 1 else ""
    return facts.name + (f"   key {facts.key}" if facts.key else "   no key") + group


def shortcuts(facts: AthleteFacts) -> dict[str, Step]:
    """The function keys, which work on every page of the sheet."""
    return {entry.key: entry.lead_to(facts) for entry in ENTRIES if entry.key.startswith("f")}


def row_words(row: SplitRow) -> str:
    """`round 3  step-up`."""
    return f"round {row.round}  {row.station}"


def row_split(row: SplitRow) -> str:
    """The split, or the word for why there is none."""
    return row.split if row.status == "done" else {"now": "at work"}.get(row.status, row.status)


def _advice(facts: AthleteFacts) -> Step:
    return Answer(TakeAdvice()) if facts.advice else Said("no advice for them now; F2 gives any target")


def _quiet(facts: AthleteFacts) -> Step:
    return Answer(SetQuiet(not facts.quiet))


def _target(facts: AthleteFacts) -> Step:
    able = [line for line in facts.moves if line.target is not None]
    if not able:
        return Said(
            f"{facts.move} has no target to change" if facts.move else "no move is on now, so there is no target to change"
        )
    return _by_move(facts, able, "target for which move?", lambda line: _target_at(facts, line))


def _by_move(facts: AthleteFacts, lines: Sequence[MoveLine], title: str, page: Callable[[MoveLine], Step]) -> Step:
    """The page of the one move there is, or a list of them with that of the flag, or of now, under the cursor."""
    if len(lines) == 1:
        return page(lines[0])
    choices = tuple(Choice(f"{line.when:<5}{_work_words(line)}", note=line.option) for line in lines)
    at = next((number for number, line in enumerate(lines) if line.station == facts.station), 0)
    return ListPage(f"{facts.name}: {title}", choices, tuple(page(line) for line in lines), cursor=at)


def _work_words(line: MoveLine) -> str:
    return line.move + (f" {full_words(line.target.amount, line.target.unit)}" if line.target is not None else "")


def _target_at(facts: AthleteFacts, line: MoveLine) -> Step:
    assert line.target is not None
    now, unit = line.target.amount, line.target.unit
    step = STEP[unit]

    def preview(text: str) -> str:
        try:
            return f"= {full_words(read_amount(text, unit, now), unit)}"
        except UnreadableError:
            return ""

    return TypePage(
        title=f"{facts.name}: target",
        prompt=line.move,
        read=lambda text: Answer(GiveTarget(read_amount(text, unit, now), line.station, line.round)),
        offered=amount_typed(now, unit),
        lead=f"now {full_words(now, unit)}, from now on:",
        hint=f"↓ {step} less, ↑ {step} more, PgDn {5 * step} less; or type it: 8, or -{2 * step}, or +{step}",
        nudge=lambda text, steps: nudged(text, unit, now, steps),
        preview=preview,
    )


def _correct(facts: AthleteFacts) -> Step:
    rows = [row for row in reversed(facts.splits) if row.status != "now"] + [row for row in facts.splits if row.status == "now"]
    if not rows:
        return Said("no interval of this part has been worked yet")
    choices = tuple(Choice(row_words(row), note=row_split(row)) for row in rows)
    outcomes = tuple(_correct_row(facts, row) for row in rows)
    return ListPage(f"{facts.name}: correct which split?", choices, outcomes)


def _correct_row(facts: AthleteFacts, row: SplitRow) -> Step:
    limit = f", at most {duration_words(row.longest_ms)}" if row.longest_ms is not None else ""
    return TypePage(
        title=f"{facts.name}: split",
        prompt="split",
        read=lambda text: Answer(Correct(row.interval, read_split(text, row.longest_ms), row.part)),
        offered=row.split if row.status == "done" else "",
        lead=f"{row_words(row)}, now: {row_split(row) or 'none'}",
        hint=f"seconds such as 44.5, or m:ss.s{limit}; - for untapped",
    )


def _not_finished(facts: AthleteFacts) -> Step:
    now = [row for row in facts.splits if row.status == "now"]
    last = [row for row in facts.splits if row.status != "now"][-1:]
    rows = [("this interval", row) for row in now] + [("the last interval", row) for row in last]
    if not rows:
        return Said("no interval of this part has been worked yet")
    choices = tuple(Choice(f"{which}: {row_words(row)}", note=row_split(row)) for which, row in rows)
    outcomes: tuple[Step, ...] = tuple(Answer(MarkNotFinished(row.interval, row.part)) for _, row in rows)
    return ListPage(f"{facts.name}: not finished", choices, outcomes)


def _option(facts: AthleteFacts) -> Step:
    if facts.choices:
        lines = tuple((line, TakeChoice(line.name)) for line in facts.choices)
        return _options_page(facts, f"{facts.name}: which work?", lines, facts.choice, "whole part: ")
    able = [line for line in facts.moves if line.options]
    if not able:
        return Said("the plan has no options here")
    return _by_move(facts, able, "option for which move?", lambda line: _option_at(facts, line))


def _option_at(facts: AthleteFacts, line: MoveLine) -> Step:
    lines = tuple((option, ChooseOption(option.name, line.station)) for option in line.options)
    return _options_page(facts, f"{facts.name}: option for {line.written}", lines, line.option)


def _options_page(
    facts: AthleteFacts, title: str, lines: Sequence[tuple[OptionLine, AthleteAction]], in_force: str, before: str = ""
) -> Step:
    numbers = _numbers(len(lines), facts)
    choices = tuple(
        Choice(before + (line.name or "as written"), number, number, _option_note(line, in_force))
        for number, (line, _) in zip(numbers, lines, strict=True)
    )
    at = next((number for number, (line, _) in enumerate(lines) if line.name == in_force), 0)
    return ListPage(title, choices, tuple(Answer(action) for _, action in lines), cursor=at)


def _option_note(line: OptionLine, in_force: str) -> str:
    return "  ".join(words for words in (line.words, "(now)" if line.name == in_force else "") if words)


def _numbers(count: int, facts: AthleteFacts) -> list[str]:
    """1, 2, 3 ... as keys; nothing for a number that is somebody's tap key, or that needs two strokes."""
    return ["" if number > 9 or str(number) in facts.tap_keys else str(number) for number in range(1, count + 1)]


def _result(facts: AthleteFacts) -> Step:
    kind = facts.result_kind
    if kind is None:
        return Said("this part has no result to enter: its splits are the result")

    def read(text: str) -> Step:
        result = read_result(text, kind)
        return Answer(EnterResult(result.rounds, result.reps, result.time_ms))

    known = facts.result.words() if facts.result else "-"
    return TypePage(
        title=f"{facts.name}: result",
        prompt="result",
        read=read,
        offered="" if known == "-" else known,
        lead=f"now {'none' if known == '-' else known}",
        hint=f"{RESULT_HINT[kind]}; - for none",
    )


def _group(facts: AthleteFacts) -> Step:
    if len(facts.groups) < 2:
        return Said("there is one start group only")
    keys = ["" if line.number > 9 or str(line.number) in facts.tap_keys else str(line.number) for line in facts.groups]
    choices = tuple(
        Choice(f"group {line.number}", key, key, line.words + ("  (now)" if line.number == facts.group else ""))
        for key, line in zip(keys, facts.groups, strict=True)
    )
    at = next((number for number, line in enumerate(facts.groups) if line.number == facts.group), 0)
    outcomes: tuple[Step, ...] = tuple(Answer(SetGroup(line.number)) for line in facts.groups)
    lead = "From the next interval on, with the station of that group."
    return ListPage(f"{facts.name}: start group", choices, outcomes, lead=lead, cursor=at)


def _allow(facts: AthleteFacts) -> Step:
    if not facts.gated:
        return Said("no guarded move waits for your yes")
    if len(facts.gated) == 1:
        return _allow_move(facts, facts.gated[0])
    choices = tuple(Choice(gated.move, note=gated.caution) for gated in facts.gated)
    outcomes = tuple(_allow_move(facts, gated) for gated in facts.gated)
    return ListPage(f"{facts.name}: which guarded move?", choices, outcomes)


def _allow_move(facts: AthleteFacts, gated: GatedMove) -> Step:
    """The no stands first and under the cursor: Enter twice is never a yes."""
    return ListPage(
        title=f"{facts.name}: {gated.move}",
        choices=(Choice("no, keep to the option"), Choice("yes, I have seen it done safely and I allow it")),
        outcomes=(Back(f"{gated.move}: not allowed"), Answer(Allow(gated.move))),
        caution=gated.caution or "A guarded move: it can hurt somebody who is new to it.",
        lead="Your yes is recorded. Local rules and qualified staff decide.",
    )


def _margin(facts: AthleteFacts) -> Step:
    return TypePage(
        title=f"{facts.name}: own rest margin",
        prompt="at least",
        read=lambda text: Answer(SetMargin(read_margin(text))),
        offered=duration_words(facts.margin_ms),
        lead=f"now {duration_words(facts.margin_ms)}: a rest under it is flagged",
        hint="15 or 0:15; 0 for none; arrows change it by 1 s",
        nudge=nudged_margin,
    )


def _take_back(facts: AthleteFacts) -> Step:
    return Answer(TakeBack())


def _send_home(facts: AthleteFacts) -> Step:
    return AskPage(
        title=f"{facts.name}: goes home?",
        yes=Answer(SendHome()),
        yes_words="goes home",
        lead="What was tapped stays on record; from now on nothing is expected.",
        hints=(("Esc", "no"),),
    )


ENTRIES: Sequence[Entry] = (
    Entry("", "", "take the advice", _advice),
    Entry("f2", "F2", "change the target", _target),
    Entry("f3", "F3", "correct a split", _correct),
    Entry("f4", "F4", "not finished", _not_finished),
    Entry("f5", "F5", "choose an option", _option),
    Entry("f6", "F6", "enter a result", _result),
    Entry("f7", "F7", "quiet", _quiet),
    Entry("f8", "F8", "allow a guarded move", _allow),
    Entry("f9", "F9", "own rest margin", _margin),
    Entry("f12", "F12", "start group", _group),
    Entry("backspace", "Bksp", "take back the last tap", _take_back),
    Entry("delete", "Del", "send home", _send_home),
)
