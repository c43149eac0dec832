"""What sales brought: takings by season and outlet, and what a buyer has paid so far."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fruitcast.diary.events import SOLD, Event, in_force
from fruitcast.diary.wording import Say
from fruitcast.units import Units
from fruitcast.yard.model import Yard


@dataclass(frozen=True)
class Takings:
    """What one outlet brought in one season.

    Attributes
    ----------
    year : int
        See `Site.growing_year`.
    outlet : str
        Empty where the sales name none.
    kg : float
        Sold. [kg]
    told_kg : float
        Of it, what the diary says a price of. [kg]
    paid : float
        Taken for that, in the grower's own money.
    price_set : float or None
        Price of the outlet in yard.toml. [money/kg]
    """

    year: int
    outlet: str
    kg: float
    told_kg: float
    paid: float
    price_set: float | None

    @property
    def per_kg(self) -> float | None:
        """What a kg brought; None where no price is told. [money/kg]"""
        return self.paid / self.told_kg if self.told_kg > 0 else None


def takings(
    yard: Yard, events: Sequence[Event], first: date, last: date, outlet: str | None = None
) -> tuple[Takings, ...]:
    """Return what the outlets brought between two days, both included, by season and outlet.

    Parameters
    ----------
    yard : Yard
        For its seasons and the prices set.
    events : sequence of Event
        The diary.
    first, last : date
        Days asked for.
    outlet : str or None
        One outlet only.
    """
    wanted: dict[tuple[int, str], list[Event]] = {}
    for event in _sales(events):
        if first <= event.on <= last and outlet in (None, event.outlet):
            wanted.setdefault((yard.site.year_of(event.on), event.outlet), []).append(event)
    prices = prices_set(yard)
    found = []
    for (year, name), sales in sorted(wanted.items()):
        told = [sale for sale in sales if sale.paid is not None]
        found.append(
            Takings(
                year,
                name,
                sum(sale.kg or 0.0 for sale in sales),
                sum(sale.kg or 0.0 for sale in told),
                sum(sale.paid or 0.0 for sale in told),
                prices.get(name),
            )
        )
    return tuple(found)


def prices_set(yard: Yard) -> dict[str, float]:
    """Return the prices in yard.toml by outlet, an outlet's own before an order's. [money/kg]"""
    of_orders = {order.outlet: order.price_per_kg for order in yard.orders}
    of_all = of_orders | {outlet.name: outlet.price_per_kg for outlet in yard.outlets}
    return {name: price for name, price in of_all.items() if price}


def highest_prices(yard: Yard, events: Iterable[Event]) -> dict[str, float]:
    """Return the most that each outlet has paid or is set to pay. [money/kg]"""
    highest = prices_set(yard)
    for sale in _sales(list(events)):
        if sale.paid and sale.kg:
            highest[sale.outlet] = max(highest.get(sale.outlet, 0.0), sale.paid / sale.kg)
    return highest


def takings_words(row: Takings, units: Units) -> str:
    """Return a sentence on what an outlet brought, beside the price set; empty if nobody said."""
    if row.per_kg is None:
        return ""
    say = Say(units)
    of_it = f" of {say.weight(row.kg)}" if row.told_kg < row.kg - 1e-6 else ""
    words = f"{row.outlet or 'Without a name'}: {row.paid:.2f} for {say.weight(row.told_kg)}{of_it}"
    words += f", {say.price(row.per_kg)}"
    if row.price_set is None:
        return f"{words}."
    apart = row.per_kg / row.price_set - 1.0
    if abs(apart) < _SAME:
        return f"{words}, as set in yard.toml."
    how = f"{abs(apart):.0%} {'more' if apart > 0 else 'less'}"
    return f"{words}, {how} than the {say.price(row.price_set)} set in yard.toml."


_SAME = 0.005
"""Prices closer than this, as a share, are the same."""


def _sales(events: Sequence[Event]) -> list[Event]:
    return [event for event in in_force(events) if event.kind == SOLD]
