"""One batch of logs to be inoculated: what it takes, its calendar, and what it will give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from fruitcast.biology.tree_seasons import turning_days
from fruitcast.biology.wood import dry_mass, fresh_mass
from fruitcast.diary.plan import LikelyDays
from fruitcast.errors import Fault
from fruitcast.forecast.past_seasons import (
    CHANCES,
    TreeSeasons,
    growing_season,
    inoculation_window,
    likely_days,
)
from fruitcast.forecast.typical_seasons import Climate, class_table, climate
from fruitcast.forecast.yield_tables import (
    YOUNG_DAYS,
    YoungLogs,
    first_natural_flush,
    ready_quantiles,
    rotation_crop,
)
from fruitcast.inoculation.answers import BatchMaterials, BatchWeight, BatchYield, CropOfYear
from fruitcast.inoculation.materials import HolePattern, drill_as_usual, materials
from fruitcast.inoculation.problem import LogKind, bearing_years, first_year
from fruitcast.numbers import Numbers
from fruitcast.soaks.soak_days import may_soak
from fruitcast.topics import SPAWN_FORMS, STRAIN_CLASSES, TOOLS, SpawnForm, StrainClass, Tool
from fruitcast.units import Units, format_length
from fruitcast.weather.daily import DailyWeather
from fruitcast.yard.model import Stack, Yard
from fruitcast.yard.stacks import MOST_LOGS, POSSIBLE

# When a batch of logs is felled, inoculated, turned, ready, soaked first, and first bears.

_YEAR = 365
_SEARCH_DAYS = 400  # days past the earliest soak in which a permitted soak day is looked for


@dataclass(frozen=True, kw_only=True)
class BatchCalendar:
    """The dates of a batch, by this site's past years."""

    inoculated: date  # the day of inoculation that everything is counted from
    trees: TreeSeasons  # thaw, last frost, leaf-out and leaf fall of that year
    # First and last day to fell: from leaf fall to the leaf-out of an early year
    felling: tuple[date, date] | None
    window: tuple[date, date] | None  # first and last good day to inoculate
    turning: tuple[date, ...]  # days to turn and restack
    waterings: dict[int, float]  # waterings to expect in the first year, by calendar month
    ready: LikelyDays
    sure: date  # day by which it is done with the chance that plans go by
    first_soak: date  # past that and the first year
    in_time: bool  # whether that is within three seasons
    # First permitted soak day from `first_soak` on; None when that is not within three seasons
    earliest_soak: date | None
    first_natural: LikelyDays  # first natural flush, if nothing is soaked


def batch_calendar(
    kind: LogKind, site: Climate, young: YoungLogs, yard: Yard, seed: int, numbers: Numbers
) -> BatchCalendar:
    """Return the dates of a batch of young logs, inoculated on the day of a climate."""
    born = site.inoculated
    required = kind.spawn_run(numbers)
    chance = numbers.schedule.ready_chance
    *span, sure = ready_quantiles(
        young, required, (*CHANCES, chance), scatter=numbers.spawn_run.scatter
    ).tolist()
    in_time = sure < YOUNG_DAYS
    first_soak = born + timedelta(days=max(sure, int(numbers.forced.first_after_days)))
    luck, _ = site.learning.usual_luck(young.runs.years, seed)
    natural = first_natural_flush(young, site.kind(kind.strain_class), required, luck, numbers)
    middle = born + timedelta(days=int(span[1]))
    return BatchCalendar(
        inoculated=born,
        trees=site.trees,
        felling=_felling(site.trees),
        window=inoculation_window(site.trees, fresh_days=numbers.inoculation.fresh_days),
        turning=turning_days(
            born, middle, growing_season(site.trees, born), turn_days=numbers.inoculation.turn_days
        ),
        waterings={} if yard.keep_above is None else young.waterings_by_month(_YEAR),
        ready=_days(born, span),
        sure=born + timedelta(days=sure),
        first_soak=first_soak,
        in_time=in_time,
        earliest_soak=next_soak_day(yard, first_soak) if in_time else None,
        first_natural=_days(born, np.quantile(natural, CHANCES, method="nearest").tolist()),
    )


def next_soak_day(yard: Yard, first: date) -> date | None:
    """Return the first permitted soak day from a day on; None when there is none in a year."""
    days = (first + timedelta(days=n) for n in range(_SEARCH_DAYS))
    return next((day for day in days if may_soak(yard, day)), None)


def _days(born: date, rows: Sequence[float]) -> LikelyDays:
    return likely_days([born + timedelta(days=int(n)) if n < YOUNG_DAYS else None for n in rows])


def _felling(trees: TreeSeasons) -> tuple[date, date] | None:
    """Return the dormant season before leaf-out: from the leaf fall of the year before."""
    fall, out = trees.leaf_fall.p50, trees.leaf_out.p10
    if fall is None or out is None:
        return None
    return fall - timedelta(days=_YEAR), out


_SIZES = (
    ("diameter", "diameter", *POSSIBLE["diameter"]),
    ("length", "length", *POSSIBLE["length"]),
    ("along", "spacing along the row", 0.03, 1.0),
    ("between", "distance of rows", 0.01, 1.0),
    ("end_distance", "distance from the end", 0.0, 1.0),
)
"""Sizes of a batch: field, words, least and most. [m]"""


@dataclass(frozen=True)
class BatchSpec:
    """A batch as the grower thinks of it."""

    name: str  # of the stack it will be
    strain_class: StrainClass
    tree: str
    logs: int
    diameter: float  # over bark [m]
    length: float  # over bark [m]
    spawn: SpawnForm
    strain: str = ""  # the grower's word for it
    tool: Tool = "drill"  # what the holes are drilled with
    inoculated: date | None = None  # day of inoculation; the site's usual one when None
    # Of the hole pattern; the usual ones when None [m]
    along: float | None = None
    between: float | None = None
    end_distance: float | None = None
    seal_ends: bool = False  # whether the cut ends are waxed too
    note: str = ""

    @property
    def kind(self) -> LogKind:
        """The kind of logs, as the programme knows it."""
        return LogKind(self.strain_class, self.tree, self.diameter, self.length, self.spawn)


@dataclass(frozen=True, kw_only=True)
class BatchPlan(BatchCalendar):
    """All that is to be known of a batch beforehand: its calendar, what it takes and gives."""

    spec: BatchSpec
    pattern: HolePattern
    materials: BatchMaterials
    weight: BatchWeight
    # Soaked in turn with the yard; no years when the spawn run isn't done within three seasons
    gives: BatchYield

    @property
    def retire(self) -> int | None:
        """Season after which it is worth keeping no longer."""
        return self.gives.years[-1].year if self.gives.years else None


def batch_faults(spec: BatchSpec, units: Units, called: Mapping[str, str]) -> list[Fault]:
    """Return what is wrong with a batch as given.

    `called` tells what the grower knows fields of `BatchSpec` by: the place of a fault.
    """
    faults = []

    def check(right: bool, field: str, problem: str, remedy: str) -> None:
        if not right:
            faults.append(Fault(called[field], problem, remedy))

    check(bool(spec.name.strip()), "name", "name is empty", "Give the stack a name.")
    for field, value, known in (
        ("strain_class", spec.strain_class, STRAIN_CLASSES),
        ("spawn", spec.spawn, SPAWN_FORMS),
        ("tool", spec.tool, TOOLS),
    ):
        what = field.replace("_", " ")
        check(value in known, field, f"{what} is {value}", f"Known are {', '.join(known)}.")
    check(bool(spec.tree.strip()), "tree", "tree is empty", "Name the tree species.")
    remedy = f"Give 1 to {MOST_LOGS:,} logs."
    check(0 < spec.logs <= MOST_LOGS, "logs", f"logs is {spec.logs}", remedy)
    for field, what, low, high in _SIZES:
        metres = getattr(spec, field)
        if metres is not None:
            check(
                low <= metres <= high,
                field,
                f"{what} is {format_length(metres, units)}",
                f"Give {format_length(low, units)} to {format_length(high, units)}.",
            )
    end = spec.end_distance
    if end is not None and not faults:
        check(
            2 * end <= spec.length,
            "end_distance",
            f"{format_length(end, units)} from each end leaves no place for a hole on a log of "
            f"{format_length(spec.length, units)}",
            "Give less, or longer logs.",
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

    The batch is one without faults; the weather is complete up to yesterday, the seed that of the
    scatter.
    """
    site = climate(yard, weather, today, spec.diameter, numbers, inoculated=spec.inoculated)
    calendar = batch_calendar(spec.kind, site, site.young, yard, seed, numbers)
    asked = {"along": spec.along, "between": spec.between, "end_distance": spec.end_distance}
    own = {name: metres for name, metres in asked.items() if metres is not None}
    pattern = drill_as_usual(spec.kind, numbers.inoculation, **own)
    begins, week = first_year(
        calendar.sure,
        calendar.first_soak,
        site.where,
        late_ready_days=numbers.yields.late_ready_days,
    )
    table = class_table(spec.strain_class, site, yard, [week], 1.0, seed, numbers)
    in_rotation = {
        start: rotation_crop(table, n, rest_days=numbers.schedule.rest_days)
        for n, start in enumerate(table.starts.tolist())
    }
    tree, crop = numbers.tree(spec.tree), float(in_rotation[0].mean())
    every = bearing_years(spec.kind, begins, week, crop, tree, numbers.yields)
    years = tuple(
        crop_of_year(year.season, in_rotation[year.start_week] * year.factor, spec.logs)
        for year in (every if calendar.in_time else ())
    )
    life = sum(year.mean_kg_per_log for year in years)
    fresh = float(fresh_mass(spec.diameter, spec.length, tree.density))
    dry = float(dry_mass(spec.diameter, spec.length, tree.specific_gravity))
    reported = numbers.reported
    return BatchPlan(
        **vars(calendar),
        spec=spec,
        pattern=pattern,
        materials=materials(
            spec.kind,
            spec.logs,
            pattern.holes,
            spec.tool,
            numbers.inoculation,
            seal_ends=spec.seal_ends,
        ),
        weight=BatchWeight(log_kg=fresh, batch_kg=spec.logs * fresh, dry_wood_kg=dry),
        gives=BatchYield(
            years=years,
            life_kg_per_log=life,
            life_kg=life * spec.logs,
            share_of_fresh_wood=life / fresh,
            share_of_dry_wood=life / dry,
            best_practice_share_of_fresh_wood=(reported.best_low, reported.best_high),
            trial_share_of_dry_wood=(0.0, reported.trial_high),
        ),
    )


def crop_of_year(year: int, kg: np.ndarray, logs: int) -> CropOfYear:
    """Return what each of some logs gives in a year, from that in weather years and turns. [kg]"""
    low, high = np.quantile(kg, (CHANCES[0], CHANCES[-1]))
    mean = float(kg.mean())
    return CropOfYear(
        year=year,
        p10_kg_per_log=float(low),
        mean_kg_per_log=mean,
        p90_kg_per_log=float(high),
        mean_kg=mean * logs,
    )


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
