"""The floor: shows the class ten times a second and takes every key and click.

Invariant: repainting reads the class and changes nothing but its clock; a key becomes a tap with the time it was read at.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeVar

from textual.app import ComposeResult
from textual.events import Key, MouseDown
from textual.screen import Screen

from floorclock.clock import events
from floorclock.clock.cues import Cue
from floorclock.clock.outcome import Outcome
from floorclock.clock.run import PartRun
from floorclock.live.conductor import Conductor
from floorclock.tui.floor.board import Board
from floorclock.tui.floor.commands import Commands, command_for
from floorclock.tui.floor.desk import Desk, FloorSettings
from floorclock.tui.floor.floor_panel import FloorPanel
from floorclock.tui.floor.moment import moment
from floorclock.tui.floor.offers import Offers
from floorclock.tui.floor.outlooks import Outlooks, bring_pacing, is_paced, last_measured
from floorclock.tui.floor.present import FloorContext, Presenter
from floorclock.tui.floor.present_board import members_here
from floorclock.tui.floor.view import FloorView, RowView
from floorclock.tui.floor.words import CUE_WORDS, event_words, outcome_words

if TYPE_CHECKING:
    from floorclock.tui.floor.dialogs.dialog import Dialog

Result = TypeVar("Result")
Answer = TypeVar("Answer")

TICK_S = 0.1
BEAT_TICKS = 10
PAGE_TICKS = 60
FIRM_TICKS = 30
RUSH_TICKS, MOST_RUSH_TICKS = 2, 20
"""While one tap follows another within this time the pace is not thought about, for so long at most: the taps go first."""
CUE_TICKS = 25
REDRAW_AFTER_S = 0.3
NS_PER_S = 1_000_000_000
_ONE_ATHLETE = (events.Tapped, events.TapTakenBack)
"""Events that change at most what was taken of one athlete; they are many, and must be cheap to show."""
_OF_A_TEAM = (*_ONE_ATHLETE, events.NotFinished, events.SplitCorrected, events.ResultEntered, events.ScoreEntered)
"""What is recorded of all of a team."""


class FloorScreen(Screen[int]):
    """The one screen of a running class."""

    AUTO_FOCUS = ""

    def __init__(self, conductor: Conductor, settings: FloorSettings) -> None:
        super().__init__()
        self.conductor = conductor
        self.settings = settings
        self.presenter = Presenter(conductor.state, Outlooks(conductor.state, bring=self._bring_pacing), settings.shows)
        self.stage = FloorPanel()
        self.desk = Desk(
            conductor=conductor,
            settings=settings,
            presenter=self.presenter,
            offers=Offers(conductor.state),
            ask=self._ask,
            paint=self.paint,
            turn_page=self.stage.turn_page,
            leave=lambda: self.app.exit(0),
        )
        self.commands = Commands(self.desk)
        self._version = 0
        self._firm_until = 0
        self._tapped_tick = self._thought_tick = -MOST_RUSH_TICKS
        self._cue_word = ("", 0)
        self._run: PartRun | None = None
        self._rows: tuple[RowView, ...] | None = None
        self._raised: set[tuple[str, str]] | None = None
        self._began_s = 0.0
        self._timer: asyncio.TimerHandle | None = None
        self._redraw: asyncio.TimerHandle | None = None
        self._beside: set[asyncio.Future[Any]] = set()
        self._pacing_asked = self._pacing_here = False

    def compose(self) -> ComposeResult:
        yield self.stage

    def on_mount(self) -> None:
        self.conductor.on_folded.append(self._folded)
        self.conductor.on_cue.append(self._cued)
        self.conductor.on_slept.append(lambda ms: self.commands.key_actions.ask_where_to_carry_on(ms))
        self._began_s = asyncio.get_running_loop().time()
        for notice in self.settings.notices:
            self.desk.say(notice, warning=True)
        if self.settings.away_ms is not None:
            self.commands.key_actions.ask_where_to_carry_on(self.settings.away_ms)
        self._tick()
        self.preparing = asyncio.get_running_loop().create_task(self._prepare())

    async def _prepare(self) -> None:
        """After the first picture, on a thread: the dialogs, so that the first opens at once; then the sound; then the pacing."""
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(None, import_module, "floorclock.tui.floor.key_actions")
        told = 0
        for step in self.settings.preparations:
            await loop.run_in_executor(None, step)
            self.conductor.resound()
            for problem in self.settings.sound_problems[told:]:
                self.desk.say(problem, warning=True)
            told = len(self.settings.sound_problems)
        self.desk.offers.prior = await loop.run_in_executor(None, self.settings.prior)
        self.presenter.outlooks.take_prior(self.desk.offers.prior)
        if any(is_paced(part) for part in self.conductor.state.session.parts):
            self._bring_pacing()
        remark = await loop.run_in_executor(None, self.settings.remark)
        if remark and not self.conductor.state.runs and not self.desk.notice[0]:
            self.desk.say(remark, warning=True)

    def _bring_pacing(self) -> bool:
        """Whether the pacing is imported; the first time it is asked, a thread sets about it."""
        if not self._pacing_asked:
            self._pacing_asked = True
            self._do_beside(bring_pacing, self._pacing_came)
        return self._pacing_here

    def _pacing_came(self, trouble: str) -> None:
        self._pacing_here = not trouble
        if trouble:
            self.presenter.outlooks.without_pacing = True
            self.desk.say(f"no forecasts and no advice: {trouble}", warning=True)

    def _do_beside(self, work: Callable[[], Result], take: Callable[[Result], None]) -> None:
        """Has something done on a thread, and its result taken by the loop."""
        doing = asyncio.get_running_loop().run_in_executor(None, work)
        self._beside.add(doing)

        def done(future: asyncio.Future[Result]) -> None:
            self._beside.discard(future)
            if not future.cancelled():
                take(future.result())

        doing.add_done_callback(done)

    def on_resize(self) -> None:
        """A terminal that was pulled about may have lost what was drawn meanwhile: once it is still, all is drawn again."""
        if self._redraw is not None:
            self._redraw.cancel()
        self._redraw = asyncio.get_running_loop().call_later(REDRAW_AFTER_S, self.refresh)

    def on_unmount(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        if self._redraw is not None:
            self._redraw.cancel()
        self.preparing.cancel()

    def _tick(self) -> None:
        """One look at the class. Instants come from the loop's clock, so a late tick does not delay the next."""
        loop = asyncio.get_running_loop()
        self.desk.ticks += 1
        if self.settings.autopilot is not None:
            self.settings.autopilot.run(self.conductor)
        self.conductor.tick()
        self.paint()
        self._think()
        if self.desk.ticks % BEAT_TICKS == 1:
            self.settings.beat()
        if self.desk.ticks % PAGE_TICKS == 0:
            self.stage.turn_page()
        passed = int((loop.time() - self._began_s) / TICK_S + 1e-6)
        self._timer = loop.call_at(self._began_s + (passed + 1) * TICK_S, self._tick)

    def _think(self) -> None:
        """What may take its time, after what must be seen at once; its results are shown at the next look."""
        state, ticks = self.conductor.state, self.desk.ticks
        if ticks - self._tapped_tick >= RUSH_TICKS or ticks - self._thought_tick >= MOST_RUSH_TICKS:
            self._thought_tick = ticks
            self.presenter.outlooks.follow(state.now_ms)
        question = self.desk.offers.question(moment(state, state.now_ms), self._version)
        if question is not None:
            self._do_beside(question, self.desk.offers.take)

    def paint(self) -> None:
        """Shows the class as it stands."""
        self._say_larger_team()
        words, warning = self.desk.notice
        outside = FloorContext(
            wall=self.conductor.clock.wall().strftime("%H:%M"),
            badge=self.settings.badges(),
            notice=words,
            notice_kind="warning" if warning else "info",
            selected=self.desk.selected,
            cue=self._cue_word[0] if self.desk.ticks <= self._cue_word[1] else "",
            offer=self.desk.offers.words,
        )
        self._show(self.presenter.view(self.conductor.state.now_ms, self._version, outside))

    def _say_larger_team(self) -> None:
        """When a part in teams begins, by a key or by itself: which team has one more."""
        run = self.conductor.state.run
        if run is None or run is self._run:
            return
        self._run = run
        larger = [team for team in run.teams if len(team) > run.part.team_size]
        if larger:
            self.desk.say("one more in: " + "; ".join(" + ".join(team) for team in larger))

    def _show(self, view: FloorView) -> None:
        self.stage.show(view)
        self.commands.advising.seen()
        if view.rows is not self._rows:
            self._rows = view.rows
            self._call_for_new_flags()

    def _call_for_new_flags(self) -> None:
        """A flag that was not there before sounds once, for the coach; those that stood when the floor opened do not.

        Nor do those of an athlete who was made quiet, also when their calls are wanted again.
        """
        outlooks, quiet = self.presenter.outlooks, self.conductor.state.quiet
        if self._raised is None and not outlooks.settled:
            return
        people = self.conductor.state.present
        raised: set[tuple[str, str]] = {
            (athlete.name, flag) for athlete in people for flag in outlooks.of(athlete.name).standing.flags
        }
        if self._raised is not None and any(name not in quiet for name, _ in raised - self._raised):
            self.conductor.call_attention()
        self._raised = raised

    def _folded(self, event: events.Event, outcome: Outcome) -> None:
        self._version += 1
        tap = isinstance(event, _ONE_ATHLETE)
        if tap:
            self._tapped_tick = self.desk.ticks
            self.presenter.only_changed(self._version, outcome.athlete)
        if isinstance(event, events.Left) and event.athlete == self.desk.selected:
            self.desk.selected = ""
        self.presenter.outlooks.concerns(event, outcome)
        self._answer(event, outcome)
        # Shown at once: whoever tapped looks up now, not a tenth of a second later.
        if tap and self.stage.view is not None:
            # The board as it stands; all else waits for the next tick, a tenth of a second at most.
            now_ms, selected = self.conductor.state.now_ms, self.desk.selected
            self._show(self.presenter.after_taps(self.stage.view, now_ms, self._version, selected))
            return
        self.conductor.tick()
        self.settings.beat()
        self.paint()

    def _answer(self, event: events.Event, outcome: Outcome) -> None:
        """Says what came of an event. An old answer does not outlive what was done after it.

        But taps come by the dozen: what the coach gave stays readable for a moment, and the row shows the tap.
        """
        given = self.commands.advising.answer_to(event)
        if given:
            self._firm_until = self.desk.ticks + FIRM_TICKS
        elif isinstance(event, events.Tapped) and outcome.took_effect and self.desk.ticks < self._firm_until:
            return
        who = self._team_of(outcome.athlete, " + ") if isinstance(event, _OF_A_TEAM) else outcome.athlete
        said = replace(outcome, athlete=who)
        words = outcome_words(said) or given or event_words(event, said, self._round_of(event))
        others = self._team_of(outcome.athlete, " and ", others=True)
        if isinstance(event, events.Joined | events.Left) and outcome.took_effect and others:
            go = "go" if " and " in others else "goes"
            words += f", with {others}" if isinstance(event, events.Joined) else f"; {others} {go} on"
        if outcome.took_effect and not outcome.saved:
            words = f"not saved yet: {words}"
        self.desk.say(words, warning=not outcome.took_effect or not outcome.saved)

    def _round_of(self, event: events.Event) -> int:
        """The next round of an athlete at the move that they have a new target for; 1 for all other events."""
        if not isinstance(event, events.TargetChanged):
            return 1
        from floorclock.tui.floor.dialogs.athlete_facts import move_lines, part_of_work

        part = part_of_work(self.conductor.state, self.desk.here)
        lines = move_lines(self.conductor.state, self.desk.here, part, event.athlete) if part is not None else ()
        return next((line.round for line in lines if line.own == event.move), 1)

    def _team_of(self, name: str, between: str, *, others: bool = False) -> str:
        """Who is here of the team of an athlete in the last part that was begun, or the athlete; or the others alone."""
        run = last_measured(self.conductor.state)
        team = members_here(self.conductor.state, run, run.recorded_as(name)) if run is not None and name else ()
        names = [member.name for member in team if not others or member.name != name]
        return between.join(names) if names or others else name

    def _cued(self, cue: Cue) -> None:
        word = CUE_WORDS.get(cue.name)
        if word:
            self._cue_word = (word, self.desk.ticks + CUE_TICKS)

    def _ask(self, dialog: Dialog[Answer], take: Callable[[Answer | None], None], *, urgent: bool = False) -> None:
        if urgent or self.app.screen is self:
            dialog.take = take
            self.app.push_screen(dialog)

    def take_key(self, event: Key) -> None:
        """A tap, or a command, or a word that the key is nobody's."""
        stamp_ns = self._stamp_ns(event.time)
        name = self.commands.athlete_of_key(event.character or "")
        if name:
            self.commands.tap(name, stamp_ns)
            return
        command = command_for(event.key, event.character)
        if command is not None:
            command.run(self.commands, stamp_ns)
        elif event.is_printable and event.character:
            self.desk.say(f"nobody has the key {event.character}", warning=True)

    def press_board(self, event: MouseDown) -> None:
        """Hands a press that went to another screen to the board, if it lies on it."""
        board = self.stage.board
        if board.is_on_screen and board.region.contains(event.x, event.y):
            x, y = event.x - board.region.x, event.y - board.region.y
            board.post_message(MouseDown(board, x, y, 0, 0, event.button, event.shift, event.meta, event.ctrl))

    def on_board_row_pressed(self, message: Board.RowPressed) -> None:
        self.commands.tap(message.athlete, self._stamp_ns(message.stamp_s))

    def _stamp_ns(self, stamp_s: float) -> int:
        # An event's time is monotonic and never later than now; a manual clock in a test stands before it.
        return min(int(stamp_s * NS_PER_S), self.conductor.clock.monotonic_ns())
