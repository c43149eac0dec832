"""The pages on which one soak, or other circumstances, are tried beside the present plan."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial

from flask import Flask, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict

from fruitcast.app.change_forms import keep_circumstances
from fruitcast.app.serving import Situation, inputs_of
from fruitcast.app.what_if import Circumstances, changed_yard, try_out, try_soak
from fruitcast.errors import FaultsError, FruitcastError, InputError
from fruitcast.outputs.what_if_words import (
    TriedOut,
    compared_rows,
    is_better,
    soak_tried_lines,
    soaks_moved,
    verdict_words,
    worth_rows,
)
from fruitcast.units import format_weight, parse_weight
from fruitcast.weather.stations import STORED
from fruitcast.web.context import WRONG_INPUT, Answer, Context
from fruitcast.web.pictures import beside_picture
from fruitcast.web.records import stack_names
from fruitcast.web.trial import Trial, Trials, add_trials, beside
from fruitcast.web.words import yes_link
from fruitcast.words import WEEKDAYS

# The page on which a soak is tried out: what it would bring and take; nothing is written.

LONGEST_HOURS = 8
"""Letters of the field for the hours."""


def add_trying(app: Flask, context: Context) -> None:
    """Add the page to an application."""
    one_at_a_time = threading.Lock()

    @app.get("/try")
    def show_try() -> str | tuple[str, int]:
        now = context.situation()
        names = stack_names(now)
        given = {name: request.args.get(name, "").strip() for name in ("stack", "day", "hours")}
        lines: Sequence[str] = ()
        fault, found = "", None
        if given["stack"] and given["day"]:
            words = [given["stack"], given["day"]]
            if given["hours"]:
                words += [given["hours"][:LONGEST_HOURS], "h"]
            try:
                with one_at_a_time:
                    found = beside(
                        partial(try_soak, context.folder, now.today, words, fetching=STORED)
                    )
                lines = soak_tried_lines(found)
            except FruitcastError as error:
                fault = str(error)
        page = render_template(
            "try.html",
            now=now,
            stacks=names,
            given=given,
            lines=lines,
            fault=fault,
            fix=yes_link(f"fix {' '.join(words)}") if found and not found.forbidden else "",
        )
        return (page, WRONG_INPUT) if fault else page


# The page on which other circumstances are tried beside the present plan, and kept if wanted.


OTHER_SINCE = (
    "Somebody has tried something else meanwhile. Look at what stands here now; nothing was kept."
)


def add_what_if(app: Flask, context: Context) -> None:
    """Add the page to an application."""
    trials: Trials[Circumstances, TriedOut] = add_trials(app, "/what-if", Circumstances())

    @app.get("/what-if")
    def what_if() -> str:
        now = context.situation()
        return _show(now, trials.trial, request.args, old=trials.trial.is_old(inputs_of(now)))

    @app.post("/what-if")
    def ask_what_if() -> Answer:
        now = context.situation()
        try:
            what = _circumstances(now, request.form)
            changed_yard(now.yard, what)
        except InputError as error:
            return _show(now, Trial(Circumstances()), request.form, str(error)), WRONG_INPUT
        worth = "worth" in request.form
        if not what.any and not worth:
            nothing = "Change something first."
            return _show(now, Trial(Circumstances()), request.form, nothing), WRONG_INPUT
        reckon = partial(
            try_out, context.folder, now.today, what, worth=worth, fetching=context.fetching()
        )
        trials.start(what, inputs_of(now), reckon)
        return redirect(url_for("what_if"), 303)

    @app.post("/what-if/keep")
    def keep_what_if() -> Answer:
        now, trial = context.situation(), trials.trial
        if trial.found is None or not trial.what.any:
            return redirect(url_for("what_if"), 303)
        if request.form.get("mark", "") != trial.mark:
            return _show(now, trial, request.args, OTHER_SINCE), WRONG_INPUT
        try:
            done = keep_circumstances(context.folder, trial.what, now.today, context.clock.now())
        except FaultsError as error:
            told = " ".join(f"{each.problem}. {each.remedy}" for each in error.faults)
            return _show(now, trial, request.args, told), WRONG_INPUT
        except FruitcastError as error:
            return _show(now, trial, request.args, str(error)), WRONG_INPUT
        trials.forget()
        return context.changed(done)


def _circumstances(now: Situation, given: MultiDict[str, str]) -> Circumstances:
    """Return what a form takes to be different from the yard."""
    yard = now.yard
    soaking = yard.soaking
    tank = logs_given(given, "tank", "The tank")
    places = logs_given(given, "places", "Places to fruit")
    lots = logs_given(given, "lots", "Lots")
    targets = []
    for number, outlet in enumerate(yard.outlets):
        text = given.get(f"target-{number}", "").strip()
        if text and abs(parse_weight(text, yard.units) - outlet.target_kg) > 1e-6:
            targets.append((outlet.name, text))
    days = tuple(WEEKDAYS.index(day) for day in given.getlist("days") if day in WEEKDAYS)
    first, last = given.get("from", "").strip(), given.get("to", "").strip()
    skip: tuple[tuple[date, date], ...] = ()
    if first or last:
        try:
            skip = ((date.fromisoformat(first or last), date.fromisoformat(last or first)),)
        except ValueError:
            raise InputError("Days away: write both like 2027-07-04.") from None
        if skip[0][1] < skip[0][0]:
            raise InputError("Days away: the last day lies before the first.")
    return Circumstances(
        tank_logs=tank if tank != soaking.tank_logs else None,
        targets=tuple(targets),
        skip=skip,
        lot_logs=lots if lots != soaking.lot_logs else None,
        places=places if places != yard.fruiting.places else None,
        soak_days=days if days and days != soaking.days else (),
    )


def logs_given(given: Mapping[str, str], field: str, what: str) -> int | None:
    """Return a number of logs that a form says, None for an empty field.

    Raises InputError if it is none.
    """
    text = given.get(field, "").strip()
    if not text:
        return None
    if not text.isdecimal() or not 0 < int(text[:9]) <= 100_000 or len(text) > 6:
        raise InputError(f"{what}: '{text[:20]}' is no number of logs. Write it like 40.")
    return int(text)


def _show(
    now: Situation,
    trial: Trial[Circumstances, TriedOut],
    given: MultiDict[str, str],
    fault: str = "",
    *,
    old: bool = False,
) -> str:
    yard, soaking, what = now.yard, now.yard.soaking, trial.what
    lots = soaking.lot_logs if isinstance(soaking.lot_logs, int) else ""
    skip = what.skip[0] if what.skip else ("", "")
    values = {
        "tank": what.tank_logs or soaking.tank_logs,
        "places": what.places or yard.fruiting.places or "",
        "lots": what.lot_logs or lots,
        "from": skip[0],
        "to": skip[1],
    }
    tried = dict(what.targets)
    outlets = [
        (outlet.name, tried.get(outlet.name) or format_weight(outlet.target_kg, yard.units))
        for outlet in yard.outlets
    ]
    days = what.soak_days or soaking.days
    shown = [WEEKDAYS[day] for day in days]
    if fault and "token" in given:
        values = {name: given.get(name, "") for name in values}
        outlets = [(name, given.get(f"target-{n}", text)) for n, (name, text) in enumerate(outlets)]
        shown = given.getlist("days")
    found, compared = trial.found, trial.found.compared if trial.found else None
    worth = worth_rows(found.worth, yard.units) if found and found.worth is not None else ()
    nil = format_weight(0.0, yard.units)
    return render_template(
        "what_if.html",
        now=now,
        trial=trial,
        fault=fault,
        old=old,
        values=values,
        outlets=outlets,
        days=WEEKDAYS,
        chosen=shown,
        rows=compared_rows(compared, yard.units) if compared else (),
        verdict=verdict_words(compared, yard.units) if compared else "",
        better=compared is not None and is_better(compared),
        moved=soaks_moved(compared) if compared else (),
        picture=beside_picture(
            [(each.outlet, each.present_kg, each.other_kg) for each in compared.outlets], yard.units
        )
        if compared and compared.outlets
        else "",
        worth=[each for each in worth if each[0] != nil],
        worthless=[words for weight, words in worth if weight == nil],
    )
