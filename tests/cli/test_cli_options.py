"""What holds for every command: help, global options, exit codes, one message an error."""

import contextlib
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
import time_machine

from fruitcast import __version__
from fruitcast.cli import commands, main
from fruitcast.cli.commands import MODULES, load
from fruitcast.cli.root import activation, first_word
from tests.cli.running import TODAY, contents, done, run

COMMANDS = [
    "demo",
    "new",
    "check",
    "stacks",
    "plan",
    "week",
    "foretold",
    "inoculation",
    "calendar",
    "weather",
    "record",
]
HEAVY = ("numpy", "pandas", "pydantic", "meteostat", "requests", "highspy", "icalendar", "sqlite3")


def process(*argv: object) -> subprocess.CompletedProcess[str]:
    words = [sys.executable, "-m", "fruitcast", *map(str, argv)]
    return subprocess.run(words, capture_output=True, text=True, timeout=60)


def test_help_lists_every_command_and_the_options_that_go_everywhere():
    ran = done("--help")
    for word in (*COMMANDS, "diary", "--yard", "--today", "--json", "--debug"):
        assert word in ran.out
    assert ran.err == ""


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_help_with_the_global_options(name):
    ran = done(name, "--help")
    for word in ("--yard", "--today", "--json"):
        assert word in ran.out


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from fruitcast.cli import main; main(['--help']);"
        f"print([m for m in {HEAVY} if m in sys.modules], file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert ran.stderr.strip() == "[]"


def test_python_m_does_the_same_and_tells_the_version():
    ran = process("--version")
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, f"fruitcast {__version__}\n", "")


def test_the_name_alone_says_what_to_do_next(demo):
    nowhere = done()
    assert "fruitcast demo" in nowhere.out and "fruitcast new" in nowhere.out
    steps = done("--yard", demo, "--today", TODAY, "--json").document["next"]
    assert [step["command"].split()[1] for step in steps][:2] == ["week", "stacks"]


@pytest.fixture
def _found(monkeypatch):
    """The program's name is found in this terminal."""
    monkeypatch.setattr("fruitcast.cli.root.shutil.which", lambda name: f"/usr/bin/{name}")


@pytest.mark.usefixtures("_found")
def test_the_name_alone_says_first_what_the_yard_wants_most(demo):
    words = ("--yard", demo, "--today", TODAY)
    now = done(*words).out.splitlines()
    assert now[0] == "Yard: Larkspur Hollow." and "fruitcast week" in now
    assert "; promise Saturday market " in now[1] and now[2].startswith("May come by itself: ")
    later = done("--yard", demo, "--today", "2027-05-04").out.splitlines()
    assert later[1] == "Its plan is that of 2027-05-03." and "fruitcast plan" in later
    (demo / "out" / "plan.json").unlink()
    assert "It has no plan yet.\nfruitcast plan\n" in done(*words).out
    (demo / "weather.csv").unlink()
    assert "weather.csv is not there.\nfruitcast weather import FILE\n" in done(*words).out


@pytest.mark.usefixtures("_found")
def test_a_new_yards_example_rows_are_told_and_its_own_words_used(tmp_path):
    done("new", tmp_path / "mine", "--units", "metric", "--station", "10384")
    said = done("--yard", tmp_path / "mine").out
    assert "stacks.csv still holds the example rows" in said
    assert "fruitcast record pick Example 1 1.2 kg\n" in said


@pytest.mark.parametrize("broken", ["yard.toml", "stacks.csv", "out/plan.json"])
def test_the_name_alone_trips_over_nothing(demo, broken):
    (demo / broken).write_bytes(b"\xff\xfe[broken\x00")
    assert "fruitcast check" in done("--yard", demo).out


def test_where_the_name_is_not_found_the_way_to_it_is_told_first(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    program = tmp_path / "my venv" / "bin" / "fruitcast"
    program.parent.mkdir(parents=True)
    assert activation(str(program)) == ()
    program.with_name("activate").touch()
    monkeypatch.setattr(sys, "argv", [str(program)])
    assert done().out.splitlines()[1] == f". '{program.with_name('activate')}'"
    (tmp_path / "fruitcast").write_text("#!/bin/sh\n")
    (tmp_path / "fruitcast").chmod(0o755)
    assert "activate" not in done().out


def test_every_command_module_adds_commands():
    load()  # twice is once
    words = done("--help").out
    assert words.count("Write an invented yard") == 1


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("", ""),
        ("plan --yard week", "plan"),
        ("--yard report --json plan", "plan"),
        ("--yard=report --today=2027-05-03 --debug --today 2027-05-03 plan", "plan"),
        # Help of the whole program lists all commands.
        ("--help plan", "--help"),
        ("--yard plan", ""),
        ("--yard", ""),
    ],
)
def test_the_command_is_the_first_word_past_the_options_of_everywhere(typed, first):
    assert first_word(typed.split()) == first


def test_a_command_typed_first_loads_itself_alone():
    told = (
        "import sys; from fruitcast.cli import main\n"
        "code = main()\n"
        "loaded = [m for m in sys.modules if m.startswith('fruitcast.cli.commands.')]\n"
        "print(code, len(loaded), file=sys.stderr)"
    )
    for words, alone in (("week --help", 1), ("record pick --help", 1), ("--help", len(MODULES))):
        command = [sys.executable, "-c", told, *words.split()]
        ran = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
        assert ran.stderr.split() == ["0", str(alone)], words
    for words in ("fix --help", "calendar --help"):
        assert f"fruitcast {words.split()[0]}" in run(*words.split()).out
    slip = run("wek")
    assert slip.code == 2 and "week" in slip.err


def test_each_command_stands_in_the_module_named_for_it():
    registered = [info.name for info in load().registered_commands]
    registered += [info.name for info in load().registered_groups]
    assert sorted(commands.COMMANDS) == sorted(registered)
    for name, module in commands.COMMANDS.items():
        assert f'"{name}"' in (Path(commands.__file__).parent / f"{module}.py").read_text(), name


# --- options before and after the command --------------------------------------------------------


def test_global_options_are_taken_before_and_after_the_command(shared_demo):
    before = done("--yard", shared_demo.folder, "--today", TODAY, "--json", "week")
    after = done("week", "--yard", shared_demo.folder, "--today", TODAY, "--json")
    split = done("--json", "week", "--today", TODAY, "--yard", shared_demo.folder)
    assert before.out == after.out == split.out
    assert before.document["today"] == TODAY


def test_a_group_takes_them_at_each_of_its_three_places(shared_demo):
    words = ["--yard", shared_demo.folder, "--today", TODAY, "--json"]
    first = done(*words, "diary", "show")
    second = done("diary", *words, "show")
    third = done("diary", "show", *words)
    assert first.out == second.out == third.out
    assert len(first.document["entries"]) == 20


def test_the_later_place_wins(shared_demo):
    ran = done("--yard", "/nowhere", "diary", "show", "--yard", shared_demo.folder, "--last", 1)
    assert ran.out


def test_the_environment_names_the_yard_unless_an_option_does(shared_demo, monkeypatch):
    monkeypatch.setenv("FRUITCAST_YARD", str(shared_demo.folder))
    assert done("diary", "show", "--last", 1).out
    ran = run("diary", "show", "--yard", "/nowhere")
    assert ran.code == 1 and ran.err.startswith("/nowhere: there is no such folder")
    monkeypatch.setenv("FRUITCAST_YARD", "")
    assert run("diary", "show").code == 1


def test_the_current_folder_is_the_yard_otherwise(shared_demo, monkeypatch):
    monkeypatch.chdir(shared_demo.folder)
    assert done("diary", "show", "--last", 1).out


def test_today_is_the_real_day_unless_given(shared_demo):
    with time_machine.travel("2027-05-03T12:00:00", tick=False):
        ran = done("--yard", shared_demo.folder, "--json", "week")
    assert ran.document["today"] == TODAY
    assert ran.document["until"] == "2027-05-09"


# --- exit codes ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["nonsense"], "No such command 'nonsense'"),
        (["pick", "A", "2", "lb"], "fruitcast record pick A 2 lb"),
        (["sales"], "fruitcast diary sales"),
        (["fetch"], "fruitcast weather fetch"),
        (["plan", "--weeks", "0"], "--weeks"),
        (["plan", "--weeks", "half"], "--weeks"),
        (["plan", "--promise", "1.5"], "--promise"),
        (["plan", "--today", "2027-13-01"], "'2027-13-01' is not a day"),
        (["--today", "tomorrow", "week"], "'tomorrow' is not a day"),
        (["plan", "--fast"], "No such option"),
        (["new"], "DIR"),
        (["weather"], ""),
        (["calendar", "--push", "https://calendar.example/x/"], "--user"),
    ],
)
def test_wrong_usage_is_exit_code_2_with_nothing_on_standard_output(argv, said):
    ran = run("--json", *argv)
    assert ran.code == 2
    assert said in ran.err
    assert ran.out == "" or argv == ["weather"]


def test_what_could_not_be_done_is_exit_code_1_and_one_message():
    ran = run("--json", "plan")
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.count("\n") == 1
    assert "there is no yard.toml in it" in ran.err and "fruitcast new" in ran.err


def test_a_traceback_is_shown_when_asked_for():
    assert "Traceback" not in run("plan").err
    ran = run("plan", "--debug")
    assert "Traceback" in ran.err and ran.err.rstrip().endswith("with --yard.")


def test_a_fault_of_the_program_is_one_message_too(monkeypatch, yard):
    def broken(*_, **__):
        raise KeyError("no such thing")

    monkeypatch.setattr("fruitcast.app.planning.plan_yard", broken)
    ran = run("--yard", yard, "plan")
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.startswith("A fault of fruitcast itself, KeyError: 'no such thing'.")
    assert "Traceback" not in ran.err and "--debug" in ran.err
    assert "Traceback" in run("--yard", yard, "plan", "--debug").err


def test_every_fault_is_listed_on_a_line_of_its_own(yard):
    for old, new in (("tank_logs = 60", "tank_logs = 0"), ("shade = 0.8", "shade = 8")):
        text = (yard / "yard.toml").read_text(encoding="utf-8")
        (yard / "yard.toml").write_text(text.replace(old, new), encoding="utf-8")
    ran = run("--yard", yard, "plan")
    assert ran.code == 1
    lines = ran.err.splitlines()
    assert [re.sub(r":.*", "", line) for line in lines] == [
        "yard.toml [site] shade",
        "yard.toml [soaking] tank_logs",
    ]


# --- the terminal --------------------------------------------------------------------------------


def test_a_reader_that_stops_early_is_no_error(shared_demo):
    words = f"{sys.executable} -m fruitcast check --numbers --json"
    ran = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {words} | head -1"],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "{\n", "")


def test_an_interrupt_stops_quietly_and_leaves_nothing_behind(yard, monkeypatch):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("fruitcast.app.planning.plan_document", interrupted)
    before = contents(yard)
    ran = run("--yard", yard, "--today", TODAY, "plan", "--no-bound", "--weeks", 4)
    assert (ran.code, ran.out, ran.err) == (130, "", "Stopped.\n")
    assert contents(yard) == before


def test_a_screen_without_a_degree_sign_shows_something_else(small):
    screen = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    with contextlib.redirect_stdout(screen):
        code = main(["--yard", str(small), "--today", TODAY, "plan", "--weeks", "6", "--all"])
    screen.flush()
    assert code == 0 and "?F expected" in screen.buffer.getvalue().decode("ascii")


def test_json_is_one_document_whatever_libraries_print(small):
    """In a process of its own, because solvers write past Python's standard output."""
    ran = process("--yard", small, "--today", TODAY, "--json", "plan", "--weeks", 6, "--bound")
    document = json.loads(ran.stdout)
    assert (document["today"], document["weeks"]) == (TODAY, 6)
    assert document["bound_kg"] is not None


def test_the_table_fits_a_narrow_window(shared_demo, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    ran = done("--yard", shared_demo.folder, "--today", TODAY, "stacks")
    assert 40 < max(len(line) for line in ran.out.splitlines()) <= 60


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        (("weather", "fetch", "10384"), "fruitcast weather fetch --station 10384"),
        (("plan", "--tank", "80", "logs"), "fruitcast plan --tank 80"),
        (("diary", "export"), "fruitcast diary export diary.csv"),
        (("plan", "--weeks", "x"), ""),
        (("plan", "--wekks", "3"), ""),
    ],
)
def test_words_out_of_place_are_answered_with_a_line_that_can_be_typed(words, shown):
    ran = run(*words)
    assert ran.code == 2 and not ran.out
    said = " ".join(ran.err.replace("\u2502", " ").split())
    assert (f"For example: {shown}" in said) == bool(shown), said
    assert bool(shown) == ("For example" in said), said
