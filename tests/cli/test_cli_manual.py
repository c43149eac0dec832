"""What the manuals say of the command line is so: commands, options, the command for tests."""

import re
from functools import cache
from pathlib import Path

import typer

from fruitcast.cli.commands import load
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES
from fruitcast.yard.stacks import OPTIONAL, REQUIRED

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@cache
def root():
    """Return the parser of the command line, built once."""
    return typer.main.get_command(load())


def commands():
    """Return every command with the names of those below it."""
    return {name: sorted(getattr(sub, "commands", {})) for name, sub in root().commands.items()}


def options(name):
    command = root().commands[name]
    below = getattr(command, "commands", {}).values()
    return {opt for each in (command, *below) for given in each.params for opt in given.opts}


def test_every_command_is_in_the_manual():
    assert [name for name in commands() if not re.search(rf"`(fruitcast )?{name}\b", README)] == []


def test_every_command_below_a_group_is_in_the_readme():
    listed = {name: below for name, below in commands().items() if below and name != "record"}
    rows = {name: re.search(rf"\| `fruitcast {name} .*", README) for name in listed}
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


def test_every_column_class_and_form_of_spawn_is_in_the_readme():
    columns = [name for names in (*REQUIRED, OPTIONAL) for name in names]
    known = (*columns, *STRAIN_CLASSES, *SPAWN_FORMS)
    assert [name for name in known if f"`{name}`" not in README] == []


def test_every_file_of_a_planned_yard_is_in_the_readme(shared_demo):
    names = {path.name for path in shared_demo.folder.iterdir() if "backup" not in path.name}
    names |= {path.name for path in (shared_demo.folder / "out").iterdir()}
    assert [name for name in sorted(names) if f"`{name}" not in README] == []


def test_the_run_on_a_bare_machine_ends_with_the_readmes_own_test_command():
    last = (ROOT / ".ci" / "run").read_text(encoding="utf-8").rstrip().splitlines()[-1]
    assert "pytest" in last and last in README.splitlines()
