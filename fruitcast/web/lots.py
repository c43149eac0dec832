"""The page on which lots for stacks that bear too much at once are shown and taken."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import uuid4

from flask import Flask, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from fruitcast.app.serving import (
    Situation,
    diary_entries,
    lot_entry,
    lots_open,
    with_uuid,
    write_entries,
)
from fruitcast.diary.plan import StackToPart
from fruitcast.errors import InputError
from fruitcast.outputs.lots_words import part_words, why_words
from fruitcast.web.context import Context
from fruitcast.web.forms import form_uuid

Answer = str | tuple[str, int] | Response

GONE_BY = "These lots are not proposed any more. Look at what stands here now."

WRONG_INPUT = 422
"""Status of a form that could not be taken."""


def add_lots(app: Flask, context: Context) -> None:
    """Add the page to an application."""

    @app.get("/lots")
    def lots() -> str:
        return _show(context.situation())

    @app.post("/lots")
    def take_lots() -> Answer:
        now, given = context.situation(), request.form.getlist("lots")
        still_open = {_told(each): each for each in lots_open(now)}
        taken = [still_open[told] for told in given if told in still_open]
        try:
            uuids = [form_uuid(request.form.get("uuid", ""), n) for n in range(max(len(given), 1))]
        except InputError as error:
            return _show(now, str(error)), WRONG_INPUT
        if not diary_entries(now, uuids=uuids):  # else it was handed in before
            if not taken or len(taken) < len(given):
                return _show(now, GONE_BY), WRONG_INPUT
            pairs = zip(taken, uuids, strict=True)
            entries = [with_uuid(lot_entry(each, now.today), uuid) for each, uuid in pairs]
            write_entries(now, entries, context.clock.now())
            context.replan()
        return redirect(url_for("today", written=uuids), 303)


def _show(now: Situation, fault: str = "") -> str:
    found: Sequence[StackToPart] = lots_open(now)
    week_kg = now.plan.usual_week_kg if now.plan else None
    return render_template(
        "lots.html",
        now=now,
        fault=fault,
        proposed=[(_told(each), part_words(each, now.yard.units)) for each in found],
        why=why_words(week_kg, now.yard.units) if found and week_kg is not None else "",
        uuid=str(uuid4()),
    )


def _told(each: StackToPart) -> str:
    """Return a stack and its lots as the form hands them in."""
    return f"{len(each.lots)} {each.stack}"
