"""What the manuals say of the command line is so: commands, options, the command for tests."""

import re
from pathlib import Path

import pytest
import typer

from fruitcast.cli.commands import load

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands():
    """Return every command with the names of those below it."""
    root = typer.main.get_command(load())
    return {name: sorted(getattr(sub, "commands", {})) for name, sub in root.commands.items()}


def options(name):
    command = typer.main.get_command(load()).commands[name]
    return {option for parameter in command.params for option in parameter.opts}


@pytest.mark.parametrize("manual", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_command_is_in_the_manuals(manual):
    assert [name for name in commands() if not re.search(rf"`(fruitcast )?{name}\b", manual)] == []


def test_every_command_below_a_group_is_in_the_readme():
    listed = {name: below for name, below in commands().items() if below and name != "record"}
    rows = {name: re.search(rf"`fruitcast {name} .*", README) for name in listed}
    for name, below in listed.items():
        row = rows[name]
        assert row is not None, name
        assert [word for word in below if f"`{word}`" not in row[0]] == []


def test_every_command_that_the_readme_types_is_one():
    known = commands()
    for name, below in re.findall(r"\bfruitcast ([a-z]+)(?: ([a-z]+))?", README):
        assert name in known
        if below and known[name]:
            assert below in known[name]


def test_every_option_that_the_readme_names_is_one():
    known = set().union(*(options(name) for name in commands()))
    used = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README)) - {"--no-deps", "--help"}
    assert used - known == set()


def test_the_run_on_a_bare_machine_ends_with_the_readmes_own_test_command():
    last = (ROOT / ".ci" / "run").read_text(encoding="utf-8").rstrip().splitlines()[-1]
    assert "pytest" in last and last in README.splitlines()
