"""The root command, how a command joins it, and how the program can be typed here.

A command is a function whose first argument is the `Session`:

    @command(app, "week", examples=("fruitcast week",))
    def week(session: Session, offline: Offline = False) -> None:
        "What to do in the next 7 days, with reasons."

Heavy imports belong inside the function, so that help stays instant. The command's name then
goes into `commands.COMMANDS`.
"""

from __future__ import annotations

import inspect
import os
import re
import shlex
import shutil
import sys
from collections.abc import Callable, Sequence
from copy import copy
from datetime import date, datetime
from functools import partial
from inspect import Parameter
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Annotated, Any, get_args

import typer
import typer.core

from fruitcast.cli.session import YARD_VARIABLE, Session, StoppedError

if TYPE_CHECKING:
    from fruitcast.progress import Step


# How the program can be typed in this terminal.


def activation(program: str | None = None) -> tuple[Step, ...]:
    """Return what makes 'fruitcast' alone be found, where it is not: nothing, or one step.

    `program` is the path by which the program was started; None takes that of the process.
    """
    from fruitcast.progress import Step

    started = Path(sys.argv[0] if program is None else program)
    switch = started.with_name("activate")
    if shutil.which("fruitcast") or not switch.is_file():
        return ()
    typed = str(switch) if os.name == "nt" else f". {shlex.quote(str(switch))}"
    return (Step(typed, "lets you type 'fruitcast' alone, in this terminal"),)


# The root command and how a command joins it.

_everywhere = partial(typer.Option, rich_help_panel="Options before or after any command")


def parse_day(text: str) -> date:
    """Return the day written as YYYY-MM-DD."""
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise typer.BadParameter(f"'{text}' is not a day like 2027-05-03") from None


Yard = Annotated[
    Path | None,
    _everywhere(
        "--yard",
        metavar="DIR",
        show_default=False,
        help=f"The yard's folder; else {YARD_VARIABLE}, else the current folder.",
    ),
]
Today = Annotated[
    date | None,
    _everywhere(
        "--today",
        parser=parse_day,
        metavar="YYYY-MM-DD",
        show_default=False,
        help="Take this day for today.",
    ),
]
Json = Annotated[
    bool,
    _everywhere("--json", help="Print one JSON document instead of words."),
]
Debug = Annotated[
    bool,
    _everywhere("--debug", help="Show where an error comes from."),
]
Offline = Annotated[
    bool, typer.Option("--offline", help="Use stored station weather only, whatever its age.")
]

AsItStands = Annotated[
    bool,
    typer.Option(
        "--as-it-stands", help="Believe the weather as it stands, and ask nothing about it."
    ),
]


def to_file(what: str) -> object:
    """Return the option that names the file to write to; `what` is its help."""
    return typer.Option("--output", "-o", metavar="FILE", help=what)


_GLOBALS = (
    Parameter("yard", Parameter.KEYWORD_ONLY, default=None, annotation=Yard),
    Parameter("today", Parameter.KEYWORD_ONLY, default=None, annotation=Today),
    Parameter("json_", Parameter.KEYWORD_ONLY, default=False, annotation=Json),
    Parameter("debug", Parameter.KEYWORD_ONLY, default=False, annotation=Debug),
)


def first_word(typed: Sequence[str]) -> str:
    """Return the first word typed that is no option of everywhere, nor the value of one."""
    words = iter(typed)
    for word in words:
        if word in ("--yard", "--today"):
            next(words, None)
        elif word not in ("--json", "--debug") and not word.startswith(("--yard=", "--today=")):
            return word
    return ""


_CONTEXT = Parameter("context", Parameter.KEYWORD_ONLY, annotation=typer.Context)

_SETTINGS = {"help_option_names": ["-h", "--help"]}


def stack_names(context: typer.Context, incomplete: str) -> list[str]:
    """Return the yard's stacks that begin so, for the Tab key; none where there is no yard."""
    from fruitcast.app import welcome

    # Older versions of typer hand an option's value over as it was typed.
    folder = Path(context.find_root().params.get("yard") or Session(datetime.min).yard)
    names = welcome.stack_names(folder)
    return [name for name in names if name.lower().startswith(incomplete.lower())]


_SPOKEN = {bool: "", int: "N", float: "NUMBER", str: "TEXT", Path: "FILE"}
"""What help calls the value of an option that has no better name for it; a switch has none."""


def _spoken(annotation: Any) -> Any:
    """Return an option's annotation with a name for its value in people's words."""
    inner, *rest = get_args(annotation) or (annotation,)
    found = [part for part in rest if isinstance(part, typer.models.OptionInfo)]
    if not found or found[0].metavar is not None:
        return annotation
    types = [part for part in get_args(inner) or (inner,) if part is not NoneType]
    kind = get_args(types[0])[0] if get_args(types[0]) else types[0]
    if kind not in _SPOKEN:
        return annotation
    named = copy(found[0])
    named.metavar = _SPOKEN[kind]
    return Annotated[inner, named]


def _schema_option(prints: Sequence[str]) -> Any:
    """Return the option that prints the JSON Schema of what a command prints with --json."""

    def show(asked: bool) -> None:
        if asked:
            import json

            from fruitcast.document import schema_of

            typer.echo(json.dumps(schema_of(*prints), indent=1))
            raise typer.Exit

    words = "Print the JSON Schema of what --json prints."
    return typer.Option("--json-schema", callback=show, is_eager=True, help=words)


def _with_globals(function: Callable[..., None], prints: Sequence[str]) -> Callable[..., None]:
    """Return a function for typer: the command's own parameters and the global ones."""
    own = list(inspect.signature(function, eval_str=True).parameters.values())[1:]
    asking = []
    if prints:
        kind = Annotated[bool, _schema_option(prints)]
        name = "json_schema"
        asking = [Parameter(name, Parameter.KEYWORD_ONLY, default=False, annotation=kind)]

    def run(context: typer.Context, **given: Any) -> None:
        session: Session = context.obj
        given.pop("json_schema", None)
        session.take(*(given.pop(parameter.name) for parameter in _GLOBALS))
        try:
            function(session, **given)
        except KeyboardInterrupt:
            raise StoppedError from None

    own = [parameter.replace(kind=Parameter.KEYWORD_ONLY) for parameter in own]
    _sign(run, [_CONTEXT, *own, *asking, *_GLOBALS])
    run.__name__, run.__doc__ = function.__name__, function.__doc__
    return run


def _sign(function: Callable[..., None], parameters: Sequence[Parameter]) -> None:
    """Let a function that takes anything show typer these parameters."""
    signed = [each.replace(annotation=_spoken(each.annotation)) for each in parameters]
    function.__signature__ = inspect.Signature(signed)  # type: ignore[attr-defined]
    function.__annotations__ = {each.name: each.annotation for each in signed}


def _examples(lines: Sequence[str]) -> str:
    """Return what stands at the end of help."""
    # Help joins single lines, so each example is a paragraph.
    return "\n\n".join(["For example:", *lines])


_UsageError: Any = typer.BadParameter.__mro__[1]
"""What typer raises for words it can't take; it has no name for it of its own."""


_BELOW_ZERO = re.compile(r"(?<!\S)-[\d.]+(?: ?(?:lb|oz|kg|g)\b)?")
"""An amount with a minus, which would be taken for an option."""


def _with_examples(examples: Sequence[str]) -> type[typer.core.TyperCommand]:
    """Return a kind of command that answers words it can't take with a line that it can."""

    class Command(typer.core.TyperCommand):
        def parse_args(self, context: Any, args: list[str]) -> list[str]:
            given, typed = set(args), " ".join(args)
            try:
                return super().parse_args(context, args)
            except _UsageError as error:
                shared = {line: len(given.intersection(line.split())) for line in examples}
                nearest = max(examples, key=lambda line: shared[line])
                said = (error.message or "").rstrip(".")
                # A value that can't be read, and a slip in an option's name, say it themselves.
                slip = bool(getattr(error, "possibilities", None))
                told = slip or isinstance(error, typer.BadParameter)
                odd = re.fullmatch(r"-[\d.]", getattr(error, "option_name", ""))
                if odd and (below := _BELOW_ZERO.search(typed)):
                    said = f"'{below[0]}' is below 0; weights and the like are above 0"
                if shared[nearest] or not (said and told):
                    error.message = f"{said + '. ' if said else ''}For example: {nearest}"
                raise

    return Command


def command(
    app: typer.Typer, name: str, *, examples: Sequence[str], prints: Sequence[str] = ()
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return a decorator that makes a function a command which knows the global options.

    `app` is the root, or a command with commands of its own. `examples` are whole command lines
    that can be typed as they stand, shown at the end of its help; `prints` the classes of what it
    prints with --json, each as 'module:class', which its --json-schema tells.
    """

    def register(function: Callable[..., None]) -> Callable[..., None]:
        app.command(
            name,
            cls=_with_examples(examples),
            context_settings=_SETTINGS,
            epilog=_examples(examples),
        )(_with_globals(function, prints))
        return function

    return register


def _with_otherwise(name: str) -> type[typer.core.TyperGroup]:
    """Return a kind of group that hands what begins with no command of it to one of them."""

    class Group(typer.core.TyperGroup):
        def resolve_command(self, context: Any, args: list[str]) -> Any:
            if args[0].startswith("-") or args[0] in self.commands:
                return super().resolve_command(context, args)
            return name, self.commands[name], args

    return Group


def group(
    name: str, help_text: str, *, examples: Sequence[str], otherwise: str = ""
) -> typer.Typer:
    """Return a command with commands of its own, joined to the root.

    What begins with none of them goes to the command named `otherwise`, if any.
    """
    kind = _with_otherwise(otherwise) if otherwise else typer.core.TyperGroup
    sub = typer.Typer(cls=kind, context_settings=_SETTINGS, epilog=_examples(examples))

    def show_help(context: typer.Context, **given: Any) -> None:
        context.obj.take(*(given.pop(parameter.name) for parameter in _GLOBALS))
        if context.invoked_subcommand is None:
            context.get_help()  # prints it
            raise typer.Exit(2)

    _sign(show_help, [_CONTEXT, *_GLOBALS])
    show_help.__doc__ = help_text
    sub.callback(invoke_without_command=True)(show_help)
    app.add_typer(sub, name=name)
    return sub


class _Root(typer.core.TyperGroup):
    """The root, which knows where a word belongs that is typed without its command."""

    def resolve_command(self, context: Any, args: list[str]) -> Any:
        try:
            return super().resolve_command(context, args)
        except _UsageError as error:
            for name, command in self.commands.items():
                if args[0] in getattr(command, "commands", ()):
                    words = " ".join(args)
                    error.message = f"No such command '{args[0]}'. Type: fruitcast {name} {words}"
            raise


app = typer.Typer(
    cls=_Root, add_completion=False, pretty_exceptions_enable=False, context_settings=_SETTINGS
)


def _version(asked: bool) -> None:
    if asked:
        from fruitcast import __version__

        typer.echo(f"fruitcast {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def root(
    context: typer.Context,
    yard: Yard = None,
    today: Today = None,
    json_: Json = False,
    debug: Debug = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version.")
    ] = False,
    json_schema: Annotated[bool, _schema_option(("fruitcast.app.short_answers:Welcomed",))] = False,
) -> None:
    """Plan which stacks of shiitake logs to soak when, from the weather and what was done."""
    session: Session = context.obj
    session.take(yard, today, json_, debug)
    if context.invoked_subcommand is None:
        from rich.console import Group

        from fruitcast.app.short_answers import Welcomed
        from fruitcast.app.welcome import welcome
        from fruitcast.cli.tables import steps_table
        from fruitcast.outputs.listing import lines

        found = welcome(session.yard, session.today)
        steps = (*activation(), *found.steps)
        session.answer(
            Welcomed(state=found.state, next=found.steps),
            lambda: Group(lines(found.state), steps_table(steps)),
        )
