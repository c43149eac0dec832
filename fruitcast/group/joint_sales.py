"""Yards that sell together: what each can spare, what is likely to be there, fair shares.

Neighbours share their weather: a path is one weather year for all of them, so that a wet week is
wet for all, and each yard has its own luck in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from pydantic import Field

from fruitcast.arrays import FloatArray
from fruitcast.document import Count, Day, Document, Number
from fruitcast.soaks.answer import MET_WITHIN
from fruitcast.soaks.build import BuiltProblem
from fruitcast.soaks.expected import fresh_picked
from fruitcast.soaks.problem import Occupancy, OutletDay, Plan, Problem, SoakPath
from fruitcast.soaks.search_tables import SearchTables
from fruitcast.soaks.supply import CheckDays, allocate, check_days, promised
from fruitcast.units import SHOWN_AS_NONE_KG
from fruitcast.weather.known import FEWEST_YEARS
from fruitcast.yard.model import Order, Outlet

# What a yard can spare for shared sales: what its own sales, now and later, do not want.
#
# Each yard plans for itself. On every path its own sales take what they take without the group;
# what is over may go to the shared sales, and never more than leaves those own sales as they
# were. As in `schedule.supply` a path's whole ledger is one number, the weight gone so far.
# Counted without what own sales take, it may move between a floor, below which mushrooms have
# grown too old, and a ceiling, above which an own sale would go short.

LEAST_MORE = 0.1
"""A soak that brings a shared sale less is not worth asking for. [kg]"""

MOST_LESS = 0.05
"""So much less may own sales get, all together, of a soak that a yard could put in. [kg]"""


@dataclass(frozen=True)
class SharedSale:
    """A sale that several yards fill together."""

    outlet: str
    on: date
    target: float  # of all yards together [kg]


class FillIn(Document):
    """One more soak by which a yard could bring more to a shared sale; no other soak moves."""

    stack: str
    soak_on: Day
    kg: Number = Field(description="more for the sale, mean over the weather years")


class Spare(Document):
    """What one yard can spare, on each path; rounded to a tenth of a gram.

    Paths are the weather years in their order, and again, with other luck.
    """

    years: tuple[int, ...]
    promise: Number = Field(description="chance that the yard asks of what it promises")
    floor: tuple[tuple[Number, ...], ...] = Field(description="of each shared sale, each path [kg]")
    ceiling: tuple[tuple[Number, ...], ...]
    fill_in: tuple[FillIn | None, ...] = Field(description="the best soak for each shared sale")


def spare_of(
    built: BuiltProblem, plan: Plan, shared: Sequence[SharedSale], *, seed: int, sells: bool
) -> Spare:
    """Return what a yard can spare for shared sales inside its plan's weeks.

    `shared` is in order of day. The seed is that of the yard's own luck: no other yard of the group
    may have the same. A yard that doesn't sell by itself can spare all that it picks.
    """
    named = {sale.outlet.casefold() for sale in shared}
    # What it has planned for a shared outlet in its own settings is what it brings there.
    own = [sale for sale in built.problem.outlets if sells and sale.outlet.casefold() not in named]
    problem, at = with_shared(built.problem, own, shared)
    checks = check_days(problem)
    fresh = fresh_picked(replace(built, problem=replace(problem, seed=seed)), plan, checks)
    floor, ceiling = spare_between(fresh, checks, at)
    return Spare(
        years=problem.years,
        promise=problem.promise,
        floor=_rounded(floor),
        ceiling=_rounded(ceiling),
        fill_in=fill_ins(problem, plan, at),
    )


def with_shared(
    problem: Problem, own: Sequence[OutletDay], shared: Sequence[SharedSale]
) -> tuple[Problem, list[int]]:
    """Return a problem with shared sales that want nothing behind its own, and their places."""
    added = [
        OutletDay(f"shared {number:04}", (sale.on - problem.today).days, 0.0, 0.0)
        for number, sale in enumerate(shared)
    ]
    sales = sorted([*own, *added], key=lambda sale: (sale.day, -sale.weight, sale.outlet))
    place = {sale.outlet: n for n, sale in enumerate(sales) if sale.weight == 0.0}
    return replace(problem, outlets=tuple(sales)), [place[sale.outlet] for sale in added]


def spare_between(
    picked: FloatArray, checks: CheckDays, shared: Sequence[int]
) -> tuple[FloatArray, FloatArray]:
    """Return between what the weight gone to shared sales may lie, by shared sale and path. [kg]

    A floor, which is gone before the sale at the least, what has expired among it, and a ceiling,
    which may be gone after it at the most. By the weight picked up to and with each check day,
    (check, path) [kg], and the places of the shared sales among all, rising.
    """
    paths = picked.shape[1]
    count, wanted = len(checks.sale_day), set(shared)
    delivered = np.zeros((count, paths))
    gone = np.zeros(paths)
    for sale in range(count):
        gone = np.maximum(gone, picked[checks.stale[sale]])
        if sale not in wanted:
            here = np.maximum(picked[checks.reach[sale]] - gone, 0.0)
            delivered[sale] = np.minimum(here, checks.target[sale])
            gone = gone + delivered[sale]
    own = np.cumsum(delivered, axis=0) - delivered
    most = np.full(paths, np.inf)
    ceiling = np.zeros((count, paths))
    for sale in reversed(range(count)):
        if sale in wanted:
            ceiling[sale] = np.minimum(picked[checks.reach[sale]], most) - own[sale]
        else:
            most = np.minimum(picked[checks.reach[sale]], most) - delivered[sale]
    floor = np.maximum.accumulate(np.maximum(picked[checks.stale] - own, 0.0), axis=0)
    at = list(shared)
    return floor[at], np.maximum(ceiling[at], floor[at])


def available(floor: FloatArray, ceiling: FloatArray, gone: FloatArray) -> FloatArray:
    """Return what a yard has for a shared sale, after what is gone to those before. [kg]"""
    return np.maximum(ceiling - np.maximum(gone, floor), 0.0)


def fill_ins(problem: Problem, plan: Plan, shared: Sequence[int]) -> tuple[FillIn | None, ...]:
    """Return for each shared sale the one more soak that brings it most, None where none does.

    All soaks of the plan stay, and own sales get no less.

    `problem` is with the shared sales, see `with_shared`, whose places among all are `shared`.
    """
    tables = SearchTables.of(problem)
    checks, total = tables.checks, tables.total(plan)
    before = _spare_means(total, checks, shared)
    own_before = _own_sold(total, checks)
    best: list[FillIn | None] = [None] * len(shared)
    occupancy = Occupancy(problem)
    for index, path in enumerate(plan):
        occupancy.add(index, path)
    for index, path in enumerate(plan):
        without: FloatArray = total - tables.supply(index, path)
        for soak in np.flatnonzero(occupancy.fits(index)).tolist():
            more_soaks: SoakPath = tuple(sorted({*path, soak}))
            if soak in path or not tables.allows(index, more_soaks):
                continue
            picked: FloatArray = without + tables.supply(index, more_soaks)
            if _own_sold(picked, checks) < own_before - MOST_LESS:
                continue
            more = _spare_means(picked, checks, shared) - before
            on = problem.soaked_on(soak)
            for sale in np.flatnonzero(more >= LEAST_MORE).tolist():
                found = best[sale]
                if found is None or more[sale] > found.kg:
                    name = problem.stacks[index].name
                    best[sale] = FillIn(stack=name, soak_on=on, kg=float(more[sale]))
    return tuple(best)


def _spare_means(picked: FloatArray, checks: CheckDays, shared: Sequence[int]) -> FloatArray:
    floor, ceiling = spare_between(picked, checks, shared)
    means: FloatArray = (ceiling - floor).mean(axis=1)
    return means


def _own_sold(picked: FloatArray, checks: CheckDays) -> float:
    return float(allocate(picked, checks).delivered.sum(axis=0).mean())


def _rounded(kg: FloatArray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in np.round(kg, 4).tolist())


# Yards that sell together: offers, what is likely to be there, and fair shares.


class YardOffer(Document):
    """What a yard offers to one shared sale."""

    yard: str
    offer_kg: Number = Field(description="what it has to spare with its own chance")
    share_kg: Number = Field(description="its fair part of what is wanted, by what each offers")
    soak_by: Day | None = Field(
        description="day of one more soak by which it could fill in; only where the sale is short"
    )
    more_kg: Number | None = Field(description="what that soak would bring, mean")


class SharedSaleTold(Document):
    """A shared sale."""

    outlet: str
    on: Day
    target_kg: Number
    promise_kg: Number = Field(
        description="what all together have with the group's chance, the target at most"
    )
    chance: Number = Field(description="that all of it is there")
    expected_kg: Number = Field(description="what reaches it, mean")
    missing_kg: Number = Field(description="of the target beyond the promise")
    offers: tuple[YardOffer, ...] = Field(description="the largest first")


class JointSales(Document):
    """What yards sell together."""

    promise: Number = Field(description="the group's chance")
    weather_years: Count = Field(description="that all the yards have")
    yards: tuple[str, ...] = Field(description="that are reckoned with")
    left_out: tuple[str, ...] = Field(description="yards that could not be planned")
    note: str = Field(default="", description="why there are no sales, if so")
    sales: tuple[SharedSaleTold, ...]


def shared_sales(
    outlets: Iterable[Outlet], orders: Iterable[Order], first: date, days: int
) -> tuple[SharedSale, ...]:
    """Return the shared sales from a day on, in order of day and name."""
    found = [SharedSale(order.outlet, order.on, order.target_kg) for order in orders]
    for outlet in outlets:
        for n in range(days):
            on = date.fromordinal(first.toordinal() + n)
            if outlet.sells_on(on):
                found.append(SharedSale(outlet.name, on, outlet.target_kg))
    inside = (sale for sale in found if 0 <= (sale.on - first).days < days)
    return tuple(sorted(inside, key=lambda sale: (sale.on, sale.outlet)))


def sell_jointly(
    spares: Mapping[str, Spare],
    shared: Sequence[SharedSale],
    promise: float,
    left_out: Sequence[str] = (),
) -> JointSales:
    """Return what yards can sell together.

    `shared` is in order of day, `promise` the chance asked of what all promise together [0..1]; of
    the yards `left_out` nothing is known.
    """
    years = common_years(spares.values())
    names = tuple(spares)
    if len(years) < FEWEST_YEARS:
        note = (
            f"The yards' weather has {len(years)} years in common, and a chance that holds for all "
            f"wants {FEWEST_YEARS} at the least. Give each a record of the same years."
            if names
            else "No yard could be planned."
        )
        return JointSales(
            promise=promise,
            weather_years=len(years),
            yards=names,
            left_out=tuple(left_out),
            note=note,
            sales=(),
        )
    bands = aligned(spares, years)
    gone = np.zeros((len(names), next(iter(bands))[0].shape[1]))
    sales = []
    for number, sale in enumerate(shared):
        has = np.array(
            [available(floor[number], top[number], gone[n]) for n, (floor, top) in enumerate(bands)]
        )
        offers = [
            min(float(promised(has[n], spares[name].promise, len(years), len(years))), sale.target)
            for n, name in enumerate(names)
        ]
        shares = fair_shares(offers, sale.target)
        taken = take(has, np.array(shares), sale.target)
        for n, (floor, _) in enumerate(bands):
            gone[n] = np.maximum(gone[n], floor[number]) + taken[n]
        sales.append(_told(sale, number, spares, has, offers, shares, promise, len(years)))
    return JointSales(
        promise=promise,
        weather_years=len(years),
        yards=names,
        left_out=tuple(left_out),
        sales=tuple(sales),
    )


def common_years(spares: Iterable[Spare]) -> tuple[int, ...]:
    """Return the past years that all yards have; what is put together from them is each's own."""
    found = [{year for year in spare.years if year > 0} for spare in spares]
    return tuple(sorted(set.intersection(*found))) if found else ()


def aligned(
    spares: Mapping[str, Spare], years: Sequence[int]
) -> list[tuple[FloatArray, FloatArray]]:
    """Return floor and ceiling of each yard by sale and path, a path being one year for all.

    Paths are the years in their order, and again; each yard's luck is its own.
    """
    draws = min(len(spare.floor[0]) // len(spare.years) for spare in spares.values())

    def of_years(spare: Spare, rows: Sequence[Sequence[float]]) -> FloatArray:
        whole = np.array(rows, dtype=float).reshape(len(rows), -1, len(spare.years))
        columns = [spare.years.index(year) for year in years]
        return whole[:, :draws, columns].reshape(len(rows), draws * len(columns))

    return [(of_years(s, s.floor), of_years(s, s.ceiling)) for s in spares.values()]


def fair_shares(offers: Sequence[float], target: float) -> list[float]:
    """Return each yard's part of a sale: in proportion to its offer, and never more than that.

    Together they are the target, or all that is offered where that is less.
    """
    total = sum(offers)
    part = min(1.0, target / total) if total > 0 else 0.0
    return [part * offer for offer in offers]


def take(has: FloatArray, shares: FloatArray, target: float) -> FloatArray:
    """Return what each yard brings on each path: (yard, path). [kg]

    First its share as far as it has that; what is missing then, those that have more bring in
    proportion to what they have left.

    `has` is what each has to spare: (yard, path) [kg], `shares` the fair shares: (yard,) [kg],
    `target` what is wanted of all [kg].
    """
    first = np.minimum(has, shares[:, None])
    left = has - first
    total = left.sum(axis=0)
    missing = np.maximum(target - first.sum(axis=0), 0.0)
    part = np.divide(missing, total, out=np.zeros_like(total), where=total > 0)
    return np.asarray(first + left * np.minimum(part, 1.0))


def _told(
    sale: SharedSale,
    number: int,
    spares: Mapping[str, Spare],
    has: FloatArray,
    offers: Sequence[float],
    shares: Sequence[float],
    promise: float,
    years: int,
) -> SharedSaleTold:
    total = has.sum(axis=0)
    sure = min(float(promised(total, promise, years, years)), sale.target)
    short = sale.target - sure >= SHOWN_AS_NONE_KG
    told = []
    for (name, spare), offer, share in zip(spares.items(), offers, shares, strict=True):
        more = spare.fill_in[number] if short else None
        told.append(
            YardOffer(
                yard=name,
                offer_kg=offer,
                share_kg=share,
                soak_by=more.soak_on if more else None,
                more_kg=more.kg if more else None,
            )
        )
    return SharedSaleTold(
        outlet=sale.outlet,
        on=sale.on,
        target_kg=sale.target,
        promise_kg=sure,
        chance=float((total >= sale.target - MET_WITHIN).mean()),
        expected_kg=float(np.minimum(total, sale.target).mean()),
        missing_kg=sale.target - sure,
        offers=tuple(sorted(told, key=lambda one: (-one.offer_kg, one.yard))),
    )
