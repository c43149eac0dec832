"""Recording on the page: forms, what was understood, what is asked, undo."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any, TypeVar
from uuid import UUID, uuid4, uuid5

from flask import Flask, abort, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from fruitcast.app.serving import (
    MOST_LINES,
    LineWeighed,
    Situation,
    cancel_entries,
    diary_entries,
    weigh_entries,
    weigh_lines,
    weigh_words,
    write_entries,
)
from fruitcast.diary.entries import KINDS, kind_named
from fruitcast.diary.entries.kind import Form
from fruitcast.diary.entry_faults import faults_of
from fruitcast.diary.events import (
    CAUSES,
    COMPETITOR_MOULDS,
    DEAD_LOGS,
    FINDINGS,
    HEALTHY,
    HOLD,
    INSPECT,
    LOOSE_BARK,
    SPAWN_RUN_DONE,
    WHITE_ENDS,
    Event,
)
from fruitcast.diary.phrases import parse_day
from fruitcast.diary.recording import Recorded, outlet_names
from fruitcast.errors import FruitcastError, InputError
from fruitcast.units import UNIT_OF_RAIN, Units, in_own_units, parse_rain, parse_weight
from fruitcast.web.context import WRONG_INPUT, Answer, Context
from fruitcast.words import clean_line, day_words
from fruitcast.yard.model import stack_of

# What the forms of the page say, as entries for the diary.

T = TypeVar("T")

WHOLE_YARD = "*"
"""Stands for all stacks in a form."""

UNITS_OF_WEIGHT: dict[Units, tuple[str, str]] = {"us": ("lb", "oz"), "metric": ("kg", "g")}
"""Large and small unit of the two fields of a weight."""

MOST_STACKS = 60
"""Stacks in one form at most."""


_OF_KINDS = {name: form for name in KINDS if (form := kind_named(name).form)}
FORMS = dict(sorted(_OF_KINDS.items(), key=lambda named: not named[1].first))
"""The forms by kind of entry, in the order of their buttons."""


class FormError(InputError):
    """What is wrong in a form, by field."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        self.faults = dict(faults)
        super().__init__(" ".join(self.faults.values()))


def read_form(
    kind: str, given: Mapping[str, str], stacks: list[str], now: Situation
) -> list[Event]:
    """Return the entries that a form means.

    `given` are its fields: `day` or `other_day`, `uuid`, `note`, and those of the form of that
    kind; `stacks` those ticked. Raises FormError with what is wrong in each field.
    """
    form = FORMS[kind]
    faults: dict[str, str] = {}

    def field(name: str, read: Callable[[], T]) -> T | None:
        try:
            return read()
        except InputError as error:
            faults[name] = str(error)
            return None

    def said(name: str) -> str:
        return given.get(name, "")

    on = field("day", lambda: _day(given, now.today))
    named = field("stack", lambda: _stacks(form, stacks, now))
    units = now.yard.units
    small = UNITS_OF_WEIGHT[units][1]
    needed = "mm" in kind_named(kind).needs
    reads: dict[str, dict[str, tuple[str, Callable[[], Any]]]] = {
        "logs": {"logs": ("logs", lambda: _whole(said("logs"), "logs"))},
        "hours": {"hours": ("hours", lambda: _hours(said("hours")))},
        "weight": {"kg": ("weight", lambda: _weight(given, units))},
        "losses": {
            "lost_kg": ("lost", lambda: _part(said("lost"), small)),
            "second_kg": ("second", lambda: _part(said("second"), small)),
        },
        "paid": {"paid": ("paid", lambda: _paid(said("paid")))},
        "outlet": {"outlet": ("outlet", said("outlet").strip)},
        "depth": {"mm": ("depth", lambda: _depth(given, units, needed))},
    }
    told: dict[str, Any] = {
        name: field(*read) for part in form.fields for name, read in reads[part].items()
    }
    cause = said("cause") if told.get("lost_kg") else ""
    event = Event(kind, on or now.today, note=said("note").strip(), cause=cause, **told)
    if faults or named is None:
        raise FormError(faults)
    events = [replace(event, stack=name) for name in named]
    unfit = [fault for event in events for fault in faults_of(event)]
    if unfit:
        raise FormError({"note": f"This cannot be kept: {'; '.join(dict.fromkeys(unfit))}."})
    uuid = given.get("uuid", "")
    return [replace(event, uuid=form_uuid(uuid, n)) for n, event in enumerate(events)]


def stack_names(now: Situation) -> list[str]:
    """Return the stacks and lots that a form offers, and before lots the stack they are of."""
    names: list[str] = []
    for name, state in now.state.stacks.items():
        if not state.logs:
            continue
        names += [stack_of(name), name]
    return list(dict.fromkeys(names))


def form_uuid(text: str, number: int = 0) -> str:
    """Return the uuid that a form carries, so that handing it in twice writes once.

    The entries after the first have others, made of it.

    Raises InputError if it is none.
    """
    try:
        uuid = UUID(text)
        return str(uuid5(uuid, str(number)) if number else uuid)
    except ValueError:
        raise InputError(
            "The form is not complete. Open the page again and repeat what you did; nothing was "
            "written."
        ) from None


def with_uuids(weighed: Sequence[Recorded], text: str) -> list[Recorded]:
    """Return records with the uuids that a form has for them."""
    return [
        replace(one, event=replace(one.event, uuid=form_uuid(text, number)))
        for number, one in enumerate(weighed)
    ]


def _day(given: Mapping[str, str], today: date) -> date:
    text = given.get("other_day", "").strip() or given.get("day", "").strip()
    if not text or text == "other":
        raise InputError("Which day? Choose one, or give the date.")
    return parse_day(text[:60], today)


def _stacks(form: Form, given: list[str], now: Situation) -> list[str]:
    if not form.stack:
        return [""]
    if form.yard and WHOLE_YARD in given:
        return [""]
    known = {*now.state.stacks, *stack_names(now)}
    wanted = list(dict.fromkeys(given))[:MOST_STACKS]
    for name in wanted:
        if name not in known:
            raise InputError(
                f"There is no stack '{name[:60]}' in the yard. Choose one of the list."
            )
    if not wanted:
        raise InputError("Which stack? Choose one.")
    if len(wanted) > 1 and not form.yard:
        raise InputError("Choose one stack at a time.")
    return wanted


def _whole(text: str, what: str) -> int | None:
    if not text.strip():
        return None
    if not re.fullmatch(r"\d{1,6}", text.strip()):
        raise InputError(f"'{text.strip()[:40]}' is not a number of {what}. Give a whole number.")
    return int(text)


def _hours(text: str) -> float | None:
    if not text.strip():
        return None
    hours = _number(text, "hours")
    if hours <= 0:
        raise InputError("A soak needs more than 0 hours. Leave it empty for the usual ones.")
    return hours


def _number(text: str, what: str) -> float:
    if not re.fullmatch(r"\d{1,6}(?:[.,]\d{0,4})?|[.,]\d{1,4}", text.strip()):
        raise InputError(
            f"'{text.strip()[:40]}' is not a number of {what}. Write it like 24 or 1.5."
        )
    return float(text.strip().replace(",", "."))


def _weight(given: Mapping[str, str], units: Units) -> float:
    parts = []
    for name, unit in zip(("large", "small"), UNITS_OF_WEIGHT[units], strict=True):
        text = given.get(name, "").strip()
        if text:
            _number(text, unit)
            parts.append(f"{text} {unit}")
    if not parts:
        large, small = UNITS_OF_WEIGHT[units]
        raise InputError(f"What weight? Fill in {large} or {small}, or both.")
    return sum(parse_weight(part) for part in parts)


def _part(text: str, unit: str) -> float | None:
    """Return the weight of a part of a pick; none where the field is empty."""
    if not text.strip():
        return None
    _number(text, unit)
    return parse_weight(f"{text} {unit}")


def _paid(text: str) -> float | None:
    if not text.strip():
        return None
    amount = text.strip().strip("$€£ ")
    if not re.fullmatch(r"\d{1,6}(?:[.,]\d{1,2})?", amount):
        raise InputError(f"'{text.strip()[:40]}' is no sum of money. Write it like 26.40.")
    return float(amount.replace(",", "."))


def _depth(given: Mapping[str, str], units: Units, needed: bool) -> float | None:
    text = given.get("depth", "").strip()
    if not text:
        if needed:
            raise InputError("How much rain was in the gauge? Write 0 for none.")
        return None
    return parse_rain(text[:60], units)


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
            return _taken(context, now, kind, given, write=False)
        return _show(now, kind, given, {})

    @app.post("/record/<kind>")
    def send(kind: str) -> Answer:
        now, kind = context.situation(), _known(kind)
        given = request.form.copy()
        if "change" in given:
            return _show(now, kind, given, {})
        return _taken(context, now, kind, given, write=True)

    @app.get("/record/words")
    def words() -> Answer:
        now, given, uuid = context.situation(), request.args.get("words", ""), str(uuid4())
        if "check" not in request.args:
            return _show_words(now, given, uuid, "")
        try:
            weighed = weigh_words(now, given)
        except FruitcastError as error:
            return _show_words(now, given, uuid, str(error)), WRONG_INPUT
        return _ask(now, weighed, MultiDict({"words": given, "uuid": uuid}), url_for("send_words"))

    @app.get("/record/asked/<kind>")
    def asked(kind: str) -> Answer:
        if kind not in (HOLD, INSPECT):
            abort(404)
        return _show_asked(context.situation(), kind, request.args, str(uuid4()))

    @app.post("/record/asked/<kind>")
    def send_asked(kind: str) -> Answer:
        if kind not in (HOLD, INSPECT):
            abort(404)
        now, given = context.situation(), request.form.copy()
        uuid = given.get("uuid", "")
        if "change" in given:
            return _show_asked(now, kind, given, uuid)
        try:
            weighed = weigh_entries(now, [asked_entry(kind, given, now)])
        except FruitcastError as error:
            return _show_asked(now, kind, given, uuid, str(error)), WRONG_INPUT
        return _write(context, now, weighed, given, url_for("send_asked", kind=kind))

    @app.post("/record/words")
    def send_words() -> Answer:
        now, given = context.situation(), request.form.get("words", "")
        uuid = request.form.get("uuid", "")
        if "change" in request.form:
            return _show_words(now, given, uuid, "")
        try:
            weighed = with_uuids(weigh_words(now, given), uuid)
        except FruitcastError as error:
            return _show_words(now, given, uuid, str(error)), WRONG_INPUT
        return _write(context, now, weighed, request.form, url_for("send_words"))

    @app.get("/record/lines")
    def record_lines() -> str:
        return _show_lines(context.situation(), "", str(uuid4()))

    @app.post("/record/lines")
    def send_lines() -> Answer:
        now, given = context.situation(), request.form.get("lines", "")
        uuid = request.form.get("uuid", "")
        try:
            found = weigh_lines(now, given)
            weighed = with_uuids([one for line in found for one in line.weighed], uuid)
        except FruitcastError as error:
            return _show_lines(now, given, uuid, fault=str(error)), WRONG_INPUT
        entries = [one.event for one in weighed]
        uuids = [entry.uuid for entry in entries]
        written = diary_entries(now, uuids=uuids)
        if not written:  # else it was handed in before
            readable = not any(line.fault for line in found)
            if not readable or given != request.form.get("shown", ""):
                page = _show_lines(now, given, uuid, found)
                return page if readable else (page, WRONG_INPUT)
            write_entries(now, entries, context.clock.now())
            context.replan()
        return redirect(url_for("today", written=uuids[:20]), 303)

    @app.post("/undo")
    def undo() -> Answer:
        now = context.situation()
        uuids = request.form.getlist("entry")[:50]
        return _written(context, cancel_entries(now, uuids, context.clock.now()))


SEEN = ("springy bark", "dull sound when knocked")
"""Signs of the spawn run that an inspection keeps as words."""

ASKED_FINDINGS = (WHITE_ENDS, SPAWN_RUN_DONE, COMPETITOR_MOULDS, LOOSE_BARK, HEALTHY)


def asked_entry(kind: str, given: MultiDict[str, str], now: Situation) -> Event:
    """Return the entry that a page means which asks one thing of a stack.

    Raises InputError if something can't be read.
    """
    stack = given.get("stack", "").strip()
    if stack not in {*now.state.stacks, *stack_names(now)}:
        raise InputError(f"There is no stack '{stack[:60]}' in the yard.")
    event = Event(kind, now.today, stack, uuid=form_uuid(given.get("uuid", "")))
    if kind == HOLD:
        try:
            until = date.fromisoformat(given.get("until", "").strip())
        except ValueError:
            raise InputError("Until when? Choose a day.") from None
        return replace(event, into=str(until))
    ticked = given.getlist("found")
    dead = _whole(given.get("dead", ""), "logs") or None
    findings = tuple(each for each in FINDINGS if each in ticked or (each == DEAD_LOGS and dead))
    notes = [*(each for each in SEEN if each in ticked), given.get("note", "").strip()]
    note = "; ".join(filter(None, notes))
    if not findings and not note:
        raise InputError("What did you find? Tick what you saw, or write it.")
    event = replace(event, logs=dead, findings=findings, note=note)
    unfit = faults_of(event)
    if unfit:
        raise InputError(f"This cannot be kept: {'; '.join(unfit)}.")
    return event


def _show_asked(
    now: Situation, kind: str, given: MultiDict[str, str], uuid: str, fault: str = ""
) -> str:
    return render_template(
        "asked.html",
        now=now,
        kind=kind,
        given=given,
        uuid=uuid,
        fault=fault,
        ticked=given.getlist("found"),
        signs=(ASKED_FINDINGS[0], *SEEN, *ASKED_FINDINGS[1:]),
    )


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
    write: bool,
) -> Answer:
    """Write what a form says, or ask, or show the form again with what is wrong."""
    try:
        weighed = weigh_entries(now, read_form(kind, given, given.getlist("stack"), now))
    except FormError as error:
        return _show(now, kind, given, error.faults), WRONG_INPUT
    except InputError as error:
        return _show(now, kind, given, {"": str(error)}), WRONG_INPUT
    action = url_for("send", kind=kind)
    if write:
        return _write(context, now, weighed, given, action)
    return _ask(now, weighed, given, action)


def _write(
    context: Context,
    now: Situation,
    weighed: Sequence[Recorded],
    given: MultiDict[str, str],
    action: str,
) -> Answer:
    """Write what was weighed; ask first what is doubtful and not yet confirmed."""
    if any(one.questions for one in weighed) and "yes" not in given:
        return _ask(now, weighed, given, action)
    entries = [one.event for one in weighed]
    return _written(context, write_entries(now, entries, context.clock.now()))


def _written(context: Context, uuids: Sequence[str]) -> Response:
    """Have the plan made anew and show the first page with what was written."""
    context.replan()
    return redirect(url_for("today", written=list(uuids)), 303)


def _ask(
    now: Situation, weighed: Sequence[Recorded], given: MultiDict[str, str], action: str
) -> str:
    """Show what was understood and what speaks against it, to be confirmed or changed."""
    kept = [
        (name, value)
        for name, value in given.items(multi=True)
        if name not in ("token", "yes", "change")
    ]
    doubts = [doubt for one in weighed for doubt in one.questions]
    told = [one.understood for one in weighed]
    return render_template(
        "confirm.html",
        now=now,
        # A question that says the record itself says it once.
        understood=[words for words in told if not any(words.rstrip(".") in d for d in doubts)],
        doubts=doubts,
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
        depth_unit=UNIT_OF_RAIN[now.yard.units][0],
        outlets=outlet_names(now.yard),
        for_outlet=kind_named(kind).for_outlet,
        causes=CAUSES,
    )


def _show_lines(
    now: Situation, given: str, uuid: str, found: Sequence[LineWeighed] = (), fault: str = ""
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
            _with_own_names(
                in_own_units(how_to.removeprefix("Write it like "), now.yard.units), now
            )
            for how_to in (kind_named(kind).how_to for kind in KINDS)
            if how_to
        ],
    )


def _with_own_names(example: str, now: Situation) -> str:
    """Return an example with the yard's own stacks and outlet instead of invented ones."""
    names = dict(zip("AB", now.state.stacks, strict=False))
    if now.yard.outlets:
        names |= dict.fromkeys(("Saturday market", "Bull", "Inn"), now.yard.outlets[0].name)
    invented = r"\b(?:A|B|Saturday market|Bull|Inn)\b"
    return re.sub(invented, lambda found: clean_line(names.get(found[0], found[0])), example)
