"""fruitcast new."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from fruitcast.cli.root import app, command
from fruitcast.cli.session import Session


@command(app, "new", examples=("fruitcast new my-yard",))
def new(
    session: Session,
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The yard's folder.")],
    name: Annotated[str | None, typer.Option(help="The yard's name.")] = None,
    latitude: Annotated[
        float | None, typer.Option(help="Degrees with decimals, north positive.")
    ] = None,
    longitude: Annotated[
        float | None, typer.Option(help="Degrees with decimals, east positive.")
    ] = None,
    elevation: Annotated[
        str | None, typer.Option(metavar="HEIGHT", help="Above the sea, like '790 ft' or '240 m'.")
    ] = None,
    timezone: Annotated[
        str | None, typer.Option(help="Like America/New_York.", metavar="ZONE")
    ] = None,
    units: Annotated[Literal["us", "metric"], typer.Option(help="What you want to see.")] = "us",
    station: Annotated[
        str | None, typer.Option(help="Weather station, or 'nearest'; else a weather file.")
    ] = None,
    soak_day: Annotated[
        list[str] | None, typer.Option(metavar="DAY", help="Like Tue; may be given several times.")
    ] = None,
    tank_logs: Annotated[int | None, typer.Option(help="Logs that fit the tank.")] = None,
) -> None:
    """Start a yard: commented settings and example stacks in DIR, to be changed by hand."""
    from fruitcast.app.starting import start_yard
    from fruitcast.cli.tables import lines
    from fruitcast.units import parse_length

    started = start_yard(
        folder,
        session.today,
        name=name,
        latitude=latitude,
        longitude=longitude,
        elevation_m=None if elevation is None else parse_length(elevation),
        timezone=timezone,
        units=units,
        station=station,
        soak_days=soak_day or (),
        tank_logs=tank_logs,
    )
    session.answer(started.document(), lambda: lines(started.words()))
