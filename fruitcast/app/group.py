"""Many yards at once: a round that plans each, and the outlook of a district.

What goes wrong with one is told beside the rest. Nothing is written into a yard: its plan is made
in memory, going by the plan that it published.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fruitcast.app.choosing import DEFAULT_SEED
from fruitcast.app.known import DEFAULT_WEEKS, KnownYard, horizon_days, read_known, read_weather
from fruitcast.app.publication import fingerprint, last_plan
from fruitcast.app.tasks import PROCESSES, run_tasks
from fruitcast.atomic import check_writable, write_all_atomically, write_atomically
from fruitcast.diary.book import read_events
from fruitcast.diary.events import in_force
from fruitcast.document import Document
from fruitcast.errors import Fault, FaultsError, FruitcastError
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
from fruitcast.group.joint_sales import SharedSale, Spare, sell_jointly, shared_sales, spare_of
from fruitcast.group.round import DiarySeen, Round, YardRow, yard_row
from fruitcast.group.settings import OUT, Group, read_group
from fruitcast.numbers import default_numbers
from fruitcast.outputs.district_words import newsletter
from fruitcast.outputs.round_words import member_words
from fruitcast.outputs.sheets import district_page, joint_sales_page, round_page
from fruitcast.progress import Progress, silent
from fruitcast.units import Units
from fruitcast.weather.stations import AS_USUAL, Fetching
from fruitcast.yard.model import Yard
from fruitcast.yard.reading import read_yard

KEPT = "kept"
"""Folder in `out` in which each yard's part of the round is kept."""

MEMBERS = "members"
"""Folder in `out` with a sheet for each yard of a group that sells together."""

STATIONS = "weather"
"""Folder in `out` in which station weather is kept: yards near one station fetch it once."""


class KeptYard(Document):
    """A yard's part of a round as it is kept for the next."""

    inputs: str
    units: Units
    row: YardRow
    spare: Spare | None = None


@dataclass(frozen=True)
class RoundMade:
    """A round that was made and written."""

    document: Round
    page: Path  # the page to print
    planned: int  # yards planned anew; the others were as before
    # What they sell together, to be handed round; None where each sells for itself.
    joint_sales_page: Path | None = None

    @property
    def faulty(self) -> int:
        """Yards that could not be planned."""
        return sum(not row.planned for row in self.document.yards)


@dataclass(frozen=True)
class _Way:
    """How a round is made."""

    today: date
    weeks: int
    seed: int
    fetching: Fetching
    shared: tuple[SharedSale, ...]


def make_round(
    folder: Path,
    today: date,
    *,
    weeks: int = DEFAULT_WEEKS,
    seed: int = DEFAULT_SEED,
    processes: int = PROCESSES,
    cluster: str | None = None,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> RoundMade:
    """Plan the yards of a folder that have changed, and write what the round tells.

    `folder` holds the yards' folders, and perhaps group.toml; `processes` and `cluster` as in
    `run_tasks`; `progress` is told how many yards are done. Raises InputError if there is no yard,
    or group.toml is wrong; OutputError if the group's `out` can't be written. What is wrong with a
    yard stands in its row.
    """
    group = read_group(folder)
    out = group.folder / OUT
    check_writable(out / "round.json")
    found: dict[str, KeptYard] = {}
    faults: dict[str, tuple[str, ...]] = {}
    shared = shared_sales(group.outlets, group.orders, today, 7 * weeks)
    way = _Way(today, weeks, seed, replace(fetching, folder=out / STATIONS), shared)
    planned = 0
    tasks = _to_plan(group, way, found, faults)
    running = run_tasks(plan_task, tasks, processes=processes, cluster=cluster)
    with closing(running):
        for (name, inputs), future in running:
            error = future.exception()
            if isinstance(error, Exception):
                faults[name] = fault_words(error)
            else:
                units, row, spare = future.result()
                found[name] = kept = KeptYard(inputs=inputs, units=units, row=row, spare=spare)
                # At once, so that a round that is stopped goes on from there.
                write_all_atomically({_kept_file(out, name): kept.json_text().encode()})
                planned += 1
            progress("planning the yards", len(found) + len(faults), len(group.yards))
    rows = [
        found[path.name].row
        if path.name in found
        else YardRow(yard=path.name, name="", faults=faults[path.name])
        for path in group.yards
    ]
    told = [kept.units for kept in found.values()]
    units = group.units or (told[0] if told else "metric")
    together = None
    if group.sells_together:
        progress("reckoning what is there together")
        spares = {name: one.spare for name, one in sorted(found.items()) if one.spare}
        together = sell_jointly(spares, shared, group.promise, sorted(faults))
    document = Round(
        today=today, name=group.name, units=units, yards=tuple(rows), together=together
    )
    page, shown = out / "round.html", None
    files = {page: round_page(document), out / "round.json": document.json_file()}
    if together is not None:
        shown = out / "together.html"
        files[shown] = joint_sales_page(document)
        files[out / "together.json"] = together.json_file()
        for name, one in found.items():
            # What one yard is asked for goes to it alone: its stack is nobody else's business.
            words = member_words(name, together, one.spare, units, today)
            files[out / MEMBERS / f"{name}.txt"] = words.encode()
    write_all_atomically(files)
    for old in (*out.glob("together.*"), *(out / MEMBERS).glob("*.txt")):
        if old not in files:  # of a round before, and true no more
            old.unlink(missing_ok=True)
    return RoundMade(document, page, planned, shown)


def plan_task(
    name: str,
    known: KnownYard,
    seen: DiarySeen,
    weeks: int,
    seed: int,
    shared: tuple[SharedSale, ...],
) -> tuple[Units, YardRow, Spare | None]:
    """Return a yard's units, its row and what it can spare, from all that is known of it."""
    from fruitcast.app.planning import make_plan

    planned = make_plan(known, weeks=weeks, seed=seed)
    yard = known.yard
    row = yard_row(name, yard, known.state, known.weather, planned.document, seen)
    if not shared:
        return yard.units, row, None
    # Yards of one seed would have one luck, flush for flush where stacks have the same names.
    own = int.from_bytes(hashlib.sha256(f"{seed} {name}".encode()).digest()[:4], "big")
    spare = spare_of(planned.built, planned.plan, shared, seed=own, sells=yard.sells)
    return yard.units, row, spare


def _to_plan(
    group: Group, way: _Way, found: dict[str, KeptYard], faults: dict[str, tuple[str, ...]]
) -> Iterator[tuple[tuple[str, str], tuple[Any, ...]]]:
    """Yield the yards to be planned; those that are as before, or at fault, are put in place."""
    out = group.folder / OUT
    ahead = horizon_days(way.weeks)
    for path in group.yards:
        try:
            yard = read_yard(path, way.today)
            known = None
            if yard.weather.station is not None:
                # What a station has told since stands in no file of the yard.
                known = read_known(path, way.today, ahead, fetching=way.fetching)
            inputs = _inputs(yard, known, way)
            kept = _kept(_kept_file(out, path.name), inputs)
            if kept is not None:
                found[path.name] = kept
                continue
            known = known or read_known(path, way.today, ahead, fetching=way.fetching)
            days = [entry.on for entry in in_force(read_events(yard.diary_file))]
            until = max((day for day in days if day <= way.today), default=None)
            seen = DiarySeen(until, last_plan(yard, way.today))
        except Exception as error:
            faults[path.name] = fault_words(error)
            continue
        yield (path.name, inputs), (path.name, known, seen, way.weeks, way.seed, way.shared)


def fault_words(error: Exception) -> tuple[str, ...]:
    """Return what went wrong with one yard or place, every fault as a line of its own."""
    if isinstance(error, FaultsError):
        return tuple(str(fault) for fault in error.faults)
    if isinstance(error, FruitcastError):
        return (str(error),)
    if isinstance(error, OSError):
        return (f"{error.filename or 'a file'}: can't be read ({error.strerror or error}).",)
    return (f"A fault of fruitcast itself, {type(error).__name__}: {error}.",)


def _inputs(yard: Yard, known: KnownYard | None, way: _Way) -> str:
    """Return what changes whenever a yard's part of the round would."""
    digest = hashlib.sha256(fingerprint(yard).encode())
    published = last_plan(yard, way.today)
    said = (way.today, way.weeks, way.seed, way.shared, published and published.json_text())
    digest.update(repr(said).encode())
    if known is not None:
        digest.update(repr((known.years, known.weather.start, known.warnings)).encode())
        for name in sorted(known.weather.values):
            digest.update(known.weather.values[name].tobytes())
            digest.update(known.weather.sources[name].tobytes())
    return digest.hexdigest()


def _kept_file(out: Path, name: str) -> Path:
    return out / KEPT / f"{name}.json"


def _kept(file: Path, inputs: str) -> KeptYard | None:
    """Return what was kept of a yard, if it was made of these inputs; damaged counts for none."""
    with suppress(OSError, ValidationError, ValueError):
        kept = KeptYard.model_validate_json(file.read_bytes())
        if kept.inputs == inputs:
            return kept
    return None


# A district's outlook: standard logs at many places, written as one page.


@dataclass(frozen=True)
class DistrictMade:
    """An outlook that was made and written."""

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
    processes: int = PROCESSES,
    cluster: str | None = None,
    fetching: Fetching = AS_USUAL,
    progress: Progress = silent,
) -> DistrictMade:
    """Return the outlook of a table of places, written as a page.

    Without `output` it is `out/outlook.html` beside the table; `processes` and `cluster` as in
    `run_tasks`; `progress` is told how many places are done. Raises FaultsError if the table is
    wrong; OutputError if the page can't be written. What is wrong with a place's weather stands in
    its row.
    """
    file = file.expanduser().absolute()
    places = read_places(file)
    page = output or file.parent / OUT / "outlook.html"
    check_writable(page)
    found: dict[str, PlaceOutlook] = {}
    fetching = replace(fetching, folder=file.parent / OUT / STATIONS)
    tasks = _tasks(places, today, fetching, found)
    running = run_tasks(place_outlook, tasks, processes=processes, cluster=cluster)
    with closing(running):
        for name, future in running:
            error = future.exception()
            if isinstance(error, Exception):
                found[name] = PlaceOutlook(place=name, faults=fault_words(error))
            else:
                found[name] = future.result()
            progress("looking ahead", len(found), len(places))
    rows = tuple(found[place.name] for place in places)
    words = newsletter(rows, today, units)
    document = District(today=today, units=units, places=rows, paragraph=words)
    write_atomically(page, district_page(document))
    return DistrictMade(document, page)


def _tasks(
    places: tuple[Place, ...], today: date, fetching: Fetching, found: dict[str, PlaceOutlook]
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
        yield place.name, (place, weather, years[-place.weather.years :], today, DEFAULT_SEED)
