"""Help that a grower can use: an example for each command that can be typed, no types of ours."""

import re
import shlex
import subprocess
import sys
from functools import cache

import pytest
import typer

from fruitcast.cli.commands import load
from tests.cli.running import TODAY, done, run

ELSEWHERE = {
    "hindcast": "tests/hindcast",
    "new my-yard --place 'Ithaca": "tests/cli/test_cli_yard.py",
    "inoculation": "tests/cli/test_cli_inoculation.py",
    "serve": "tests/web",
    "weather fetch": "tests/weather/test_station.py",
    "calendar --push": "tests/outputs/test_caldav.py",
    "demo": "tests/cli/test_cli_demo.py",
    "completion": "tests/cli/test_completion.py",
    "plan": "tests/cli/test_cli_plan.py",
    "report": "tests/report",
    "outlook": "tests/group",
    "yards": "tests/group",
    "weather import download.csv --units us": "tests/cli/test_cli_weather.py",
}
"""Examples that take long, a network or another folder, and where their commands are run."""


@cache
def commands():
    """Return every command that does something, by what is typed for it."""
    return found_in(typer.main.get_command(load()))


def found_in(of, path=()):
    found = {}
    for name, command in of.commands.items():
        if hasattr(command, "commands"):
            found |= found_in(command, (*path, name))
        else:
            found[" ".join((*path, name))] = command
    return found


def examples(command):
    return re.findall(r"^.*\bfruitcast .*$", command.epilog or "", re.MULTILINE)


EVERY = [(name, line) for name, command in commands().items() for line in examples(command)]
CHEAP = [
    pytest.param(line, marks=pytest.mark.long) if "--whole" in line else line
    for _, line in EVERY
    if not any(f"fruitcast {start}" in line for start in ELSEWHERE)
]


@pytest.mark.parametrize("name", commands())
def test_help_ends_with_examples_and_speaks_of_no_types_of_a_program(name):
    shown = examples(commands()[name])
    assert shown
    assert all(f"fruitcast {name}" in line for line in shown)
    said = done(*name.split(), "--help").out
    words = " ".join(said.split())
    assert all(" ".join(line.split()) in words for line in shown)
    options = re.findall(r"^│ +--(?!help).*", said, re.MULTILINE)
    assert options and not re.search(r"<(bool|str|int|float|list|path)", "".join(options))


@pytest.mark.parametrize(("name", "line"), EVERY)
def test_each_example_is_understood(name, line):
    # 'completion' has its line inside a shell's eval or before a pipe.
    typed = re.search(r"fruitcast [^|)]*", line)[0]
    words = shlex.split(typed)[1 + len(name.split()) :]
    with commands()[name].make_context(name, words):
        pass


@pytest.mark.parametrize("line", CHEAP)
def test_each_example_that_is_quick_does_what_it_says(line, demo, monkeypatch):
    monkeypatch.chdir(demo)
    weather = (demo / "weather.csv").read_bytes()
    (demo / "download.csv").write_bytes(weather)
    (demo / "records.txt").write_text("water all\n", encoding="utf-8")
    if line.endswith(" diary.csv") and "import" in line:
        done("diary", "export", demo / "diary.csv")
        for file in demo.glob("diary*.db"):
            file.unlink()
    if line.startswith("fruitcast record pull"):
        done("--today", TODAY, "record", "soak", "A", "24", "h", "yesterday", "--yes")
    if "release Saturday market" in line:
        done("--today", TODAY, "promised", "Saturday", "market", "2", "lb", "Sat", "--yes")
    words = ["--today", TODAY, *shlex.split(line)[1:]]
    ran = run(*words)
    if "add --yes" in ran.err:
        # On that day of the invented yard the market is closed and A has been soaked.
        assert ran.code == 1 and "?" in ran.err
        ran = run(*words, "--yes")
    assert ran.code == 0, ran.err


def test_what_runs_elsewhere_is_there():
    names = list(commands())
    assert [start for start in ELSEWHERE if not start.startswith(tuple(names))] == []


def test_a_group_alone_shows_its_help_even_with_an_option():
    ran = run("record", "--today", TODAY)
    assert ran.code == 2 and "For example:" in ran.out
    assert "fruitcast record pick" in ran.out


def test_only_planning_loads_the_compiler(tmp_path):
    """In a process of its own; what one command loads would stay loaded in the next."""
    told = (
        "import sys; from fruitcast.cli import main\n"
        "for words in ('--help', 'plan --help', 'check --numbers'):\n"
        "    main(words.split())\n"
        "    print(words, {'numba', 'llvmlite'} & {*sys.modules}, file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert ran.stderr.splitlines() == [
        "--help set()",
        "plan --help set()",
        "check --numbers set()",
    ]
