"""The page of the yard's weather: what there is, and a file that is taken in."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from datetime import date
from hashlib import sha256
from pathlib import Path

from flask import Flask, redirect, render_template, request, url_for

from fruitcast.app.beginning import WeatherUnderstood, understood_weather, weather_words
from fruitcast.app.known import CACHE_FOLDER
from fruitcast.app.serving import Situation
from fruitcast.app.weather_table import (
    WeatherAnswer,
    import_weather,
    read_new_weather,
    show_weather,
)
from fruitcast.atomic import write_atomically
from fruitcast.errors import FaultsError, FruitcastError
from fruitcast.units import Units, format_rain, format_temperature
from fruitcast.weather.formats import AS_IT_STANDS
from fruitcast.weather.stations import STORED
from fruitcast.web.context import WRONG_INPUT, Answer, Context, sent_file
from fruitcast.words import capital, count_words, dated_words

_INCOMING = "incoming.csv"

_OPTION = re.compile(r"(\. S|\bs)ay --units \w+(?: or --units \w+)?, or put")
_OR_OPTION = re.compile(r", or say (?:them to 'fruitcast weather import' with )?--units [\w, ]+")
"""Ways to say units that a command has and the page has not: titles help in both."""

_MOST_FAULTS = 12

WeatherOfDay = tuple[date, float | None, float | None, float | None]
"""A day, its lowest and highest temperature [degC], its rain [mm]."""


def add_weather(app: Flask, context: Context) -> None:
    """Add the page to an application."""

    def incoming() -> Path:
        return context.folder / CACHE_FOLDER / _INCOMING

    @app.get("/weather")
    def weather() -> str:
        return _show(context.situation())

    @app.post("/weather")
    def bring_weather() -> Answer:
        now, data, believe = context.situation(), sent_file(), "believe" in request.form
        if not data:
            return _show(now, faults=("Choose a file.",)), WRONG_INPUT
        write_atomically(incoming(), data)
        try:
            read = read_new_weather(incoming(), None, now.yard.site, as_it_stands=believe)
        except FruitcastError as error:
            incoming().unlink(missing_ok=True)
            return _show(now, faults=fault_lines(error)), WRONG_INPUT
        found = understood_weather(read, now.today)
        return _show(now, found=found, mark=sha256(data).hexdigest(), believe=believe)

    @app.post("/weather/take")
    def take_in_weather() -> Answer:
        now, form = context.situation(), request.form
        try:
            data = incoming().read_bytes()
        except OSError:
            data = b""
        if not data or sha256(data).hexdigest() != form.get("mark", ""):
            return _show(now, faults=("That file is not here any more. Choose it again.",)), 422
        try:
            taken = import_weather(
                context.folder,
                now.today,
                incoming(),
                replace_values="replace" in form,
                as_it_stands="believe" in form,
            )
        except FruitcastError as error:
            lines = tuple(
                line.replace("Add --replace to take", "Tick the box to take")
                for line in fault_lines(error)
            )
            found = understood_weather(
                read_new_weather(incoming(), None, None, as_it_stands=True), now.today
            )
            believe = "believe" in form
            page = _show(now, faults=lines, found=found, mark=form["mark"], believe=believe)
            return page, WRONG_INPUT
        incoming().unlink(missing_ok=True)
        context.replan()
        new, filled = taken.new_days or 0, taken.filled_days or 0
        return redirect(url_for("weather", taken=new, filled=filled), 303)

    def _show(
        now: Situation,
        *,
        faults: tuple[str, ...] = (),
        found: WeatherUnderstood | None = None,
        mark: str = "",
        believe: bool = False,
    ) -> str:
        units, there, cannot = now.yard.units, None, ""
        try:
            there = show_weather(context.folder, now.today, fetching=STORED)
        except FruitcastError as error:
            cannot = str(error)
        rows = there.rows(7) if there else ()
        last = ((row.on, row.tmin_c, row.tmax_c, row.rain_mm) for row in rows)
        return render_template(
            "weather.html",
            now=now,
            faults=faults,
            there=_there_words(there) if there else (),
            last=weather_rows(last, units),
            notes=there.notes if there else (),
            attribution=there.weather.attribution if there else "",
            obstacle=there.problem if there else "",
            cannot=cannot,
            found=found,
            words=weather_words(found) if found else (),
            rows=weather_rows(found.rows, units) if found else (),
            mark=mark,
            believe=believe,
            taken=request.args.get("taken", type=int) if not found and not faults else None,
            filled=request.args.get("filled", default=0, type=int),
            by_station=now.yard.weather.station is not None,
        )


def _there_words(there: WeatherAnswer) -> list[str]:
    weather = there.weather
    words = [f"{weather.origin}: from {weather.start} to {weather.end}."]
    if there.obstacle:
        return [*words, there.problem]
    return [*words, f"{count_words(len(there.usable_years), 'past year')} to plan from."]


def weather_rows(days: Iterable[WeatherOfDay], units: Units) -> list[tuple[str, ...]]:
    """Return days in words: day, lowest, highest temperature, rain."""
    return [
        (
            dated_words(day),
            *(_told(each, format_temperature, units) for each in (low, high)),
            _told(rain, format_rain, units),
        )
        for day, low, high, rain in days
    ]


def _told(value: float | None, format_: Callable[[float, Units], str], units: Units) -> str:
    return "missing" if value is None or math.isnan(value) else format_(value, units)


def fault_lines(error: FruitcastError) -> tuple[str, ...]:
    """Return what is wrong, a line each, with the box to tick where a command has an option."""
    if not isinstance(error, FaultsError):
        return (str(error),)
    lines = [f"{each.place}: {each.problem}. {each.remedy}" for each in error.faults[:_MOST_FAULTS]]
    tick = "If it is right as it stands, tick the box below the file"
    found = []
    for line in lines:
        told = line.replace(AS_IT_STANDS, tick)
        told = _OPTION.sub(lambda said: ". Put" if said[1] == ". S" else "put", told)
        told = told.replace("incoming.csv line", "the file, line").replace(
            "incoming.csv", "the file"
        )
        found.append(capital(_OR_OPTION.sub("", told)))
    return tuple(found)
