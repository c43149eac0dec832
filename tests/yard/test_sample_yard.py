"""The sample yard: right, varied, and asking for what such a yard can give but for one order."""

from datetime import date
from pathlib import Path

import pytest

from fruitcast.topics import SPAWN_FORMS
from fruitcast.units import KG_PER_LB
from fruitcast.yard.model import lots_of
from fruitcast.yard.reading import read_yard

TODAY = date(2027, 5, 3)
MIDSEASON = date(2027, 7, 15)


@pytest.fixture(scope="module")
def yard():
    return read_yard(Path(__file__).parents[2] / "sample_data", TODAY)


def test_it_has_neither_fault_nor_warning(yard):
    assert yard.warnings == ()


def test_it_has_several_classes_every_spawn_and_age(yard):
    assert len(yard.stacks) == 14
    assert len({stack.strain_class for stack in yard.stacks}) >= 3
    assert {stack.spawn for stack in yard.stacks} == set(SPAWN_FORMS)
    assert {stack.inoculated.year for stack in yard.stacks} == {2023, 2024, 2025, 2026}
    assert len({stack.tree for stack in yard.stacks}) >= 6
    assert all(0.1 <= stack.diameter <= 0.18 for stack in yard.stacks)
    assert any((TODAY - stack.inoculated).days < 365 for stack in yard.stacks)


def test_one_stack_is_larger_than_the_tank(yard):
    lots = [lots_of(stack.name, stack.logs, yard.soaking.tank_logs) for stack in yard.stacks]
    assert [name for parts in lots for name, _ in parts if "/" in name] == ["H/1", "H/2"]


def test_targets_ask_a_pound_a_week_for_about_forty_bearing_logs(yard):
    week = [date(2027, 7, 12 + day) for day in range(7)]
    asked = sum(outlet.target_kg for outlet in yard.outlets for day in week if outlet.sells_on(day))
    bearing = sum(stack.logs for stack in yard.stacks if (MIDSEASON - stack.inoculated).days > 365)
    young = sum(stack.logs for stack in yard.stacks if stack.inoculated.year == 2026)
    pounds = asked / KG_PER_LB
    assert 40 <= bearing / pounds <= 45
    assert 30 <= (bearing - young) / pounds <= 40


def test_one_order_cannot_be_met_by_what_growers_commonly_report(yard):
    # Common practice: 113 to 227 g a log and flush (here the middle), a natural flush lasts two
    # weeks, and no soak bears in under five days.
    (order,) = yard.orders
    days_of_picks = (order.on - TODAY).days
    assert 0 < days_of_picks < 5
    bearing = sum(stack.logs for stack in yard.stacks if (TODAY - stack.inoculated).days > 500)
    natural = bearing * 0.17 * yard.saleable * days_of_picks / 14
    assert order.target_kg > natural
    assert not any(outlet.sells_on(order.on) for outlet in yard.outlets)


def test_days_away_and_a_closed_day_fall_on_days_that_matter(yard):
    (away,) = yard.away
    assert (away.last - away.first).days == 6
    assert any(
        outlet.sells_on(date.fromordinal(away.first.toordinal() + day))
        for outlet in yard.outlets
        for day in range(7)
    )
    market = yard.outlets[0]
    (closed,) = market.closed
    assert closed.weekday() == market.weekday
