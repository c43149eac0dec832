"""What every request must pass and every answer carries."""

from __future__ import annotations

import ipaddress
import secrets
import time
from collections.abc import Collection
from urllib.parse import urlsplit

from flask import Flask, Response, abort, redirect, request, session, url_for
from flask.sessions import SecureCookieSessionInterface
from itsdangerous import BadSignature, URLSafeSerializer
from werkzeug.wrappers import Response as AnyResponse

from fruitcast.web.access import Access, AccessFile

MOST_BYTES = 64 * 1024
"""Longest request body taken. [byte]"""

MOST_UPLOAD = 12 * 1024 * 1024
"""Longest body taken where a file may come: a station's whole record of many years. [byte]"""

UPLOAD_ENDPOINTS = frozenset({"take_weather", "take_stacks", "bring_weather"})
"""Where a file may come, from those who are signed in."""

SIGNED_IN_DAYS = 30
"""How long a device stays signed in without being used. [day]"""

OPEN_ENDPOINTS = frozenset({"static", "signin", "send_signin", "feed", "icon", "worker"})
"""What is answered without a sign-in; the feed has its own secret."""

_DEVICE, _DEVICE_DAYS = "fruitcast_device", 365
"""Cookie by which a device that signed in before is known, and how long. [day]"""

LOOPBACK_NAMES = frozenset({"localhost", "localhost.localdomain"})

_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; form-action 'self'; frame-ancestors 'none'; "
    "base-uri 'none'"
)


_PRINTED = frozenset({"report_to_print", "trace_to_print"})
_PRINT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; "
    "base-uri 'none'; form-action 'none'; sandbox allow-modals"
)
"""Of what is printed, one file with its style in it: it runs nothing and asks for nothing."""


class _Cookies(SecureCookieSessionInterface):
    """The session's cookie is marked Secure whenever the page comes over HTTPS."""

    def get_cookie_secure(self, app: Flask) -> bool:
        return request.is_secure


def guard(app: Flask, access: AccessFile, *, names: Collection[str], ask_always: bool) -> None:
    """Put the guard before an application.

    `names` are host names by which the server may be called, besides addresses in numbers. With
    `ask_always` the passphrase is asked for even when none is set, so that nobody gets in.
    """
    app.config.update(
        SECRET_KEY=access.read().key,
        SESSION_COOKIE_NAME="fruitcast",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        PERMANENT_SESSION_LIFETIME=SIGNED_IN_DAYS * 24 * 3600,
        MAX_CONTENT_LENGTH=MOST_BYTES,
        MAX_FORM_MEMORY_SIZE=MOST_BYTES,
        MAX_FORM_PARTS=200,
    )
    app.session_interface = _Cookies()
    allowed = frozenset(name.lower().rstrip(".") for name in names)

    @app.before_request
    def check() -> AnyResponse | None:
        if not is_known_host(request.host, allowed):
            abort(400, "The server does not go by this name.")
        settings = access.read()
        admitted = is_signed_in(settings) or not (settings.has_passphrase or ask_always)
        if admitted and request.endpoint in UPLOAD_ENDPOINTS:
            request.max_content_length = request.max_form_memory_size = MOST_UPLOAD
        if request.method not in ("GET", "HEAD", "OPTIONS"):
            _check_origin()
            _check_token()
        if request.endpoint in OPEN_ENDPOINTS or admitted:
            return None
        return redirect(url_for("signin", next=_here()), 303)

    @app.after_request
    def seal(response: Response) -> Response:
        response.headers["Content-Security-Policy"] = (
            _PRINT_POLICY if request.endpoint in _PRINTED else _POLICY
        )
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        response.headers["X-Frame-Options"] = "DENY"
        if request.endpoint not in ("static", "feed", "icon"):
            response.headers["Cache-Control"] = "no-store"
        return response

    app.jinja_env.globals["csrf_token"] = csrf_token


def is_signed_in(settings: Access) -> bool:
    """Return whether the sign-in that this session holds still counts."""
    ended = settings.has_ended(session.get("id", ""))
    return session.get("era") == settings.era and not ended


def sign_in(access: AccessFile) -> None:
    """Mark this device as signed in, with a session of its own."""
    session.clear()
    session["id"] = secrets.token_urlsafe(16)
    session.permanent = True
    session["era"] = access.read().era
    session["since"] = int(time.time())


def sign_out(access: AccessFile) -> None:
    """End this sign-in here and on the server: a copy of its cookie admits nobody."""
    sign_in, era = session.get("id"), session.get("era")
    session.clear()
    if sign_in and era == access.read().era:
        access.end(sign_in, time.time())


def known_device(access: AccessFile) -> str:
    """Return the mark of a device that signed in before, empty for a stranger's."""
    try:
        mark: str = _marks(access).loads(request.cookies.get(_DEVICE, "")[:500])
    except BadSignature:
        return ""
    return mark


def remember_device(response: AnyResponse, access: AccessFile) -> None:
    """Mark a device that has signed in: it then has tries of its own."""
    mark = known_device(access) or secrets.token_urlsafe(16)
    response.set_cookie(
        _DEVICE,
        _marks(access).dumps(mark),
        max_age=_DEVICE_DAYS * 24 * 3600,
        path="/signin",
        secure=request.is_secure,
        httponly=True,
        samesite="Strict",
    )


def _marks(access: AccessFile) -> URLSafeSerializer:
    return URLSafeSerializer(access.read().key, salt="device that signed in before")


def csrf_token() -> str:
    """Return the token that a form of this session must carry."""
    if "token" not in session:
        session.permanent = True
        session["token"] = secrets.token_urlsafe(24)
    return str(session["token"])


def is_known_host(host: str, names: Collection[str]) -> bool:
    """Return whether a Host header names this server: a known name, or an address in numbers.

    Another site can let its own name point to this machine and so speak to the server from a
    visitor's browser; it cannot do so with an address in numbers.
    """
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    name = name.rstrip(".")
    if name in names:
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def is_loopback(name: str) -> bool:
    """Return whether a host's name or address is that of this machine to itself."""
    if name.lower().rstrip(".") in LOOPBACK_NAMES:
        return True
    try:
        return ipaddress.ip_address(name.strip("[]")).is_loopback
    except ValueError:
        return False


def is_loopback_name(host: str) -> bool:
    """Return whether a Host header names the computer itself that the browser runs on."""
    return is_loopback(urlsplit(f"//{host}").hostname or "")


def local_target(target: str) -> str:
    """Return a path on this server to go to; anything else becomes the first page."""
    try:
        path = urlsplit(target)
    except ValueError:
        return "/"
    safe = target.startswith("/") and not target.startswith(("//", "/\\"))
    if not safe or path.scheme or path.netloc or "\\" in target or not target.isprintable():
        return "/"
    return target


def _here() -> str:
    return request.full_path.rstrip("?") if request.method == "GET" else "/"


def _check_origin() -> None:
    """Refuse a change that another site's page sends."""
    origin = request.headers.get("Origin")
    if origin is not None:
        if origin != request.host_url.rstrip("/"):
            abort(403, "The form came from another site.")
    elif request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403, "The form came from another site.")


def _check_token() -> None:
    ours, given = session.get("token"), request.form.get("token", "")
    if not ours or not secrets.compare_digest(str(ours).encode(), given.encode(errors="replace")):
        abort(
            403,
            "The form is too old, or did not come from this page. Open the page again and repeat "
            "what you did; nothing was written.",
        )
