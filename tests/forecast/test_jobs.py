"""Jobs of picking and of care, and who wants water."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fruitcast.app.planning import make_plan
from fruitcast.biology.wood import dry_from_wet
from fruitcast.diary.state import Pick, SampleLog, Soak, StackState
from fruitcast.forecast.jobs import (
    PickWindow,
    care_jobs,
    picking_jobs,
    pins_rows,
    thirsty_stacks,
    windows_under_way,
)
from fruitcast.soaks.reasons import hold_words
from fruitcast.soaks.search import SearchParams
from fruitcast.weather.daily import DailyWeather, Source
from fruitcast.words import day_words, percent_words
from tests.forecast.yards import NUMBERS, UNTAUGHT, known, look, stack, yard
from tests.weather.tables import steady

TODAY = date(2027, 7, 12)
OLD = stack(inoculated=date(2023, 4, 5))


def day(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def weather(*, tmin=12.0, tmax=24.0, rain=3.0, forecast=(), hot=()) -> DailyWeather:
    """Steady weather up to yesterday, and a forecast of rain day by day; some of it hot."""
    past = steady(date(2011, 1, 1), day(-1), tmin=tmin, tmax=tmax, rain=rain)
    count = len(forecast)
    ahead = {
        "tmin": [tmin] * count,
        "tmax": [31.0 if n in hot else tmax for n in range(count)],
        "tmean": [(tmin + tmax) / 2] * count,
        "rain": list(forecast),
        "rh": [np.nan] * count,
    }
    values = {name: np.append(v, ahead[name]) for name, v in past.values.items()}
    code = np.full(count, Source.FORECAST, dtype=np.int8)
    sources = {name: np.append(s, code).astype(np.int8) for name, s in past.sources.items()}
    return replace(past, values=values, sources=sources)


def fruiting_now() -> StackState:
    return StackState("A", 24, fruiting_on=day(-1), natural_seen_on=day(-1))


def jobs(*states, row=OLD, table=None, numbers=NUMBERS, **options):
    table = table or weather()
    outlook = look(yard(row, **options), *states, weather=table, today=TODAY, learned=UNTAUGHT)
    windows = windows_under_way(outlook)
    picking = picking_jobs(windows, outlook.futures, "metric", numbers.picking)
    return [*picking, *care_jobs(replace(outlook, numbers=numbers))]


def kinds(found):
    return sorted(job.kind for job in found)


# --- picking ---------------------------------------------------------------------------------


def test_rain_forecast_on_open_caps_asks_for_a_cover():
    (job,) = jobs(fruiting_now(), table=weather(forecast=(0, 12, 20, 0, 0)))
    assert (job.kind, job.stack, job.on, job.until) == ("cover", "A", day(1), day(2))
    assert job.reason.startswith("20 mm of rain forecast on open caps")


def test_no_cover_without_rain_without_a_forecast_or_without_mushrooms():
    assert jobs(fruiting_now(), table=weather(forecast=(0, 3, 0))) == []
    assert jobs(fruiting_now(), table=weather(rain=12.0)) == []  # the years' rain is no forecast
    assert jobs(table=weather(forecast=(0, 12, 0))) == []


def test_rain_after_the_flush_is_over_asks_for_no_cover():
    dry_then_wet = (0,) * 14 + (30, 30)
    assert jobs(fruiting_now(), table=weather(forecast=dry_then_wet)) == []


def test_two_spells_of_rain_are_two_jobs():
    found = jobs(fruiting_now(), table=weather(forecast=(12, 0, 12, 0)))
    assert [(job.on, job.until) for job in found] == [(day(0), day(0)), (day(2), day(2))]


def test_heat_asks_to_pick_twice():
    (job,) = jobs(fruiting_now(), table=weather(forecast=(0,) * 4, hot=(0, 1)))
    assert (job.kind, job.on, job.until) == ("pick twice", day(0), day(1))
    assert "31 °C" in job.reason


def test_heat_that_most_years_have_is_reckoned_with_too():
    found = jobs(fruiting_now(), table=weather(tmax=30.0, tmin=14.0))
    assert kinds(found) == ["pick twice"]


def test_a_planned_soak_gets_its_pins_day_and_its_cover():
    table = weather(forecast=(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 15, 15, 15, 15))
    now = known(yard(OLD), weather=table, today=TODAY)
    quick = SearchParams(moves=5_000, moves_a_stack=0)
    document = make_plan(now, weeks=1, params=quick).document.plain()
    soak = document["soaks"][0]
    assert soak["pull_on"] < soak["pins_on"] < soak["pick"]["p50"]
    # 24 h in water, 40 of 100 degree-days at 13 a day.
    pins = date.fromisoformat(soak["pins_on"]) - date.fromisoformat(soak["pull_on"])
    assert pins.days == pytest.approx(40 / 13, abs=1)
    assert day(10).isoformat() <= soak["cover"]["from"] <= soak["cover"]["to"]
    assert [job["job"] for job in document["jobs"]] == ["cover"]
    assert document["jobs"][0]["on"] == soak["cover"]["from"]


def test_pins_come_before_the_pick_by_the_warmth():
    warmth = np.concatenate([[[0.0]], np.cumsum(np.full((30, 1), 10.0), axis=0)])
    assert pins_rows(warmth, 5, np.array([15]), pins_share=NUMBERS.forced.pins_share).tolist() == [
        9
    ]


def test_a_flush_in_few_members_asks_for_nothing():
    outlook = look(yard(OLD), weather=weather(forecast=(20.0,) * 3), today=TODAY)
    today, members = outlook.futures.lookback, len(outlook.futures.years)
    pick = np.full(members, today)
    comes = np.arange(members) < 0.2 * members
    window = PickWindow("A", pick, pick + 3, comes)
    assert picking_jobs([window], outlook.futures, "us", NUMBERS.picking) == []
    sure = PickWindow("A", pick, pick + 3, np.ones(members, dtype=bool))
    assert kinds(picking_jobs([sure], outlook.futures, "us", NUMBERS.picking)) == ["cover"]


# --- care ------------------------------------------------------------------------------------


def test_logs_presumed_dead_are_to_be_inspected():
    parched = weather(rain=0.0, tmax=30.0)
    (job,) = [j for j in jobs(table=parched, keep_above=None) if j.kind == "inspect"]
    assert job.on == TODAY and "presumed dead" in job.reason and "23%" in job.reason


def test_one_day_and_one_share_of_a_spawn_run_are_told():
    # The day and the share are those that the plan goes by: the only ones told anywhere.
    row = stack(inoculated=date(2026, 12, 1))
    (found,) = [job for job in jobs(row=row) if job.kind == "inspect"]
    (stands,) = look(yard(row), weather=weather(), today=TODAY, learned=UNTAUGHT).stacks
    (hold,) = [hold for hold in stands.holds if hold.cause == "spawn run"]
    share, on = percent_words(stands.spawn.progress), hold.until
    assert stands.spawn.ready.p50 <= TODAY < on
    assert f"is {share} done, most likely by {day_words(on)}" in found.reason
    assert f"{share}, most likely done by {day_words(on)}" in hold_words(hold, stands)


def test_a_spawn_run_that_should_be_done_is_to_be_looked_at_once():
    row = stack(inoculated=date(2026, 7, 20))
    found = [job for job in jobs(row=row) if job.kind == "inspect"]
    assert len(found) == 1 and "white ends" in found[0].reason
    assert found[0].reason.endswith("; 'fruitcast record inspect STACK spawn run done' records it")
    lately = StackState("A", 24, inspected_on=day(-10), findings=("white ends",))
    assert [job for job in jobs(lately, row=row) if job.kind == "inspect"] == []
    done = StackState("A", 24, inspected_on=day(-40), spawn_run_seen_on=day(-40))
    assert [job for job in jobs(done, row=row) if job.kind == "inspect"] == []
    assert [job for job in jobs() if job.kind == "inspect"] == []  # an old stack


def test_competitor_moulds_are_to_be_looked_at_again():
    state = StackState("A", 24, inspected_on=day(-25), findings=("competitor moulds",))
    (job,) = jobs(state)
    assert (job.kind, job.on) == ("inspect", day(3))
    fresh = StackState("A", 24, inspected_on=day(-5), findings=("competitor moulds",))
    assert jobs(fresh) == []


def test_the_grower_says_how_long_an_inspection_holds_and_how_likely_a_flush_must_be():
    fresh = StackState("A", 24, inspected_on=day(-5), findings=("competitor moulds",))
    (job,) = jobs(fresh, numbers=NUMBERS.with_overrides({"care.inspect_days": 8}))
    assert (job.kind, job.on) == ("inspect", day(3))
    futures = look(yard(OLD), weather=weather(forecast=(20, 0)), today=TODAY).futures
    members = len(futures.years)
    today = np.full(members, futures.lookback)
    some = np.arange(members) < 0.4 * members  # a flush open in four futures of ten
    window = PickWindow("A", today, today + 2, some)
    assert kinds(picking_jobs([window], futures, "metric", NUMBERS.picking)) == ["cover"]
    surer = NUMBERS.with_overrides({"picking.open_chance": 0.5})
    assert picking_jobs([window], futures, "metric", surer.picking) == []


def sample(days_ago: int, wet: float = 0.45, since: int = 60) -> StackState:
    return StackState(
        "A",
        24,
        moisture_seen=((day(-days_ago), float(dry_from_wet(wet))),),
        sample_logs=(SampleLog("", day(-since), 13.0, 0.45),),
    )


def test_sample_logs_are_weighed_weekly_in_the_growing_season():
    (job,) = jobs(sample(3))
    assert (job.kind, job.on) == ("weigh", day(4))
    (late,) = jobs(sample(20))
    assert late.on == TODAY
    assert jobs(sample(20), table=weather(tmin=-8.0, tmax=0.0)) == []
    assert jobs() == []  # nobody weighs in this yard


def picks_of_last_season(kg_per_log: float) -> StackState:
    soak = Soak(date(2026, 4, 20), 24, 24.0, date(2026, 4, 21))
    pick = Pick(date(2026, 5, 1), 24 * kg_per_log, "forced", soak.on)
    return StackState("A", 24, soaks=(soak,), picks=(pick,))


def test_logs_that_gave_too_little_in_a_whole_season_are_to_be_retired():
    (job,) = jobs(picks_of_last_season(0.08))
    assert job.kind == "retire" and "80 g a log is below 140 g" in job.reason
    assert jobs(picks_of_last_season(0.3)) == []


def test_a_first_bearing_year_or_a_diary_begun_in_autumn_retires_nothing():
    young = stack(inoculated=date(2025, 10, 1))
    assert jobs(picks_of_last_season(0.08), row=young) == []
    pick = Pick(date(2026, 10, 1), 1.0, "natural")
    assert jobs(StackState("A", 24, picks=(pick,), natural_seen_on=pick.on)) == []


def test_loose_bark_retires_logs():
    state = StackState("A", 24, inspected_on=day(-2), findings=("loose bark",))
    (job,) = jobs(state)
    assert job.kind == "retire" and "bark" in job.reason


def test_logs_taken_out_or_a_look_answer_what_was_asked():
    poor, bark = picks_of_last_season(0.08), ("loose bark",)
    assert kinds(jobs(poor)) == ["retire"]
    assert jobs(replace(poor, lost=((day(-3), 2),))) == []
    assert kinds(jobs(replace(poor, lost=((date(2026, 9, 1), 2),)))) == ["retire"]
    assert jobs(replace(poor, inspected_on=day(-3))) == []
    assert kinds(jobs(replace(poor, inspected_on=day(-40)))) == ["retire"]
    found = StackState("A", 24, inspected_on=day(-3), findings=bark, spawn_run_seen_on=day(-300))
    assert kinds(jobs(found)) == ["retire"]
    assert jobs(replace(found, lost=((day(-3), 2),))) == []
    assert kinds(jobs(replace(found, lost=((day(-4), 2),)))) == ["retire"]


def test_logs_presumed_dead_are_asked_after_until_somebody_looked():
    dry = weather(tmin=18.0, tmax=34.0, rain=0.0)
    assert "inspect" in kinds(jobs(StackState("A", 24), table=dry, keep_above=None))
    seen = StackState("A", 24, inspected_on=day(-1))
    assert "inspect" not in kinds(jobs(seen, table=dry, keep_above=None))


def test_a_stack_without_logs_asks_for_nothing():
    assert jobs(StackState("A", 0, inspected_on=day(-2), findings=("loose bark",))) == []


# --- water -----------------------------------------------------------------------------------


def thirst(*states, table=None, **options):
    outlook = look(yard(OLD, **options), *states, weather=table or weather(), today=TODAY)
    (found,) = thirsty_stacks(outlook)
    return found


def test_moist_logs_in_rain_want_no_water():
    found = thirst(table=weather(rain=6.0))
    assert found.on is None and found.advice.chance_by_day[-1] == 0


def test_a_dry_log_wants_water_today_and_says_why():
    watered = StackState("A", 24, watered=((day(-50), 5.0),))
    found = thirst(watered, table=weather(rain=0.0, tmax=29.0))
    assert found.on == TODAY
    assert found.advice.reason.startswith("log moisture")
    assert "below 35%" in found.advice.reason
    assert found.advice.amount > 0 and found.advice.hours > 0


def test_what_got_water_today_is_asked_for_none_today():
    dry = StackState("A", 24, watered=((day(-50), 5.0),))
    parched = weather(rain=0.0, tmax=29.0)
    watered = thirst(replace(dry, watered=(*dry.watered, (TODAY, 20.0))), table=parched)
    soaked = thirst(replace(dry, soaks=(Soak(TODAY, 24, 24.0, None),)), table=parched)
    assert watered.on is None and soaked.on is None
    before = thirst(dry, table=parched).advice.chance_by_day
    for found in (watered, soaked):
        chance = found.advice.chance_by_day
        assert len(chance) == len(before) and chance[0] == 0 and chance.sum() < before.sum()


def test_the_forecast_tells_the_day_and_the_years_the_chance_beyond():
    table = weather(rain=0.0, tmax=29.0, tmin=19.5, forecast=(0.0,) * 10)
    table.values["rain"][:-13] = 6.0
    found = thirst(table=table)
    # 24 degC and no rain for more than a week: on the eighth dry day.
    assert found.on == day(5)
    assert "no rain" in found.advice.reason
    no_forecast = weather(rain=0.0, tmax=29.0, tmin=19.5)
    no_forecast.values["rain"][:-3] = 6.0
    later = thirst(table=no_forecast)
    assert later.on is None
    chance = later.advice.chance_by_day
    assert (np.diff(chance) >= 0).all()


def test_a_sample_log_a_tenth_lighter_wants_water_whatever_the_model_says():
    # 45 % wet: ten per cent of the weight gone is 38.9 %.
    found = thirst(sample(2, wet=0.38), table=weather(rain=6.0))
    assert found.on == TODAY
    assert found.advice.reason == "its sample log is 11% lighter than at its start"
    assert thirst(sample(2, wet=0.40), table=weather(rain=6.0)).on is None
    # Watered or soaked since, or weighed long ago: no longer in force.
    wetted = replace(sample(2, wet=0.38), watered=((day(-1), 10.0),))
    assert thirst(wetted, table=weather(rain=6.0)).on is None
    assert thirst(sample(9, wet=0.38), table=weather(rain=6.0)).on is None


def test_where_nobody_waters_nothing_is_advised():
    outlook = look(yard(OLD, keep_above=None), weather=weather(rain=0.0), today=TODAY)
    assert thirsty_stacks(outlook) == []
