"""The invented yard, to be looked at beside one's own: each browser is in one of the two."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from flask import Flask, redirect, request
from werkzeug.http import parse_cookie
from werkzeug.wrappers import Response

from fruitcast.app.beginning import is_yard
from fruitcast.app.demo import FOLDER, TODAY, write_sample_yard
from fruitcast.app.serving import Clock
from fruitcast.web.context import Context
from fruitcast.web.planner import Planner

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

COOKIE = "fruitcast_demo"
"""Marks a browser that looks at the invented yard."""


class DemoYard:
    """The invented yard's application, made when somebody first looks at it.

    Parameters
    ----------
    own : WSGI application
        The yard's own.
    context : Context
        Its folder, in which the invented yard gets one of its own, and its clock.
    make : callable
        Returns the application of an invented yard.
    """

    def __init__(
        self, own: WSGIApplication, context: Context, make: Callable[[Context], Flask]
    ) -> None:
        self._own, self._make = own, make
        self._folder = context.folder / FOLDER
        clock = Clock(context.clock.now, TODAY)
        planner = Planner(self._folder, clock, offline=True) if context.planner else None
        self._context = Context(self._folder, clock, context.access, planner)
        self._app: Flask | None = None
        self._lock = threading.Lock()

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request of the yard in which its browser is."""
        if COOKIE in parse_cookie(environ) and is_yard(self._folder):
            return self._there()(environ, start_response)
        return self._own(environ, start_response)

    def write(self) -> None:
        """Write the invented yard if it isn't there yet."""
        with self._lock:
            if not is_yard(self._folder):
                write_sample_yard(self._folder)

    def close(self) -> None:
        """End its planning."""
        if self._context.planner is not None:
            self._context.planner.close()
        if self._app is not None:
            self._app.extensions["trials"].stop()

    def _there(self) -> Flask:
        with self._lock:
            if self._app is None:
                self._app = self._make(self._context)
                if self._context.planner is not None:
                    self._context.planner.start()
            return self._app


def add_demo(app: Flask, context: Context, make: Callable[[Context], Flask]) -> DemoYard:
    """Put the invented yard beside an application, and the button that leads there."""
    demo = DemoYard(app.wsgi_app, context, make)
    app.wsgi_app = demo  # type: ignore[method-assign]

    @app.post("/demo/open")
    def demo_open() -> Response:
        demo.write()
        answer = redirect("/", 303)
        answer.set_cookie(COOKIE, "1", secure=request.is_secure, httponly=True, samesite="Strict")
        return answer

    return demo


def add_way_back(app: Flask) -> None:
    """Add to the invented yard's application the button that leads back to one's own."""

    @app.post("/demo/close")
    def demo_close() -> Response:
        answer = redirect("/", 303)
        answer.delete_cookie(COOKIE, secure=request.is_secure, httponly=True, samesite="Strict")
        return answer
