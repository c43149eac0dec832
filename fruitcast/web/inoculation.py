"""The pages of inoculation: how many logs of what next spring, and one batch, drawn and added."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import cast
from urllib.parse import urlencode

from flask import Flask, redirect, render_template, request, url_for
from flask import Response as FlaskResponse
from markupsafe import Markup
from werkzeug.datastructures import MultiDict

from fruitcast.app.inoculation import (
    DEFAULT_YEARS,
    NAMELESS,
    BatchAnswer,
    BatchWish,
    ProgrammeAnswer,
    Wish,
    add_batch,
    look_at_batch,
    make_programme,
)
from fruitcast.app.serving import Situation, inputs_of
from fruitcast.errors import Fault, FaultsError, FruitcastError, InputError
from fruitcast.outputs.inoculation_words import batch_table, programme_table
from fruitcast.outputs.listing import parts_of
from fruitcast.progress import Progress
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES, TOOLS, SpawnForm, StrainClass, Tool
from fruitcast.units import UNIT_OF_SIZE, Units, format_weight, parse_weight
from fruitcast.weather.stations import Fetching
from fruitcast.web.context import WRONG_INPUT, Answer, Context
from fruitcast.web.trial import Trial, Trials, add_trials, beside
from fruitcast.web.what_if import logs_given
from fruitcast.words import WEEKDAYS
from fruitcast.yard.model import Stack

# The page on which it is reckoned how many logs of what to inoculate.

PROGRAMME, BATCH = "/inoculation", "/inoculation/batch"
LONGEST = 120
"""Letters of one field at most."""

_MOST_YEARS = 15

Programmes = Trials[MultiDict[str, str], ProgrammeAnswer]


def add_inoculation(app: Flask, context: Context) -> None:
    """Add the pages to an application."""
    nothing: MultiDict[str, str] = MultiDict()
    trials: Programmes = add_trials(app, PROGRAMME, nothing)

    @app.get(PROGRAMME)
    def inoculation() -> str:
        now, trial = context.situation(), trials.trial
        old = trial.is_old(inputs_of(now))
        return _show_programme(now, trial, trial.what, old=old)

    @app.post(PROGRAMME)
    def ask_inoculation() -> Answer:
        now, given = context.situation(), request.form.copy()
        try:
            wish = _wish(now, given)
        except InputError as error:
            return _show_programme(now, Trial(nothing), given, str(error)), WRONG_INPUT
        trials.start(
            given,
            inputs_of(now),
            partial(_programme, context.folder, now.today, wish, context.fetching()),
        )
        return redirect(url_for("inoculation"), 303)

    add_batches(app, context)


def _programme(
    folder: Path, today: date, wish: Wish, fetching: Fetching, *, progress: Progress
) -> ProgrammeAnswer:
    made = make_programme(folder, today, wish, fetching=fetching, progress=progress)
    return made.document


def _wish(now: Situation, given: Mapping[str, str]) -> Wish:
    """Return what a form asks for, or raise InputError if something can't be read."""
    targets = []
    for number, outlet in enumerate(now.yard.outlets):
        text = given.get(f"target-{number}", "").strip()[:LONGEST]
        if text:
            parse_weight(text, now.yard.units)
            targets.append(f"{outlet.name}={text}")
    day, more = (given.get(name, "").strip()[:LONGEST] for name in ("day", "more"))
    if day in WEEKDAYS and more:
        parse_weight(more, now.yard.units)
        targets.append(f"{day}={more}")
    elif day or more:
        raise InputError("One more sale: choose its day of the week, and write what it would take.")
    if not targets and not now.yard.outlets:
        raise InputError("What do you want, and when? Choose a day of the week and a weight.")
    tool = given.get("tool", TOOLS[0])
    return Wish(
        targets=tuple(targets),
        wanted_from=_from(given.get("from", "").strip()[:LONGEST]),
        years=_number(given, "years", "Years of inoculation", 1, _MOST_YEARS) or DEFAULT_YEARS,
        chance=(_number(given, "chance", "Sales to be met in full", 5, 99) or 0) / 100 or None,
        tool=cast(Tool, tool if tool in TOOLS else TOOLS[0]),
        inoculate="none" not in given,
    )


def _from(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(f"{text}-01-01" if len(text) == 4 else text)
    except ValueError:
        raise InputError("Sales count from: write a year like 2029, or a day.") from None


def _number(given: Mapping[str, str], field: str, what: str, low: int, high: int) -> int | None:
    text = given.get(field, "").strip()
    if not text:
        return None
    if not text.isdecimal() or len(text) > 3 or not low <= int(text) <= high:
        raise InputError(f"{what}: give a number from {low} to {high}.")
    return int(text)


def _show_programme(
    now: Situation,
    trial: Trial[MultiDict[str, str], ProgrammeAnswer],
    given: Mapping[str, str],
    fault: str = "",
    *,
    old: bool = False,
) -> str:
    yard, found = now.yard, trial.found
    return render_template(
        "inoculation.html",
        now=now,
        trial=trial,
        fault=fault,
        old=old,
        given=given,
        outlets=[
            (each.name, given.get(f"target-{n}") or format_weight(each.target_kg, yard.units))
            for n, each in enumerate(yard.outlets)
        ],
        days=WEEKDAYS,
        tools=TOOLS,
        usual={"years": DEFAULT_YEARS, "chance": f"{100 * yard.promise:.0f}"},
        parts=parts_of(programme_table(found, yard)) if found else (),
        warnings=found.warnings if found else (),
        batches=_batches(found, yard.units) if found else (),
    )


def _batches(found: ProgrammeAnswer, units: Units) -> list[tuple[str, str]]:
    """Return the first year's batches: in words, and the page of each."""
    first = [each for each in found.inoculate if each.year == found.inoculate[0].year]
    unit, one = UNIT_OF_SIZE[units]  # sizes exact enough to mean the same log
    links = []
    for each in sorted(first, key=lambda each: -each.logs):
        fields = {
            "strain_class": each.strain_class,
            "tree": each.tree,
            "logs": each.logs,
            "diameter": f"{each.diameter_m / one:.4g} {unit}",
            "length": f"{each.length_m / one:.4g} {unit}",
            "spawn": each.spawn,
        }
        words = f"{each.logs} {each.strain_class} on {each.tree}"
        links.append((words, f"{BATCH}?{urlencode(fields)}"))
    return links


# The page of one batch: what it takes, when it bears, its drawing; it becomes a stack by a button.

LABELS = {
    "name": "Name of the new stack",
    "strain_class": "Strain class",
    "tree": "Tree",
    "logs": "Logs",
    "diameter": "Diameter over bark",
    "length": "Length",
    "spawn": "Spawn",
    "tool": "Drilled with",
    "along": "From hole to hole along the row",
    "between": "From row to row",
    "end_distance": "From the log's end to the first hole",
    "inoculated": "Day of inoculation",
}
"""What the form calls the fields of a batch."""

_TEXTS = (*LABELS, "strain", "note", "seal_ends")

Seen = tuple[BatchAnswer, Stack, str]
"""A batch: what it takes and gives, the stack that it would become, the drawing of its holes."""


def add_batches(app: Flask, context: Context) -> None:
    """Add the page to an application."""
    one_at_a_time = threading.Lock()

    def look(now: Situation, given: Mapping[str, str]) -> Seen:
        name = given.get("name", "").strip()
        ask = partial(_see, context.folder, now.today, _batch_wish(given), name, context.fetching())
        with one_at_a_time:
            return beside(ask)

    def looked(
        now: Situation, given: Mapping[str, str]
    ) -> tuple[Seen | None, FruitcastError | None]:
        try:
            return look(now, given), None
        except FruitcastError as error:
            return None, error

    @app.get(BATCH)
    def batch() -> Answer:
        now, given = context.situation(), _texts(request.args)
        if (
            not (given["strain_class"] and given["tree"] and given["logs"])
            or "change" in request.args
        ):
            return _show_batch(now, given)
        seen, error = looked(now, given)
        page = _show_batch(now, given, seen, error)
        return (page, WRONG_INPUT) if error else page

    @app.post(BATCH)
    def send_batch() -> Answer:
        now, given = context.situation(), _texts(request.form)
        seen, error = looked(now, given)
        if seen is not None and not given["name"]:
            nameless = Fault(LABELS["name"], "it has none yet", "What shall it be called?")
            error = FaultsError([nameless])
        elif seen is not None:
            try:
                done = add_batch(context.folder, seen[1], now.today, context.clock.now())
            except FruitcastError as fault:
                error = fault
            else:
                return context.changed(done)
        return _show_batch(now, given, seen, error), WRONG_INPUT

    @app.get(f"{BATCH}/drawing.svg")
    def batch_drawing() -> Answer:
        drawing = look(context.situation(), _texts(request.args))[2]
        return FlaskResponse(drawing, mimetype="image/svg+xml")


def _see(folder: Path, today: date, wish: BatchWish, name: str, fetching: Fetching) -> Seen:
    found = look_at_batch(
        folder, today, wish, name=name or NAMELESS, called=LABELS, fetching=fetching
    )
    return found.document, found.stack, found.drawing


def _texts(given: Mapping[str, str]) -> dict[str, str]:
    return {name: " ".join(given.get(name, "").split())[:LONGEST] for name in _TEXTS}


def _batch_wish(given: Mapping[str, str]) -> BatchWish:
    """Return the batch that a form means; what it says of sizes and words is judged later.

    Raises InputError if number or day can't be read.
    """
    on = given["inoculated"]
    try:
        inoculated = date.fromisoformat(on) if on else None
    except ValueError:
        raise InputError(f"{LABELS['inoculated']}: choose a day, or leave it empty.") from None
    logs = logs_given(given, "logs", LABELS["logs"])
    if logs is None:
        raise InputError("Logs: how many?")
    return BatchWish(
        strain_class=cast(StrainClass, given["strain_class"]),
        tree=given["tree"],
        logs=logs,
        diameter=given["diameter"] or None,
        length=given["length"] or None,
        spawn=cast(SpawnForm, given["spawn"]) if given["spawn"] else None,
        strain=given["strain"],
        tool=cast(Tool, given["tool"] or TOOLS[0]),
        inoculated=inoculated,
        along=given["along"] or None,
        between=given["between"] or None,
        end=given["end_distance"] or None,
        seal_ends=bool(given["seal_ends"]),
        note=given["note"],
    )


def _show_batch(
    now: Situation,
    given: Mapping[str, str],
    seen: Seen | None = None,
    error: FruitcastError | None = None,
) -> str:
    document = seen[0] if seen else None
    faults, beside_fields = _told(error)
    sent = {name: text for name, text in given.items() if text and name != "name"}
    if document is not None:  # what was seen is what is added, on another day too
        sent["inoculated"] = document.calendar.inoculate_on.isoformat()
    return render_template(
        "batch.html",
        now=now,
        given=given,
        faults=beside_fields,
        told=faults,
        parts=parts_of(batch_table(document, now.yard)) if document else (),
        warnings=document.warnings if document else (),
        drawing=Markup(seen[2]) if seen else "",
        print_link=f"{BATCH}/drawing.svg?{urlencode({**sent, 'name': given['name']})}",
        sent=sent,
        labels=LABELS,
        classes=STRAIN_CLASSES,
        spawns=SPAWN_FORMS,
        tools=TOOLS,
        unit=UNIT_OF_SIZE[now.yard.units][0],
    )


def _told(error: FruitcastError | None) -> tuple[Sequence[str], dict[str, str]]:
    """Return what is wrong, a line each, and the same by field."""
    if error is None:
        return (), {}
    if not isinstance(error, FaultsError):
        return (str(error),), {}
    fields = {label: name for name, label in LABELS.items()}
    by_field = {
        fields[each.place]: f"{each.problem}. {each.remedy}"
        for each in error.faults
        if each.place in fields
    }
    return tuple(map(str, error.faults)), by_field
