"""The published nine-week cycle, one lot of 12 logs each week, walked through real seasons.

Written out lot by lot and soak by soak, sharing nothing with the forecast's arrays but the
rules themselves.
"""

from dataclasses import dataclass, field
from datetime import date
from math import ceil

import numpy as np

from fruitcast.biology.forced import (
    bears,
    daily_loss,
    first_pick,
    mean_between,
    soak_hours,
    surviving_share,
    thermal_time,
)
from fruitcast.biology.moisture import soak_gain
from fruitcast.biology.natural import natural_first_pick, trigger_days
from fruitcast.biology.picking import flush_days
from fruitcast.biology.run_length import cumulate, next_true
from fruitcast.biology.spawn_run import moisture_factor
from fruitcast.biology.yields import rest_factor, temperature_factor
from fruitcast.numbers import Numbers
from tests.biology.real_weather import Series

CLASS = "wide-range"
LOTS, LOGS = 9, 12  # Hill 2011, Univ. of Kentucky FOR-85: 108 logs, one ninth a week
FIRST, LAST = (4, 15), (10, 20)  # soaking season
DIAMETER, TREE = 0.127, "red oak"


@dataclass
class Season:
    """Fresh weight of one season per log whose tree, size and year factors are all 1."""

    weeks: float
    forced: float = 0.0
    natural: float = 0.0
    soaks: int = 0
    failed: int = 0
    leads: list[int] = field(default_factory=list)

    def per_week(self, stack_factor: float) -> float:
        """Kilograms a week of the whole rotation."""
        return (self.forced + self.natural) * LOGS * stack_factor / self.weeks


class Walk:
    """Weather prepared once; seasons are then walked through it."""

    def __init__(self, weather: Series, numbers: Numbers) -> None:
        self.weather, self.numbers = weather, numbers
        self.days = len(weather.days)
        self.tmean = weather.tmean
        self.thermal = thermal_time(numbers.strain(CLASS), self.tmean)
        self.temperature = cumulate(self.tmean)
        self.loss = cumulate(
            daily_loss(numbers.strain(CLASS).forced, weather.tmin, weather.tmax, numbers.forced)
        )
        trigger = trigger_days(
            numbers.strain(CLASS).natural,
            weather.tmin,
            self.tmean,
            weather.rain,
            weather.moisture,
            numbers.natural,
            urgent_below=numbers.watering.urgent_below,
        )
        self.ripe = natural_first_pick(
            numbers.strain(CLASS).forced.requirement, self.thermal, trigger, numbers.natural
        )
        self.next_trigger = next_true(trigger & ~self.ripe.aborted)

    def row(self, day: date) -> int:
        return (day - self.weather.start).days

    def season(self, year: int) -> Season:
        first, last = self.row(date(year, *FIRST)), self.row(date(year, *LAST))
        found = Season(weeks=(last - first + 1) / 7)
        for lot in range(LOTS):
            self._lot(found, range(first + 7 * lot, last + 1, 7 * LOTS), year)
        return found

    def _lot(self, found: Season, soaks: range, year: int) -> None:
        numbers = self.numbers
        rest_days = int(numbers.natural.rest_days)
        end = self.row(date(year, 12, 31))
        picked = self.row(date(year - 1, 10, 1))  # its last flush of the year before
        rested, open_until = self.row(date(year, 1, 1)), -1
        for soak in [*soaks, end]:
            # Flushes that weather sets off before this soak.
            while (trigger := int(self.next_trigger[min(rested, self.days), 0])) < soak:
                pick = int(self.ripe.first_pick[trigger, 0])
                kg, length = self._flush("natural", trigger, pick, trigger - picked)
                found.natural += kg
                picked, rested, open_until = pick, pick + rest_days, pick + length
                if pick >= self.days:
                    return
            if soak == end:
                return
            found.soaks += 1
            if soak < open_until:  # the natural crop stands, the soak gives nothing
                found.failed += 1
                continue
            hours = float(soak_hours(self.tmean[soak : soak + 10].mean(), numbers.forced))
            pull = soak + ceil(hours / 24)
            need = numbers.strain(CLASS).forced.requirement
            pick = first_pick(self.thermal, np.array([pull]), need)
            longest = numbers.forced.longest_days
            if not bears(np.array([pull]), pick, self.days, longest_days=longest)[0, 0]:
                found.failed += 1
                continue
            kg, _ = self._flush("forced", pull, int(pick[0, 0]), soak - picked, soak, hours)
            found.forced += kg
            found.leads.append(int(pick[0, 0]) - soak)
            picked = int(pick[0, 0])
            rested = picked + rest_days

    def _flush(self, kind, begun, pick, rest, soak=None, hours=0.0):
        numbers = self.numbers
        mean = mean_between(self.temperature, np.array([[begun]]), np.array([[pick]]))[0, 0]
        length = int(flush_days(kind, mean, numbers.picking, numbers.natural))
        moisture = self.weather.moisture[begun if soak is None else soak - 1, 0]
        if soak is not None:
            gravity = numbers.tree(TREE).specific_gravity
            moisture = moisture + soak_gain(
                moisture,
                hours,
                diameter=DIAMETER,
                specific_gravity=gravity,
                balance=numbers.moisture,
            )
        survives = surviving_share(self.loss, np.array([[begun]]), np.array([[pick + length]]))
        kg = (
            numbers.strain(CLASS).yields.base
            * (numbers.yields.natural_factor if kind == "natural" else 1.0)
            * rest_factor(rest, numbers.yields)
            * temperature_factor(numbers.strain(CLASS).range, mean, numbers.yields)
            * moisture_factor(moisture, numbers.moisture, numbers.spawn_run)
            * survives[0, 0]
        )
        return float(kg), length
