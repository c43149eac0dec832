"""Yards that sell together: offers, what is likely to be there, and fair shares.

Neighbours share their weather: a path is one weather year for all of them, so that a wet week is
wet for all, and each yard has its own luck in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import numpy as np
from pydantic import Field

from fruitcast.document import Count, Day, Document, Number
from fruitcast.group.spare import SharedSale, Spare, available
from fruitcast.soaks.problem import FloatArray
from fruitcast.soaks.supply import promised
from fruitcast.units import SHOWN_AS_NONE_KG
from fruitcast.weather.known import FEWEST_YEARS
from fruitcast.yard.model import Order, Outlet

MET_WITHIN = 0.001
"""A target missed by less than a gram is met. [kg]"""


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


class Together(Document):
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


def sell_together(
    spares: Mapping[str, Spare],
    shared: Sequence[SharedSale],
    promise: float,
    left_out: Sequence[str] = (),
) -> Together:
    """Return what yards can sell together.

    Parameters
    ----------
    spares : mapping of str to Spare
        What each yard can spare for these sales.
    shared : sequence of SharedSale
        In order of day.
    promise : float
        The chance asked of what all promise together. [0..1]
    left_out : sequence of str
        Yards of which nothing is known.
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
        return Together(
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
    return Together(
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

    Parameters
    ----------
    has : (yard, path) float array
        What each has to spare. [kg]
    shares : (yard,) float array
        The fair shares. [kg]
    target : float
        Wanted of all. [kg]
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
