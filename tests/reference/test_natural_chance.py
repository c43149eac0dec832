"""Chances of natural flushes against how often they came, in the model's own weather.

Members put past years behind the days that were observed. Where the two meet the temperature
may jump, which sets off a cold-weather flush that no real weather would: held here against the
frequency in unbroken years. Brussels is maritime, Champion continental; see `real_weather`.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from fruitcast.numbers import default_numbers
from fruitcast.shiitake.natural import natural_first_pick, trigger_days
from tests.shiitake.real_weather import series, watered

NUMBERS = default_numbers()
BEFORE, AHEAD = 60, 80
WEEKS_3, BEYOND = slice(1, 22), slice(22, 43)


def first_picks(strain_class, tmin, tmean, rain, moisture):
    """Days from today to the first pick of the first flush set off from today on."""
    strain = NUMBERS.strain(strain_class)
    trigger = trigger_days(
        strain.natural,
        tmin,
        tmean,
        rain,
        moisture,
        NUMBERS.natural,
        urgent_below=NUMBERS.watering.urgent_below,
    )
    picked = natural_first_pick(strain, tmean, trigger, NUMBERS.natural)
    lives = trigger & ~picked.aborted
    lives[:BEFORE] = False
    day = lives.argmax(axis=0)
    every = np.arange(lives.shape[1])
    return np.where(lives.any(axis=0), picked.first_pick[day, every] - BEFORE, 10_000)


@pytest.mark.parametrize("strain_class", ["cold-weather", "wide-range"])
@pytest.mark.parametrize("name", ["brussels", "champion"])
def test_chances_are_as_often_right_as_they_say(name, strain_class):
    weather = watered(series(name), NUMBERS)
    table = (weather.tmin, weather.tmean, weather.rain, weather.moisture)
    years = sorted(set(weather.years.tolist()))[1:-1]
    said, came = [], []
    for year in years:
        for day in range(60, 330, 15):
            rows = {y: (date(y, 1, 1) - weather.start).days + day for y in years}
            now = rows.pop(year)
            ahead = np.array(list(rows.values()))[None, :] + np.arange(AHEAD)[:, None]
            past = np.repeat(np.arange(now - BEFORE, now)[:, None], len(rows), axis=1)
            spliced = np.concatenate([past, ahead])
            said.append(first_picks(strain_class, *(x[spliced, 0] for x in table)))
            real = np.arange(now - BEFORE, now + AHEAD)
            came.append(first_picks(strain_class, *(x[real] for x in table))[0])
    for words, days in (("three weeks", WEEKS_3), ("the three weeks behind", BEYOND)):
        window = np.arange(10_001)[days]
        chance = np.mean([np.isin(picks, window).mean() for picks in said])
        share = np.mean(np.isin(came, window))
        print(f"{name}, {strain_class}, {words}: {chance:.3f} said, {share:.3f} came")
        assert 0.85 <= chance / share <= 1.15
    assert len(came) > 300
