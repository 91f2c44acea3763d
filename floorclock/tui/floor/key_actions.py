"""The coach's commands that ask something first: each opens a dialog and sends events with its answer.

Invariant: a dialog is told plain values and answers plain values; what it means for the class is decided here.
This module brings all dialogs along, so it is imported after the first picture.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from floorclock.clock import events
from floorclock.clock.outcome import Outcome
from floorclock.clock.taps import last_taken
from floorclock.plan.typed_result import TypedResult
from floorclock.tui.floor.advice import AdviceEvents
from floorclock.tui.floor.advising import Advising
from floorclock.tui.floor.desk import Desk
from floorclock.tui.floor.dialogs.add_latecomer import AddLatecomer
from floorclock.tui.floor.dialogs.athlete_facts import (
    athlete_facts,
    groups_now,
    latecomers_group,
    missed_interval,
    typed_result,
)
from floorclock.tui.floor.dialogs.athlete_sheet import AthleteSheet, SheetAnswer, TakeAdvice
from floorclock.tui.floor.dialogs.help_page import HelpPage, KeyLine
from floorclock.tui.floor.dialogs.offered import Offered
from floorclock.tui.floor.dialogs.pick_athlete import PickAthlete
from floorclock.tui.floor.dialogs.questions import AskMargin, Confirm, ResumeQuestion
from floorclock.tui.floor.dialogs.results_entry import ResultsEntry, ResultSoFar
from floorclock.tui.floor.outlooks import Look, last_measured
from floorclock.tui.floor.present_board import members_here, names_on_board
from floorclock.tui.floor.score_asked import RESULT, ScoreAsked, likely_rounds, numbers_of, planned_load, result_kind, score_asked
from floorclock.tui.floor.words import clock_words, outcome_words

if TYPE_CHECKING:
    from floorclock.clock.state import ClassState


class KeyActions:
    """The conversations of one floor, as the key table begins them."""

    def __init__(self, desk: Desk, advising: Advising) -> None:
        self._desk, self._advising = desk, advising
        self._conductor = desk.conductor

    def end_part(self) -> None:
        """Ends the part that runs, if the coach means it."""
        here = self._desk.here
        if here.part is None:
            self._desk.say("no part is running", warning=True)
            return
        question = Confirm(f"End {here.part.title} now?", "What was tapped stays.", "ends the part")
        self._desk.ask(question, lambda yes: self._desk.send_now(events.PartEnded(at_ms=0)) if yes else None)

    def leave(self) -> None:
        """Ends the class, if the coach means it, and leaves the floor; before the start it just leaves."""
        state = self._conductor.state
        if not state.runs:
            question = Confirm("Leave?", "The class has not begun.", "leaves")
        elif state.over:
            question = Confirm("Leave?", "Everything is saved.", "leaves")
        else:
            question = Confirm("End the class now?", "Everything so far is saved.", "ends the class")
        self._desk.ask(question, self._leave_answered)

    def _leave_answered(self, yes: bool | None) -> None:
        if not yes:
            return
        state = self._conductor.state
        if state.runs and not state.ended_by_coach:
            was_over = state.over
            self._desk.send_now(events.ClassEnded(at_ms=0))
            if not was_over:
                return
        self._desk.leave()

    def athlete(self) -> None:
        """The sheet of the chosen athlete, or of the one whose key comes next."""
        state, chosen = self._conductor.state, self._desk.selected
        if chosen:
            team = members_here(state, last_measured(state), chosen)
            if len(team) == 1:
                self._open_sheet(chosen)
            else:
                self._desk.ask(PickAthlete(team, "Who of the team?"), self._open_sheet)
        else:
            self._desk.ask(PickAthlete(state.present, "Which athlete?"), self._open_sheet)

    def _open_sheet(self, name: str | None) -> None:
        if not name or name not in self._conductor.state.athletes:
            return
        outlooks = self._desk.presenter.outlooks
        look = outlooks.of(name) if outlooks.advising else Look(outlooks.of(name).standing)
        sheet = AthleteSheet(athlete_facts(self._conductor.state, self._desk.here, name, look))
        self._desk.ask(sheet, lambda action: self._act(name, action, look))

    def _act(self, name: str, answer: SheetAnswer | None, look: Look) -> None:
        if isinstance(answer, TakeAdvice):
            # What the sheet said when it was opened, whatever has come since.
            advice, run = look.best, self._conductor.state.run
            if advice is None or run is None or run.index != advice.part:
                self._desk.say("that part is over", warning=True)
            else:
                self._advising.give_advice(advice)
        elif answer is not None:
            self._desk.send_now(answer)

    def ask_for_a_yes(self, found: AdviceEvents, then: Callable[[], None]) -> None:
        """An advice that leads to a guarded move needs the coach's yes, which is recorded."""
        question = Confirm(
            f"{found.athlete}: may they do {found.after.move}?",
            f"It is guarded. {found.station.caution} Your yes is recorded; local rules and qualified staff decide.",
            "allows it and gives it",
        )
        self._desk.ask(question, lambda yes: then() if yes else None)

    def offers(self) -> None:
        """The targets from earlier classes: which of them are given."""
        offered = self._desk.offers.standing

        def answered(ticked: tuple[int, ...] | None) -> None:
            if ticked is not None:
                self._desk.offers.answered(offered)
                self._advising.give_all([offered[number] for number in ticked])

        self._desk.ask(Offered(self._desk.offers.lines()), answered)

    def latecomer(self) -> None:
        """Somebody comes late."""
        state = self._conductor.state
        names = [athlete.name for athlete in state.present]
        keys = [athlete.key for athlete in state.athletes.values()]
        groups = groups_now(state, self._desk.here)
        fits = latecomers_group(state, self._desk.here, groups)
        dialog = AddLatecomer(names, keys, groups, fits)
        self._desk.ask(dialog, lambda athlete: self._desk.send_now(events.Joined(at_ms=0, athlete=athlete)) if athlete else None)

    def margin(self) -> None:
        """Another rest margin for the class, or for the part that has its own."""
        state = self._conductor.state
        run = last_measured(state)
        part = run.index if run else (state.next_part or 0)
        # A part with a margin of its own would not hear of another one for the class.
        own = state.part(part).rest_margin_ms is not None or part in state.part_margins
        question = AskMargin(state.margin_for("", part), "for this part" if own else "for the class")

        def answered(margin_ms: int | None) -> None:
            if margin_ms is not None:
                self._desk.send_now(events.MarginChanged(at_ms=0, margin_ms=margin_ms, part=part if own else None))

        self._desk.ask(question, answered)

    def results(self) -> None:
        """The numbers of a part with a score, else the results of the last part that has any."""
        state = self._conductor.state
        asked = score_asked(state)
        if asked is not None and (asked.missing or asked.run is last_measured(state)):
            self._ask_numbers(asked)
            return
        run = next((run for run in reversed(state.runs) if result_kind(run)), None)
        if run is None:
            self._desk.say("no part with results was begun", warning=True)
        else:
            self._ask_numbers(ScoreAsked(run, RESULT, ()))

    def _ask_numbers(self, asked: ScoreAsked) -> None:
        """Those who have none yet; everybody, where nobody lacks one."""
        state, run = self._conductor.state, asked.run
        rows = []
        for name in asked.missing or names_on_board(state, run):
            known = _known_number(state, asked, name)
            team = members_here(state, run, name)
            offered = "" if known else planned_load(state, asked, name)
            rows.append(ResultSoFar(name, team[0].key, known, offered, " + ".join(member.name for member in team)))
        others = len(numbers_of(state, run)) > 1
        dialog = ResultsEntry(rows, asked.kind, asked.words(), others=others, most_rounds=likely_rounds(run))
        self._desk.ask(dialog, lambda answers: self._numbers_answered(asked, answers, dialog.turn))

    def _numbers_answered(self, asked: ScoreAsked, answers: Mapping[str, TypedResult] | None, turn: int) -> None:
        if answers is None:
            return
        for name, typed in answers.items():
            place: dict[str, Any] = {"at_ms": 0, "athlete": name, "part": asked.run.index}
            if asked.interval == RESULT:
                self._desk.send_now(events.ResultEntered(**place, rounds=typed.rounds, reps=typed.reps, time_ms=typed.time_ms))
            else:
                self._desk.send_now(events.ScoreEntered(**place, interval=asked.interval, amount=typed.score))
        every = numbers_of(self._conductor.state, asked.run)
        at = next((number for number, score in enumerate(every) if score.interval == asked.interval), 0)
        if turn:
            self._ask_numbers(replace(every[(at + turn) % len(every)], missing=()))
        # What was typed now is on its way to the disk, and counts a moment later.
        elif every and not {*every[at].missing} - {*answers}:
            following = next((score for score in every[at + 1 :] if score.missing), None)
            if following is not None:
                self._ask_numbers(following)

    def move_tap(self, stamp_ns: int) -> None:
        """The last tap, or the chosen athlete's, goes to whose key comes next, with its time."""
        state = self._conductor.state
        taken = last_taken(state, self._desk.selected, self._conductor.stamp(stamp_ns))
        if isinstance(taken, Outcome):
            self._desk.say(outcome_words(taken), warning=True)
            return
        others = [athlete for athlete in state.present if athlete.name != taken.athlete]

        def moved(name: str | None) -> None:
            if name:
                self._desk.send_now(events.TapTakenBack(at_ms=0, athlete=taken.athlete))
                self._conductor.send(events.Tapped(at_ms=taken.at_ms, athlete=name))

        self._desk.ask(PickAthlete(others, f"Not {taken.athlete}: who was it?"), moved)

    def not_finished(self) -> None:
        """The chosen athlete, or the one whose key comes next, missed the interval."""
        if self._desk.selected:
            self._missed(self._desk.selected)
        else:
            self._desk.ask(PickAthlete(self._conductor.state.present, "Who did not finish?"), self._missed)

    def _missed(self, name: str | None) -> None:
        state = self._conductor.state
        run = last_measured(state)
        if not name:
            return
        if run is None:
            self._desk.say("no work has begun", warning=True)
            return
        name = run.recorded_as(name)
        interval = missed_interval(state, run, name)
        if interval is None:
            self._desk.say(f"{name} has no work now that could be missed", warning=True)
        else:
            self._desk.send_now(events.NotFinished(at_ms=0, athlete=name, part=run.index, interval=interval))

    def help(self, lines: Sequence[KeyLine]) -> None:
        """All keys."""
        self._desk.ask(HelpPage(lines), lambda answer: None)

    def ask_where_to_carry_on(self, away_ms: int) -> None:
        """After a crash or a sleep: from where it stopped, or from where the clock would be?"""
        state = self._conductor.state
        away = f"The class was away for {clock_words(away_ms, up=True)}."
        stopped = f"at {clock_words(state.now_ms, up=True)} of the class"
        would_be = f"at {clock_words(state.now_ms + away_ms, up=True)} of the class"

        def answered(answer: str | None) -> None:
            if answer is None:
                self._desk.say("paused: space goes on from where it stopped", warning=True)
            else:
                self._conductor.carry_on(away_ms, away_ms if answer == "would_be" else 0, state.session.resume_count_in_ms)

        self._desk.ask(ResumeQuestion(away, stopped, would_be), answered, urgent=True)


def _known_number(state: ClassState, asked: ScoreAsked, name: str) -> str:
    if asked.interval == RESULT:
        result = typed_result(state, asked.run, name)
        return result.words() if result is not None else ""
    known = asked.run.scores.get((name, asked.interval))
    return "" if known is None else f"{float(known):g}"
