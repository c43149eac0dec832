"""The pages on which the yard's own files are changed: settings, sales, days, stacks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from flask import Flask, abort, g, render_template, request

from fruitcast.app.change_fields import (
    SECTIONS,
    STACK_FIELDS,
    Field,
    Section,
    numbers_section,
    row_words,
    section_named,
)
from fruitcast.app.change_forms import (
    Saved,
    Sent,
    fitted,
    rows_said,
    save_row,
    save_settings,
    save_stack,
    settings_said,
    shown_values,
    stack_columns,
    stacks_said,
)
from fruitcast.app.changing import Version, named_in_diary, put_back, versions, worth_a_look
from fruitcast.app.serving import Situation
from fruitcast.errors import Fault, FaultsError, FruitcastError
from fruitcast.web.context import WRONG_INPUT, Answer, Context
from fruitcast.web.words import words_link
from fruitcast.words import WEEKDAYS, count_words, day_words

WAS = "was."
"""Begins the name of a hidden field: what stood in the file when the form was opened."""

LONGEST_VALUE = 500
"""Letters of one field at most."""

SHOWN_LINES = 6
"""Sentences on a change at most."""

FIXED_NAME = "It stays: the diary speaks of this stack by this name."
"""Why the name of a stack can't be changed."""


def add_changing(app: Flask, context: Context) -> None:
    """Add the pages to an application."""

    def now() -> Situation | None:
        """Return the yard as it stands; None where it has a fault, to be mended here."""
        if "yard" not in g:
            try:
                g.yard = context.situation()
            except FruitcastError:
                g.yard = None
        found: Situation | None = g.yard
        return found

    def day() -> date:
        here = now()
        return here.today if here else context.clock.day or context.clock.now().date()

    def sent(names: Sequence[str]) -> Sent:
        return Sent(*_given(names), day(), context.clock.now(), "remove" in request.form)

    @app.get("/change")
    def change() -> str:
        raw = settings_said(context.folder)
        faults: Sequence[Fault] = ()
        notes: Sequence[str] = ()
        try:
            notes = worth_a_look(context.folder, day())
        except FaultsError as error:
            faults = error.faults
        saved = request.args.getlist("saved")[:2]
        kept = versions(context.folder)
        told = [each for each in kept if each.name in saved]
        return render_template(
            "change.html",
            now=now(),
            faults=faults,
            notes=notes,
            told=told,
            last=kept[0].name if kept else "",
            words=_words,
            sections=[each for each in (*SECTIONS, numbers_section()) if _matters(each, raw)],
            rows={
                each.name: [_row_words(each, row, raw) for row in rows_said(raw, each)]
                for each in SECTIONS
                if each.repeated
            },
            stacks=stacks_said(context.folder),
        )

    @app.get("/change/<name>")
    @app.get("/change/<name>/<at>")
    def change_section(name: str, at: str = "") -> Answer:
        section, raw, number = _section(context, name, at)
        said = (
            raw
            if not section.repeated
            else {}
            if number is None
            else rows_said(raw, section)[number]
        )
        return _section_form(now(), section, raw, shown_values(section, said), at)

    @app.post("/change/<name>")
    @app.post("/change/<name>/<at>")
    def save_section(name: str, at: str = "") -> Answer:
        section, raw, number = _section(context, name, at, sent=True)
        form = sent([each.name for each in section.fields])
        if section.repeated:
            form = replace(form, was={**form.was, "rows": request.form.get("rows", "")})
            saved = save_row(context.folder, section, number, form)
        else:
            saved = save_settings(context.folder, section, form)
        return _answer(saved, lambda: _section_form(now(), section, raw, saved.shown, at, saved))

    @app.get("/change/stack")
    def change_stack() -> Answer:
        stack = request.args.get("name", "")
        return _stack_form(now(), stack, stack_columns(context.folder, stack), in_diary(stack))

    @app.post("/change/stack")
    def send_stack() -> Answer:
        stack = request.form.get("name", "")
        form = sent(list(STACK_FIELDS))
        there = {**stack_columns(context.folder), **form.was}
        given = {name: text for name, text in form.given.items() if name in there}
        saved = save_stack(context.folder, stack, replace(form, given=given))
        return _answer(
            saved, lambda: _stack_form(now(), stack, saved.shown, in_diary(stack), saved)
        )

    def in_diary(stack: str) -> bool:
        return stack.casefold() in named_in_diary(context.folder)

    @app.get("/change/earlier")
    def earlier() -> str:
        return render_template(
            "earlier.html", now=now(), versions=versions(context.folder), words=_words, when=when
        )

    @app.post("/change/earlier")
    def restore() -> Answer:
        done = put_back(
            context.folder,
            request.form.get("version", ""),
            request.form.get("last", ""),
            day(),
            context.clock.now(),
        )
        return context.changed(done)

    def when(version: Version) -> str:
        here = now()
        moment = version.until.astimezone(here.yard.site.timezone if here else None)
        return f"{day_words(moment.date())} {moment.year}, {moment:%H:%M}"

    def _answer(saved: Saved, show: Callable[[], str]) -> Answer:
        return context.changed(saved.versions) if saved.done else (show(), WRONG_INPUT)


def _matters(section: Section, raw: Mapping[str, object]) -> bool:
    return not section.selling or bool(raw.get("outlet") or raw.get("order"))


def _section(
    context: Context, name: str, at: str, *, sent: bool = False
) -> tuple[Section, dict[str, object], int | None]:
    """Return a section with the units of the file, the settings, and the number of a table."""
    section, raw = section_named(name), settings_said(context.folder)
    if section is None or bool(at) != section.repeated:
        abort(404)
    number = int(at) if at.isdecimal() and len(at) < 4 else None
    if at and at != "new" and number is None:
        abort(404)
    if number is not None and number >= len(rows_said(raw, section)):
        if not sent:
            abort(404)
        return fitted(section, raw, None), raw, number
    return fitted(section, raw, number), raw, number


def _given(names: Sequence[str]) -> tuple[dict[str, str], dict[str, str]]:
    """Return what stood in the fields when the form was opened, and what it says now."""
    form = request.form
    was = {name: form[WAS + name][:LONGEST_VALUE] for name in names if WAS + name in form}
    given = {
        name: ",".join(part for part in form.getlist(name) if part)[:LONGEST_VALUE]
        for name in names
        if name in was or name in form
    }
    return was, given


def _section_form(
    now: Situation | None,
    section: Section,
    raw: Mapping[str, object],
    values: Mapping[str, str],
    at: str,
    saved: Saved | None = None,
) -> str:
    asked = [
        each
        for each in section.fields
        if not each.selling or raw.get("outlet") or raw.get("order") or values.get(each.name)
    ]
    hidden = {"rows": len(rows_said(raw, section))} if at else {}
    removable = at not in ("", "new")
    return _form(now, section.title, asked, values, saved, hidden, removable=removable)


def _stack_form(
    now: Situation | None,
    stack: str,
    values: Mapping[str, str],
    in_diary: bool,
    saved: Saved | None = None,
) -> str:
    asked = [STACK_FIELDS[name] for name in values if name in STACK_FIELDS]
    if in_diary:
        asked = [replace(e, hint=FIXED_NAME) if e.name == "stack" else e for e in asked]
    words = (
        ("Retire it, or some of its logs", f"retire {stack} all"),
        ("Split logs off", f"split {stack} 10 logs into "),
        ("Merge it with another", f"merge {stack} into "),
        ("It stands elsewhere now", f"move {stack} to "),
    )
    return _form(
        now,
        f"Stack {stack}" if stack else "A new stack",
        asked,
        values,
        saved,
        {"name": stack},
        removable=bool(stack) and not in_diary,
        in_diary=in_diary,
        links=[(label, words_link(begun)) for label, begun in words] if stack and now else [],
    )


def _form(
    now: Situation | None,
    title: str,
    asked: Sequence[Field],
    values: Mapping[str, str],
    saved: Saved | None,
    hidden: Mapping[str, object],
    *,
    removable: bool,
    in_diary: bool = False,
    links: Sequence[tuple[str, str]] = (),
) -> str:
    was = {each.name: values.get(each.name, "") for each in asked}
    if saved is not None:
        # What it was shown, and what somebody else has put there since.
        sent = {each.name: request.form.get(WAS + each.name, "") for each in asked}
        was = {**sent, **saved.meanwhile}
    return render_template(
        "change_form.html",
        now=now,
        title=title,
        asked=asked,
        values=values,
        was=was,
        faults=saved.faults if saved else {},
        meanwhile=saved.meanwhile if saved else {},
        removable=removable,
        in_diary=in_diary,
        days=WEEKDAYS,
        hidden=hidden,
        links=links,
    )


def _row_words(section: Section, row: Mapping[str, object], raw: Mapping[str, object]) -> str:
    """Return a table of several in a few words: its first values."""
    values = shown_values(fitted(section, {**raw, section.name: [row]}, 0), row)
    shown = [values[each] for each in list(values)[: 2 if section.name != "wood" else 3]]
    return row_words(section, shown) or "not filled in"


def _words(version: Version) -> list[str]:
    """Return what a change meant, not too much of it."""
    if not version.words:
        return ["Only notes or blanks were changed."]
    more = len(version.words) - SHOWN_LINES
    rest = [f"And {count_words(more, 'more change')}."] if more > 0 else []
    return [*version.words[:SHOWN_LINES], *rest]
