"""A monkey on the real floor and on the review, in a terminal: keys, floods, mouse, sizes, signals, pastes, junk.

Invariant: it judges by what it sent and by what the independent reader finds in the journal, never by the floor's own words.
"""

from __future__ import annotations

import signal
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from random import Random

from tests.end_to_end.terminal import LONGEST_WAIT_S, Terminal, soon, terminal
from tests.hostile.files import journals, records
from tests.hostile.harness import Broken, Line, told, typed

PLAN = """\
session: Quay and back
count_in: 0
parts:
  - {kind: rotation, title: The quay, every: 10:00, rounds: 9, stations: [{move: step-up, target: 8 reps}]}
"""
KEYS = {"i": "Ilka", "b": "Bram", "n": "Noor", "t": "Tove", "w": "Wim", "o": "Odd"}
COMMANDS = ["?", "\x1bOQ", "\x1bOR", "\x1bOS", "\x1b[15~", "\x1b[17~", "\x1b[18~", "\x1b[19~", "\x1b[20~", "\x1b[21~"]
MOVES = [" ", "\t", "\x1b[Z", "\x1b[A", "\x1b[B", "\x1b[C", "\x1b[D", "\x1b[5~", "\x1b[6~", "\x7f", "\x1b", "\x03", "\x1a", "\r"]
JUNK = [
    *(b"\xff\xfe", b"\xe2\x82", b"\xed\xa0\x80", b"\x00", b"\x1b[999;999;999", b"\x1b]0;", b"\x1bP", b"\x1b[<9999999;x;yM"),
    *(b"\x1b[48;999999;999999;9;9t", b"\x1b[8;0;0t", b"\x1b[I", b"\x1b[O", b"\x1b[1;1R", b"\x1b[?62;c"),
]
"""The letters of tap keys are left out, so that every tap has a key."""
Act = Callable[[Terminal, Random], bytes]


def mouse(floor: Terminal, dice: Random) -> bytes:
    """The wheel and moves all over the screen and beyond it, never a click: a click on a row is a tap."""
    buttons, columns, rows = (32, 35, 64, 65), (0, 1, 40, 159, 5_000), (0, 1, 20, 44, 900)
    at = [tuple(map(dice.choice, (buttons, columns, rows))) for _ in range(40)]
    return b"".join(b"\x1b[<%d;%d;%dM" % place for place in at)


def size(floor: Terminal, dice: Random) -> bytes:
    """Another window, several times."""
    for _ in range(dice.choice((1, 5, 30))):
        floor.resize(dice.choice((1, 20, 80, 160, 400)), dice.choice((1, 6, 24, 45, 120)))
    return b""


def stop(floor: Terminal, dice: Random) -> bytes:
    """Stopped and let go on, by whoever."""
    for _ in range(dice.choice((1, 3))):
        floor.kill(dice.choice((signal.SIGSTOP, signal.SIGTSTP)))
        time.sleep(dice.choice((0.05, 0.3)))
        floor.kill(signal.SIGCONT)
    return b""


ACTS: list[Act] = [
    # Any keys, a few; one key far too often; a paste, now and then a huge one, or one that never ends; what no keyboard sends.
    lambda _, dice: "".join(dice.choices([*KEYS, *COMMANDS, *MOVES, "5", "x", "é", "紗"], k=dice.randrange(1, 30))).encode(),
    lambda _, dice: dice.choice([*COMMANDS, *MOVES[:-1], *KEYS]).encode() * dice.choice((30, 100, 400)),
    lambda _, dice: b"\x1b[200~" + b"zq\r" * dice.choice((1, 50, 20_000)) + dice.choice((b"\x1b[201~", b"\x1b[201~", b"")),
    lambda _, dice: b"".join(dice.choices(JUNK, k=dice.choice((1, 20, 5_000)))) + b"\x1b\\\x07",
    *(mouse, size, stop),
]


def lines(home: Path) -> list[Line]:
    """What is on the disk of the only class, without its header."""
    return [line for journal in journals(home) for line in told(journal.read_bytes())[1:]]


def taps(home: Path) -> list[str]:
    """Who was tapped, in order."""
    return [line["athlete"] for line in lines(home) if line["event"] == "tap"]


def going_on(terminal: Terminal) -> Terminal:
    """Lets a command go on that stopped by Ctrl+Z, or later than it was told to: there is no shell here that would.

    Only one that stands still: whoever goes on takes the terminal anew, and what was typed just then is flushed.
    """
    stat = Path(f"/proc/{terminal.process.pid}/stat")
    if terminal.process.poll() is None and stat.read_text("utf-8").rpartition(") ")[2].startswith("T"):
        terminal.kill(signal.SIGCONT)
    return terminal


def ended(floor: Terminal, home: Path) -> bool:
    """Whether the monkey ended the class, or left."""
    return floor.process.poll() is not None or any(line["event"] == "class ended" for line in lines(home))


def took(home: Path, keys: list[str], longest_s: float = LONGEST_WAIT_S) -> bool:
    """Whether these keys soon are the last taps on the disk, in their order."""
    wanted = [KEYS[key] for key in keys]
    return soon(lambda: taps(home)[-len(wanted) :] == wanted, longest_s)


def calm(floor: Terminal, home: Path, dice: Random) -> Counter[str]:
    """Escapes out of whatever is open, until a word of taps is taken as it was sent; gives the keys that took. Deaf is broken."""
    sent, patience_s, ends_s = Counter[str](), 2.0, time.monotonic() + LONGEST_WAIT_S
    while time.monotonic() < ends_s:
        word = dice.sample([*KEYS], len(KEYS))
        going_on(floor).send(b"\x1b")
        time.sleep(0.3)
        # Escape and the key behind it are one key where they are read at once: the first is given away.
        floor.send("".join(["i", *word]).encode())
        sent.update(["i", *word])
        # A machine with much else to do takes its time.
        patience_s *= 1.5
        if took(home, word, patience_s) or ended(floor, home):
            return sent
    raise Broken(f"deaf: no taps were taken for {LONGEST_WAIT_S:.0f} s; on the screen {floor.text[-300:]!r}")


def on_the_floor(dice: Random, folder: Path) -> None:
    """The floor under the monkey: no tap lost that it could take, none invented, and it ends when it is told to."""
    home, plan, who = folder / "home", folder / "plan.yaml", folder / "who.csv"
    plan.write_text(PLAN, "utf-8")
    who.write_text("name,key\n" + "".join(f"{name},{key}\n" for key, name in KEYS.items()), "utf-8")
    way = dice.choice(("TERM", "HUP", "window", "KILL"))
    with terminal(home, "run", str(plan), "-r", str(who), "--sound", "none") as floor:
        floor.sees("Ilka", "Odd")
        floor.send(b"\r")
        if not soon(lambda: lines(home)):
            raise Broken("the class never began")
        sent = play_on(floor, home, dice)
        end(floor, way)
    for key, name in KEYS.items():
        if taps(home).count(name) > sent[key]:
            raise Broken(f"{taps(home).count(name)} taps of {name}, and {sent[key]} keys")
    whole_journal(journals(home)[0], torn=way == "KILL")
    typed(home, "review", "--csv", allowed=(0,))


def play_on(floor: Terminal, home: Path, dice: Random) -> Counter[str]:
    """Wild acts, and after some of them a burst of taps that must all be taken; gives how often each key was sent."""
    sent: Counter[str] = Counter()
    for _ in range(dice.randrange(2, 6)):
        for act in dice.choices(ACTS, k=dice.randrange(1, 4)):
            data = act(floor, dice)
            sent.update(data.decode("latin-1").lower())
            floor.send(data)
        sent += calm(floor, home, dice)
        if ended(floor, home):
            break
        burst = ["b", *dice.choices([*KEYS], k=dice.choice((5, 60)))]
        floor.send("".join(burst).encode())
        sent.update(burst)
        if not took(home, burst):
            raise Broken(f"sent {''.join(burst)}, taken {taps(home)[-len(burst) :]}")
    return sent


def end(terminal: Terminal, way: str) -> None:
    """Ends a command from outside: by a signal, or by closing its window."""
    if terminal.process.poll() is not None:
        way = "its own keys"
    elif way == "window":
        terminal.hang_up()
    else:
        terminal.kill(getattr(signal, f"SIG{way}"))
    if not soon(lambda: going_on(terminal).process.poll() is not None):
        raise Broken(f"still there {LONGEST_WAIT_S:.0f} s after {way}")
    if terminal.process.returncode and way in ("TERM", "HUP", "its own keys"):
        raise Broken(f"ended with {terminal.process.returncode} after {way}: {terminal.text[-300:]!r}")


def whole_journal(journal: Path, *, torn: bool) -> None:
    """Every line fits its check, and every number is there once."""
    data = journal.read_bytes()
    found = told(data)
    if [line["seq"] for line in found] != list(range(len(found))) or len(data.splitlines()) - len(found) > torn:
        raise Broken(
            f"{len(data.splitlines())} lines, {len(found)} of them whole, numbers {[line['seq'] for line in found][-9:]}"
        )


def on_the_review(dice: Random, folder: Path) -> None:
    """The review under the monkey: what was recorded stays as it was, and only ratings that were typed follow it."""
    home = records(folder)
    journal = journals(home)[-1]
    before = journal.read_bytes()
    with terminal(home, "review", journal.stem) as review:
        review.sees("Quay and back")
        for _ in range(dice.randrange(2, 6)):
            act = dice.choice(ACTS)
            review.send(act(review, dice).replace(b"q", b"z").replace(b"\x1b[21~", b""))
            going_on(review).send("".join(dice.choices(["1", "3", "5", "7", ".", "o", "s", "p", *MOVES[1:10]], k=20)).encode())
            if review.process.poll() is not None:
                break
        end(review, dice.choice(("TERM", "HUP")))
        if review.process.returncode:
            raise Broken(f"ended with {review.process.returncode}: {review.text[-600:]!r}")
    after = journal.read_bytes()
    added = told(after[len(before) :])
    if not after.startswith(before) or any(line["event"] != "effort" for line in added):
        raise Broken(f"the review changed the journal: {[line['event'] for line in added]}")
    whole_journal(journal, torn=False)
    typed(home, "review", journal.stem, "--json", allowed=(0,))


MONKEYS = {"floor": on_the_floor, "review": on_the_review}
