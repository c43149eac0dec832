"""When natural flushes come, simulated through decades of real weather.

Common practice, no source: a spring and an autumn flush, one to two a year, none in winter,
summer only after a real break in the weather. Weather: Champion, Nebraska, 1982-2018 (dry,
so watered to the default) and Brussels, 1976-2005 (twice as wet), see real_weather. The
model reads no calendar, so the seasons must come out of rain and temperature alone.
"""

from functools import cache

import numpy as np
import pytest

from fruitcast.biology.forced import thermal_time
from fruitcast.biology.natural import flush_chain, natural_first_pick, trigger_days
from fruitcast.numbers import default_numbers
from tests.biology.real_weather import Series, series, watered, watered_series

NUMBERS = default_numbers()
SPRING, SUMMER, AUTUMN, WINTER = (4, 5, 6), (7, 8), (9, 10, 11), (12, 1, 2)
SHUFFLES = 6


def first_picks(strain_class: str, weather: Series) -> list[np.ndarray]:
    """First picks of the natural flushes of unsoaked logs, one array of days a column."""
    trigger = trigger_days(
        NUMBERS.strain(strain_class).natural,
        weather.tmin,
        weather.tmean,
        weather.rain,
        weather.moisture,
        NUMBERS.natural,
        urgent_below=NUMBERS.watering.urgent_below,
    )
    thermal = thermal_time(NUMBERS.strain(strain_class), weather.tmean)
    pick = natural_first_pick(
        NUMBERS.strain(strain_class).forced.requirement, thermal, trigger, NUMBERS.natural
    )
    rest = int(NUMBERS.natural.rest_days)
    chain = flush_chain(trigger, pick, rest, 0, most=4 * len(weather.days) // 365)
    days = len(weather.days)
    found = []
    for column in range(trigger.shape[1]):
        begun = chain[chain[:, column] < days, column]
        picked = pick.first_pick[begun, column]
        found.append(picked[picked < days])
    return found


@cache
def real_picks(name: str, strain_class: str) -> np.ndarray:
    return first_picks(strain_class, watered_series(name))[0]


def share(weather: Series, picks: np.ndarray, months) -> float:
    return float(np.isin(weather.months[picks], months).mean())


def by_year(weather: Series, picks: np.ndarray) -> np.ndarray:
    years = np.arange(weather.years[0], weather.years[-1] + 1)
    return np.array([(weather.years[picks] == year).sum() for year in years])


def report(name: str, strain_class: str) -> None:
    weather, picks = watered_series(name), real_picks(name, strain_class)
    counts = np.bincount(weather.months[picks], minlength=13)[1:]
    flushes = np.bincount(by_year(weather, picks), minlength=4)
    print(
        f"{name} {strain_class}: first picks by month {counts.tolist()}, "
        f"{by_year(weather, picks).mean():.2f} a year, years with 0/1/2/3 {flushes.tolist()}, "
        f"April-June and September-November {share(weather, picks, SPRING + AUTUMN):.0%}"
    )


@pytest.mark.parametrize("name", ["champion", "brussels"])
def test_wide_range_flushes_in_spring_and_autumn(name):
    report(name, "wide-range")
    weather, picks = watered_series(name), real_picks(name, "wide-range")
    flushes = by_year(weather, picks)
    assert ((flushes >= 1) & (flushes <= 2)).mean() > 0.8
    assert share(weather, picks, SPRING + AUTUMN) >= 2 / 3
    assert share(weather, picks, WINTER) == 0


@pytest.mark.parametrize("name", ["champion", "brussels"])
def test_warm_weather_strains_flush_more_in_summer(name):
    report(name, "warm-weather")
    weather = watered_series(name)
    warm, wide = (
        share(weather, real_picks(name, c), (6, 7, 8)) for c in ("warm-weather", "wide-range")
    )
    assert warm > wide


@pytest.mark.parametrize("name", ["champion", "brussels"])
def test_cold_weather_strains_flush_earlier_in_spring_and_later_in_autumn(name):
    report(name, "cold-weather")
    weather = watered_series(name)
    day_of_year = np.array([day.timetuple().tm_yday for day in weather.days])

    def middle(strain_class, months):
        picks = real_picks(name, strain_class)
        return np.median(day_of_year[picks[np.isin(weather.months[picks], months)]])

    for other in ("wide-range", "warm-weather"):
        assert middle("cold-weather", (2, 3, 4, 5, 6)) < middle(other, (2, 3, 4, 5, 6))
        assert middle("cold-weather", AUTUMN) > middle(other, AUTUMN)


@cache
def shuffled(name: str, what: str) -> Series:
    """Real weather out of order, several times over in columns, watered anew.

    Either the days' rain inside each month, or whole months of temperature.
    """
    weather = series(name)
    rng = np.random.default_rng(17)
    month = weather.years * 12 + weather.months
    rows = [np.flatnonzero(month == m) for m in np.unique(month)]
    keep = np.arange(len(month))
    rain, temperature = [], []
    for _ in range(SHUFFLES):
        within = np.concatenate([rng.permutation(block) for block in rows])
        between = np.concatenate([rows[i] for i in rng.permutation(len(rows))])
        rain.append(within if what == "rain" else keep)
        temperature.append(between if what == "temperature" else keep)
    rain, temperature = np.array(rain).T, np.array(temperature).T
    return watered(
        Series(
            name,
            weather.start,
            weather.tmin[temperature, 0],
            weather.tmax[temperature, 0],
            weather.rain[rain, 0],
        ),
        NUMBERS,
    )


def kept(picks: np.ndarray, others: np.ndarray) -> float:
    """Share of flushes that another run also has, to within five days."""
    return float((np.abs(picks[:, None] - others[None, :]).min(axis=1) <= 5).mean())


def by_chance(picks: np.ndarray, others: np.ndarray, days: int) -> float:
    """Share kept when the other run's flushes are moved by whole years: season alone."""
    moves = range(1, int(days / 365.25))
    moved = [np.sort((others + round(365.25 * years)) % days) for years in moves]
    return float(np.mean([kept(picks, other) for other in moved]))


@pytest.mark.parametrize("name", ["champion", "brussels"])
def test_rain_shuffled_within_the_month_takes_the_flushes_away(name):
    weather, picks = watered_series(name), real_picks(name, "wide-range")
    runs = first_picks("wide-range", shuffled(name, "rain"))
    same = np.mean([kept(picks, run) for run in runs])
    luck = np.mean([by_chance(picks, run, len(weather.months)) for run in runs])
    number = np.mean([len(run) for run in runs]) / len(picks)
    seasonal = np.mean([share(weather, run, SPRING + AUTUMN) for run in runs])
    print(
        f"{name} wide-range, rain shuffled within months: {same:.0%} of the flushes stay within "
        f"five days ({luck:.0%} by chance), {number:.0%} of their number, "
        f"{seasonal:.0%} in spring and autumn (was {share(weather, picks, SPRING + AUTUMN):.0%})"
    )
    # Most go. Warm and wet months stay what they were, so that some stay beyond chance.
    assert luck < same < 0.4
    assert number < 0.9
    assert seasonal < share(weather, picks, SPRING + AUTUMN)


def test_rain_does_not_matter_to_cold_weather_strains():
    # Published: Bruhn, Mihail & Pickens 2009.
    picks = real_picks("champion", "cold-weather")
    for run in first_picks("cold-weather", shuffled("champion", "rain")):
        assert run.tolist() == picks.tolist()


@pytest.mark.parametrize("name", ["champion", "brussels"])
@pytest.mark.parametrize("strain_class", ["wide-range", "cold-weather"])
def test_months_of_temperature_out_of_order_take_the_seasons_away(name, strain_class):
    weather, picks = watered_series(name), real_picks(name, strain_class)
    runs = first_picks(strain_class, shuffled(name, "temperature"))
    same = np.mean([kept(picks, run) for run in runs])
    luck = by_chance(picks, picks, len(weather.months))
    seasonal = np.mean([share(weather, run, SPRING + AUTUMN) for run in runs])
    winter = np.mean([share(weather, run, WINTER) for run in runs])
    print(
        f"{name} {strain_class}, months of temperature shuffled: {same:.0%} of the flushes stay "
        f"(real ones of other years: {luck:.0%}), "
        f"{seasonal:.0%} in spring and autumn (was "
        f"{share(weather, picks, SPRING + AUTUMN):.0%}), {winter:.0%} in winter "
        f"(was {share(weather, picks, WINTER):.0%})"
    )
    assert same < luck + 0.05
    assert seasonal < share(weather, picks, SPRING + AUTUMN) - 0.15
    assert winter > share(weather, picks, WINTER)
