"""Inoculation: a programme of yearly batches for the outlets' targets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from fruitcast.app.choosing import DEFAULT_SEED
from fruitcast.app.known import KnownYard, read_known
from fruitcast.errors import InputError
from fruitcast.forecast.outlook import days_ahead
from fruitcast.inoculation.programme import (
    DEFAULT_YEARS,
    OUTLOOK_WEEKS,
    Programme,
    available_kinds,
    plan_programme,
    standing_outlook,
)
from fruitcast.inoculation.programme_takes import priced
from fruitcast.inoculation.programme_years import SeasonSummary, season_summaries
from fruitcast.numbers import default_numbers
from fruitcast.outputs.inoculation_answers import ProgrammeAnswer
from fruitcast.outputs.inoculation_document import programme_document
from fruitcast.progress import Progress, silent
from fruitcast.tables.values import WEEKDAYS, WrongValueError, weekday
from fruitcast.topics import Tool
from fruitcast.units import parse_weight
from fruitcast.yard.model import Outlet, Yard


@dataclass(frozen=True)
class Wish:
    """What a programme is asked for.

    Attributes
    ----------
    targets : tuple of str
        Like 'Saturday market=6 kg' for an outlet of the yard, or 'Sat=6 kg' for a day of the
        week on which nobody buys yet; 0 leaves an outlet out.
    wanted_from : date or None
        Sales before it don't count.
    years : int
        Years of inoculation.
    chance : float or None
        Share of the sales to be met; the yard's promise when None. [0..1]
    tool : str
        What the holes are drilled with.
    inoculate : bool
        Whether to inoculate at all.
    """

    targets: tuple[str, ...] = ()
    wanted_from: date | None = None
    years: int = DEFAULT_YEARS
    chance: float | None = None
    tool: Tool = "drill"
    inoculate: bool = True


@dataclass(frozen=True)
class ProgrammeMade:
    """A programme with what it was made from.

    Attributes
    ----------
    known : KnownYard
        What was known.
    programme : Programme
        The programme.
    document : ProgrammeAnswer
        The answer.
    """

    known: KnownYard
    programme: Programme
    document: ProgrammeAnswer

    @property
    def seasons(self) -> tuple[SeasonSummary, ...]:
        """Logs, crop and sales of every season, as the plots of years take them."""
        return season_summaries(self.programme)


def make_programme(
    folder: Path,
    today: date,
    wish: Wish,
    *,
    seed: int = DEFAULT_SEED,
    now: datetime | None = None,
    offline: bool = False,
    progress: Progress | None = None,
) -> ProgrammeMade:
    """Return the smallest programme of inoculations for a yard; nothing is written.

    Parameters
    ----------
    folder : Path
        The yard's folder.
    today : date
        The first day.
    wish : Wish
        What is asked for.
    seed : int
        Seed of all random draws.
    now, offline
        See `app.known.read_weather`.
    progress : callable, optional
        Told in words what is being done.

    Raises
    ------
    InputError
        If the yard, its weather or a target cannot be read.
    NoPlanError
        If there is no outlet, no log to be had, or no soak day.
    """
    tell = progress or silent
    tell("reading yard and weather")
    days = days_ahead(OUTLOOK_WEEKS, tail_days=default_numbers().schedule.tail_days)
    known = read_known(folder, today, days, now=now, offline=offline, progress=tell)
    yard, numbers = known.yard, known.numbers
    outlets = served_outlets(yard, wish.targets)
    kinds, soak_cost = priced(
        available_kinds(yard), yard, wish.tool, numbers.work, numbers.inoculation
    )
    tell("looking at what stands")
    standing = standing_outlook(
        yard, known.state, known.weather, today, known.years, seed=seed, numbers=numbers
    )
    programme = plan_programme(
        standing,
        known.weather,
        kinds,
        outlets=outlets,
        wanted_from=wish.wanted_from,
        years=wish.years,
        chance=wish.chance,
        inoculate=wish.inoculate,
        soak_cost=soak_cost,
        seed=seed,
        numbers=numbers,
        progress=tell,
    )
    document = programme_document(programme, wish.tool, known.warnings, numbers)
    return ProgrammeMade(known, programme, document)


def served_outlets(yard: Yard, targets: Sequence[str]) -> tuple[Outlet, ...]:
    """Return the outlets with other targets, and with those that are new.

    Parameters
    ----------
    yard : Yard
        With its own outlets; a bare weight is in its units.
    targets : sequence of str
        See `Wish.targets`.

    Raises
    ------
    InputError
        If a target cannot be read or names nobody.
    """
    outlets = {outlet.name: outlet for outlet in yard.outlets}
    for text in targets:
        name, sign, amount = (part.strip() for part in text.rpartition("="))
        if not sign or not name or not amount:
            raise InputError(
                f"--for {text!r}: an outlet and a weight are wanted. Write for instance "
                "--for 'Saturday market=6 kg'."
            )
        try:
            kg = parse_weight(amount, yard.units)
        except InputError as error:
            raise InputError(f"--for {text!r}: {error}") from None
        outlet = _outlet_called(name, outlets, yard, text)
        outlets[outlet.name] = replace(outlet, target_kg=kg)
    found = tuple(outlet for outlet in outlets.values() if outlet.target_kg > 0)
    if targets and not found:
        raise InputError("--for leaves no outlet with a target. Give at least one more than 0.")
    return found


def _outlet_called(name: str, outlets: dict[str, Outlet], yard: Yard, text: str) -> Outlet:
    """Return an outlet by its name, or a new one by its day of the week.

    A new one opens in the season of those that the yard has, else in the soaking season.
    """
    known = {outlet.casefold(): outlet for outlet in outlets}
    if name.casefold() in known:
        return outlets[known[name.casefold()]]
    try:
        day = weekday(name)
    except WrongValueError:
        have = f"The yard has {', '.join(outlets)}; a" if outlets else "A"
        raise InputError(
            f"--for {text!r}: no outlet is called {name!r}. {have} day of the week, like "
            "--for 'Sat=6 kg', stands for a new one."
        ) from None
    like = yard.outlets[0] if yard.outlets else yard.soaking
    return Outlet(
        name=f"{WEEKDAYS[day]} sale",
        weekday=day,
        target_kg=0.0,
        first=like.first,
        last=like.last,
        price_per_kg=None,
        weight=1.0,
        closed=frozenset(),
    )
