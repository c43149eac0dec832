"""The pages on which a yard is begun step by step, or the invented one looked at."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from flask import Flask, redirect, render_template, request, url_for
from werkzeug.http import parse_cookie
from werkzeug.wrappers import Response

from fruitcast.app.beginning import (
    OTHER_WEATHER,
    PASTED,
    WITHIN,
    Beginning,
    Draft,
    StationNear,
    check_outlets,
    is_yard,
    nearest_of,
    rows_of,
    rows_text,
    stacks_text_of,
    understood_stacks,
    weather_words,
    with_size_units,
)
from fruitcast.app.demo import FOLDER, TODAY, write_sample_yard
from fruitcast.app.serving import Clock
from fruitcast.errors import FaultsError, FruitcastError
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES
from fruitcast.units import UNIT_OF_SIZE, UNIT_OF_WEIGHT, Units, units_named
from fruitcast.weather.stations import NEAREST
from fruitcast.web.context import WRONG_INPUT, Answer, Context, sent_file
from fruitcast.web.planner import Planner
from fruitcast.web.trial import stop_trials
from fruitcast.web.weather import fault_lines, weather_rows
from fruitcast.words import WEEKDAYS, capital, dated_words
from fruitcast.yard.model import Stack
from fruitcast.yard.stacks import FILE as STACKS_FILE

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment


STEPS = ("place", "weather", "stacks", "selling", "ready")
"""The steps in their order, as they stand in addresses."""

ROWS, MOST_ROWS = 3, 40
"""Rows for stacks that stand open at first, and at most."""

OUTLETS = 3
"""Rows for markets."""

_TAKES = frozenset(f"take_{step}" for step in STEPS)
_BESIDE = frozenset({"static", "icon", "signin", "send_signin", "feed", "demo_open"})


def add_beginning(app: Flask, context: Context) -> None:
    """Add the pages to an application; until there is a yard, all others lead here."""
    beginning = Beginning(context.folder, os.environ)

    _add_place(app, context, beginning)
    _add_weather(app, context, beginning)
    _add_stacks(app, context, beginning)
    _add_selling(app, beginning)
    _add_ready(app, context, beginning)

    @app.before_request
    def lead_here() -> Response | None:
        endpoint = request.endpoint or ""
        begun = is_yard(context.folder)
        of_start = endpoint.startswith("begin_") or endpoint in _TAKES
        if begun and of_start:
            return redirect(url_for("today"), 303)
        if begun or of_start or endpoint in _BESIDE:
            return None
        return redirect(url_for("begin_first"), 303)

    @app.get("/start")
    def begin_first() -> str:
        return _page("begin.html", begun=bool(beginning.draft().name))


def _page(template: str, **fields: object) -> str:
    return render_template(template, steps=STEPS, **fields)


def _today(context: Context) -> date:
    return context.clock.day or context.clock.now().astimezone().date()


def _add_place(app: Flask, context: Context, beginning: Beginning) -> None:
    @app.get("/start/place")
    def begin_place() -> str:
        return _place(beginning.draft())

    @app.post("/start/place")
    def take_place() -> Answer:
        name, place, units = (
            request.form.get(each, "")[:100] for each in ("name", "place", "units")
        )
        told = replace(beginning.draft(), name=name, units=units_named(units))
        try:
            draft = beginning.locate(told, place, context.clock.now())
        except FruitcastError as error:
            shown = replace(told, place=place)
            return _place(shown, str(error).replace("--place ", "")), WRONG_INPUT
        beginning.keep(draft)
        return _next("place")

    def _place(draft: Draft, fault: str = "") -> str:
        return _page("begin_place.html", draft=draft, fault=fault)


def _add_weather(app: Flask, context: Context, beginning: Beginning) -> None:
    @app.get("/start/weather")
    def begin_weather() -> str:
        return _weather(beginning.draft())

    @app.post("/start/weather")
    def take_weather() -> Answer:
        draft, data = beginning.draft(), sent_file()
        chosen = request.form.get("weather", "")
        if data:
            try:
                beginning.take_weather(
                    data, draft, _today(context), as_it_stands="believe" in request.form
                )
            except FruitcastError as error:
                return _weather(draft, fault_lines(error)), WRONG_INPUT
            beginning.keep(replace(draft, weather="file"))
            return redirect(url_for("begin_weather"), 303)  # shows what was understood
        if chosen not in ("", "file"):
            chosen = nearest_of(_stations(draft)[0], chosen)
        if chosen == "file" and draft.weather != "file":
            return _weather(draft, ("Choose a file, or another source of weather.",)), WRONG_INPUT
        if chosen == "file":
            # The day may have moved on since the file was taken.
            obstacle = beginning.weather(draft, _today(context)).obstacle
            if obstacle:
                return _weather(draft, (OTHER_WEATHER,)), WRONG_INPUT
        beginning.keep(replace(draft, weather=chosen))
        return _next("weather")

    def _stations(draft: Draft) -> tuple[list[StationNear], str]:
        try:
            return beginning.stations(draft, context.clock.now()), ""
        except FruitcastError as error:
            return [], str(error)

    def _weather(draft: Draft, faults: Sequence[str] = ()) -> str:
        units = beginning.units(draft)
        stations, cannot = _stations(draft)
        found, rows, words = None, [], []
        if draft.weather == "file":
            try:
                found = beginning.weather(draft, _today(context))
                words = weather_words(found)
                rows = weather_rows(found.rows, units)
            except FruitcastError as error:
                faults = (*faults, str(error))
        return _page(
            "begin_weather.html",
            draft=draft,
            faults=faults,
            stations=[
                (each.station.id, each.station.name or each.station.id, each.words(units))
                for each in stations
            ],
            cannot=cannot,
            found=found,
            words=words,
            rows=rows,
            nearest=NEAREST,
            within=round(WITHIN),
            zone=beginning.zone(draft),
        )


def _add_stacks(app: Flask, context: Context, beginning: Beginning) -> None:
    @app.get("/start/stacks")
    def begin_stacks() -> str:
        draft, more = beginning.draft(), request.args.get("rows", 0, type=int)
        return _stacks(draft, rows=draft.rows if more else (), more=more)

    @app.post("/start/stacks")
    def take_stacks() -> Answer:
        draft, given = beginning.draft(), request.form
        units = beginning.units(draft)
        count = min(
            int(given.get("rows", "0") or 0) if given.get("rows", "").isdecimal() else 0, MOST_ROWS
        )
        rows = [{cell: given.get(f"{cell}-{n}", "")[:100] for cell in PASTED} for n in range(count)]
        if "more" in given:
            beginning.keep(replace(draft, rows=tuple(rows)))
            return redirect(
                url_for("begin_stacks", rows=count + ROWS, _anchor=f"stack-{count + 1}"), 303
            )
        if "yes" in given:
            return _next("stacks")
        data, pasted = sent_file(), given.get("pasted", "")
        if not data and pasted.strip():
            data = pasted.encode()
        try:
            if data:
                text = with_size_units(stacks_text_of(data), units)
            elif any(row["stack"] or row["logs"] for row in rows):
                text = rows_text(rows, units)
            else:
                beginning.keep(replace(draft, stacks="", rows=()))
                return _next("stacks")
            understood_stacks(text, _today(context))
        except FruitcastError as error:
            lines = stack_fault_lines(error)
            return _stacks(draft, rows=rows, faults=lines, pasted=pasted[:20_000]), WRONG_INPUT
        beginning.keep(replace(draft, stacks=text, rows=()))
        return redirect(url_for("begin_stacks"), 303)  # shows what was understood

    def _stacks(
        draft: Draft,
        *,
        rows: Sequence[dict[str, str]] = (),
        more: int = 0,
        faults: Sequence[str] = (),
        pasted: str = "",
    ) -> str:
        units, found = beginning.units(draft), None
        if draft.stacks and not rows and not more and not faults:
            found = understood_stacks(draft.stacks, _today(context))
            rows = rows_of(draft.stacks, units)
            pasted = "" if rows else draft.stacks
        count = min(max(more, len(rows), ROWS), MOST_ROWS)
        usual = {"diameter": "5", "length": "40"} if units == "us" else {
            "diameter": "12.5", "length": "100"
        }  # fmt: skip
        blank = {**dict.fromkeys(PASTED, ""), **usual, "strain_class": "wide-range"}
        return _page(
            "begin_stacks.html",
            draft=draft,
            rows=[*rows, *[blank] * (count - len(rows))],
            count=count,
            more=count < MOST_ROWS,
            faults=faults,
            pasted=pasted,
            found=found,
            unit=UNIT_OF_SIZE[units][0],
            spawns=SPAWN_FORMS,
            classes=STRAIN_CLASSES,
            order=", ".join(PASTED).replace("_", " "),
            size=lambda stack: size_words(stack, units),
            day=dated_words,
        )


def _add_selling(app: Flask, beginning: Beginning) -> None:
    @app.get("/start/selling")
    def begin_selling() -> str:
        return _selling(beginning.draft())

    @app.post("/start/selling")
    def take_selling() -> Answer:
        given = request.form
        told = [
            tuple(given.get(f"{each}-{n}", "").strip()[:60] for each in ("name", "day", "target"))
            for n in range(OUTLETS)
        ]
        outlets = tuple((name, day, target) for name, day, target in told if name or target)
        logs = given.get("tank_logs", "").strip()
        draft = replace(
            beginning.draft(),
            sells=given.get("sells") != "no",
            outlets=outlets,
            soak_days=tuple(day for day in given.getlist("days") if day in WEEKDAYS),
            tank_logs=int(logs) if logs.isdecimal() and 0 < int(logs) < 100_000 else None,
        )
        faults: tuple[str, ...] = ()
        try:
            if draft.sells:
                check_outlets(outlets)
        except FaultsError as error:
            faults = fault_lines(error)
        if logs and draft.tank_logs is None:
            faults += (f"The tank: '{logs[:20]}' is no number of logs. Write it like 40.",)
        if faults:
            return _selling(draft, faults), WRONG_INPUT
        beginning.keep(draft)
        return _next("selling")

    def _selling(draft: Draft, faults: Sequence[str] = ()) -> str:
        outlets = [*draft.outlets, *[("", "", "")] * (OUTLETS - len(draft.outlets))]
        return _page(
            "begin_selling.html",
            draft=draft,
            faults=faults,
            outlets=outlets,
            days=WEEKDAYS,
            unit=UNIT_OF_WEIGHT[beginning.units(draft)][0],
        )


def _add_ready(app: Flask, context: Context, beginning: Beginning) -> None:
    @app.get("/start/ready")
    def begin_ready() -> str:
        return _ready()

    @app.post("/start/ready")
    def take_ready() -> Answer:
        try:
            beginning.finish(_today(context), context.clock.now())
        except FruitcastError as error:
            return _ready(fault_lines(error)), WRONG_INPUT
        context.replan()
        return redirect(url_for("today"), 303)

    def _ready(faults: Sequence[str] = ()) -> str:
        draft = beginning.draft()
        given = None
        if draft.stacks:
            given = understood_stacks(draft.stacks, _today(context)).stacks
        return _page(
            "begin_ready.html",
            draft=draft,
            faults=faults,
            zone=beginning.zone(draft),
            units=beginning.units(draft),
            unit=UNIT_OF_WEIGHT[beginning.units(draft)][0],
            stacks=given,
            logs=sum(each.logs for each in given or ()),
        )


_CALLED = {
    "stack": "Name",
    "logs": "Logs",
    "tree": "Tree",
    "inoculated": "Inoculated on",
    "diameter": "Thick",
    "diameter_in": "Thick",
    "diameter_cm": "Thick",
    "length": "Long",
    "length_in": "Long",
    "length_cm": "Long",
    "spawn": "Spawn",
    "strain_class": "Strain class",
}
"""What the page calls the columns of a table of stacks."""


def stack_fault_lines(error: FruitcastError) -> tuple[str, ...]:
    """Return what is wrong with stacks in the words of the form: there is no file yet."""
    if not isinstance(error, FaultsError):
        return (str(error),)
    lines = []
    for each in error.faults:
        place = each.place.removeprefix(f"{STACKS_FILE} ")
        line, _, stack = place.partition(", ")
        column, _, rest = each.problem.partition(" ")
        what = f"{_CALLED[column]} {rest}" if column in _CALLED else each.problem
        lines.append(f"{capital(stack or line)}: {what}. {each.remedy}")
    return tuple(lines)


def size_words(stack: Stack, units: Units) -> str:
    """Return the size of a stack's logs: '5 in thick, 40 in long'."""
    unit, one = UNIT_OF_SIZE[units]
    return f"{stack.diameter / one:.3g} {unit} thick, {stack.length / one:.3g} {unit} long"


def _next(step: str) -> Response:
    return redirect(url_for(f"begin_{STEPS[STEPS.index(step) + 1]}"), 303)


# The invented yard, to be looked at beside one's own: each browser is in one of the two.

COOKIE = "fruitcast_demo"
"""Marks a browser that looks at the invented yard."""


class DemoYard:
    """The invented yard's application, made when somebody first looks at it.

    `own` is the yard's own application, in whose folder the invented yard gets one of its own;
    `make` returns that of an invented yard.
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
            stop_trials(self._app)

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
