"""Every block of commands in the README runs as it stands; what can't run here is accounted for.

The blocks are typed into a real bash in a folder of their own, without a network, as of the sample
yard's day, by a program of the name that the README uses. `-m long` runs them all, each on a small
yard; by default their lines are only checked to be understood.
"""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from fruitcast.cli.commands import load
from tests.cli.running import TODAY, done
from tests.requires import need_file
from tests.yards import small_yard

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)

ELSEWHERE = {
    "venv/bin/fruitcast demo\n": "the main job, from a bare machine on: .ci/from_wheel",
    "'.[tests]'": "the whole suite itself: the last line of .ci/run",
    "server {": "nginx itself: tests/web/test_reverse_proxy.py",
}
"""Blocks that can't be typed here, by a piece of their text, and what runs them instead."""


def place_of(block):
    return next((place for piece, place in ELSEWHERE.items() if piece in block), None)


SHELL = [block for language, block in BLOCKS if language == "sh"]
TYPED = [block for block in SHELL if place_of(block) is None]


def lines_of(block):
    """Return the command lines that name the program, without the words before them."""
    found = []
    for line in block.splitlines():
        words = shlex.split(line, comments=True)
        if any(Path(word).name == "fruitcast" for word in words):
            at = next(i for i, word in enumerate(words) if Path(word).name == "fruitcast")
            found.append(words[at + 1 :])
    return found


LINES = [words for block in SHELL for words in lines_of(block) if "-e" not in words]


@pytest.mark.parametrize("words", LINES, ids=" ".join)
def test_every_line_is_understood(words):
    command, name = typer.main.get_command(load()), "fruitcast"
    while hasattr(command, "commands") and words:
        command, name, words = command.commands[words[0]], words[0], words[1:]
    with command.make_context(name, list(words), resilient_parsing=False):
        pass


def test_every_block_is_typed_or_accounted_for():
    assert len(TYPED) >= 3 and {language for language, _ in BLOCKS} <= {"sh", ""}
    for language, block in BLOCKS:
        assert language == "sh" or place_of(block), block
    whole = "\n".join(f"{block}\n" for _, block in BLOCKS)
    assert [piece for piece in ELSEWHERE if whole.count(piece) == 0] == []
    ci = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert ".ci/from_wheel" in ci and "pip install -q --no-deps aquacrop" in ci
    wheel = (ROOT / ".ci" / "from_wheel").read_text(encoding="utf-8")
    assert "venv/bin/fruitcast demo" in wheel
    assert "README" in (ROOT / "tests" / "web" / "test_reverse_proxy.py").read_text("utf-8")


SAID = [
    words.removeprefix("fruitcast ")
    for words in re.findall(
        r"`((?:fruitcast )?(?:record|fix|try|hold|release|promised) [^`]*)`", README
    )
    if words == "record undo" or (re.search(r"\b[A-Z]|\d", words) and "FILE" not in words)
]
"""What the README writes down as an example, in words."""


def test_what_the_readme_records_is_taken_in_by_the_sample_yard_without_a_question(demo):
    assert len(SAID) > 8
    for words in SAID:
        done("--yard", demo, "--today", TODAY, *words.split())


@pytest.fixture
def shell(tmp_path):
    """Return a function that types a block into bash and returns what it printed."""
    programs = tmp_path / "programs"
    programs.mkdir()
    program = programs / "fruitcast"
    # Later words win, so a block may name a day of its own.
    program.write_text(
        f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m fruitcast --today {TODAY} "$@"\n'
    )
    program.chmod(0o755)
    env = {
        "PATH": f"{programs}:/usr/bin:/bin",
        "HOME": str(tmp_path),
        "PYTHONPATH": str(ROOT),
        # Nothing answers there: whoever tries the network is refused at once.
        **dict.fromkeys(("http_proxy", "https_proxy"), "http://127.0.0.1:9"),
    }

    def typed(block, folder):
        ran = subprocess.run(
            ["/bin/bash", "-euo", "pipefail", "-c", block],
            capture_output=True,
            text=True,
            timeout=600,
            cwd=folder,
            env=env,
        )
        assert ran.returncode == 0, f"{block}\n{ran.stderr}"
        return ran.stdout

    return typed


def prepared(block, tmp_path):
    """Return the folder in which a block starts, and the block with what needs a network left out.

    Left out are: the installation of a package that the tests have anyway, and the nearest
    station of a new yard, for which its weather is given as a file.
    """
    folder = tmp_path / "here"
    if "fruitcast new" in block:
        folder.mkdir()
        shutil.copyfile(ROOT / "sample_data" / "weather.csv", folder / "download.csv")
        return folder, block.replace("fruitcast new", "fruitcast new --weather download.csv", 1)
    if ".venv/bin/fruitcast demo" in block:
        folder.mkdir()
        data = need_file("aquacrop", "data")
        inside = folder / ".venv" / "lib" / "python3.11" / "site-packages" / "aquacrop"
        inside.mkdir(parents=True)
        shutil.copyfile(data / "champion_climate.txt", inside / "champion_climate.txt")
        (inside / "data").symlink_to(data)
        (folder / ".venv" / "bin").mkdir()
        (folder / ".venv" / "bin" / "fruitcast").symlink_to(tmp_path / "programs" / "fruitcast")
        return folder, re.sub(r"^\.venv/bin/pip .*\n", "", block, flags=re.MULTILINE)
    if "activate" in block:
        folder.mkdir()
        subprocess.run(
            [sys.executable, "-m", "venv", "--without-pip", ".venv"], cwd=folder, check=True
        )
        return folder, f"{block}command -v python\n"
    small_yard(folder)
    return folder, block


@pytest.mark.long
@pytest.mark.parametrize("block", TYPED, ids=lambda block: block.split("#")[0].strip()[:40])
def test_every_block_runs_as_it_stands(block, shell, tmp_path):
    folder, typed = prepared(block, tmp_path)
    said = shell(typed, folder)
    assert said
    if "activate" in block:
        assert said.strip() == str(folder / ".venv" / "bin" / "python")
    if "fruitcast new" in block:
        assert (folder / "my-yard" / "out" / "calendar.ics").is_file()
    if "--drawing" in block:
        assert (folder / "holes.svg").stat().st_size > 1000
        assert "\nR," in (folder / "stacks.csv").read_text(encoding="utf-8")
