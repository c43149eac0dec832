"""fruitcast weather."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from fruitcast.cli.root import AsItStands, Offline, command, group, to_file
from fruitcast.cli.session import DOUBTFUL, Session

weather = group(
    "weather",
    "Fetch, take in or show the yard's daily weather.",
    examples=("fruitcast weather import download.csv", "fruitcast weather show"),
)

Days = Annotated[int, typer.Option(min=0, max=400, help="How many of the last days to list.")]


@command(
    weather,
    "fetch",
    examples=("fruitcast weather fetch", "fruitcast weather fetch --station 10384"),
    prints=("fruitcast.app.weather_table:WeatherTable",),
)
def fetch(
    session: Session,
    station: Annotated[
        str | None,
        typer.Option(
            help="Station number, or 'nearest'; else that of the yard.", show_default=False
        ),
    ] = None,
    output: Annotated[Path | None, to_file("Write the table as CSV too.")] = None,
    as_it_stands: AsItStands = False,
    days: Days = 7,
) -> None:
    """Fetch a weather station's open data and keep them for the days without a network."""
    from fruitcast.app.weather_table import fetch_weather
    from fruitcast.cli.tables import weather_table

    with session.progress() as progress:
        progress("fetching the station's weather")
        answer = fetch_weather(
            *session.here,
            station=station,
            file=output,
            fetching=session.fetching(),
            as_it_stands=as_it_stands,
            progress=progress,
        )
    session.notes(answer.notes)
    session.answer(answer.document(days), lambda: weather_table(answer, days))
    if answer.weather.doubtful:
        raise typer.Exit(DOUBTFUL)


@command(
    weather,
    "import",
    examples=(
        "fruitcast weather import download.csv",
        "fruitcast weather import download.csv --units us",
    ),
    prints=("fruitcast.app.weather_table:WeatherTable",),
)
def import_(
    session: Session,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Daily weather in any usual form.")],
    units: Annotated[
        Literal["metric", "us", "tenths"] | None,
        typer.Option(help="Units of columns whose titles name none.", show_default=False),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Let FILE's values replace others of the same day.")
    ] = False,
    as_it_stands: AsItStands = False,
    days: Days = 7,
) -> None:
    """Take a weather file into the yard's own weather.csv."""
    from fruitcast.app.weather_table import import_weather
    from fruitcast.cli.tables import taken_words, weather_table

    answer = import_weather(
        *session.here,
        file,
        units=units,
        replace_values=replace,
        as_it_stands=as_it_stands,
    )
    session.notes(answer.notes)
    session.say(f"{taken_words(answer)} in {answer.files[0]}.")
    session.say(answer.obstacle or "Next: 'fruitcast check', then 'fruitcast plan'.")
    session.answer(answer.document(days), lambda: weather_table(answer, days))


@command(
    weather,
    "show",
    examples=("fruitcast weather show", "fruitcast weather show --days 60"),
    prints=("fruitcast.app.weather_table:WeatherTable",),
)
def show(session: Session, days: Days = 14, offline: Offline = False) -> None:
    """Show where the weather comes from, what is missing and which years are usable."""
    from fruitcast.app.weather_table import show_weather
    from fruitcast.cli.tables import weather_table

    answer = show_weather(*session.here, fetching=session.fetching(offline))
    session.notes(answer.notes)
    if answer.obstacle:
        session.say(answer.obstacle)
    session.answer(answer.document(days), lambda: weather_table(answer, days))
