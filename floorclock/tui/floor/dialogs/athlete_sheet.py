"""Everything that can be done for one athlete while the class runs, one key each.

Invariant: the sheet changes nothing itself; it answers one event, to be sent with the class time of the answer, or nothing.
Every entry of the menu is always there; one that makes no sense now says why instead of leading anywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from rich.text import Text

from floorclock.clock.events import (
    Allowed,
    ChoiceTaken,
    Event,
    Left,
    LoadChanged,
    MarginChanged,
    NotFinished,
    OptionChosen,
    Quietened,
    Regrouped,
    ResultEntered,
    ScoreEntered,
    SplitCorrected,
    TapTakenBack,
    TargetChanged,
)
from floorclock.digest.work_words import goal_of
from floorclock.pace.sayable import chance_said
from floorclock.plan.durations import UnreadableError, duration_words
from floorclock.plan.names import counted
from floorclock.plan.quantities import parse_load
from floorclock.plan.typed_result import RESULT_HINT, read_result
from floorclock.plan.work import LoadUnit, Target
from floorclock.tui.floor.dialogs.athlete_facts import AthleteFacts, MoveLine, SplitLine
from floorclock.tui.floor.dialogs.dialog import ALERT, FAINT, PLAIN, STRONG, in_cells
from floorclock.tui.floor.dialogs.pages import (
    Answer,
    Back,
    ListPage,
    MenuItem,
    Outcome,
    PagedDialog,
    Stay,
    TypePage,
    margin_page,
    yes_page,
)
from floorclock.tui.floor.dialogs.reading import STEP, amount_typed, full_words, nudged, read_amount, read_split
from floorclock.tui.floor.score_asked import ScoreAsked

if TYPE_CHECKING:
    from floorclock.pace.model.forecast import Forecast


@dataclass(frozen=True, slots=True)
class TakeAdvice:
    """What would help is given."""


SheetAnswer = Event | TakeAdvice
Step = Outcome[SheetAnswer]

SheetItem = MenuItem[SheetAnswer]

NO_WORK_YET = "no work in this part yet"
ASIDE_CELLS = 42
ASIDE_FROM = 70
DOUBTFUL = 0.5
"""A round that keeps the margin less surely than this stands out."""


class AthleteSheet(PagedDialog[SheetAnswer]):
    """One athlete's facts and the menu of what can be done. No letter and no digit means anything here: taps go on."""

    def __init__(self, facts: AthleteFacts) -> None:
        self._about = facts
        menu = _menu(facts)
        super().__init__(menu, {item.key: item.outcome for item in menu.items if item.key.startswith(("f", "ctrl+"))})

    def facts(self, width: int, rows: int) -> list[Text]:
        facts = self._about
        if self.page is not self.first:
            return []
        now = facts.move
        work = f"work: {_work_words(now)}" + (f" ({now.work.option})" if now.work.option else "") if now else "nothing to do now"
        lines = [Text(f" {work}", STRONG)]
        if facts.flag:
            lines.append(Text(f" {facts.flag}   (muted)", FAINT) if facts.quiet else Text(f" {facts.flag}", ALERT))
        if facts.advice and rows > 14:
            lines.append(Text(f" advice for {facts.advice}"))
        return [Text(in_cells(line.plain, width), line.style) for line in lines]

    def aside(self, width: int, rows: int) -> tuple[int, list[Text]]:
        facts = self._about
        if self.page is not self.first or width < ASIDE_FROM or not (facts.splits or facts.ahead):
            return 0, []
        room = min(rows, len(ENTRIES))
        lines = [_ahead_text(ahead) for ahead in facts.ahead[: max(0, room - 4)]]
        if lines:
            lines = [Text("│ to come: split, keeps the margin?", FAINT), *lines]
        if facts.drift and room - len(lines) > 3:
            lines.append(Text(f"│ {facts.drift}", FAINT))
        left = room - len(lines) - 1
        latest = facts.splits[-left:] if left > 0 else ()
        if latest:
            lines += [Text("│ this part so far", FAINT), *map(_split_text, latest)]
        return ASIDE_CELLS, lines


def _ahead_text(ahead: Forecast) -> Text:
    """One round still to come: the split with its interval, and how sure the margin is kept."""
    kept = 1 - ahead.chance_tight()
    split = f"{ahead.split_ms / 1000:.0f} ({ahead.low_ms / 1000:.0f}-{ahead.high_ms / 1000:.0f})"
    chance = chance_said(kept)
    # Of a line that is too long the name is cut, never what is said of it.
    room = ASIDE_CELLS - 6 - len(chance)
    name = min(ASIDE_CELLS - 28, room - len(split))
    return Text.assemble(
        (f"│{ahead.slot.round:>2} ", FAINT),
        in_cells(ahead.slot.move, name),
        f" {split:>{min(10, room - name)}}",
        (f" {chance}", ALERT if kept < DOUBTFUL else PLAIN),
    )


def _split_text(line: SplitLine) -> Text:
    split = (f" {_split_words(line):>13}", PLAIN if line.status == "done" else FAINT)
    return Text.assemble((f"│ {line.round:>3}  ", FAINT), in_cells(line.station, ASIDE_CELLS - 21), split)


def _split_words(line: SplitLine) -> str:
    """The split, or the word for why there is none."""
    return line.split if line.status == "done" else "at work" if line.status == "now" else line.status


def _round_words(line: SplitLine) -> str:
    return f"round {line.round}  {line.station}"


def _work_words(line: MoveLine) -> str:
    work = line.work
    if work.target is None:
        return f"{work.move} at {work.load.words()}" if work.load is not None else work.move
    return f"{work.move} {goal_of(work.target, work.load, line.round)}"


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One line of the menu: the key that works on it, what it is called, and what it leads to."""

    key: str
    shown: str
    label: str
    leads_to: Callable[[AthleteFacts], Step]


def _menu(facts: AthleteFacts) -> ListPage[SheetAnswer]:
    """The first page: `Sefa Lind   key s   group 2`."""
    items = []
    for entry in ENTRIES:
        label = "unmute their calls" if entry.key == "f7" and facts.quiet else entry.label
        items.append(SheetItem(label, entry.leads_to(facts), entry.key, entry.shown))
    group = f"   group {facts.group}" if len(facts.groups) > 1 else ""
    title = facts.name + (f"   key {facts.key}" if facts.key else "   no key") + group
    hints = (("Esc", "close"), ("Enter", "choose"), ("↑↓", "move"))
    return ListPage(title, tuple(items), cursor=0 if facts.advice else 1, hints=hints)


def _advice(facts: AthleteFacts) -> Step:
    return Answer(TakeAdvice()) if facts.advice else Stay("no advice for them now; Ctrl+T changes any target")


def _target(facts: AthleteFacts) -> Step:
    able = [line for line in facts.moves if line.work.target is not None and not line.work.target.most]
    if able:
        return _by_move(facts, able, "target for which move?", partial(_target_at, facts))
    move = facts.move
    return Stay(f"{move.work.move} has no target to change" if move else "no move is on now, so there is no target to change")


def _by_move(facts: AthleteFacts, lines: Sequence[MoveLine], title: str, page: Callable[[MoveLine], Step]) -> Step:
    """The page of the one move there is, or a list of them with that of the flag, or of now, under the cursor."""
    if len(lines) == 1:
        return page(lines[0])
    items = tuple(SheetItem(f"{line.when:<5}{_work_words(line)}", page(line), note=line.work.option) for line in lines)
    at = next((number for number, line in enumerate(lines) if line.station == facts.station), 0)
    return ListPage(f"{facts.name}: {title}", items, cursor=at)


def _target_at(facts: AthleteFacts, line: MoveLine) -> Step:
    written = line.work.target
    assert written is not None
    now, unit, climb = written.in_round(line.round), written.unit, written.step
    step = STEP[unit]

    def read(text: str) -> Step:
        # A ladder keeps its steps: the new amount is that of the round it is given for.
        target = Target(read_amount(text, unit, now) - climb * (line.round - 1), unit, climb)
        return Answer(TargetChanged(at_ms=0, athlete=facts.name, move=line.own, target=target))

    def preview(text: str) -> str:
        try:
            return f"= {full_words(read_amount(text, unit, now), unit)}"
        except UnreadableError:
            return ""

    return TypePage(
        title=f"{facts.name}: target",
        prompt=line.work.move,
        read=read,
        offered=amount_typed(now, unit),
        lead=f"now {full_words(now, unit)}, from now on:",
        hint=f"↓ {step} less, ↑ {step} more, PgDn {5 * step} less; or type it: 8, or -{2 * step}, or +{step}",
        nudge=lambda text, steps: nudged(text, unit, now, steps),
        preview=preview,
    )


def _load(facts: AthleteFacts) -> Step:
    able = [line for line in facts.moves if line.work.load is not None]
    return _by_move(facts, able, "load for which move?", partial(_load_at, facts)) if able else Stay("no move here has a load")


def _load_at(facts: AthleteFacts, line: MoveLine) -> Step:
    now = line.work.load
    assert now is not None
    unit = "kg" if now.unit is LoadUnit.PERCENT else str(now.unit)

    def read(text: str) -> Step:
        tidy = text.strip().replace(",", ".")
        load = parse_load(tidy if not tidy.replace(".", "", 1).isdigit() else f"{tidy} {unit}")
        return Answer(LoadChanged(at_ms=0, athlete=facts.name, move=line.own, load=load))

    return TypePage(
        title=f"{facts.name}: load",
        prompt=line.work.move,
        read=read,
        offered=now.words(),
        lead=f"now {now.words()}, from now on:",
        hint=f"a number is in {unit}; or write it like 24 kg or 53 lb",
    )


def _correct(facts: AthleteFacts) -> Step:
    done = [line for line in reversed(facts.splits) if line.status != "now"]
    lines = done + [line for line in facts.splits if line.status == "now"]
    items = [SheetItem(_round_words(line), _correct_line(facts, line), note=_split_words(line)) for line in lines]
    items += [SheetItem(asked.words(), _score_page(facts, asked, now), note=now) for asked, now in facts.scores]
    if not items:
        return Stay(NO_WORK_YET)
    return ListPage(f"{facts.name}: correct which one?", tuple(items))


def _score_page(facts: AthleteFacts, asked: ScoreAsked, now: str) -> Step:
    def read(text: str) -> Step:
        amount, part = read_result(text, "score").score, asked.run.index
        return Answer(ScoreEntered(at_ms=0, athlete=facts.recorded, part=part, interval=asked.interval, amount=amount))

    return TypePage(
        f"{facts.name}: {asked.words()}", "number", read, now, f"now {now or 'none'}", "a number such as 18; - for none"
    )


def _correct_line(facts: AthleteFacts, line: SplitLine) -> Step:
    def read(text: str) -> Step:
        split_ms = read_split(text, line.longest_ms)
        return Answer(SplitCorrected(at_ms=0, athlete=facts.recorded, part=line.part, interval=line.interval, split_ms=split_ms))

    limit = f", at most {duration_words(line.longest_ms)}" if line.longest_ms is not None else ""
    return TypePage(
        title=f"{facts.name}: split",
        prompt="split",
        read=read,
        offered=line.split if line.status == "done" else "",
        lead=f"{_round_words(line)}, now: {_split_words(line) or 'none'}",
        hint=f"seconds such as 44.5, or m:ss.s{limit}; - for untapped",
    )


def _not_finished(facts: AthleteFacts) -> Step:
    lines = [("this interval", line) for line in facts.splits if line.status == "now"]
    lines += [("the last interval", line) for line in facts.splits if line.status != "now"][-1:]
    if not lines and facts.missed is not None:
        # A piece of work has no intervals: it is missed as a whole.
        return Answer(NotFinished(at_ms=0, athlete=facts.recorded, part=facts.measured_part, interval=facts.missed))
    if not lines:
        return Stay(NO_WORK_YET)
    items = tuple(
        SheetItem(
            f"{which}: {_round_words(line)}",
            Answer(NotFinished(at_ms=0, athlete=facts.recorded, part=line.part, interval=line.interval)),
            note=_split_words(line),
        )
        for which, line in lines
    )
    return ListPage(f"{facts.name}: not finished", items)


def _option(facts: AthleteFacts) -> Step:
    if facts.choices:
        choices = [("", "as written")]
        for choice in facts.choices:
            words = counted(choice.rounds, "round") if choice.rounds else ", ".join(item.move for item in choice.work)
            choices.append((choice.name, words))
        taken = [(name, words, ChoiceTaken(at_ms=0, athlete=facts.name, part=facts.part, choice=name)) for name, words in choices]
        return _options_page(facts, "which work?", taken, facts.choice, "whole part: ")
    able = [line for line in facts.moves if line.item.options]
    if not able:
        return Stay("the plan has no options here")
    return _by_move(facts, able, "option for which move?", partial(_option_at, facts))


def _option_at(facts: AthleteFacts, line: MoveLine) -> Step:
    item = line.item
    options = [("", f"{_goal(item.move, item.target)}, as written")]
    options += [(option.name, _goal(option.move, option.target or item.target)) for option in item.options]
    chosen = [(name, words, OptionChosen(at_ms=0, athlete=facts.name, move=item.move, option=name)) for name, words in options]
    return _options_page(facts, f"option for {item.move}", chosen, line.work.option)


def _goal(move: str, target: Target | None) -> str:
    return move if target is None else f"{move} {target.words()}"


def _options_page(
    facts: AthleteFacts, title: str, options: Sequence[tuple[str, str, Event]], in_force: str, before: str = "", lead: str = ""
) -> Step:
    """Options, each with its name (empty: as written), its words, and the event that takes it.

    Its number is its key, unless that is somebody's tap key or needs two strokes.
    """
    items = []
    for number, (name, words, event) in enumerate(options, 1):
        note = "  ".join(filter(None, (words, "(now)" if name == in_force else "")))
        key = "" if number > 9 or str(number) in facts.tap_keys else str(number)
        items.append(SheetItem(before + (name or "as written"), Answer(event), key, key, note))
    at = next((number for number, (name, _, _) in enumerate(options) if name == in_force), 0)
    return ListPage(f"{facts.name}: {title}", tuple(items), lead, cursor=at)


def _result(facts: AthleteFacts) -> Step:
    kind = facts.result_kind
    if kind is None:
        return Stay("this part has no result to enter: its splits are the result")

    def read(text: str) -> Step:
        typed = read_result(text, kind)
        known = {"rounds": typed.rounds, "reps": typed.reps, "time_ms": typed.time_ms}
        return Answer(ResultEntered(at_ms=0, athlete=facts.recorded, part=facts.measured_part, **known))

    known = facts.result.words().strip("-") if facts.result else ""
    hint = f"{RESULT_HINT[kind]}; - for none"
    return TypePage(f"{facts.name}: result", "result", read, offered=known, lead=f"now {known or 'none'}", hint=hint)


def _group(facts: AthleteFacts) -> Step:
    if len(facts.groups) < 2:
        return Stay("there is only one start group")
    groups = [
        (f"group {number}", members, Regrouped(at_ms=0, athlete=facts.name, group=number))
        for number, members in facts.groups.items()
    ]
    lead = "From the next interval on, with the station of that group."
    return _options_page(facts, "start group", groups, f"group {facts.group}", lead=lead)


def _allow(facts: AthleteFacts) -> Step:
    if not facts.gated:
        return Stay("no guarded move waits for your yes")
    pages = {move: _allow_move(facts, move, caution) for move, caution in facts.gated.items()}
    if len(pages) == 1:
        return next(iter(pages.values()))
    items = tuple(SheetItem(move, page, note=facts.gated[move]) for move, page in pages.items())
    return ListPage(f"{facts.name}: which guarded move?", items)


def _allow_move(facts: AthleteFacts, move: str, caution: str) -> Step:
    """The no stands first and under the cursor: Enter twice is never a yes."""
    yes: Step = Answer(Allowed(at_ms=0, athlete=facts.name, move=move))
    return ListPage(
        title=f"{facts.name}: {move}",
        items=(
            SheetItem("no, keep to the option", Back(f"{move}: not allowed")),
            SheetItem("yes, I have seen it done safely and I allow it", yes),
        ),
        caution=caution or "A guarded move: it can hurt somebody who is new to it.",
        lead="Your yes is recorded. Local rules and qualified staff decide.",
    )


def _margin(facts: AthleteFacts) -> Step:
    return margin_page(
        f"{facts.name}: own rest margin",
        facts.margin_ms,
        lambda margin_ms: MarginChanged(at_ms=0, athlete=facts.name, margin_ms=margin_ms),
    )


def _send_home(facts: AthleteFacts) -> Step:
    home: Step = Answer(Left(at_ms=0, athlete=facts.name))
    lead = "What was tapped stays on record; from now on nothing is expected."
    return yes_page(f"{facts.name}: goes home?", home, "goes home", lead)


ENTRIES: Sequence[SheetEntry] = (
    SheetEntry("f2", "F2", "give the advice", _advice),
    SheetEntry("ctrl+t", "Ctrl+T", "change the target", _target),
    SheetEntry("f3", "F3", "correct a number", _correct),
    SheetEntry("f11", "F11", "not finished", _not_finished),
    SheetEntry("ctrl+o", "Ctrl+O", "choose an option", _option),
    SheetEntry("ctrl+l", "Ctrl+L", "change the load", _load),
    SheetEntry("f5", "F5", "own rest margin", _margin),
    SheetEntry("f6", "F6", "enter a result", _result),
    SheetEntry(
        "f7", "F7", "mute their calls", lambda facts: Answer(Quietened(at_ms=0, athlete=facts.name, quiet=not facts.quiet))
    ),
    SheetEntry("ctrl+y", "Ctrl+Y", "allow a guarded move", _allow),
    SheetEntry("ctrl+g", "Ctrl+G", "change the start group", _group),
    SheetEntry("backspace", "Bksp", "undo the last tap", lambda facts: Answer(TapTakenBack(at_ms=0, athlete=facts.recorded))),
    SheetEntry("delete", "Del", "send home", _send_home),
)
"""A key of the floor does the same here; the others are pressed with Ctrl, for a letter alone is somebody's tap."""
