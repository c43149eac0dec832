"""fruitcast serve: the one command that starts the page, so the one that knows of it."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from fruitcast.cli.root import Offline, app, command
from fruitcast.cli.session import Session


@command(
    app,
    "serve",
    examples=(
        "fruitcast serve",
        "fruitcast serve --set-passphrase",
        "fruitcast serve --host 0.0.0.0",
    ),
    prints=("fruitcast.app.short_answers:PageServed", "fruitcast.app.short_answers:AccessChanged"),
)
def serve(
    session: Session,
    host: Annotated[
        str, typer.Option(help="Address of this machine to listen on; 0.0.0.0 is all of them.")
    ] = "127.0.0.1",
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="Port to listen on; 0 takes a free one.")
    ] = 8765,
    name: Annotated[
        list[str] | None,
        typer.Option(metavar="HOST", help="Name under which people reach it; may be repeated."),
    ] = None,
    proxy: Annotated[
        str,
        typer.Option(
            metavar="ADDRESS",
            help="Address of the reverse proxy whose X-Forwarded headers are to be believed.",
        ),
    ] = "",
    set_passphrase: Annotated[
        bool, typer.Option("--set-passphrase", help="Set the page's passphrase and stop.")
    ] = False,
    new_feed: Annotated[
        bool, typer.Option("--new-feed", help="Give the calendar feed another address and stop.")
    ] = False,
    offline: Offline = False,
) -> None:
    """Serve the page for the phone and the calendar feed, and keep the plan up to date.

    In an empty folder the page begins a yard.
    """
    from fruitcast.app.serving import system_clock
    from fruitcast.app.short_answers import AccessChanged, PageServed
    from fruitcast.web.server import Address, Listening, open_access
    from fruitcast.web.server import serve as run

    if set_passphrase or new_feed:
        access = open_access(session.yard)
        done = []
        if set_passphrase:
            access.set_passphrase(_passphrase())
            done.append("The passphrase is set. Every device must sign in again.")
        if new_feed:
            access.new_feed()
            done.append("The feed has another address; the old one leads nowhere.")
        session.answer(AccessChanged(done=tuple(done)), done)
        return

    def ready(address: Address) -> None:
        document = PageServed.taken_from(address, feed=address.feed or None)
        session.answer(document, address.words())
        if address.begins and not session.json:
            _open_browser(address.page)

    listening = Listening(host, port, tuple(name or ()), proxy)
    run(session.yard, system_clock(session.day), listening, offline=offline, ready=ready)


def _open_browser(page: str) -> None:
    """Open the page in the browser of whoever sits here, where there is a screen to show it."""
    import os
    import webbrowser

    screen = sys.platform in ("darwin", "win32") or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")
    )
    if screen and sys.stdout.isatty():
        webbrowser.open(page)


def _passphrase() -> str:
    """Return a passphrase typed twice without being shown, or the first line that is piped in."""
    from fruitcast.errors import InputError

    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    from getpass import getpass

    first = getpass("Passphrase: ")
    if getpass("The same again: ") != first:
        raise InputError("The two are not the same. Nothing was changed.")
    return first
