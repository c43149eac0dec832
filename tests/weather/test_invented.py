"""The invented weather: the same seed gives the same days, and the days are of the kind told."""

from datetime import date
from pathlib import Path

import numpy as np

from fruitcast.weather.table import weather_csv
from tests.weather.invented import invented_weather, sample_weather

SAMPLE = Path(__file__).parents[2] / "sample_data" / "weather.csv"


def months(weather):
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    return days.astype("datetime64[M]").astype(int) % 12 + 1


def test_the_sample_is_what_its_seed_gives():
    assert SAMPLE.read_text(encoding="utf-8") == weather_csv(sample_weather())


def test_another_seed_gives_other_weather_and_the_start_alone_does_not():
    one = invented_weather(date(2026, 1, 1), date(2026, 12, 31), seed=1)
    same_days = invented_weather(date(2026, 1, 1), date(2026, 6, 30), seed=1)
    other = invented_weather(date(2026, 1, 1), date(2026, 12, 31), seed=2)
    np.testing.assert_array_equal(one.rain[:181], same_days.rain)
    assert (one.rain != other.rain).any()


def test_the_sample_is_cool_temperate_and_continental():
    weather = sample_weather()
    assert (weather.start, weather.end) == (date(2006, 1, 1), date(2027, 5, 2))
    month = months(weather)
    assert abs(weather.tmean[month == 1].mean() - -4.0) < 1.0
    assert abs(weather.tmean[month == 7].mean() - 22.0) < 1.0
    whole = weather.cut(date(2006, 1, 1), date(2027, 1, 1))
    assert abs(whole.rain.sum() / 21 - 1000.0) < 75.0
    assert -35.0 < weather.tmin.min() < -20.0
    assert 33.0 < weather.tmax.max() < 40.0
    last_frosts = []
    for year in range(2006, 2027):
        spring = weather.cut(date(year, 1, 1), date(year, 7, 1))
        last_frosts.append(np.flatnonzero(spring.tmin < 0).max())
    median = date.fromordinal(date(2026, 1, 1).toordinal() + int(np.median(last_frosts)))
    assert date(2026, 5, 7) <= median <= date(2026, 5, 23)


def test_rain_comes_in_spells_and_wet_days_are_cooler_in_summer():
    weather = sample_weather()
    summer = np.isin(months(weather), (6, 7, 8))
    wet = weather.rain > 0
    after_wet = np.append(False, wet[:-1])
    assert wet[summer & after_wet].mean() > wet[summer & ~after_wet].mean() + 0.1
    assert weather.tmax[summer & wet].mean() < weather.tmax[summer & ~wet].mean() - 2.0
    assert (weather.tmax - weather.tmin)[wet].mean() < (weather.tmax - weather.tmin)[~wet].mean()
    longest = []
    for year in range(2006, 2027):
        rain = weather.cut(date(year, 6, 1), date(year, 9, 1)).rain
        best = dry = 0
        for fallen in rain:
            dry = dry + 1 if fallen < 1.0 else 0
            best = max(best, dry)
        longest.append(best)
    assert max(longest) >= 21  # a real drought now and then
    assert min(longest) <= 12  # and summers without one
    storms = weather.rain[summer]
    assert np.sort(storms[storms > 0])[-len(storms) // 20 :].sum() > 0.3 * storms.sum()


def test_memory_of_temperature_from_day_to_day():
    weather = sample_weather()
    days = np.datetime64(weather.start, "D") + np.arange(weather.days)
    of_year = (days - days.astype("datetime64[Y]")).astype(int)
    normal = np.array([weather.tmean[of_year == d].mean() for d in range(366)])
    smooth = np.convolve(np.tile(normal, 3), np.ones(31) / 31, "same")[366:732]
    off = weather.tmean - smooth[of_year]
    assert 0.5 < np.corrcoef(off[:-1], off[1:])[0, 1] < 0.8
