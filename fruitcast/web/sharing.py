"""Signing in, and the page on which the calendar is subscribed to and its address revoked."""

from __future__ import annotations

import math
from urllib.parse import urlsplit

from flask import Flask, redirect, render_template, request, session, url_for
from werkzeug.wrappers import Response

from fruitcast.web.attempts import Attempts
from fruitcast.web.context import Context
from fruitcast.web.guard import (
    LOOPBACK_NAMES,
    known_device,
    local_target,
    remember_device,
    sign_in,
    sign_out,
)
from fruitcast.web.pictures import qr_picture

Answer = str | tuple[str, int] | tuple[str, int, dict[str, str]] | Response


def add_sharing(app: Flask, context: Context, attempts: Attempts) -> None:
    """Add the pages to an application."""

    @app.get("/calendar")
    def calendar() -> str:
        token = context.access.read().feed
        address = url_for("feed", token=token, _external=True) if token else ""
        subscribe = f"webcal://{address.partition('://')[2]}" if address else ""
        return render_template(
            "calendar.html",
            now=context.situation(),
            address=address,
            subscribe=subscribe,
            code=qr_picture(subscribe, "QR code of the calendar's address") if address else "",
            only_here=_is_loopback(request.host),
        )

    @app.post("/calendar/new")
    def new_address() -> Response:
        context.access.new_feed()
        return redirect(url_for("calendar"), 303)

    @app.post("/calendar/stop")
    def stop_sharing() -> Response:
        context.access.stop_feed()
        return redirect(url_for("calendar"), 303)

    @app.get("/signin")
    def signin() -> Answer:
        settings = context.access.read()
        target = local_target(request.args.get("next", "/"))
        ended = settings.has_ended(session.get("id", ""))
        if not settings.has_passphrase or (session.get("era") == settings.era and not ended):
            return redirect(target, 303)
        return render_template("signin.html", target=target, fault="")

    @app.post("/signin")
    def send_signin() -> Answer:
        target = local_target(request.form.get("next", "/"))
        sender = request.remote_addr or "", known_device(context.access)
        with attempts.lock:
            wait = attempts.wait(*sender)
            if wait <= 0 and context.access.read().admits(request.form.get("passphrase", "")):
                attempts.right(*sender)
                sign_in(context.access)
                answer = redirect(target, 303)
                remember_device(answer, context.access)
                return answer
            if wait <= 0:
                attempts.wrong(*sender)
        if wait <= 0:
            fault = "This is not the passphrase. Check capitals and blanks, and try again."
            return render_template("signin.html", target=target, fault=fault), 403
        seconds = math.ceil(wait)
        minutes = f"{math.ceil(seconds / 60)} min" if seconds > 90 else f"{seconds} s"
        fault = f"Too many wrong tries. Wait {minutes}, then try again."
        page = render_template("signin.html", target=target, fault=fault)
        return page, 429, {"Retry-After": str(seconds)}

    @app.post("/signout")
    def signout() -> Response:
        sign_out(context.access)
        return redirect(url_for("signin"), 303)

    @app.post("/signout/everywhere")
    def signout_everywhere() -> Response:
        context.access.sign_everybody_out()
        session.clear()
        return redirect(url_for("signin"), 303)


def _is_loopback(host: str) -> bool:
    name = urlsplit(f"//{host}").hostname or ""
    return name in LOOPBACK_NAMES or name.startswith("127.") or name == "::1"
