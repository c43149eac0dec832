"""What a yard's outlets want on which day, and what a kilogram must earn to be worth its work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from fruitcast.soaks.problem import OutletDay
from fruitcast.topics import ScheduleNumbers, WorkNumbers
from fruitcast.yard.model import Costs, Outlet, Yard

TABLE = "table"
"""The name of what is liked at home, where nothing is sold."""


def outlet_days(yard: Yard, today: date, days: int) -> tuple[OutletDay, ...]:
    """Return every sale from today on, in order of day, then weight, then name."""
    sales = sorted(_sales(yard, today, days), key=lambda o: (o.day, -o.weight, o.outlet))
    return tuple(sales)


def with_promised(
    sales: Iterable[OutletDay],
    promised: Iterable[tuple[str, date, float]],
    today: date,
    days: int,
    *,
    promised_weight: float,
) -> tuple[OutletDay, ...]:
    """Return the sales with what was promised guarded: it counts more.

    `promised` has to whom, for which day, how much [kg]; a kilogram of it counts `promised_weight`
    times one that is only wanted. A promise to somebody who is no outlet of that day is a sale of
    its own.
    """
    found = {(sale.outlet, sale.day): sale for sale in sales}
    for outlet, on, kg in promised:
        day = (on - today).days
        if not 0 <= day < days:
            continue
        usual = found.get((outlet, day), OutletDay(outlet, day, kg, 1.0))
        target = max(usual.target, kg)
        weight = usual.weight * (1 + (promised_weight - 1) * kg / target)
        found[outlet, day] = OutletDay(outlet, day, target, weight)
    return tuple(sorted(found.values(), key=lambda o: (o.day, -o.weight, o.outlet)))


def table_days(
    today: date, days: int, flush_kg: float, *, keeps: int, schedule: ScheduleNumbers
) -> tuple[OutletDay, ...]:
    """Return what is liked at home where nothing is sold: as much every week as the logs can bear.

    The first share of a week counts in full: what all logs would bear steadily, each soaked as soon
    as it is rested, of `flush_kg` for one flush of every stack. A few times as much more is welcome
    too but counts less, so flushes that come together are worth less than the same flushes one
    after the other. Where mushrooms keep shorter than a week, that time takes its place.
    """
    if flush_kg <= 0:
        return ()
    step = min(7, keeps)
    share = flush_kg * step / int(schedule.rest_days)
    # Counted from a fixed Monday, so that the weeks stay the same while days pass.
    first = (1 - today.toordinal()) % step
    wanted = ((share, 1.0), (schedule.table_more * share, schedule.table_more_weight))
    return tuple(
        OutletDay(TABLE, day, kg, weight)
        for day in range(first, days, step)
        for kg, weight in wanted
    )


def _sales(yard: Yard, today: date, days: int) -> Iterator[OutletDay]:
    for number in range(days):
        day = today + timedelta(days=number)
        for outlet in yard.outlets:
            if outlet.sells_on(day):
                yield OutletDay(outlet.name, number, outlet.target_kg, outlet.weight)
    for order in yard.orders:
        number = (order.on - today).days
        if 0 <= number < days:
            yield OutletDay(order.outlet, number, order.target_kg, order.weight)


def break_even_kg(cost: float, price_per_kg: float, costs: Costs) -> float | None:
    """Return what a log must give in its life to pay for itself; sold, not picked. [kg/log]

    `cost` is that of its life [money/log], the price that of a kilogram. None when a kilogram
    brings less than the work on it.
    """
    left = price_per_kg - (costs.hours_per_kg or 0.0) * (costs.wage or 0.0)
    return cost / left if left > 0 else None


def least_soak_kg(
    outlets: tuple[Outlet, ...],
    costs: Costs,
    *,
    saleable: float,
    weak_soak: float,
    work: WorkNumbers,
) -> float:
    """Return the least a soak must be expected to bring to be proposed. [kg/log]

    That is `weak_soak`, or more where soaking and pulling a log costs more than that would earn.
    Where price or wage is not known, hours don't count.
    """
    price = mean_price(outlets)
    if price is None or not costs.wage:
        return weak_soak
    hours = work.tank_hours_per_log
    sold = break_even_kg(costs.wage * hours, price, costs)
    return weak_soak if sold is None else max(weak_soak, sold / saleable)


def mean_price(outlets: tuple[Outlet, ...]) -> float | None:
    """Return what a kilogram sells for, over the outlets by their targets; None unknown."""
    priced = [o for o in outlets if o.price_per_kg is not None]
    total = sum(outlet.target_kg for outlet in priced)
    if total <= 0:
        return None
    return sum(o.target_kg * (o.price_per_kg or 0.0) for o in priced) / total
