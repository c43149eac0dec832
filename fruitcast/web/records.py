"""Recording on the page: forms, what was understood, what is asked, undo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

from flask import Flask, abort, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from fruitcast.app.serving import (
    MOST_LINES,
    LineWeighed,
    Situation,
    Weighed,
    cancel_entries,
    diary_entries,
    weigh_entries,
    weigh_lines,
    weigh_words,
    write_entries,
)
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.events import CAUSES
from fruitcast.diary.recording import outlet_names
from fruitcast.errors import FruitcastError, InputError
from fruitcast.web.context import Context
from fruitcast.web.forms import (
    FORMS,
    UNIT_OF_DEPTH,
    UNITS_OF_WEIGHT,
    WHOLE_YARD,
    FormError,
    form_uuid,
    read_form,
    stack_names,
)
from fruitcast.words import day_words

Answer = str | tuple[str, int] | Response

WRONG_INPUT = 422
"""Status of a form that could not be taken."""


def add_records(app: Flask, context: Context) -> None:
    """Add the forms to an application."""

    @app.get("/record")
    def record() -> str:
        now = context.situation()
        in_tank = [name for name, state in now.state.stacks.items() if state.in_tank]
        forms = {kind: form for kind, form in FORMS.items() if now.yard.sells or not form.selling}
        return render_template("record.html", now=now, forms=forms, in_tank=in_tank)

    @app.get("/record/<kind>")
    def form(kind: str) -> Answer:
        now, kind = context.situation(), _known(kind)
        given = request.args.copy()
        if not given.get("day"):
            given["day"] = now.today.isoformat()
        given["uuid"] = str(uuid4())
        if given.pop("check", None):
            return _taken(context, now, kind, given, confirmed=False, write=False)
        return _show(now, kind, given, {})

    @app.post("/record/<kind>")
    def send(kind: str) -> Answer:
        now, kind = context.situation(), _known(kind)
        given = request.form.copy()
        if "change" in given:
            return _show(now, kind, given, {})
        return _taken(context, now, kind, given, confirmed="yes" in given, write=True)

    @app.get("/record/words")
    def words() -> str:
        given = request.args.get("words", "")
        return _show_words(context.situation(), given, str(uuid4()), "")

    @app.post("/record/words")
    def send_words() -> Answer:
        now, given = context.situation(), request.form.get("words", "")
        uuid = request.form.get("uuid", "")
        if "change" in request.form:
            return _show_words(now, given, uuid, "")
        try:
            weighed = weigh_words(now, given)
            entries = [
                replace(one.record.event, uuid=form_uuid(uuid, number))
                for number, one in enumerate(weighed)
            ]
        except FruitcastError as error:
            return _show_words(now, given, uuid, str(error)), WRONG_INPUT
        if any(one.doubts for one in weighed) and "yes" not in request.form:
            fields = MultiDict({"words": given, "uuid": uuid})
            return _ask(now, weighed, fields, url_for("send_words"))
        return _written(context, write_entries(now, entries, context.clock.now()))

    @app.get("/record/lines")
    def record_lines() -> str:
        return _show_lines(context.situation(), "", str(uuid4()))

    @app.post("/record/lines")
    def send_lines() -> Answer:
        now, given = context.situation(), request.form.get("lines", "")
        uuid = request.form.get("uuid", "")
        try:
            found = weigh_lines(now, given)
            entries = [one.record.event for line in found for one in line.weighed]
            entries = [
                replace(entry, uuid=form_uuid(uuid, number)) for number, entry in enumerate(entries)
            ]
        except FruitcastError as error:
            return _show_lines(now, given, uuid, fault=str(error)), WRONG_INPUT
        written = diary_entries(now, uuids=[entry.uuid for entry in entries])
        if not written:  # else it was handed in before
            readable = not any(line.fault for line in found)
            if not readable or given != request.form.get("shown", ""):
                page = _show_lines(now, given, uuid, found)
                return page if readable else (page, WRONG_INPUT)
            write_entries(now, entries, context.clock.now())
            context.replan()
        return redirect(url_for("today", written=[entry.uuid for entry in entries][:20]), 303)

    @app.post("/undo")
    def undo() -> Answer:
        now = context.situation()
        uuids = request.form.getlist("entry")[:50]
        return _written(context, cancel_entries(now, uuids, context.clock.now()))


def _known(kind: str) -> str:
    """Return a kind that has a form."""
    if kind not in FORMS:
        abort(404)
    return kind


def _taken(
    context: Context,
    now: Situation,
    kind: str,
    given: MultiDict[str, str],
    *,
    confirmed: bool,
    write: bool,
) -> Answer:
    """Write what a form says, or ask, or show the form again with what is wrong."""
    try:
        entries = read_form(kind, given, given.getlist("stack"), now)
        weighed = weigh_entries(now, entries)
    except FormError as error:
        return _show(now, kind, given, error.faults), WRONG_INPUT
    except InputError as error:
        return _show(now, kind, given, {"": str(error)}), WRONG_INPUT
    doubtful = any(one.doubts for one in weighed)
    if write and (confirmed or not doubtful):
        return _written(context, write_entries(now, entries, context.clock.now()))
    return _ask(now, weighed, given, url_for("send", kind=kind))


def _written(context: Context, uuids: Sequence[str]) -> Response:
    """Have the plan made anew and show the first page with what was written."""
    context.replan()
    return redirect(url_for("today", written=list(uuids)), 303)


def _ask(
    now: Situation, weighed: Sequence[Weighed], given: MultiDict[str, str], action: str
) -> str:
    """Show what was understood and what speaks against it, to be confirmed or changed."""
    kept = [
        (name, value)
        for name, value in given.items(multi=True)
        if name not in ("token", "yes", "change")
    ]
    return render_template(
        "confirm.html",
        now=now,
        understood=[one.record.understood for one in weighed],
        doubts=[doubt for one in weighed for doubt in one.doubts],
        fields=kept,
        action=action,
    )


def _show(now: Situation, kind: str, given: MultiDict[str, str], faults: dict[str, str]) -> str:
    days = [
        (now.today, f"Today, {day_words(now.today)}"),
        (now.today - timedelta(days=1), f"Yesterday, {day_words(now.today - timedelta(days=1))}"),
    ]
    return render_template(
        "form.html",
        now=now,
        kind=kind,
        form=FORMS[kind],
        depth_needed="mm" in kind_named(kind).needs,
        given=given,
        chosen=given.getlist("stack"),
        faults=faults,
        stacks=stack_names(now),
        whole_yard=WHOLE_YARD,
        days=[(day.isoformat(), words) for day, words in days],
        weight_units=UNITS_OF_WEIGHT[now.yard.units],
        depth_unit=UNIT_OF_DEPTH[now.yard.units],
        outlets=outlet_names(now.yard),
        for_outlet=kind_named(kind).for_outlet,
        causes=CAUSES,
    )


def _show_lines(
    now: Situation,
    given: str,
    uuid: str,
    found: Sequence[LineWeighed] = (),
    fault: str = "",
) -> str:
    return render_template(
        "lines.html", now=now, given=given, uuid=uuid, found=found, fault=fault, most=MOST_LINES
    )


def _show_words(now: Situation, given: str, uuid: str, fault: str) -> str:
    return render_template(
        "words.html",
        now=now,
        given=given,
        uuid=uuid,
        fault=fault,
        examples=[
            how_to.removeprefix("Write it like ")
            for how_to in (kind_named(kind).how_to for kind in KINDS)
            if how_to
        ],
    )
