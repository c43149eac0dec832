"""One batch of logs to be inoculated: what it takes, its calendar, and what it will give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.errors import Fault, FaultsError
from fruitcast.forecast.fruiting import Kind
from fruitcast.forecast.tree_seasons import (
    DayRange,
    TreeSeasons,
    growing_season,
    inoculation_window,
)
from fruitcast.forecast.young_logs import (
    CHANCES,
    YOUNG_DAYS,
    first_natural_flush,
    ready_quantiles,
    rotation_crop,
)
from fruitcast.logs.drilling import HolePattern, drill
from fruitcast.logs.wood import dry_mass, fresh_mass
from fruitcast.numbers import Numbers
from fruitcast.schedule.permitted import may_soak
from fruitcast.schedule.programme_logs import LogKind, bearing_years, first_year
from fruitcast.schedule.typical_seasons import class_table, climate
from fruitcast.shiitake.batch import turning_days, wood_share
from fruitcast.shiitake.spawn_forms import TOOLS, Materials, Tool, materials
from fruitcast.shiitake.spawn_run import required_progress
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import SPAWN_FORMS, STRAIN_CLASSES, SpawnForm, Stack, StrainClass, Yard

_FIRST_YEAR = 365
_SEARCH_DAYS = 400  # days past the earliest soak in which a permitted soak day is looked for
_LARGEST_BATCH = 100_000


@dataclass(frozen=True)
class BatchSpec:
    """A batch as the grower thinks of it.

    Attributes
    ----------
    name : str
        Of the stack it will be.
    strain_class, strain, tree : str
        Strain class, the grower's word for the strain, tree species.
    logs : int
        Logs.
    diameter, length : float
        Over bark. [m]
    spawn : str
        Form of spawn.
    tool : str
        What the holes are drilled with.
    inoculated : date or None
        Day of inoculation; the site's usual one when None.
    along, between, end_distance : float or None
        Of the hole pattern; the usual ones when None. [m]
    seal_ends : bool
        Whether the cut ends are waxed too.
    note : str
        Free text.
    """

    name: str
    strain_class: StrainClass
    tree: str
    logs: int
    diameter: float
    length: float
    spawn: SpawnForm
    strain: str = ""
    tool: Tool = "drill"
    inoculated: date | None = None
    along: float | None = None
    between: float | None = None
    end_distance: float | None = None
    seal_ends: bool = False
    note: str = ""

    @property
    def kind(self) -> LogKind:
        """The kind of logs, as the programme knows it."""
        return LogKind(self.strain_class, self.tree, self.diameter, self.length, self.spawn)


@dataclass(frozen=True)
class YearCrop:
    """What one log gives in one bearing year.

    Attributes
    ----------
    season : int
        The growing season, named by the year in which it starts.
    low, mean, high : float
        10, mean and 90 of 100 weather years and turns in the tank. [kg/log]
    """

    season: int
    low: float
    mean: float
    high: float


@dataclass(frozen=True)
class BatchPlan:
    """All that is to be known of a batch beforehand.

    Attributes
    ----------
    spec : BatchSpec
        The batch, its day of inoculation filled in.
    inoculated : date
        The day of inoculation that everything is counted from.
    pattern : HolePattern
        Holes of one log.
    materials : Materials
        What the batch takes.
    log_weight, dry_weight : float
        Of one log as felled, and of its wood oven-dry. [kg]
    trees : TreeSeasons
        Thaw, last frost, leaf-out and leaf fall of that year.
    felling : (date, date) or None
        First and last day to fell: from leaf fall to the leaf-out of an early year.
    window : (date, date) or None
        First and last good day to inoculate.
    turning : tuple of date
        Days to turn and restack.
    waterings : dict of int to float
        Waterings to expect in the first year, by calendar month.
    ready : DayRange
        End of the spawn run.
    earliest_soak : date or None
        First permitted soak day past the first year and the spawn run, with the chance of being
        ready that plans go by; None when that is not within three seasons.
    first_natural : DayRange
        First natural flush, if nothing is soaked.
    crops : tuple of YearCrop
        What a log gives in each bearing year, soaked in turn with the yard; none when the spawn
        run isn't done within three seasons.
    life_kg : float
        The same over its life. [kg/log]
    retire : int or None
        Season after which it is worth keeping no longer.
    fresh_share, dry_share : float
        Crop of the life over the log's weight as felled, and over its dry wood. [kg/kg]
    """

    spec: BatchSpec
    inoculated: date
    pattern: HolePattern
    materials: Materials
    log_weight: float
    dry_weight: float
    trees: TreeSeasons
    felling: tuple[date, date] | None
    window: tuple[date, date] | None
    turning: tuple[date, ...]
    waterings: dict[int, float]
    ready: DayRange
    earliest_soak: date | None
    first_natural: DayRange
    crops: tuple[YearCrop, ...]
    life_kg: float
    retire: int | None
    fresh_share: float
    dry_share: float

    @property
    def weight(self) -> float:
        """Of all logs as felled. [kg]"""
        return self.spec.logs * self.log_weight


def batch_faults(spec: BatchSpec) -> list[Fault]:
    """Return what is wrong with a batch as given."""
    faults = []

    def check(right: bool, what: str, value: object, remedy: str) -> None:
        if not right:
            faults.append(Fault(f"batch {spec.name or '(no name)'}", f"{what} is {value}", remedy))

    check(bool(spec.name.strip()), "name", "empty", "Give the stack a name.")
    check(
        spec.strain_class in STRAIN_CLASSES,
        "strain class",
        spec.strain_class,
        f"Known are {', '.join(STRAIN_CLASSES)}.",
    )
    check(spec.spawn in SPAWN_FORMS, "spawn", spec.spawn, f"Known are {', '.join(SPAWN_FORMS)}.")
    check(spec.tool in TOOLS, "tool", spec.tool, f"Known are {', '.join(TOOLS)}.")
    check(0 < spec.logs <= _LARGEST_BATCH, "logs", spec.logs, f"Give 1 to {_LARGEST_BATCH:,} logs.")
    for what, value, low, high in (
        ("diameter", spec.diameter, 0.02, 1.0),
        ("length", spec.length, 0.1, 5.0),
        ("spacing along the row", spec.along, 0.03, 1.0),
        ("distance of rows", spec.between, 0.01, 1.0),
        ("distance from the end", spec.end_distance, 0.0, 1.0),
    ):
        if value is not None:
            check(
                low <= value <= high,
                what,
                f"{value * 100:g} cm",
                f"Give {low * 100:g} to {high * 100:g} cm.",
            )
    return faults


def plan_batch(
    spec: BatchSpec,
    yard: Yard,
    weather: DailyWeather,
    today: date,
    *,
    seed: int = 1,
    numbers: Numbers,
) -> BatchPlan:
    """Return what a batch takes, its calendar and its crop, by this site's past years.

    Parameters
    ----------
    spec : BatchSpec
        The batch.
    yard : Yard
        Site, watering, soak days.
    weather : DailyWeather
        Complete up to yesterday.
    today : date
        The first day not known.
    seed : int
        Seed of the scatter.
    numbers : Numbers
        The numbers in use.

    Raises
    ------
    FaultsError
        If the batch cannot be as given.
    """
    faults = batch_faults(spec)
    if faults:
        raise FaultsError(faults)
    site = climate(yard, weather, today, spec.diameter, numbers, inoculated=spec.inoculated)
    born = site.inoculated
    pattern = drill(
        spec.diameter,
        spec.length,
        along=_usual(spec.along, "along", numbers),
        between=_usual(spec.between, "between", numbers),
        end_distance=_usual(spec.end_distance, "end_distance", numbers),
    )
    required = required_progress(spec.strain_class, spec.spawn, spec.diameter, spec.tree, numbers)
    chance = numbers["schedule.ready_chance"]
    *span, sure = ready_quantiles(site.young, required, (*CHANCES, chance), numbers).tolist()
    first_soak = born + timedelta(days=max(sure, int(numbers["forced.first_after_days"])))
    earliest = _next_soak_day(yard, first_soak) if sure < YOUNG_DAYS else None
    kind = Kind(spec.strain_class, site.band.diameter)
    natural = first_natural_flush(site.young, kind, required, numbers, seed)
    ready_on = born + timedelta(days=sure)
    begins, week = first_year(ready_on, first_soak, site.where, numbers)
    table = class_table(spec.strain_class, site, yard, [week], 1.0, seed, numbers)
    in_rotation = {
        start: rotation_crop(table, n, numbers) for n, start in enumerate(table.starts.tolist())
    }
    in_time = sure < YOUNG_DAYS
    every = bearing_years(spec.kind, begins, week, float(in_rotation[0].mean()), numbers)
    years = every if in_time else ()
    crops = tuple(
        _year_crop(year.season, in_rotation[year.start_week] * year.factor) for year in years
    )
    life = sum(crop.mean for crop in crops)
    density = numbers.of_tree(spec.tree, "density")
    gravity = numbers.of_tree(spec.tree, "specific_gravity")
    fresh = float(fresh_mass(spec.diameter, spec.length, density))
    dry = float(dry_mass(spec.diameter, spec.length, gravity))
    growing = growing_season(site.trees, born)
    return BatchPlan(
        spec=spec,
        inoculated=born,
        pattern=pattern,
        materials=materials(
            spec.logs,
            pattern.holes,
            spec.diameter,
            spec.length,
            spec.spawn,
            spec.tool,
            numbers,
            seal_ends=spec.seal_ends,
        ),
        log_weight=fresh,
        dry_weight=dry,
        trees=site.trees,
        felling=_felling(site.trees),
        window=inoculation_window(site.trees, numbers),
        turning=turning_days(born, born + timedelta(days=int(span[1])), growing, numbers),
        waterings={} if yard.keep_above is None else site.young.waterings_by_month(_FIRST_YEAR),
        ready=_days(born, span),
        earliest_soak=earliest,
        first_natural=_days(born, np.quantile(natural, CHANCES, method="nearest").tolist()),
        crops=crops,
        life_kg=life,
        retire=crops[-1].season if crops else None,
        fresh_share=wood_share(life, fresh),
        dry_share=wood_share(life, dry),
    )


def _usual(given: float | None, what: str, numbers: Numbers) -> float:
    return numbers[f"inoculation.{what}"] if given is None else given


def _days(born: date, rows: Sequence[float]) -> DayRange:
    early, middle, late = (
        born + timedelta(days=int(row)) if row < YOUNG_DAYS else None for row in rows
    )
    return early, middle, late


def _next_soak_day(yard: Yard, first: date) -> date | None:
    days = (first + timedelta(days=n) for n in range(_SEARCH_DAYS))
    return next((day for day in days if may_soak(yard, day)), None)


def _year_crop(season_number: int, kg: np.ndarray) -> YearCrop:
    low, high = np.quantile(kg, (CHANCES[0], CHANCES[-1]))
    return YearCrop(season_number, float(low), float(kg.mean()), float(high))


def _felling(trees: TreeSeasons) -> tuple[date, date] | None:
    """Return the dormant season before leaf-out: from the leaf fall of the year before."""
    fall, out = trees.leaf_fall[1], trees.leaf_out[0]
    if fall is None or out is None:
        return None
    return fall - timedelta(days=_FIRST_YEAR), out


def batch_to_stack(plan: BatchPlan) -> Stack:
    """Return an accepted batch as a stack, for stacks.csv."""
    spec = plan.spec
    return Stack(
        name=" ".join(spec.name.split()),
        strain_class=spec.strain_class,
        strain=spec.strain,
        tree=spec.tree,
        logs=spec.logs,
        diameter=spec.diameter,
        length=spec.length,
        inoculated=plan.inoculated,
        spawn=spec.spawn,
        note=spec.note,
    )
