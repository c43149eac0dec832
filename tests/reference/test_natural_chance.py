"""Chances of natural flushes against how often they came, in the model's own weather.

Members put past years behind the days that were observed. Where the two meet the temperature
would jump, which sets off a cold-weather flush that no real weather would, were the departure of
the last day not carried over: held here against the frequency in unbroken years. Brussels is
maritime, Champion continental; see `real_weather`.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from fruitcast.biology.forced import thermal_time
from fruitcast.biology.natural import natural_first_pick, trigger_days
from fruitcast.forecast.members import follow_on
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import watered_series

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
    picked = natural_first_pick(
        strain.forced.requirement, thermal_time(strain, tmean), trigger, NUMBERS.natural
    )
    lives = trigger & ~picked.aborted
    lives[:BEFORE] = False
    day = lives.argmax(axis=0)
    every = np.arange(lives.shape[1])
    return np.where(lives.any(axis=0), picked.first_pick[day, every] - BEFORE, 10_000)


def brier_skill(chances, held, years):
    """1 - mean squared error over that of the share of the other years on that day."""
    others = held.reshape(years, -1)
    others = (others.sum(axis=0) - others) / (years - 1)
    return 1 - np.mean((chances - held) ** 2) / np.mean((others.ravel() - held) ** 2)


def members(table, past, ahead):
    """Past years behind what was observed, as a plan's members have them."""
    tmin, tmean, rain, moisture = (x[np.concatenate([past, ahead]), 0] for x in table)
    years = {"tmin": tmin[BEFORE:], "tmax": tmin[BEFORE:], "tmean": tmean[BEFORE:]}
    own = table[1][ahead[0] - 1, 0]
    made = follow_on(float(tmean[BEFORE - 1, 0]), own, years, NUMBERS.forecast.persistence)
    tmin[BEFORE:], tmean[BEFORE:] = made["tmin"], made["tmean"]
    return tmin, tmean, rain, moisture


@pytest.mark.parametrize("strain_class", ["cold-weather", "wide-range"])
@pytest.mark.parametrize("name", ["brussels", "champion"])
def test_chances_are_as_often_right_as_they_say(name, strain_class):
    weather = watered_series(name)
    table = (weather.tmin, weather.tmean, weather.rain, weather.moisture)
    years = sorted(set(weather.years.tolist()))[1:-1]
    said, came = [], []
    for year in years:
        for day in range(60, 330, 15):
            rows = {y: (date(y, 1, 1) - weather.start).days + day for y in years}
            now = rows.pop(year)
            ahead = np.array(list(rows.values()))[None, :] + np.arange(AHEAD)[:, None]
            past = np.repeat(np.arange(now - BEFORE, now)[:, None], len(rows), axis=1)
            said.append(first_picks(strain_class, *members(table, past, ahead)))
            real = np.arange(now - BEFORE, now + AHEAD)
            came.append(first_picks(strain_class, *(x[real] for x in table))[0])
    for words, days in (("three weeks", WEEKS_3), ("the three weeks behind", BEYOND)):
        window = np.arange(10_001)[days]
        chances = np.array([np.isin(picks, window).mean() for picks in said])
        held = np.isin(came, window).astype(float)
        chance, share = chances.mean(), held.mean()
        skill = brier_skill(chances, held, len(years))
        print(
            f"{name}, {strain_class}, {words}: {chance:.3f} said, {share:.3f} came; "
            f"Brier skill {skill:.2f} against other years on that day"
        )
        # What other years did on that day is all there is to say beyond three weeks.
        assert skill > (0.05 if days == WEEKS_3 else -0.05)
        assert 0.9 <= chance / share <= 1.1
    assert len(came) > 300
