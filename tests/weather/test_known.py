"""Nothing is known from after today; past years stand for the future only when they can."""

from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.errors import WeatherGapError
from fruitcast.weather.daily import Source, same_day
from fruitcast.weather.formats import read_weather_file
from fruitcast.weather.known import (
    as_known_on,
    complete_past,
    known_weather,
    rain_for_members,
    usable_years,
    with_rain_gauge,
)
from tests.requires import need_file
from tests.weather.tables import NAN, same, steady, table, without

TODAY = date(2027, 5, 3)
YESTERDAY = TODAY - timedelta(days=1)


def long(first_year=2010, **options):
    return steady(date(first_year, 1, 1), YESTERDAY, **options)


def run(first, days):
    return [first + timedelta(days=d) for d in range(days)]


def test_rows_from_today_on_are_dropped_with_a_warning():
    known = as_known_on(steady(date(2027, 4, 1), date(2027, 5, 5)), TODAY)
    assert known.end == YESTERDAY
    assert known.notes == (
        "3 days dated 2027-05-03 or later and not marked as forecast were left out: 2027-05-03, "
        "2027-05-04, 2027-05-05.",
    )


def test_what_comes_after_today_changes_nothing():
    whole = steady(date(2027, 4, 1), date(2027, 6, 30))
    whole.rain[whole.index(TODAY) :] = 99.0
    assert same(as_known_on(whole, TODAY), as_known_on(whole.cut(date(2027, 4, 1), TODAY), TODAY))


def with_forecast(days, gap=None):
    start = date(2027, 4, 30)
    codes = [1, 1, 1] + [3] * days
    columns = {name: [5.0] * len(codes) for name in ("tmin", "rain")}
    columns["tmax"] = [15.0] * len(codes)
    if gap is not None:
        columns["rain"][3 + gap] = NAN
    sources = {f"{name}_source": codes for name in ("tmin", "tmax", "rain", "tmean")}
    return table(start, **columns, **sources)


def test_sixteen_days_of_forecast_at_most():
    assert as_known_on(with_forecast(5), TODAY).end == TODAY + timedelta(days=4)
    assert as_known_on(with_forecast(5), TODAY).notes == ()
    known = as_known_on(with_forecast(20), TODAY)
    assert known.end == TODAY + timedelta(days=15)
    assert (known.sources["rain"][3:] == Source.FORECAST).all()
    assert known.notes == (
        "Of the forecast, 4 days past the first 16 or behind a gap were left out.",
    )


def test_a_forecast_ends_at_its_first_gap():
    known = as_known_on(with_forecast(6, gap=2), TODAY)
    assert known.end == TODAY + timedelta(days=1)
    # Only today may lack: a forecast made during the day begins tomorrow.
    late = as_known_on(with_forecast(6, gap=0), TODAY)
    assert late.end == TODAY + timedelta(days=5) and np.isnan(late.rain[late.index(TODAY)])


def test_a_table_that_stops_early_reaches_to_yesterday_with_missing_days():
    known = as_known_on(steady(date(2027, 4, 1), date(2027, 4, 29)), TODAY)
    assert known.end == YESTERDAY
    assert np.isnan(known.rain[-3:]).all()
    assert not np.isnan(known.rain[-4])


def test_weather_that_begins_in_the_future_is_an_error():
    with pytest.raises(WeatherGapError, match="begins on 2027-05-03, but nothing from 2027-05-03"):
        as_known_on(steady(TODAY, date(2027, 6, 1)), TODAY)


def test_the_growers_gauge_overrides_the_table():
    weather = without(long(2026), "rain", date(2027, 4, 2))
    gauge = {date(2027, 4, 1): 31.0, date(2027, 4, 2): 0.0, TODAY: 50.0, date(1999, 1, 1): 9.0}
    gauged = with_rain_gauge(weather, gauge, TODAY)
    assert gauged.rain[gauged.index(date(2027, 4, 1))] == 31.0
    assert gauged.rain[gauged.index(date(2027, 4, 2))] == 0.0
    assert gauged.sources["rain"][gauged.index(date(2027, 4, 2))] == Source.OBSERVED
    assert gauged.notes == ("The yard's own rain gauge gives the rain of 2 days.",)
    assert weather.rain[weather.index(date(2027, 4, 1))] == 2.0


def test_a_gauge_reading_of_today_does_not_cut_the_forecast():
    gauged = with_rain_gauge(as_known_on(with_forecast(5), TODAY), {TODAY: 50.0}, TODAY)
    assert gauged.rain[gauged.index(TODAY)] == 5.0


def test_years_whose_days_ahead_are_all_past_are_usable():
    assert usable_years(long(), TODAY, 217)[0] == tuple(range(2010, 2027))
    # 364 days from 3 May 2026 end on 1 May 2027; 365 end yesterday; 366 would reach into today.
    assert usable_years(long(), TODAY, 365)[0][-1] == 2026
    assert usable_years(long(), TODAY, 366)[0][-1] == 2025


def test_a_year_that_begins_after_todays_calendar_day_is_not_usable():
    assert usable_years(steady(date(2010, 5, 4), YESTERDAY), TODAY, 100)[0][0] == 2011
    assert usable_years(steady(date(2010, 5, 3), YESTERDAY), TODAY, 100)[0][0] == 2010


def test_a_fifth_of_rain_may_be_missing_but_no_more():
    days = run(date(2015, 5, 3), 21)
    enough = without(long(), "rain", *days[:20])
    assert 2015 in usable_years(enough, TODAY, 100)[0]
    years, notes = usable_years(without(long(), "rain", *days), TODAY, 100)
    assert 2015 not in years
    assert notes == (
        "The year 2015 was left out: 21 days of the 100 from 2015-05-03 on lack rain, more than "
        "20%: 2015-05-03, 2015-05-04, 2015-05-05 and 18 more.",
    )


def test_a_year_with_a_long_gap_of_temperature_is_left_out_and_a_short_one_kept():
    short = without(long(), "tmin", *run(date(2015, 6, 1), 10))
    assert 2015 in usable_years(short, TODAY, 100)[0]
    years, notes = usable_years(without(long(), "tmin", *run(date(2015, 6, 1), 11)), TODAY, 100)
    assert 2015 not in years
    assert notes == (
        "The year 2015 was left out: 11 days of the 100 from 2015-05-03 on lack temperature, more "
        "than 10%: 2015-06-01, 2015-06-02, 2015-06-03 and 8 more.",
    )


def test_an_outage_in_one_of_three_years_is_borne():
    weather = steady(date(2024, 1, 1), YESTERDAY)
    days = run(date(2025, 7, 4), 9)
    weather = without(without(weather, "tmin", *days), "rain", *days)
    known, years = known_weather(weather, TODAY, 217, {})
    assert years == (2024, 2025, 2026)
    assert any(
        "temperature of 9 days (2025-07-04, 2025-07-05, 2025-07-06 and 6 more)" in note
        for note in known.notes
    )


def test_a_gap_is_filled_with_another_years_days_that_follow_on_those_beside_it():
    weather = steady(date(2024, 1, 1), YESTERDAY)
    days = run(date(2025, 7, 4), 9)
    beside = weather.index(days[0]) - 1
    for name in ("tmin", "tmax", "tmean"):
        for n, day in enumerate(days):  # 2024 has warm and cold days then
            weather.values[name][weather.index(day.replace(year=2024))] += (-2.0) ** (n % 3)
        weather.values[name][beside] += 10.0
    filled = complete_past(without(weather, "tmax", *days), (2024, 2025, 2026), TODAY)
    row = filled.index(days[0])
    over = filled.tmean[row : row + 9] - 13.0 - (-2.0) ** (np.arange(9) % 3)
    # The day before was 10 degC warmer than in 2024: of that a share of 0.7 lasts for a day.
    np.testing.assert_allclose(over[:4], 10.0 * 0.7 ** np.arange(1, 5), atol=0.1)
    assert 0 <= over[-1] < 0.3
    np.testing.assert_allclose(filled.tmax[row : row + 9] - filled.tmin[row : row + 9], 10.0)


def test_a_hidden_gap_is_filled_nearer_than_by_the_other_year_as_it_was():
    weather = read_weather_file(need_file("aquacrop", "data/champion_climate.txt"))
    weather = weather.cut(date(2014, 1, 1), date(2018, 5, 1))
    years, filled, plain, steps = (2014, 2015, 2016, 2017), [], [], []
    for start in run(date(2014, 7, 1), 1200)[::30]:
        days = run(start, 9)
        hidden = without(without(weather, "tmin", *days), "tmean", *days)
        made = complete_past(hidden, years, date(2018, 5, 1))
        rows = slice(weather.index(start), weather.index(start) + 9)
        donor = min((y for y in years if y != start.year), key=lambda y: (abs(y - start.year), y))
        other = weather.index(start.replace(year=donor))
        filled.append(made.tmean[rows] - weather.tmean[rows])
        plain.append(weather.tmean[other : other + 9] - weather.tmean[rows])
        steps.append((np.diff(made.tmean[rows]), np.diff(weather.tmean[rows])))
    error, as_it_was = np.std(filled), np.std(plain)
    assert error < 0.97 * as_it_was
    # Days differ from one another as they do.
    ours, true = (np.std([pair[n] for pair in steps]) for n in (0, 1))
    assert ours == pytest.approx(true, rel=0.15)


def test_fewer_than_three_years_are_an_error_with_count_and_remedy():
    weather = steady(date(2025, 1, 1), YESTERDAY, origin="hollow.csv")
    with pytest.raises(
        WeatherGapError,
        match=r"hollow\.csv \(2025-01-01 to 2027-05-02\) has 2 usable past years for the 217 days "
        r"from 2027-05-03 on, and 3 are the least\. Take in a longer record \('fruitcast weather",
    ):
        usable_years(weather, TODAY, 217)


def test_forty_percent_of_rain_missing_throughout_is_an_error():
    gaps = [day for day in run(date(2010, 1, 1), 6330) if day.toordinal() % 5 < 2]
    weather = without(long(), "rain", *(day for day in gaps if day < date(2027, 3, 1)))
    with pytest.raises(WeatherGapError, match=r"has 0 usable past years.*lack rain, more than 20%"):
        usable_years(weather, TODAY, 217)
    with pytest.raises(WeatherGapError, match="24 of the last 60 days before 2027-05-03 lack"):
        usable_years(without(long(), "rain", *(d for d in gaps if d <= YESTERDAY)), TODAY, 217)


def test_few_years_are_told():
    years, notes = usable_years(long(2020), TODAY, 100)
    assert len(years) == 7
    assert notes[0].startswith("Only 7 past years of weather are usable")
    assert usable_years(long(2017), TODAY, 100)[1] == ()


def test_three_of_the_last_sixty_days_may_be_missing():
    weather = without(long(), "rain", date(2027, 4, 1))
    weather = without(weather, "tmax", date(2027, 4, 1), date(2027, 4, 3), date(2027, 5, 1))
    usable_years(weather, TODAY, 100)
    with pytest.raises(
        WeatherGapError,
        match=r"weather\.csv: 4 of the last 60 days before 2027-05-03 lack temperature or rain "
        r"\(2027-03-04, 2027-04-01, 2027-04-03 and 1 more\), and 3 are the most\. "
        r"Take in a file that has these",
    ):
        usable_years(without(weather, "tmin", date(2027, 3, 4)), TODAY, 100)
    usable_years(without(weather, "tmin", date(2027, 3, 3)), TODAY, 100)


def lagging(days, **options):
    end = YESTERDAY - timedelta(days=days)
    return as_known_on(steady(date(2010, 1, 1), end, **options), TODAY)


def test_a_table_may_lag_three_weeks_behind():
    years = usable_years(lagging(21), TODAY, 100)[0]
    assert years[-1] == 2026
    with pytest.raises(
        WeatherGapError,
        match=r"old\.csv ends on 2027-04-10 and lacks the 22 days since; "
        r"with more than 21.*Take in newer weather.*--today 2027-04-11",
    ):
        usable_years(lagging(22, origin="old.csv"), TODAY, 100)


def test_no_day_is_advised_on_which_it_would_be_refused_too():
    weather = without(lagging(30), "tmin", *run(date(2027, 3, 20), 4))
    with pytest.raises(WeatherGapError) as error:
        usable_years(weather, TODAY, 100)
    assert "--today" not in str(error.value)


def test_days_that_the_table_has_not_reached_are_as_usual_in_the_account():
    weather = lagging(2)
    for year, rain in ((2024, 0.0), (2025, 90.0), (2026, 7.0)):
        weather.rain[weather.index(date(year, 5, 1))] = rain
        weather.tmin[weather.index(date(year, 5, 1))] = rain / 10
        weather.tmean[weather.index(date(year, 5, 1))] = (rain / 10 + 18.0) / 2
    known = complete_past(weather, (2024, 2025, 2026), TODAY)
    # Not the storm of one year, nor what fell on average, and the usual warmth.
    assert known.rain[-2:].tolist() == [7.0, 2.0]
    assert known.tmin[-2] == pytest.approx((0.0 + 9.0 + 0.7) / 3)
    assert known.tmean[-2] == pytest.approx((known.tmin[-2] + 18.0) / 2)
    for name in ("tmin", "tmax", "tmean", "rain"):
        assert (known.sources[name][-2:] == Source.AWAITED).all()
        assert known.sources[name][-3] == Source.OBSERVED
    assert known.notes == (
        "The last 2 days, from 2027-05-01 on, aren't in the weather yet: each possible season "
        "takes its own.",
    )


def test_what_is_known_of_a_late_day_stays():
    weather = with_rain_gauge(lagging(3), {date(2027, 5, 1): 40.0}, TODAY)
    known = complete_past(weather, (2024, 2025, 2026), TODAY)
    assert known.rain[-3:].tolist() == [2.0, 40.0, 2.0]
    awaited, observed = Source.AWAITED, Source.OBSERVED
    assert known.sources["rain"][-3:].tolist() == [awaited, observed, awaited]
    assert (known.sources["tmin"][-3:] == awaited).all()


def test_a_table_that_lags_long_is_asked_for_anew():
    (short,) = complete_past(lagging(7), (2024, 2025, 2026), TODAY).notes
    (long_ago,) = complete_past(lagging(8), (2024, 2025, 2026), TODAY).notes
    assert "take in newer weather" not in short
    assert "take in newer weather" in long_ago


def test_leap_day_as_today():
    today = date(2028, 2, 29)
    weather = steady(date(2015, 1, 1), today - timedelta(days=1))
    assert usable_years(weather, today, 367)[0] == tuple(range(2015, 2027))
    assert usable_years(weather, today, 366)[0] == tuple(range(2015, 2028))
    assert same_day(today, 2027) == date(2027, 2, 28)
    assert same_day(today, 2024) == date(2024, 2, 29)


def by_year(start, end):
    """Return weather whose rain on every day is the year less 2000, so that donors show."""
    weather = steady(start, end)
    for row in range(weather.days):
        weather.rain[row] = weather.day(row).year - 2000
        weather.tmin[row] = (weather.day(row).year - 2000) / 10
    return weather


def test_missing_rain_is_the_same_calendar_day_of_the_nearest_usable_year():
    whole = by_year(date(2010, 1, 1), YESTERDAY)
    days = (date(2013, 7, 1), date(2013, 7, 2), date(2013, 7, 3), date(2027, 4, 1))
    weather = without(whole, "rain", *days, date(2012, 7, 1), date(2014, 7, 2))
    filled = rain_for_members(weather, tuple(range(2011, 2027)), TODAY)
    assert filled.rain[filled.index(date(2013, 7, 1))] == 14.0  # 2012 lacks it too
    assert filled.rain[filled.index(date(2013, 7, 2))] == 12.0  # 2014 lacks it too
    assert filled.rain[filled.index(date(2013, 7, 3))] == 12.0  # of two as near, the earlier
    assert filled.rain[filled.index(date(2027, 4, 1))] == 26.0
    assert filled.sources["rain"][filled.index(date(2013, 7, 1))] == Source.FILLED
    assert not np.isnan(filled.rain).any()
    assert filled.notes == (
        "Missing rain of 6 days is that of the same calendar day in the nearest usable year.",
    )


def test_a_missing_leap_day_takes_the_28th_of_another_year():
    weather = without(by_year(date(2010, 1, 1), YESTERDAY), "rain", date(2016, 2, 29))
    filled = rain_for_members(weather, (2013, 2014), TODAY)
    assert filled.rain[filled.index(date(2016, 2, 29))] == 14.0


def test_rain_that_no_year_knows_is_an_error_not_a_dry_day():
    gaps = [date(year, 1, 1) + timedelta(days=d) for year in range(2010, 2028) for d in range(40)]
    weather = without(long(), "rain", *gaps)
    with pytest.raises(WeatherGapError, match="no usable year knows the rain around 16 January"):
        rain_for_members(weather, (2011, 2012), TODAY)


def test_longer_gaps_of_temperature_are_completed_for_the_past_of_old_logs():
    weather = without(by_year(date(2010, 1, 1), YESTERDAY), "tmin", *run(date(2013, 7, 1), 30))
    filled = complete_past(weather, (2011, 2012, 2015), TODAY)
    rows = slice(filled.index(date(2013, 7, 1)), filled.index(date(2013, 7, 31)))
    # 2012's 1.2, and at the edges some of the half of 0.1 that 2013 is warmer.
    np.testing.assert_allclose(filled.tmin[rows][5:-5], 1.2, atol=0.011)
    np.testing.assert_allclose(filled.tmin[rows][[0, -1]], 1.2 + 0.05 * 0.7, atol=0.011)
    np.testing.assert_allclose(filled.tmean[rows], (filled.tmin[rows] + filled.tmax[rows]) / 2)
    assert (filled.sources["tmean"][rows] == Source.FILLED).all()
    assert np.isfinite(filled.tmean).all()


def test_forecast_rows_are_never_filled_in():
    weather = without(with_forecast(3), "rain", TODAY)
    assert np.isnan(complete_past(weather, (2020,), TODAY).rain[3])


def test_all_that_planning_may_know():
    weather = steady(date(2010, 1, 1), date(2027, 12, 31))
    weather = without(weather, "rain", date(2014, 8, 8), date(2027, 4, 1), date(2027, 4, 2))
    weather = without(weather, "tmin", *run(date(2012, 1, 1), 20), date(2027, 4, 20))
    known, years = known_weather(weather, TODAY, 217, {date(2027, 4, 2): 40.0})
    assert years == tuple(range(2010, 2027))
    assert (known.start, known.end) == (date(2010, 1, 1), YESTERDAY)
    for name in ("tmin", "tmax", "tmean", "rain"):
        assert np.isfinite(known.values[name]).all()
    assert known.rain[known.index(date(2027, 4, 2))] == 40.0
    assert len(known.notes) == 5


def test_a_real_record_on_a_day_inside_it():
    # Champion, Nebraska, 1982-2018, from the installed aquacrop package.
    weather = read_weather_file(need_file("aquacrop", "data/champion_climate.txt"))
    today = date(2018, 5, 1)
    known, years = known_weather(weather, today, 217, {})
    assert years == tuple(range(1982, 2018))
    cut, years_of_cut = known_weather(weather.cut(weather.start, today), today, 217, {})
    assert same(known, cut)
    assert years == years_of_cut
