"""Attacks through files: plans, rosters, paper, journals, archives, settings and sounds, each through the commands.

Invariant: a bad file costs at most itself, and says so: what was good before reads the same beside it.
"""

from __future__ import annotations

import atexit
import hashlib
import io
import json
import os
import shutil
import struct
import tarfile
import wave
from functools import cache
from pathlib import Path
from random import Random
from tempfile import mkdtemp

from tests.hostile.harness import Broken, Line, sealed, told, typed
from tests.hostile.mangle import ODD_TEXTS, mangled, other_bytes, other_values
from tests.plan.shipped import SESSION_NAMES, SESSIONS, SOUNDS

PLAN = """\
session: Quay and back
rest_margin: 0:15
count_in: 0
parts:
  - kind: rotation
    title: The quay
    every: 0:40
    rounds: 4
    stations: [{move: step-up, target: 8 reps}, {move: row, target: 60 m}]
  - {kind: for_time, title: Last, cap: 1:00, rounds: 2, work: [{move: sit-up, target: 5 reps}]}
"""
ROSTER = """\
roster: Four
athletes:
  - {name: Ilka, key: i, level: strong}
  - {name: Bram, key: b, group: 2, targets: {row: 50 m}}
  - {name: Noor, key: n, experienced: [row]}
  - {name: 紗希, options: {row: lighter}}
"""
NAMES = ("Ilka", "Bram", "Noor", "紗希")
SHORT = """\
session: x
count_in: 0:05
parts: [{kind: intervals, work: 0:06, rest: 0:04, sets: 2, stations: [{move: a, target: 1 rep}]}]
"""


@cache
def base() -> Path:
    """A data folder with three classes of the same session, an index of them and, beside it, a backup; made once."""
    folder = Path(mkdtemp(prefix="floorclock-hostile-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "plan.yaml").write_text(PLAN, "utf-8")
    (folder / "who.yaml").write_text(ROSTER, "utf-8")
    (folder / "short.yaml").write_text(SHORT, "utf-8")
    home = folder / "home"
    for seed in ("1", "2", "3"):
        typed(home, "rehearse", str(folder / "plan.yaml"), "-r", str(folder / "who.yaml"), "--seed", seed, allowed=(0,))
    for number, journal in enumerate(journals(home)):
        lines = told(journal.read_bytes())
        # As if people had been there (rehearsals are in no index), and under the same names in every run.
        started = f"2026-11-0{number + 1}T18:00:00+01:00"
        lines[0] |= {"id": f"2026110{number + 1}-1800-000{number}", "started": started, "rehearsal": False}
        (journal.parent / f"{lines[0]['id']}.jsonl").write_bytes(b"".join(map(sealed, lines)))
        journal.unlink()
    typed(home, "index", "--rebuild", allowed=(0,))
    typed(home, "backup", str(folder / "all.tar.gz"), allowed=(0,))
    return folder


def journals(home: Path) -> list[Path]:
    """The journals in a data folder."""
    return sorted((home / "classes").glob("*.jsonl"))


def records(folder: Path) -> Path:
    """A data folder of one's own, as `base`."""
    shutil.copytree(base() / "home", folder / "home")
    return folder / "home"


def plans(dice: Random, folder: Path) -> None:
    """A session file of somebody who can't write one, or of an enemy, checked, costed and played."""
    whole = dice.choice([PLAN, *((SESSIONS / name).read_text("utf-8") for name in SESSION_NAMES)])
    home, plan, who = folder / "home", folder / "plan.yaml", str(base() / "who.yaml")
    put_somehow(plan, mangled(whole, dice, (1, 1, 2, 5)), dice)
    checked = typed(home, "check", str(plan), *dice.choice(([], ["--json"], ["--roster", who])), allowed=(0, 1, 3))
    command = dice.choice(("sheet", "brief"))
    shown = typed(home, command, str(plan), allowed=(0, 1, 3))
    if checked.status == 0 and shown.status:
        raise Broken(f"a plan that `check` takes is refused by `{command}`: {shown.err[:300]!r}")
    if checked.status == 1 and "plan.yaml" not in checked.err + checked.out:
        raise Broken(f"no word on where: {checked.err[:300]!r}")
    if checked.status == 0 and plan.is_file() and plan.stat().st_size < 2_000:
        played = typed(home, "rehearse", str(plan), "-r", who, "--json", allowed=(0, 1))
        if played.status == 0:
            json.loads(played.out)
            typed(home, "review", "--csv", allowed=(0,))


def put_somehow(path: Path, data: bytes, dice: Random) -> None:
    """A file with these bytes; now and then something in its place that is no file."""
    way = dice.random()
    if way < 0.02:
        os.mkfifo(path)
    elif way < 0.04:
        path.mkdir()
    elif way < 0.06:
        path.symlink_to(dice.choice((path, Path("/dev/zero"), Path("/dev/full"))))
    else:
        path.write_bytes(data)


def rosters(dice: Random, folder: Path) -> None:
    """A roster as YAML or CSV that went wrong on its way."""
    suffix, whole = dice.choice((("yaml", ROSTER), ("csv", (SESSIONS / "full-house.csv").read_text("utf-8"))))
    home, plan, who = folder / "home", str(base() / "plan.yaml"), folder / f"who.{suffix}"
    put_somehow(who, mangled(whole, dice, (1, 1, 3)), dice)
    checked = typed(home, "check", plan, "-r", str(who), allowed=(0, 1, 3))
    if checked.status == 0:
        typed(home, "intake", "--blank", "-s", plan, "-r", str(who), allowed=(0,))
    typed(home, "targets", plan, "-r", str(who), allowed=(0, 1, 3))


def paper(dice: Random, folder: Path) -> None:
    """A sheet of splits that people wrote by hand: taken whole, or refused and nothing recorded."""
    home, files = folder / "home", ("-s", str(base() / "plan.yaml"), "-r", str(base() / "who.yaml"))
    sheet = typed(home, "intake", "--blank", *files, allowed=(0,)).out
    usual = ("", "nf", "31.4", "0:31.4", "12", "39.9")
    odd = (*["1:00", "1.30", "40.5", "-3", "0", '"31,4"', "x", "1e3", "٣١"], dice.choice(ODD_TEXTS))
    if dice.random() < 0.5:
        places = [(number, move, name) for number in range(1, 5) for move in ("step-up", "row") for name in NAMES]
        rows = ["part,round,station,athlete,split", *(f"1,{number},{move},{name},?" for number, move, name in places)]
    else:
        # Every cell of the first part, and the result of the second.
        rows = sheet.splitlines()
        for at, row in enumerate(rows):
            if row.startswith(NAMES):
                rows[at] = row.replace(",", ",?", -1 if at < len(rows) // 2 else 1)
    cells = "\r\n".join(rows).split("?")
    # Most are what a coach writes; some sheets hold no mistake at all.
    filled = [dice.choice(usual if dice.random() < 0.97 else odd) for _ in cells[1:]]
    text = cells[0] + "".join(mark + cell for mark, cell in zip(filled, cells[1:], strict=True))
    put_somehow(folder / "splits.csv", mangled(text, dice, (0, 0, 1, 3)), dice)
    taken = typed(home, "intake", str(folder / "splits.csv"), *files, "--json", allowed=(0, 1, 3))
    if (taken.status == 0) != bool(journals(home)):
        raise Broken(f"status {taken.status}, and {len(journals(home))} journals")
    if taken.status == 0:
        review = json.loads(typed(home, "review", "--json", allowed=(0,)).out)
        splits = [split for part in review["parts"] for athlete in part["athletes"] for split in athlete["splits"]]
        if not all(split["split_s"] is None or 0 < split["split_s"] <= 40 for split in splits):
            raise Broken("a split outside of its interval was taken")


READING = (
    *("classes", "classes --json", "people --json", "trends", "trends --json", "athlete Ilka", "athlete Ilka --json", "index"),
    *("index --rebuild", "compare {good} {other}", "resume {bad}", "export {out}", "backup {out}.tar.gz"),
    *("targets {plan} -r {who}", "forget Noor --dry-run"),
)
MAY_FAIL = {"resume": (1, 3), "people": (0, 1), "forget": (0, 1, 3)}


def bad_lines(lines: list[Line], dice: Random) -> bytes:
    """The lines of a journal with right checks and wrong values, in a wrong order, or of another version."""
    made = [dict(line) for line in lines]
    for _ in range(dice.choice((1, 1, 1, 4))):
        at = 0 if dice.random() < 0.4 else dice.randrange(len(made))
        changed = other_values(made[at], dice)
        made[at] = changed if isinstance(changed, dict) else made[at]
    if dice.random() < 0.1:
        at = dice.randrange(1, len(made))
        made[at:at] = [dict(dice.choice(made))]
    data = b"".join(map(sealed, made))
    return data if dice.random() < 0.9 else other_bytes(data, dice)


def journal_values(dice: Random, folder: Path) -> None:
    """A journal with right checks and wrong values beside two good ones: it costs itself alone."""
    home = records(folder)
    good, other, bad = journals(home)
    before = typed(home, "review", good.stem, "--csv", allowed=(0,)).out
    data = bad_lines(told(bad.read_bytes()), dice)
    bad.unlink()
    put_somehow(bad, data, dice)
    names = {"good": good.stem, "other": other.stem, "bad": bad.stem, "out": folder / "out"}
    names |= {"plan": base() / "plan.yaml", "who": base() / "who.yaml"}
    typed(home, "review", bad.stem, dice.choice(("--text", "--json", "--csv")), allowed=(0, 1, 3))
    for wanted in dice.sample(READING, 4):
        command = wanted.format(**names).split()
        typed(home, *command, allowed=MAY_FAIL.get(command[0], (0,)))
    if typed(home, "review", good.stem, "--csv", allowed=(0,)).out != before:
        raise Broken("the review of a good class changed")
    if bad.is_file() and bad.read_bytes() != data:
        raise Broken("reading changed a journal")
    if dice.random() < 0.15:
        typed(home, "forget", "Ilka", "--yes", allowed=(0, 3))
        if b"Ilka" in good.read_bytes() or b"Ilka" in other.read_bytes():
            raise Broken("a name is left in a class that can be read")


def packed(files: dict[str, bytes], dice: Random, wild: bool) -> bytes:
    """A backup of these files, with right sums; `wild`, with entries that no backup has."""
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as tar:
        for name, data in files.items():
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            if wild and dice.random() < 0.3:
                entry.type = dice.choice((tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.CHRTYPE, tarfile.FIFOTYPE, tarfile.DIRTYPE))
                entry.linkname, entry.size = dice.choice(("/etc/passwd", "../../stolen", name)), 0
            tar.addfile(entry, io.BytesIO(data))
    return out.getvalue()


def archives(dice: Random, folder: Path) -> None:
    """A backup that was cut, changed or made by an enemy: refused whole, or what is good of it comes back; never outside."""
    whole, home = (base() / "all.tar.gz").read_bytes(), folder / "inner" / "home"
    with tarfile.open(fileobj=io.BytesIO(whole)) as tar:
        files = {entry.name: tar.extractfile(entry).read() for entry in tar if entry.isfile()}  # type: ignore[union-attr]
    way = dice.randrange(5)
    data = other_bytes(whole, dice)
    if way:
        del files["SHA256SUMS"]
        name = dice.choice(list(files))
        if way == 1:
            files[name] = other_bytes(files[name], dice)
        elif way == 2 and name.endswith(".jsonl"):
            # As when the class still ran while the backup was made.
            files[name] = b"".join(files[name].splitlines(keepends=True)[: dice.randrange(1, 12)])
        elif way == 3 and name.endswith(".jsonl"):
            files[name] = bad_lines(told(files[name]), dice)
        else:
            away = ("../stolen", "/tmp/stolen", "classes/../../stolen", "classes/x.jsonl", dice.choice(ODD_TEXTS) or "x")
            files[dice.choice(away)] = b"x"
        right = "".join(f"{hashlib.sha256(content).hexdigest()}  {each}\n" for each, content in files.items())
        files["SHA256SUMS"] = right.encode("utf-8", "surrogatepass")
        if dice.random() < 0.2:
            files["SHA256SUMS"] = other_bytes(files["SHA256SUMS"], dice)
        data = packed(files, dice, wild=way == 4 and dice.random() < 0.5)
    (folder / "some.tar.gz").write_bytes(data)
    typed(home, "restore", str(folder / "some.tar.gz"), allowed=(0, 1, 3))
    outside = {path.name for path in folder.rglob("*") if home not in (path, *path.parents)} - {"some.tar.gz", "inner"}
    if outside or Path("/tmp/stolen").exists():
        raise Broken(f"a restore wrote outside of the data folder: {outside}")
    first = {path.name: path.read_bytes() for path in journals(home)} if home.exists() else {}
    typed(home, "restore", str(base() / "all.tar.gz"), allowed=(0,))
    for path in journals(base() / "home"):
        here, true = (home / "classes" / path.name).read_bytes(), path.read_bytes()
        if here != true and (path.name not in first or true.startswith(first[path.name]) or here != first[path.name]):
            raise Broken(f"{path.name} is not whole after the whole backup was restored")
    typed(home, "classes", allowed=(0,))


def settings(dice: Random, folder: Path) -> None:
    """Settings that somebody edited: the usual ones stand in, and that is said."""
    home = folder / "home"
    home.mkdir()
    usual = {"sound_offset_ms": 120, "sound_output": "auto", "sounds": str(folder)}
    wrong = json.dumps(other_values(usual, dice, dice.choice((1, 2)))).encode()
    data = wrong if dice.random() < 0.7 else other_bytes(json.dumps(usual).encode(), dice)
    put_somehow(home / "settings.json", data, dice)
    typed(home, "cues", "--sound", "none", allowed=(0,))
    typed(home, "cues", "--tune", allowed=(3,))
    typed(home, "run", str(base() / "short.yaml"), allowed=(3,))


def wav(dice: Random) -> bytes:
    """A WAV file of any rate, width, form and length, whose header may lie."""
    tag, bits = dice.choice(((1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64), (0xFFFE, 16), (2, 4), (1, 17), (65535, 0)))
    rate, channels = dice.choice((1, 8_000, 44_100, 96_000, 384_000, 2**32 - 1, 0)), dice.choice((1, 2, 6, 0, 255))
    frames = dice.choice((0, 1, 2, 44_100, 400_000))
    number = dice.choice((0.0, 1e308, float("nan"), float("inf"), -1.0, 0.3))
    forms = {64: lambda: struct.pack("<d", number), 32: lambda: struct.pack("<f", min(number, 3e38))}
    one = forms[bits]() if tag == 3 else dice.randbytes(max(1, bits // 8))
    data = (one * frames)[: 1 << 21]
    head = struct.pack("<HHIIHH", tag, channels, rate, rate * channels * bits // 8 % 2**32, channels * bits // 8 % 2**16, bits)
    size = len(data) if dice.random() < 0.7 else dice.choice((0, 2**32 - 1, len(data) * 2 % 2**32))
    riff = struct.pack("<4sI8sI", b"RIFF", size + 36 & 0xFFFFFFFF, b"WAVEfmt ", len(head))
    return riff + head + struct.pack("<4sI", b"data", size) + data


def sounds(dice: Random, folder: Path) -> None:
    """A coach's own sounds that no sound program would play: each costs its own cue, and the class is heard."""
    own, out = folder / "own", folder / "out.wav"
    own.mkdir()
    for name in dice.sample(("go", "count", "rest", "end", "last_ten", "no such cue"), dice.choice((1, 2, 4))):
        data = wav(dice) if dice.random() < 0.7 else other_bytes((SOUNDS / "go.wav").read_bytes(), dice)
        put_somehow(own / f"{name}.wav", data, dice)
    typed(folder / "home", "cues", "--render", str(out), str(base() / "short.yaml"), "--sounds", str(own), allowed=(0,))
    with wave.open(str(out)) as rendered:
        length_s = rendered.getnframes() / rendered.getframerate()
        heard = rendered.readframes(rendered.getnframes()).strip(b"\0")
    if not 16 <= length_s <= 40 or not heard:
        raise Broken(f"{length_s:.1f} s of sound, {'some' if heard else 'all silent'}")


PURE = {attack.__name__: attack for attack in (plans, rosters, paper, journal_values, archives, settings, sounds)}
