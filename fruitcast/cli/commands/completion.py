"""fruitcast completion."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from fruitcast.cli.root import app, command
from fruitcast.cli.session import COMPLETE_VARIABLE, Session


@command(
    app,
    "completion",
    examples=(
        'eval "$(fruitcast completion bash)"',
        'eval "$(fruitcast completion zsh)"',
        "fruitcast completion fish | source",
    ),
    prints=("fruitcast.app.short_answers:CompletionScript",),
)
def completion(
    session: Session,
    shell: Annotated[
        Literal["bash", "zsh", "fish"],
        typer.Argument(metavar="SHELL", help="bash, zsh or fish.", show_default=False),
    ],
) -> None:
    """Print what lets the Tab key complete commands, options and stacks in your shell.

    To have it in every new terminal, put your shell's line, as below, at the end of ~/.bashrc,
    ~/.zshrc or ~/.config/fish/config.fish; zsh wants 'autoload -Uz compinit; compinit' before it.
    """
    from typer.completion import get_completion_script

    script = get_completion_script(
        prog_name="fruitcast", complete_var=COMPLETE_VARIABLE, shell=shell
    )
    if session.json:
        from fruitcast.app.short_answers import CompletionScript

        session.answer(CompletionScript(shell=shell, script=script), lambda: script)
    else:
        session.write(f"{script}\n")  # to the letter: a shell reads it
