"""Every command: what it prints, its exit status, and that trouble is a few plain lines on standard error."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from pathlib import Path

import jsonschema
import pytest
import yaml

from floorclock import __version__
from floorclock.cli.app import app, to_think_about
from floorclock.journal.reading import read_journal
from floorclock.journal.shelf import Shelf
from tests.commands import HARBOUR, HARBOUR_ROSTER, Answer, Shell, typed
from tests.journal.sample_class import journal_at
from tests.opened_classes import SESSION, plan_at, some_of_everything, started
from tests.plan.shipped import ROSTER_NAMES, SESSION_NAMES, SESSIONS
from tests.plan.shipped import session as shipped_session
from tests.report.test_export import REVIEW

BROKEN = """\
session: x
parts:
  - kind: rotation
    title: y
    every: soon
    rounds: -1
    stations: [{move: row, targett: 20 reps}]
  - {kind: opem}
"""


@pytest.fixture
def small(tmp_path: Path) -> tuple[str, str]:
    """A small session and its roster."""
    plan_at(tmp_path)
    return str(tmp_path / "plan.yaml"), str(tmp_path / "who.yaml")


def plain(answer: Answer) -> bool:
    """Whether what is on standard error is a few plain lines."""
    return "Traceback" not in answer.err and "defect" not in answer.err and 0 < len(answer.err_lines) <= 8


def test_help_lists_every_command_and_every_command_has_help(shell: Shell) -> None:
    answer = shell("--help")
    assert not re.search(r"^  .*\.\.\.$", answer.out, re.MULTILINE), "each command is said whole in one line"
    assert answer.status == 0
    names = [command.name or getattr(command.callback, "__name__", "") for command in app.registered_commands]
    for name in names:
        assert re.search(rf"^  {name}  +\w", answer.out, re.MULTILINE), name
        own = shell(name, "--help")
        assert own.status == 0
        assert own.out.startswith(f"Usage: floorclock {name}")


def test_version_is_the_package_s(shell: Shell) -> None:
    assert shell("--version") == Answer(0, f"floorclock {__version__}\n", "")


@pytest.mark.parametrize(
    "arguments",
    [
        ("sing",),
        ("check",),
        ("rehearse", HARBOUR),
        ("demo", "--speed", "0"),
        ("demo", "--speed", "nan"),
        ("run", HARBOUR, "--speed", "fast"),
        ("run", HARBOUR, "--margin", "soon"),
        ("run", HARBOUR, "--margin=-5"),
        ("review", "--text", "--csv"),
        ("review", "--json", "--csv"),
        ("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER, "--seed", "seven"),
        ("edit", HARBOUR, "--wall", "wide"),
        ("run", HARBOUR, "--cues", "cuont=3"),
        ("intake", "--session", HARBOUR, "--roster", HARBOUR_ROSTER, "--blank", "--minutes", "many"),
        ("trends", "--since", "soon"),
        ("trends", "--since", "2026-10-20", "--until", "2026-10-01"),
        ("people", "Ilka"),
        ("people", "--is", "Bram"),
        ("people", "Ilka", "--is", "Bram", "--undo"),
        ("people", "--undo"),
    ],
)
def test_wrong_usage_is_2_and_plain(shell: Shell, arguments: tuple[str, ...]) -> None:
    answer = shell(*arguments)
    assert answer.status == 2
    assert answer.out == ""
    assert plain(answer)


@pytest.mark.parametrize("name", SESSION_NAMES)
@pytest.mark.parametrize("roster", ROSTER_NAMES)
def test_check_passes_what_is_shipped(shell: Shell, name: str, roster: str) -> None:
    answer = shell("check", str(SESSIONS / name), "--roster", str(SESSIONS / roster))
    assert answer.status == 0
    assert answer.err == ""
    assert "in all " in answer.out


def test_check_knows_the_coachs_own_moves_and_mends_what_has_one_answer(shell: Shell, home: Path, tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    station = "{move: log press, target: 12, kit: lg}"
    plan.write_text(f"session: x\nkit: {{log: 4}}\nparts: [{{kind: rotation, every: 60, rounds: 1, stations: [{station}]}}]\n")
    assert "no usual time is known of log press" in shell("check", str(plan)).out
    home.mkdir(parents=True, exist_ok=True)
    (home / "moves.yaml").write_text("moves: [{move: log press, rep: 5}]\n")
    fixed = json.loads(shell("check", str(plan), "--fix", "--json").out)
    assert fixed["fixed"] == [f"{plan}:3: kit: log (the session's kit has no lg)"]
    assert "kit: log}" in plan.read_text()
    assert [problem["kind"] for problem in fixed["problems"]] == ["window"]
    (home / "moves.yaml").write_text("moves: [{move: log press, reps: 5}]\n")
    answer = shell("check", str(plan))
    assert (answer.status, f"{home / 'moves.yaml'}:1:" in answer.err) == (1, True)
    assert shell("schema").status == 1


def test_check_prints_every_problem_at_once_with_its_place(shell: Shell, tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text(BROKEN, encoding="utf-8")
    answer = shell("check", str(plan))
    assert answer.status == 1
    shape = re.compile(rf"{re.escape(str(plan))}:\d+:\d+: [\w\[\].]+: .+ \(.+\)")
    assert len(answer.err_lines) >= 3
    assert [line for line in answer.err_lines if not shape.fullmatch(line)] == []
    assert [line.split(":")[1] for line in answer.err_lines] == ["5", "6", "7", "8"]


def test_warnings_of_a_plan_that_can_run_are_printed_and_are_no_failure(shell: Shell, tmp_path: Path) -> None:
    plan_at(tmp_path, roster="roster: x\nathletes:\n  - {name: Ilka, targets: {handstand walk: 5 m}}\n")
    answer = shell("check", str(tmp_path / "plan.yaml"), "-r", str(tmp_path / "who.yaml"))
    assert (answer.status, answer.err) == (0, "")
    assert f"{tmp_path / 'who.yaml'}:3:" in answer.out


def test_the_floor_counts_what_check_would_have_the_coach_think_about(shell: Shell, home: Path, tmp_path: Path) -> None:
    plan, people = tmp_path / "plan.yaml", tmp_path / "people.yaml"
    plan.write_text(
        "session: x\nparts:\n  - {kind: rotation, every: 1:00, rounds: 4, stations: [{move: back squat, load: 75%}]}\n"
    )
    people.write_text("athletes:\n  - {name: Ilka, targets: {push-up: 5 reps}}\n")
    found = json.loads(shell("check", str(plan), "-r", str(people), "--json").out)["problems"]
    count = sum(problem["severity"] == "warning" for problem in found)
    assert 1 < count < len(found)
    assert to_think_about(plan, people) == f"{count} things to think about: floorclock check says which"
    plan.unlink()
    assert to_think_about(plan, people) == ""


def test_check_says_what_cannot_be_read(shell: Shell, tmp_path: Path) -> None:
    (tmp_path / "latin.yaml").write_bytes("session: Übung\n".encode("latin-1"))
    for path, words in {"nope.yaml": "no such file", ".": "that is a folder", "latin.yaml": "not UTF-8"}.items():
        answer = shell("check", str(tmp_path / path))
        assert answer.status == 1
        assert len(answer.err_lines) == 1
        assert words in answer.err


def test_a_file_with_an_odd_name_is_a_file(shell: Shell, tmp_path: Path) -> None:
    for name in ("[bold]a[b].yaml", "-x.yaml", "a b.yaml", "山.yaml", "a\nb.yaml"):
        (tmp_path / name).write_text(SESSION, encoding="utf-8")
        assert shell("check", str(tmp_path / name)).status == 0
        (tmp_path / name).write_text("session: 3\nparts: 4\n", encoding="utf-8")
        answer = shell("check", str(tmp_path / name))
        assert (answer.status, "Traceback" in answer.err) == (1, False)


def test_a_name_that_is_not_utf8_is_told_all_the_same(home: Path, tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/\xff.yaml"
    Path(os.fsdecode(path)).write_text("session: x\nparts: 3\n", encoding="utf-8")
    for more in ((), ("--json",)):
        answer = typed("check", os.fsdecode(path), *more, home=home)
        assert answer.returncode == 1
        assert b"Traceback" not in answer.stderr
        assert b"defect" not in answer.stderr
        assert b".yaml" in answer.stdout + answer.stderr


def test_a_plan_goes_out_as_json_and_one_that_cannot_run_is_1(shell: Shell, tmp_path: Path) -> None:
    values = json.loads(shell("check", HARBOUR, "--roster", HARBOUR_ROSTER, "--json").out)
    assert values["time_s"] == 3000
    assert values["parts"][1]["rounds_per_station"] == {"kettlebell swing": 5, "box jump": 5, "push-up": 5, "rest": 5}
    rotation = json.loads(shell("sheet", HARBOUR, "--json").out)["parts"][1]
    assert (len(rotation["intervals"]), rotation["intervals"][1]["target"]) == (21, "14 reps")
    plan = tmp_path / "plan.yaml"
    plan.write_text(BROKEN, encoding="utf-8")
    answer = shell("check", str(plan), "--json")
    assert (answer.status, {problem["file"] for problem in json.loads(answer.out)["problems"]}) == (1, {str(plan)})


def test_sheet_and_brief_print_every_part(shell: Shell) -> None:
    titles = [part.title for part in shipped_session("harbour.yaml").parts]
    for arguments in (("sheet",), ("sheet", "--page"), ("brief",)):
        answer = shell(*arguments, HARBOUR)
        assert (answer.status, answer.err) == (0, "")
        assert [title for title in titles if title not in answer.out] == []


def test_schema_is_one_that_passes_the_shipped_sessions(shell: Shell) -> None:
    schema = json.loads(shell("schema").out)
    jsonschema.Draft202012Validator.check_schema(schema)
    for name in SESSION_NAMES:
        text = (SESSIONS / name).read_text(encoding="utf-8")
        jsonschema.validate(yaml.load(text, getattr(yaml, "CBaseLoader", yaml.BaseLoader)), schema)


def test_a_floor_needs_a_terminal_and_first_of_all_a_plan(shell: Shell, home: Path, tmp_path: Path) -> None:
    answer = shell("run", HARBOUR, "--roster", HARBOUR_ROSTER)
    assert answer.status == 3
    assert "terminal" in answer.err
    assert len(answer.err_lines) == 1
    assert not list(home.glob("classes/*")), "a class that never opened left a record"
    (tmp_path / "plan.yaml").write_text(BROKEN, encoding="utf-8")
    answer = shell("run", str(tmp_path / "plan.yaml"))
    assert (answer.status, len(answer.err_lines)) == (1, 4)


@pytest.mark.parametrize("command", ["resume", "review", "classes"])
def test_with_nothing_recorded_there_is_nothing_to_do(shell: Shell, command: str) -> None:
    answer = shell(command)
    assert answer.status == 1
    assert answer.out == ""
    assert len(answer.err_lines) == 1


def test_resume_without_an_interrupted_class_has_nothing_to_do(shell: Shell, small: tuple[str, str]) -> None:
    shell("rehearse", small[0], "--roster", small[1])
    answer = shell("resume")
    assert answer.status == 1
    assert "no class was interrupted" in answer.err


def test_an_interrupted_class_can_be_reviewed_and_is_resumed_on_a_terminal_only(shell: Shell, tmp_path: Path, home: Path) -> None:
    one = started(plan_at(tmp_path), home)
    some_of_everything(one)
    one.die()
    before = one.opened.path.read_bytes()
    answer = shell("resume")
    assert (answer.status, "terminal" in answer.err) == (3, True)
    assert one.opened.path.read_bytes() == before, "a class that could not be shown was changed"
    values = json.loads(shell("review", "--json").out)
    ilka = next(athlete for athlete in values["parts"][1]["athletes"] if athlete["name"] == "Ilka")
    assert (ilka["splits"][0]["split_s"], values["class"]["rest_margin_s"]) == (33.3, 20)


def test_an_unknown_class_is_1_and_an_ambiguous_one_2(shell: Shell, home: Path) -> None:
    for name in ("20261125-1831-7f3a", "20261125-1831-7fff", "20261126-0700-0001"):
        journal_at(home / "classes" / f"{name}.jsonl", 3)
    unknown = shell("review", "2027")
    assert (unknown.status, len(unknown.err_lines)) == (1, 1)
    ambiguous = shell("review", "20261125")
    assert (ambiguous.status, len(ambiguous.err_lines)) == (2, 1)
    assert "7f3a" in ambiguous.err
    assert "7fff" in ambiguous.err
    assert shell("resume", "20261125").status == 2


def test_classes_lists_the_newest_first_and_says_what_is_a_rehearsal(shell: Shell, small: tuple[str, str], home: Path) -> None:
    assert json.loads(shell("classes", "--json").out) == {"classes": []}
    journal_at(home / "classes" / "20200101-0700-0001.jsonl", 3)
    shell("rehearse", small[0], "--roster", small[1])
    listed = json.loads(shell("classes", "--json").out)["classes"]
    keys = ["id", "session", "started", "athletes", "rehearsal", "ended", "running", "paper", "damage", "unread"]
    assert [list(entry) for entry in listed] == [keys] * 2
    assert [(entry["athletes"], entry["rehearsal"], entry["ended"]) for entry in listed] == [(3, True, True), (7, False, False)]
    text = shell("classes").out
    assert all(entry["id"] in text for entry in listed)
    assert "rehearsal" in text


def test_rehearse_json_and_review_json_agree_and_have_the_shape_of_the_design(shell: Shell, home: Path) -> None:
    played = shell("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER, "--seed", "7", "--json")
    assert (played.status, played.err) == (0, "")
    values = json.loads(played.out)
    for which in ([], [values["class"]["id"]], [values["class"]["id"][:-2]]):
        assert json.loads(shell("review", *which, "--json").out) == values
    jsonschema.validate(values, REVIEW)
    assert (values["class"]["rest_margin_s"], values["class"]["rehearsal"]) == (15, True)
    flags = {flag for part in values["parts"] for one in part["athletes"] for split in one["splits"] for flag in split["flags"]}
    assert {"tight", "fading"} <= flags
    assert isinstance(values["parts"][3]["athletes"][0]["result"]["time_s"], int | float)


def test_review_as_text_and_as_csv_say_the_same_splits(shell: Shell, small: tuple[str, str]) -> None:
    shell("rehearse", small[0], "--roster", small[1], "--seed", "3")
    text, rows = shell("review"), list(csv.DictReader(io.StringIO(shell("review", "--csv").out, newline="")))
    assert shell("review", "--text") == text
    assert "rehearsal" in text.out
    values = json.loads(shell("review", "--json").out)
    splits = [(athlete["name"], split) for part in values["parts"] for athlete in part["athletes"] for split in athlete["splits"]]
    assert [(row["athlete"], row["round"], row["station"], row["status"]) for row in rows] == [
        (name, str(split["round"]), split["station"], split["status"]) for name, split in splits
    ]
    assert [row["split"] and float(row["split"]) for row in rows] == [split["split_s"] or "" for _, split in splits]


def test_pages_and_pictures_are_put_where_the_coach_says(shell: Shell, small: tuple[str, str], tmp_path: Path) -> None:
    shell("rehearse", small[0], "--roster", small[1])
    page, picture, brief = (tmp_path / name for name in ("out.html", "out.png", "brief.html"))
    answer = shell("review", "--html", str(page), "--png", str(picture), "--no-names")
    assert (answer.status, answer.err, len(answer.out.splitlines())) == (0, "", 2)
    assert shell("brief", small[0], "--html", str(brief)).status == 0
    assert all("Quay and back" in path.read_text(encoding="utf-8") for path in (page, brief))
    assert picture.read_bytes().startswith(b"\x89PNG")
    missing = shell("review", "--html", str(tmp_path / "nowhere" / "out.html"))
    assert (missing.status, "there is no folder" in missing.err) == (2, True)


def test_review_of_a_damaged_journal_is_told_in_a_line(shell: Shell, home: Path) -> None:
    (home / "classes").mkdir(parents=True)
    (home / "classes" / "20260101-0700-0001.jsonl").write_bytes(os.urandom(500) + b"\n")
    answer = shell("review")
    assert answer.status == 1
    assert len(answer.err_lines) == 1
    assert shell("classes").status == 0


def test_a_new_plan_checks_clean_and_nothing_is_written_over(shell: Shell, tmp_path: Path) -> None:
    file = tmp_path / "tuesday-six.yaml"
    made = shell("new", str(file), "--minutes", "45", "--people", "12", "--kind", "for time", "--kit", "12 kettlebells")
    assert made.status == 0
    assert file.read_text(encoding="utf-8").splitlines()[1] == "session: Tuesday six"
    assert shell("check", str(file)).out.endswith("Nothing to mend.\n")
    again = shell("new", str(file))
    assert (again.status, again.err) == (2, f"floorclock: {file} is there already; name a new file\n")
    for option, value in (("--minutes", "5"), ("--people", "90"), ("--kind", "rotaton"), ("--kit", "bells")):
        wrong = shell("new", str(tmp_path / "other.yaml"), option, value)
        assert wrong.status == 2
        assert plain(wrong)
    assert not (tmp_path / "other.yaml").exists()


def test_the_shelf_is_the_named_folder_else_that_of_the_data_else_this_one(
    shell: Shell, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    nothing = shell("shelf")
    assert (nothing.status, "no plan in" in nothing.err) == (1, True)
    shell("new", "here.yaml")
    assert [plan["file"] for plan in json.loads(shell("shelf", "--json").out)["plans"]] == ["here.yaml"]
    (home / "plans").mkdir()
    shell("new", str(home / "plans" / "kept.yaml"))
    assert "kept.yaml" in shell("shelf").out
    assert "harbour.yaml" in shell("shelf", str(SESSIONS)).out
    assert shell("shelf", str(tmp_path / "nowhere")).status == 1


def test_edit_wants_a_terminal_and_a_plan(shell: Shell) -> None:
    assert shell("edit", HARBOUR).status == 3
    assert shell("edit", HARBOUR + ".no").status == 1


def test_many_rehearsals_are_chances_and_leave_no_record(shell: Shell, home: Path, tmp_path: Path) -> None:
    arguments = ("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER, "--times", "200", "--try", "box jump=8")
    told = json.loads(shell(*arguments, "--json").out)
    assert [part["title"] for part in told["as_planned"]["parts"]] == ["The harbour", "Carry and sit"]
    assert told["tried_words"] == "box jump 8"
    page, picture = tmp_path / "out.html", tmp_path / "out.png"
    answer = shell(*arguments, "--html", str(page), "--png", str(picture))
    assert (answer.status, answer.out.count("for the coach")) == (0, 2)
    assert page.stat().st_size > 10_000 < picture.stat().st_size
    assert "Hardest:" in shell(*arguments).out
    assert Shelf(home).classes() == ()
    wrong = shell("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER, "--try", "boxjump=8")
    assert (wrong.status, wrong.err) == (2, "floorclock: --try: the session has no `boxjump` (did you mean box jump?)\n")


@pytest.mark.parametrize("arguments", [("classes",), ("review",), ("resume",), ("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER)])
def test_a_data_folder_that_cannot_be_made_is_3(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...]
) -> None:
    (tmp_path / "in-the-way").write_text("a file", encoding="utf-8")
    monkeypatch.setenv("FLOORCLOCK_HOME", str(tmp_path / "in-the-way" / "home"))
    answer = shell(*arguments)
    assert (answer.status, len(answer.err_lines)) == (3, 1)
    assert "data folder" in answer.err


def test_a_read_only_data_folder_is_3(shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if os.geteuid() == 0:
        pytest.skip("root writes everywhere")
    (tmp_path / "shut").mkdir(mode=0o500)
    monkeypatch.setenv("FLOORCLOCK_HOME", str(tmp_path / "shut" / "home"))
    assert shell("rehearse", HARBOUR, "--roster", HARBOUR_ROSTER).status == 3


def test_demo_in_a_pipe_plays_the_class_twice_in_a_row_from_any_folder(home: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    answers = [typed("demo", home=home, cwd=tmp_path / "elsewhere") for _ in range(2)]
    assert [(answer.returncode, answer.stderr) for answer in answers] == [(0, b"")] * 2
    for answer in answers:
        assert b"The harbour" in answer.stdout
        assert b"tight" in answer.stdout
        assert b"Dunja" in answer.stdout
    first, second = (answer.stdout.decode().splitlines()[2:] for answer in answers)
    assert first == second
    assert list((tmp_path / "elsewhere").iterdir()) == []
    assert len(Shelf(home).classes()) == 2
    assert all(read_journal(entry.path).damage == () for entry in Shelf(home).classes())


@pytest.mark.parametrize("arguments", [("schema",), ("sheet", HARBOUR), ("sheet", HARBOUR, "--json"), ("--version",), ("demo",)])
def test_whoever_reads_less_hears_nothing_of_it(home: Path, arguments: tuple[str, ...]) -> None:
    for reader in ("head -n 1 >/dev/null", "true"):
        answer = typed(*arguments, home=home, script=f'"$@" | {reader}')
        assert answer.stderr == b""


@pytest.mark.parametrize("arguments", [("schema",), ("--version",), ("sheet", HARBOUR)])
def test_a_full_disk_under_the_output_is_3_in_one_line(home: Path, arguments: tuple[str, ...]) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this machine has no /dev/full")
    answer = typed(*arguments, home=home, script='"$@" >/dev/full')
    assert answer.returncode == 3
    assert answer.stderr.decode().splitlines() == ["floorclock: no space left on device"]


def test_a_terminal_without_unicode_gets_what_it_can_show(home: Path, small: tuple[str, str]) -> None:
    for arguments in (("demo",), ("check", small[0]), ("brief", small[0])):
        answer = typed(*arguments, home=home, PYTHONIOENCODING="ascii")
        assert (answer.returncode, answer.stderr) == (0, b"")


def test_names_with_markup_go_through_every_output(shell: Shell, tmp_path: Path) -> None:
    names = ("[/]", "[bold]Bo[/bold]", "=1+1", "紗希", "عُدي")
    people = "\n".join(f"  - {{name: {json.dumps(name, ensure_ascii=False)}}}" for name in names)
    plan_at(tmp_path, roster=f"roster: '[red]x'\nathletes:\n{people}\n", session=SESSION.replace("Quay and back", "'[b]Quay[/]'"))
    files = (str(tmp_path / "plan.yaml"), "--roster", str(tmp_path / "who.yaml"))
    for arguments in (("check", *files), ("sheet", *files), ("rehearse", *files), ("review",), ("classes",), ("review", "--csv")):
        answer = shell(*arguments)
        assert (answer.status, answer.err) == (0, "")
        if arguments[0] in ("check", "sheet", "classes"):
            assert "[b]Quay[/]" in answer.out
    text = shell("review").out
    assert all(name in text for name in names if name.isascii())
