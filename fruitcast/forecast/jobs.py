"""Which stacks want water in the coming days, if nobody waters from today on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from fruitcast.biology.moisture import simulate_moisture
from fruitcast.biology.watering import (
    Thirst,
    WateringAdvice,
    sample_log_wants_water,
    watering_advice,
)
from fruitcast.biology.wood import dry_from_wet, wet_from_dry
from fruitcast.diary.state import StackState
from fruitcast.forecast.outlook import YardOutlook
from fruitcast.topics import WateringNumbers
from fruitcast.weather.daily import VARIABLES

DAYS_AHEAD = 21
"""Days looked at for watering. [day]"""

DAYS_BEFORE = 21
"""Observed days in front of them, for the dry spell under way. [day]"""


@dataclass(frozen=True)
class StackThirst:
    """Watering advice for one stack.

    Attributes
    ----------
    stack : str
        Stack or lot.
    on : date or None
        The day on which it wants water, within the known weather.
    advice : WateringAdvice
        The cause and how much.
    """

    stack: str
    on: date | None
    advice: WateringAdvice


def thirsty_stacks(outlook: YardOutlook) -> list[StackThirst]:
    """Return the watering advice for every stack; empty when nobody waters in this yard."""
    numbers = outlook.numbers
    yard, futures = outlook.yard, outlook.futures
    keep = yard.keep_above
    if keep is None:
        return []
    today = futures.lookback
    before = min(DAYS_BEFORE, today)
    past = min(today + DAYS_AHEAD, futures.days)
    stacks = [stack.stack for stack in outlook.stacks]
    so_far = outlook.past
    table = {name: getattr(futures, name)[today:past, None, :] for name in VARIABLES}
    members = len(futures.years)
    watered, hours = (np.zeros((past - today, len(stacks), 1)) for _ in range(2))
    for column, (mm, soaked) in enumerate(_given(outlook)):
        watered[0, column], hours[0, column] = mm, soaked
    run = simulate_moisture(
        np.repeat(so_far.by_stack[-1][:, None], members, axis=1),
        **table,
        latitude=yard.site.latitude,
        day_of_year=futures.day_of_year[today:past, None, None],
        shade=yard.site.shade,
        diameter=np.array([s.diameter for s in stacks])[:, None],
        length=np.array([s.length for s in stacks])[:, None],
        specific_gravity=np.array([numbers.tree(s.tree).specific_gravity for s in stacks])[:, None],
        balance=numbers.moisture,
        watering=numbers.watering,
        shade_effect=numbers.log.shade_effect,
        watered=watered,
        soak_hours=hours,
    )
    days = slice(today - before, past)
    advice = []
    for column, stack in enumerate(outlook.stacks):
        earlier = np.repeat(so_far.by_stack[-before:, column, None], members, axis=1)
        rain = futures.rain[days].copy()
        rain[:before] += so_far.watered[-before:, column, None]
        rain[before] += watered[0, column]
        # What got water today is looked at again from tomorrow on.
        done = int(watered[0, column, 0] > 0 or hours[0, column, 0] > 0)
        found = watering_advice(
            np.concatenate([earlier, run.moisture[:, column]]),
            rain,
            futures.tmean[days],
            today=before + done,
            known=before + max(futures.known_days, 1),
            keep_above_wet=keep,
            catch=stack.stack.diameter * stack.stack.length,
            watering=numbers.watering,
            balance=numbers.moisture,
        )
        found = replace(found, chance_by_day=np.r_[np.zeros(done), found.chance_by_day])
        on = None if found.day is None else futures.date(today - before + found.day)
        lighter = _lighter_sample(stack.state, futures.today, numbers.watering)
        if lighter and on != futures.today:
            on = futures.today
            found = replace(
                found,
                day=before,
                thirst=Thirst.DRY_LOG,
                moisture_wet=float(wet_from_dry(stack.moisture)),
                reason=f"its sample log is {lighter:.0%} lighter than at its start",
            )
        advice.append(StackThirst(stack.name, on, found))
    return advice


def _given(outlook: YardOutlook) -> Iterator[tuple[float, float]]:
    """Yield what each stack got today by the diary: water on it, hours in the tank. [mm, h]"""
    today, usual = outlook.futures.today, outlook.numbers.forced.usual_hours
    for stack in outlook.stacks:
        mm = sum(amount for on, amount in stack.state.watered if on == today)
        hours = sum(soak.hours or usual for soak in stack.state.soaks if soak.on == today)
        yield mm, hours


def _lighter_sample(state: StackState, today: date, watering: WateringNumbers) -> float:
    """Return how much lighter the sample logs were at a weighing still in force; 0 if not enough.

    A weighing is in force for a week, or until the stack is watered or soaked.
    """
    if not state.moisture_seen or not state.sample_logs:
        return 0.0
    on, moisture = state.moisture_seen[-1]
    wetted = [day for day, _ in state.watered] + [soak.on for soak in state.soaks]
    if (today - on).days > watering.weigh_days or any(day >= on for day in wetted):
        return 0.0
    begin = float(np.mean([dry_from_wet(sample.moisture_wet) for sample in state.sample_logs]))
    if not sample_log_wants_water(
        1 + moisture, 1 + begin, sample_log_loss=watering.sample_log_loss
    ):
        return 0.0
    return 1 - (1 + moisture) / (1 + begin)
