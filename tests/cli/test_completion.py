"""The Tab key in real shells: commands, options, values and the yard's stacks."""

import os
import shlex
import subprocess
import sys

import pytest

from tests.cli.running import done, run
from tests.requires import need_program

# What each shell is told to do: take in our script, then say what may follow `words`.
ASK = {
    "bash": (
        'eval "$(fruitcast completion bash)"; COMP_WORDS=({words} "{last}"); '
        "COMP_CWORD=$(( ${{#COMP_WORDS[@]}} - 1 )); _fruitcast_completion fruitcast; "
        'printf "%s\\n" "${{COMPREPLY[@]}}"'
    ),
    "zsh": (
        'compdef() {{ }}; eval "$(fruitcast completion zsh)"; '
        '_arguments() {{ print -l -- "$@"; }}; '
        '_files() {{ print files; }}; words=({words} "{last}"); CURRENT=${{#words}}; '
        "_fruitcast_completion"
    ),
    "fish": 'fruitcast completion fish | source; complete -C "{words} {last}"',
}
WITHOUT_FILES = {"bash": ["--norc", "-c"], "zsh": ["-fc"], "fish": ["--no-config", "-c"]}


@pytest.fixture
def ask(tmp_path, yard, monkeypatch):
    """Return a function that types words into a shell and returns what may follow."""
    program = tmp_path / "bin" / "fruitcast"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m fruitcast "$@"\n')
    program.chmod(0o755)
    env = {**os.environ, "PATH": f"{program.parent}:{os.environ['PATH']}", "HOME": str(tmp_path)}

    def typed(shell, words, last=""):
        script = ASK[shell].format(words=words, last=last)
        ran = subprocess.run(
            [need_program(shell), *WITHOUT_FILES[shell], script],
            capture_output=True,
            text=True,
            timeout=60,
            cwd=yard,
            env=env,
        )
        assert ran.stderr == ""
        return ran.stdout

    return typed


@pytest.mark.parametrize(
    "shell", [pytest.param(s, marks=pytest.mark.long) if s != "bash" else s for s in ASK]
)
def test_the_tab_key_knows_commands_options_and_stacks(ask, shell):
    shown = ask(shell, "fruitcast", "re")
    assert "report" in shown and "record" in shown and "plan" not in shown
    assert "--tank" in ask(shell, "fruitcast plan", "--ta")
    stacks = ask(shell, "fruitcast record pick").replace('"', " ").split()
    assert {"A", "B", "C"} <= set(stacks)


def test_without_a_yard_no_stack_is_offered_and_nothing_is_said(tmp_path, monkeypatch):
    monkeypatch.setenv("_FRUITCAST_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", f"fruitcast --yard {tmp_path} record pick ")
    monkeypatch.setenv("COMP_CWORD", "5")
    ran = run()
    assert (ran.code, ran.out.strip(), ran.err) == (0, "", "")


def test_a_shell_that_is_not_known_is_refused_and_the_known_ones_named():
    ran = run("completion", "csh")
    assert ran.code == 2 and all(shell in ran.err for shell in ASK)


def test_the_help_says_where_the_line_goes():
    words = done("completion", "--help").out
    for part in ("~/.bashrc", "~/.zshrc", "config.fish", 'eval "$(fruitcast completion bash)"'):
        assert part in words
