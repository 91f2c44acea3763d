"""A first plan from a few answers, with comments, to be changed by the coach.

Invariant: for every set of answers within the bounds `check` has nothing to say of it. Shares of the hour, targets and moves are
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from textwrap import indent
from typing import Final, Literal, get_args

from floorclock.plan.durations import UnreadableError, shown
from floorclock.plan.names import nearest
from floorclock.plan.quantities import parse_count

Kind = Literal["rotation", "intervals", "for_time", "amrap"]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
KIND_WORDS: Final[Mapping[str, str]] = {
    "rotation": "a station a minute, then the next",
    "intervals": "work and rest by the clock",
    "for_time": "a piece of work, as fast as it goes",
    "amrap": "as many rounds as possible",
}
LEAST_MINUTES, MOST_MINUTES, MOST_PEOPLE = 20, 120, 40
STATIONS: Final = 4
MOST_WORK: Final[Mapping[Kind, int]] = {"rotation": 40, "intervals": 40, "for_time": 20, "amrap": 20}
"""So many minutes of work in one go; of more there are several blocks."""
BREATHER: Final = 2
PLURALS: Final = {"kettlebells": "kettlebell", "boxes": "box", "rowers": "rower", "dumbbells": "dumbbell", "mats": "mat"}


@dataclass(frozen=True, slots=True)
class _Move:
    """A move to begin with."""

    name: str
    pattern: str
    reps: str
    kit: str = ""
    caution: str = ""


WITH_KIT: Final = (
    _Move("kettlebell swing", "hinge", "12 reps", "kettlebell", "Nobody stands in front of or behind a swing."),
    _Move("row", "row", "120 m", "rower"),
    _Move("box step-up", "step", "10 reps", "box", "Step down, never jump down."),
    _Move("dumbbell press", "press", "8 reps", "dumbbell"),
)
WITHOUT: Final = (
    _Move("air squat", "squat", "12 reps"),
    _Move("push-up", "push", "8 reps"),
    _Move("sit-up", "core", "10 reps"),
    _Move("reverse lunge", "lunge", "10 reps"),
)


@dataclass(frozen=True, kw_only=True)
class Answers:
    """How long the room is ours, for how many, which kind of work, and how many there are of each kit."""

    minutes: int
    people: int
    kind: Kind
    kit: Mapping[str, int]
    title: str = "A new plan"


def read_kit(text: str) -> dict[str, int]:
    """Kit as typed: `8 kettlebells, 6 boxes`, `rower 4`; nothing for `none`.

    Raises:
        UnreadableError: no number, no name, or a name twice.
    """
    found: dict[str, int] = {}
    for piece in () if text.strip().lower() in ("", "none", "no") else text.split(","):
        words = piece.replace(":", " ").lower().split()
        numbers = [word for word in words if word.isdigit()]
        name = " ".join(word for word in words if not word.isdigit())
        if len(numbers) != 1 or not name.replace("-", "").replace(" ", "").isalpha():
            raise UnreadableError(f"{shown(piece.strip())} is no kit with a number", "write it like 8 kettlebells, 6 boxes")
        name = PLURALS.get(name, name)
        if name in found:
            raise UnreadableError(f"{shown(name)} is there twice", "write each once, such as 8 kettlebells, 6 boxes")
        found[name] = parse_count(numbers[0], 1, 200)
    return found


def read_minutes(text: str) -> int:
    """How long the class is, in whole minutes."""
    return parse_count(text, LEAST_MINUTES, MOST_MINUTES, "number of minutes")


def read_people(text: str) -> int:
    """How many people come."""
    return parse_count(text, 1, MOST_PEOPLE, "number of people")


def title_of(stem: str) -> str:
    """A title from the name of a file: `tuesday-six` is `Tuesday six`; text only, so that it means nothing else in the file."""
    words = " ".join("".join(letter if letter.isalnum() else " " for letter in stem).split())[:60]
    return f"{words[:1].upper()}{words[1:]}" if words[:1].isalpha() else f"Plan {words}".strip()


def read_kind(text: str) -> Kind:
    """One of the kinds, as typed.

    Raises:
        UnreadableError: it is none of them.
    """
    tidy = text.strip().lower().replace(" ", "_").replace("-", "_")
    for kind in KINDS:
        if tidy == kind:
            return kind
    near = nearest(tidy, KINDS)
    raise UnreadableError(
        f"there is no kind called {shown(text)}", f"did you mean {near}?" if near else f"one of {', '.join(KINDS)}"
    )


def new_plan(answers: Answers) -> str:
    """The text of a session file."""
    minutes = answers.minutes
    warm_up, cool_down, spare = max(3, minutes // 6), max(2, minutes // 12), max(5, minutes // 8)
    kit = ", ".join(f"{name}: {count}" for name, count in answers.kit.items())
    hour = minutes - warm_up - cool_down - spare
    blocks = -(-hour // MOST_WORK[answers.kind])
    main = _main(answers.kind, hour if blocks == 1 else hour // blocks - BREATHER)
    work = "\n".join(line for move in _moves(answers) for line in _station(move, counted=answers.kind != "intervals"))
    rest = "\n      - rest" if answers.kind == "rotation" else ""
    main = f"{main}\n{work}{rest}"
    if blocks > 1:
        main = f"""\
  - kind: repeat                   # the same work again, with its own results
    times: {blocks}
    parts:
{indent(main, "    ")}

      - kind: open
        title: Drink and change over
        time: {BREATHER}:00"""
    return f"""\
# {answers.title}: written from your answers, for you to change. Then: floorclock check
session: {answers.title}
class_time: {minutes}:00                  # how long the room is yours; about {spare} minutes of it are left free
rest_margin: 0:15                  # the rest that everybody should keep, every round
count_in: 0:10                     # before each timed part
{f"kit: {{{kit}}}" if kit else "# kit: {kettlebell: 8, box: 6}     # what there is of each"}
parts:
  - kind: open                     # you end it with a key
    title: Warm-up and brief
    time: {warm_up}:00
    notes: [Five slow reps of every move; show the options.]

{main}

  - kind: open
    title: Cool down
    time: {cool_down}:00
    notes: ["How hard was it, from 0 to 10?"]
"""


def _main(kind: Kind, minutes: int) -> str:
    """The head of the work; its stations come under it."""
    rounds = max(1, minutes // STATIONS)
    match kind:
        case "rotation":
            return f"""\
  - kind: rotation                 # start group 1 begins at the first station, group 2 at the second, and so on
    title: Stations
    every: 1:00                    # then everybody moves one station on
    rounds: {rounds}
    stations:"""
        case "intervals":
            return f"""\
  - kind: intervals                # as much as you can in each window, and the same again
    title: Windows
    work: 0:40
    rest: 0:20
    sets: {rounds * STATIONS}                        # so often comes a window; each station comes {rounds} x
    rest_margin: 0                 # nobody is done early here
    tap: none
    stations:"""
        case "for_time":
            return f"""\
  - kind: for_time                 # done when it is done, or at the cap
    title: The piece
    cap: {minutes}:00
    rounds: {max(2, min(6, minutes // 3))}
    work:"""
        case "amrap":
            return f"""\
  - kind: amrap                    # as many rounds as possible; a tap is one more
    title: The piece
    time: {minutes}:00
    work:"""


def _moves(answers: Answers) -> list[_Move]:
    """Moves with the kit that there is enough of and moves without any in turn, so that no two in a row are alike."""
    alone = answers.kind in ("for_time", "amrap")
    at_once = answers.people if alone else -(-answers.people // STATIONS)
    there = iter([move for move in WITH_KIT if answers.kit.get(move.kit, 0) >= at_once])
    without = iter(WITHOUT)
    many = 2 if alone else STATIONS - (answers.kind == "rotation")
    return [next(there, None) or next(without) if place % 2 == 0 else next(without) for place in range(many)]


def _station(move: _Move, *, counted: bool) -> Iterator[str]:
    yield f"      - move: {move.name}"
    if counted:
        yield f"        target: {move.reps}"
    if move.kit:
        yield f"        kit: {move.kit}"
    yield f"        pattern: {move.pattern}"
    if move.caution:
        yield f"        caution: {move.caution}"
