"""A district's outlook: standard logs at many places, written as one page."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from fruitcast.app.choosing import DEFAULT_SEED
from fruitcast.app.group import STATIONS, fault_words
from fruitcast.app.known import horizon_days, read_weather
from fruitcast.app.tasks import PROCESSES, run_tasks
from fruitcast.atomic import check_writable, write_atomically
from fruitcast.errors import Fault, FaultsError
from fruitcast.group.district import (
    WEEKS,
    District,
    Place,
    PlaceOutlook,
    place_outlook,
    read_places,
    standard_yard,
    usual_inoculation,
)
from fruitcast.group.settings import OUT
from fruitcast.numbers import default_numbers
from fruitcast.outputs.district_words import newsletter
from fruitcast.outputs.sheets import district_page
from fruitcast.progress import Progress, silent
from fruitcast.units import Units
from fruitcast.weather.stations import AS_USUAL, Fetching


@dataclass(frozen=True)
class DistrictMade:
    """An outlook that was made and written.

    Attributes
    ----------
    document : District
        What it tells.
    page : Path
        The page to print.
    """

    document: District
    page: Path

    @property
    def faulty(self) -> int:
        """Places of which nothing could be said."""
        return sum(bool(place.faults) for place in self.document.places)


def make_district(
    file: Path,
    today: date,
    *,
    units: Units,
    output: Path | None = None,
    seed: int = DEFAULT_SEED,
    processes: int = PROCESSES,
    cluster: str | None = None,
    fetching: Fetching = AS_USUAL,
    progress: Progress | None = None,
) -> DistrictMade:
    """Return the outlook of a table of places, written as a page.

    Parameters
    ----------
    file : Path
        The table, see `group.places`.
    today : date
        Day 0.
    units : {'us', 'metric'}
        What people see.
    output : Path or None
        Where to; `out/outlook.html` beside the table when None.
    seed : int
        Seed of the scatter.
    processes, cluster
        See `tasks.run_tasks`.
    fetching : Fetching
        How station weather is had.
    progress : callable, optional
        Told how many places are done.

    Raises
    ------
    FaultsError
        If the table is wrong. What is wrong with a place's weather stands in its row.
    OutputError
        If the page can't be written.
    """
    tell = progress or silent
    file = file.expanduser().absolute()
    places = read_places(file)
    page = output or file.parent / OUT / "outlook.html"
    check_writable(page)
    found: dict[str, PlaceOutlook] = {}
    fetching = replace(fetching, folder=file.parent / OUT / STATIONS)
    tasks = _tasks(places, today, seed, fetching, found)
    running = run_tasks(place_outlook, tasks, processes=processes, cluster=cluster)
    with closing(running):
        for name, future in running:
            error = future.exception()
            if isinstance(error, Exception):
                found[name] = PlaceOutlook(place=name, faults=fault_words(error))
            else:
                found[name] = future.result()
            tell("looking ahead", len(found), len(places))
    rows = tuple(found[place.name] for place in places)
    words = newsletter(rows, today, units)
    document = District(today=today, units=units, places=rows, paragraph=words)
    write_atomically(page, district_page(document))
    return DistrictMade(document, page)


def _tasks(
    places: tuple[Place, ...],
    today: date,
    seed: int,
    fetching: Fetching,
    found: dict[str, PlaceOutlook],
) -> Iterator[tuple[str, tuple[Any, ...]]]:
    from fruitcast.weather.known import known_weather

    numbers = default_numbers()
    ahead = horizon_days(WEEKS)
    for place in places:
        try:
            born = place.inoculated or usual_inoculation(
                place.site.latitude, today, numbers.inoculation
            )
            if born > today:
                raise FaultsError(
                    [Fault(place.name, f"inoculated {born} is still to come", "Correct the day.")]
                )
            yard = standard_yard(place, born, numbers.yard)
            weather = read_weather(yard, today, fetching=fetching)
            weather, years = known_weather(weather, today, ahead, {})
        except Exception as error:
            found[place.name] = PlaceOutlook(place=place.name, faults=fault_words(error))
            continue
        yield place.name, (place, weather, years[-place.weather.years :], today, seed)
