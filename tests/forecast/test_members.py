"""Possible futures: past years' weather on the coming calendar days."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.errors import WeatherGapError
from fruitcast.forecast.members import BLOCK_DAYS, LEAST_MEMBERS, make_futures
from fruitcast.forecast.parts import standard_normals
from fruitcast.topics import ForecastNumbers
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.weather.known import ENOUGH_YEARS
from tests.weather.tables import table

FIRST, LAST = date(2010, 1, 1), date(2027, 12, 31)


def dated(past: date) -> DailyWeather:
    """Weather whose highest temperature tells the day of the year, and its rain the year."""
    days = [FIRST + timedelta(days=n) for n in range((past - FIRST).days)]
    return table(
        FIRST,
        tmin=[0.0] * len(days),
        tmax=[day.timetuple().tm_yday / 10 for day in days],
        rain=[float(day.year - 2000) for day in days],
    )


def futures(today=date(2027, 5, 3), years=tuple(range(2011, 2026)), **options):
    given = {"lookback": 30, "days_ahead": 200, "seed": 1} | options
    return make_futures(given.pop("weather", dated(today)), today, years, **given)


def own_years(made, values):
    """Return the real years that members follow, and their values of one day."""
    years = [year for year in made.years if year > 0]
    return years, values[: len(years)].tolist()


def with_forecast(weather: DailyWeather, days: int) -> DailyWeather:
    """The same weather with some days of forecast behind it: 40 mm each."""
    values = {n: np.append(v, np.full(days, 40.0)) for n, v in weather.values.items()}
    code = np.full(days, Source.FORECAST, dtype=np.int8)
    sources = {n: np.append(s, code).astype(np.int8) for n, s in weather.sources.items()}
    return replace(weather, values=values, sources=sources)


def test_each_member_follows_its_year_over_the_same_calendar_days():
    made = futures()
    assert made.years[:15] == tuple(range(2011, 2026))
    assert made.date(made.lookback) == date(2027, 5, 3)
    for row in range(made.lookback, made.days):
        # The days run on as they did then: across a leap day they are one off at most.
        day = made.date(row).timetuple().tm_yday / 10
        assert np.abs(made.tmax[row] - day).max() <= 0.1 + 1e-9
    years, rain = own_years(made, made.rain[made.lookback])
    assert rain == [y - 2000 for y in years]


def test_the_days_before_today_are_the_same_in_all_members():
    made = futures()
    assert (made.rain[: made.lookback] == 27).all()
    assert (np.ptp(made.tmax[: made.lookback], axis=1) == 0).all()


def awaiting(weather: DailyWeather, days: int) -> DailyWeather:
    """The same weather, the last days of which aren't known yet."""
    sources = {name: codes.copy() for name, codes in weather.sources.items()}
    for codes in sources.values():
        codes[-days:] = Source.AWAITED
    return replace(weather, sources=sources)


def test_late_days_are_those_of_each_members_own_year():
    today = date(2027, 5, 3)
    made = futures(weather=awaiting(dated(today), 2))
    known = made.lookback - 2
    assert (made.late, made.date(known)) == (2, date(2027, 5, 1))
    assert (made.rain[:known] == 27).all()
    for row in range(known, made.lookback + 1):
        years, rain = own_years(made, made.rain[row])
        assert rain == [year - 2000 for year in years]
    # From today on nothing is otherwise than if they were known.
    assert (made.rain[made.lookback :] == futures().rain[made.lookback :]).all()


def test_what_is_known_of_a_late_day_is_so_in_every_member():
    weather = awaiting(dated(date(2027, 5, 3)), 2)
    weather.sources["rain"][-1] = Source.OBSERVED
    made = futures(weather=weather)
    assert (made.rain[made.lookback - 1] == 27).all()
    assert np.ptp(made.rain[made.lookback - 2]) > 0


def test_warmth_follows_on_the_last_day_that_is_known():
    weather = awaiting(dated(date(2027, 5, 3)), 2)
    last = weather.days - 3
    for name in ("tmin", "tmax", "tmean"):
        weather.values[name][last] += 8.0
    made = futures(weather=weather, error=ForecastNumbers(persistence=0.5))
    own = awaiting(dated(date(2027, 5, 3)), 2).tmean[last - 365 * 2]
    assert made.tmean[made.lookback - 2].mean() - own == pytest.approx(4.0, abs=0.2)
    assert made.tmean[made.lookback - 1].mean() - own == pytest.approx(2.0, abs=0.2)


def test_late_days_before_a_forecast_are_each_members_own():
    today = date(2027, 5, 3)
    made = futures(weather=with_forecast(awaiting(dated(today), 2), 3))
    assert own_years(made, made.rain[made.lookback - 1])[1] == list(range(11, 26))
    assert (made.rain[made.lookback] == 40).all()


def test_made_up_members_keep_their_weather_when_days_come_in_late():
    today = date(2027, 5, 3)
    options = {"years": (2023, 2024, 2025), "today": today}
    there, late = futures(**options), futures(weather=awaiting(dated(today), 4), **options)
    assert (there.rain[there.lookback :] == late.rain[late.lookback :]).all()


def test_a_horizon_over_new_year_runs_on_into_the_next_year():
    made = futures(today=date(2027, 11, 10), years=tuple(range(2011, 2025)))
    new_year = made.lookback + (date(2028, 1, 1) - date(2027, 11, 10)).days
    years, rain = own_years(made, made.rain[new_year])
    assert rain == [y + 1 - 2000 for y in years]
    assert made.day_of_year[new_year] == 1
    assert made.tmax[new_year, 0] == pytest.approx(0.1)


def test_29_february_begins_on_the_28th_in_other_years():
    today = date(2024, 2, 29)
    made = futures(today=today, years=tuple(range(2011, 2023)), weather=dated(today))
    years, warmest = own_years(made, made.tmax[made.lookback])
    assert warmest == pytest.approx([6.0 if year % 4 == 0 else 5.9 for year in years])


def test_all_members_share_the_forecast():
    made = futures(weather=with_forecast(dated(date(2027, 5, 3)), 6))
    assert made.known_days == 6
    ahead = made.rain[made.lookback :]
    assert (ahead[:6] == 40).all()
    years, rain = own_years(made, ahead[6])
    assert rain == [y - 2000 for y in years]


def test_few_years_are_filled_up_from_blocks_of_their_days():
    made = futures(years=(2012, 2015, 2019))
    assert len(made.years) == LEAST_MEMBERS
    assert made.years[:3] == (2012, 2015, 2019)
    assert made.years[3:] == tuple(range(-1, 2 - LEAST_MEMBERS, -1))
    assert "Only 3 past years" in made.notes[0]
    ahead = slice(made.lookback, made.days)
    for member in range(3, LEAST_MEMBERS):
        # Every day is that calendar day of one of the years, whole blocks from one year.
        from_year = made.rain[ahead, member]
        assert set(from_year) <= {12.0, 13.0, 15.0, 16.0, 19.0, 20.0}
        block = [
            made.date(row).toordinal() // BLOCK_DAYS for row in range(made.lookback, made.days)
        ]
        switches = np.flatnonzero(np.diff(from_year))
        new_year = (date(2027, 12, 31) - made.today).days
        assert all(block[n] != block[n + 1] or n == new_year for n in switches)
    assert len({made.rain[ahead, m].tobytes() for m in range(3, LEAST_MEMBERS)}) > 1
    # Enough years for a range want no word; a single one has nothing to be put together from.
    assert not futures(years=tuple(range(2012, 2012 + ENOUGH_YEARS))).notes
    assert futures(years=(2012,) * ENOUGH_YEARS).years == (2012,) * ENOUGH_YEARS


def test_made_up_members_keep_their_weather_when_planned_a_day_later():
    years = (2012, 2015, 2019)
    early, late = futures(years=years), futures(today=date(2027, 5, 4), years=years)
    shared = early.days - early.lookback - 1
    a = early.rain[early.lookback + 1 :][: shared - 1]
    b = late.rain[late.lookback :][: shared - 1]
    assert (a == b).all()


def test_weather_that_ends_too_soon_is_named():
    with pytest.raises(WeatherGapError, match="runs from 2010-01-01 to 2027-05-02"):
        futures(today=date(2027, 5, 5), weather=dated(date(2027, 5, 3)))
    with pytest.raises(WeatherGapError, match="the weather of 2026 does not cover the 400 days"):
        futures(years=(2024, 2025, 2026), days_ahead=400)


def test_draws_belong_to_seed_year_name_and_date_alone():
    first, rows = date(2027, 3, 1), np.arange(0, 400, 7)
    years = (2001, 2002, 2003)
    drawn = standard_normals(1, years, "oak lead", first, rows)
    other = standard_normals(1, (2003, 2009, 2001), "oak lead", first, rows)
    assert (drawn[:, [2, 0]] == other[:, [0, 2]]).all()
    later = standard_normals(1, years, "oak lead", date(2027, 3, 8), rows[:-1])
    assert (later == drawn[1:]).all()
    for changed in (
        standard_normals(2, years, "oak lead", first, rows),
        standard_normals(1, years, "oak yield", first, rows),
        standard_normals(1, (2004, 2005, 2006), "oak lead", first, rows),
    ):
        assert not (changed == drawn).any()


def test_draws_are_standard_normal():
    drawn = standard_normals(3, tuple(range(1900, 2000)), "x", date(2020, 1, 1), np.arange(366))
    assert drawn.mean() == pytest.approx(0, abs=0.02)
    assert drawn.std() == pytest.approx(1, abs=0.02)
    # Neighbouring days and years don't go together.
    assert np.corrcoef(drawn[:-1].ravel(), drawn[1:].ravel())[0, 1] == pytest.approx(0, abs=0.02)
    assert np.corrcoef(drawn[:, 0], drawn[:, 1])[0, 1] == pytest.approx(0, abs=0.15)
