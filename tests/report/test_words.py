"""What figures show is told in words and rows too: the same numbers, the yard's units."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from fruitcast.diary.plan import Sale
from fruitcast.diary.state import Pick, StackState
from fruitcast.outputs import report_words as words
from fruitcast.outputs.plan_words import stacks_words
from fruitcast.outputs.report_data import dry_courses, season_strip
from fruitcast.outputs.report_parts import Courses, ReportData
from fruitcast.outputs.report_words import week_sheet
from fruitcast.outputs.week import sale_words
from fruitcast.units import format_temperature, format_weight
from fruitcast.words import comes_words, day_words, percent_words, span_words
from tests.outputs.sample_plan import TODAY, diary, plan, soak, yard


def test_the_supply_table_has_every_sale_with_all_that_is_drawn(data: ReportData):
    sales = [entry for entry in data.plan.outlets if entry.outlet == "Saturday market"]
    found = words.supply_table(sales, "us")
    assert len(found.rows) == len(sales) == 24
    first, entry = found.rows[0], sales[0]
    assert first == (
        "Sat 15 May",
        format_weight(entry.target_kg, "us"),
        format_weight(entry.promise_kg, "us"),
        percent_words(entry.chance),
        f"{format_weight(entry.available_p10_kg, 'us')} to "
        f"{format_weight(entry.available_p90_kg, 'us')}",
        format_weight(entry.delivered_kg, "us"),
    )


def test_a_single_order_is_a_sentence():
    order = Sale(
        outlet="Wedding",
        on=date(2027, 6, 19),
        target_kg=4.0,
        delivered_kg=3.5,
        promise_kg=3.0,
        chance=0.7,
        available_p10_kg=2.5,
        available_p90_kg=6.0,
    )
    assert words.order_lines([order], "metric") == (
        "Sat 19 Jun: Wedding, promise 3.0 kg of 4.0 kg (all of it: 70%); likely amount "
        "2.5 kg to 6.0 kg.",
    )


def test_what_was_promised_has_a_column_and_a_sentence_where_anything_was():
    def sale(day: int, given: float | None) -> Sale:
        return Sale(
            outlet="Stall",
            on=date(2027, 6, day),
            target_kg=2.0,
            promise_kg=1.0,
            delivered_kg=1.5,
            chance=0.5,
            available_p10_kg=0.0,
            available_p90_kg=2.0,
            given_kg=given,
        )

    bare = words.supply_table([sale(5, None)], "metric")
    told = words.supply_table([sale(5, None), sale(12, 0.8)], "metric")
    assert "Promised" not in bare.columns and len(bare.columns) == len(bare.rows[0])
    column = told.columns.index("Promised")
    assert [row[column] for row in told.rows] == ["", "800 g"]
    found = words.supply_text([sale(5, None), sale(12, 0.8)], 0.8, "metric")
    assert "Promised already: 800 g for Sat 12 Jun." in found


def test_the_words_of_supply_name_the_days_on_which_least_can_be_promised():
    def sale(day: int, promise: float) -> Sale:
        return Sale(
            outlet="Stall",
            on=date(2027, 6, day),
            target_kg=2.0,
            promise_kg=promise,
            delivered_kg=1.5,
            chance=0.5,
            available_p10_kg=0.0,
            available_p90_kg=2.0,
        )

    found = " ".join(words.supply_text([sale(5, 2), sale(12, 0.4), sale(19, 1.2)], 0.8, "metric"))
    assert "3 sales from Sat 5 Jun to Sat 19 Jun: 6.0 kg wanted, 4.5 kg (75%)" in found
    assert "The full amount can be promised on 1 of 3, with a chance of 80% or more." in found
    assert "Sat 12 Jun: 400 g of 2.0 kg; Sat 19 Jun: 1.2 kg of 2.0 kg." in found


def test_the_season_table_has_every_soak_window_chance_and_wait(data: ReportData, courses: Courses):
    found = words.season_table(data.plan, courses.strip, "us")
    rows = {row[0]: row for row in found.rows}
    assert list(rows) == list(data.state.stacks)
    for entry in data.plan.soaks:
        cells, pick = rows[entry.stack], entry.pick
        days = f"{day_words(entry.soak_on)} to {day_words(entry.pull_on)}"
        assert days in cells[2].split("\n")
        line = (
            f"{day_words(pick.p50)} ({span_words(pick.p10, pick.p90)}), "
            f"{format_weight(entry.expected_kg, 'us')}"
        )
        if comes := comes_words(entry.comes):
            line = f"{line}; {comes}"
        assert line in cells[3].split("\n")
    assert any(comes_words(entry.comes) for entry in data.plan.soaks)
    for entry in data.plan.natural:
        week = day_words(entry.week)
        assert f"week of {week}: {percent_words(entry.chance)}" in rows[entry.stack][4]
    for entry in data.plan.spawn_run:
        # One day, and it is that which the plan goes by.
        done = next(day.on for day in data.plan.ready if day.stack == entry.stack)
        assert rows[entry.stack][5].count(f"done by {day_words(done)}") == 1
    assert "Tue 27 Apr to Wed 28 Apr (done)" in rows["A/1"][2]
    assert "rests until Tue 29 Jun" in rows["A/1"][5] and "rested on" not in rows["A/1"][5]
    for entry in data.plan.waits:
        assert entry.reason in rows[entry.stack][5]


def test_chances_that_add_up_to_more_than_all_are_explained(data: ReportData, courses: Courses):
    strip = courses.strip

    def told(*chances: float) -> bool:
        weeks = tuple((TODAY + timedelta(weeks=n), chance) for n, chance in enumerate(chances))
        rows = (replace(strip.rows[0], natural=weeks),)
        return words.MORE_THAN_ONE in words.season_text(data.plan, replace(strip, rows=rows), ())

    assert told(0.8, 0.53) and not told(0.8, 0.2)


def test_a_strip_knows_soaks_of_the_diary_rests_and_young_logs(data: ReportData):
    strip = season_strip(
        plan(),
        yard(),
        diary(),
        first_after_days=data.numbers.forced.first_after_days,
        rest_days=data.numbers.schedule.rest_days,
    )
    rows = {row.stack: row for row in strip.rows}
    under_way = rows["D"].soaks[0]
    assert under_way.done and under_way.on == date(2027, 4, 30)
    assert under_way.window == (date(2027, 5, 11), date(2027, 5, 13), date(2027, 5, 16))
    (rest,) = rows["D"].spans
    assert (rest.kind, rest.past) == ("rest", date(2027, 7, 2))
    assert [s.on for s in rows["A"].soaks] == [date(2027, 5, 4), date(2027, 7, 9)]
    (year,) = rows["H"].spans
    assert (year.kind, year.past) == ("first year", date(2027, 5, 2))
    young = replace(yard().stacks[4], inoculated=date(2026, 8, 1))
    changed = replace(yard(), stacks=(*yard().stacks[:4], young))
    entry = {
        "stack": "H",
        "progress": 0.6,
        "ready": {"p10": "2027-05-20", "p50": "2027-06-01", "p90": None},
        "slowed_by": [],
        "signs": [],
        "inspected_on": None,
        "findings": [],
    }
    strip = season_strip(
        plan(spawn_run=[entry], ready=[{"stack": "H", "on": "2027-06-14", "reason": ""}]),
        changed,
        diary(),
        first_after_days=data.numbers.forced.first_after_days,
        rest_days=data.numbers.schedule.rest_days,
    )
    spans = next(row.spans for row in strip.rows if row.stack == "H")
    assert [(s.kind, s.past) for s in spans] == [
        ("spawn run", date(2027, 6, 14)),
        ("first year", date(2027, 8, 1)),
    ]


def test_a_rest_after_a_natural_flush_shows_though_no_soak_explains_it(data: ReportData, courses):
    (rest,) = [s for r in courses.strip.rows if r.stack == "C" for s in r.spans if s.first < TODAY]
    ends = {e.stack: e.on for e in data.plan.rest_ends}
    assert rest.kind == "rest" and rest.past == ends["C"]


def test_days_away_become_spans_on_the_strip(courses: Courses):
    assert courses.strip.away == ((date(2027, 7, 18), date(2027, 7, 24)),)


def test_the_moisture_table_tells_what_was_done(data: ReportData, courses: Courses):
    found = words.moisture_table(courses.moisture)
    rows = {row[0]: row for row in found.rows}
    course = next(c for c in courses.moisture if c.stack == "A/1")
    assert rows["A/1"][4] == percent_words(course.wet[-1])
    assert rows["A/1"][1] == percent_words(course.wet[0])
    assert "soaked Tue 27 Apr" in rows["A/1"][-1] and "weighed Sat 1 May: 44%" in rows["A/1"][-1]
    assert "water assumed" in rows["N"][-1]


def test_the_words_of_moisture_name_what_is_due(courses: Courses):
    due = [
        {"stack": "H", "on": "2027-05-06", "moisture_wet": 0.31, "reason": "31 % wet, keep 35 %"}
    ]
    found = " ".join(words.moisture_text(courses.moisture, plan(water=due)))
    driest = min(courses.moisture, key=lambda course: course.wet[-1])
    assert found.startswith(f"Driest now: {driest.stack} {percent_words(driest.wet[-1])}, ")
    assert "Water: H on Thu 6 May (31 % wet, keep 35 %)." in found
    nothing = " ".join(words.moisture_text(courses.moisture, plan(water=[])))
    assert "No stack needs water yet." in nothing
    chances = [("F", "2027-05-10", 0.1), ("F", "2027-05-17", 0.4), ("F", "2027-05-24", 0.6)]
    chances += [("K", "2027-05-10", 0.0), ("K", "2027-05-17", 0.1), ("K", "2027-05-24", 0.3)]
    chance = [{"stack": stack, "by": by, "chance": share} for stack, by, share in chances]
    later = " ".join(words.moisture_text(courses.moisture, plan(water=[], water_chance=chance)))
    assert "No stack needs water yet; these probably will: F by Mon 24 May." in later
    assert "Perhaps: K by Mon 24 May (30%)." in later


def test_only_stacks_that_are_or_will_be_dry_are_drawn_the_others_are_told_of(courses: Courses):
    """One is due, one probably will be, one is below the level; a rare chance draws nothing."""
    listed = [replace(c, wet=np.full(84, 0.40 + n / 2000)) for n, c in enumerate(courses.moisture)]
    listed[0] = replace(listed[0], due=TODAY)
    listed[2] = replace(listed[2], wet=np.full(84, 0.349))
    chances = ((listed[1].stack, 0.5), (listed[3].stack, 0.49))
    found = plan(
        water=[],
        water_chance=[
            {"stack": stack, "by": "2027-05-24", "chance": share} for stack, share in chances
        ],
    )
    assert dry_courses(listed, found) == tuple(listed[:3])
    said = " ".join(words.moisture_text(listed, found))
    names = [course.stack for course in listed]
    assert f"The other {stacks_words(names[3:], names)} are moist enough, 40% to 41%." in said
    nobody_waters = [replace(c, keep_above=None) for c in listed]
    assert dry_courses(nobody_waters, plan(water=[])) == (nobody_waters[0], nobody_waters[2])
    moist = " ".join(words.moisture_text(listed[3:], plan(water=[])))
    assert f"All {stacks_words(names[3:], names[3:])} are moist enough" in moist


def test_moisture_follows_the_account_of_the_outlook(data: ReportData, courses: Courses):
    for column, stack in enumerate(data.outlook.stacks):
        course = courses.moisture[column]
        dry = data.outlook.past.by_stack[-len(course.wet) :, column]
        assert course.stack == stack.name
        assert course.wet == pytest.approx(dry / (1 + dry))
        assert len(course.wet) == 84


def test_the_weather_tables_have_every_week_and_what_it_suits(courses: Courses):
    course = courses.weather
    warm = words.temperature_table(course, courses.ranges, "metric")
    assert [row[0] for row in warm.rows[:2]] == ["Mon 8 Mar", "Mon 15 Mar"]
    assert len(warm.rows) == 8 + 26
    low, middle, high = course.fan_tmean[:, 10]
    row = warm.rows[18]
    assert row[1] == (
        f"{format_temperature(float(low), 'metric')} to {format_temperature(float(high), 'metric')}"
    )
    fruits = courses.ranges.items()
    best = [name for name, r in fruits if r.best_low <= middle <= r.best_high]
    assert [name for name in row[2].split("\n") if "best" in name] == [f"{n} (best)" for n in best]
    wet = words.rain_table(course, "metric")
    assert len(wet.rows) == 34
    assert wet.rows[7][1] == f"{course.rain[-1]:.0f} mm"


def test_no_forecast_is_told_and_a_forecast_too(courses: Courses):
    without = " ".join(words.temperature_text(courses.weather, courses.ranges, "metric"))
    assert "No forecast is used" in without
    tmean = np.concatenate([courses.weather.tmean, [3.0, 9.0]])
    told = replace(courses.weather, tmean=tmean, forecast_days=2)
    found = " ".join(words.temperature_text(told, courses.ranges, "metric"))
    assert "Forecast for 2 days: 3 °C to 9 °C" in found and "No forecast" not in found


# --- the week's sheet ----------------------------------------------------------------------------


def job(kind: str, stack: str, on: str, until: str, reason: str) -> dict[str, Any]:
    return {"job": kind, "stack": stack, "on": on, "until": until, "reason": reason}


def test_the_sheet_has_the_calendars_jobs_and_those_of_weather_and_diary():
    jobs = [
        job("weigh", "A", "2027-05-03", "2027-05-03", "a week ago"),
        job("weigh", "B", "2027-05-03", "2027-05-03", "a week ago"),
        job("inspect", "C", "2027-05-05", "2027-05-07", "moulds"),
        job("inspect", "C", "2027-06-05", "2027-06-05", "much later"),
    ]
    sheet = week_sheet(plan(jobs=jobs), yard(), diary(), TODAY)
    listed = {day: [entry.words for entry in entries] for day, entries in sheet.jobs}
    assert len(sheet.days) == 7 and list(listed) == list(sheet.days)
    assert listed[TODAY][-1] == "Weigh the sample logs of A, B"
    assert any(text.startswith("Soak A (24 logs") for text in listed[date(2027, 5, 4)])
    (inspect,) = [e for e in dict(sheet.jobs)[date(2027, 5, 5)] if e.words.startswith("Look over")]
    assert (inspect.until, inspect.blank) == ("until Fri 7 May", "found")
    water = [e for e in dict(sheet.jobs)[date(2027, 5, 6)] if e.words.startswith("Water logs")]
    assert water[0].blank == "in"


def test_logs_left_in_the_tank_come_first():
    sheet = week_sheet(plan(), yard(), diary(), TODAY)
    (late,) = sheet.overdue
    assert late.words.startswith("Pull D") and late.until == "due since Sun 2 May"


def test_a_cover_is_asked_for_once():
    entry = soak(
        "D", 24, "2027-04-30", "2027-05-02", ("2027-05-05", "2027-05-06", "2027-05-08"), 2.1
    )
    entry["cover"] = {"from": "2027-05-06", "to": "2027-05-07", "reason": "rain"}
    jobs = [job("cover", "D", "2027-05-06", "2027-05-07", "rain")]
    sheet = week_sheet(plan(under_way=[entry], jobs=jobs), yard(), diary(), TODAY)
    told = [e.words for _, entries in sheet.jobs for e in entries if "covered" in e.words]
    assert told == ["Keep D covered"]


def test_weights_are_asked_of_stacks_that_may_be_picked_and_of_no_other():
    sheet = week_sheet(plan(), yard(), diary(), TODAY)
    named = {line.stack: line.expected for line in sheet.picks if line.stack}
    assert named == {}  # D's window opens on 11 May, the natural chance on 10 May
    week_later = week_sheet(plan(today="2027-05-10"), yard(), diary(), TODAY + timedelta(days=7))
    named = {line.stack: line.expected for line in week_later.picks if line.stack}
    assert list(named) == ["A", "D"]
    assert named["A"] == (False, False, True, True, True, True, True)
    # A natural flush that is not likely makes no day a likely one.
    assert named["D"] == (False, True, True, True, True, True, True)
    assert sum(not line.stack for line in week_later.picks) == 2
    resting = replace(diary(), stacks={**diary().stacks})
    picked = Pick(TODAY - timedelta(days=2), 1.0, "natural")
    resting.stacks["B"] = replace(resting.stacks["B"], picks=(picked,))
    named = {line.stack: line.expected for line in week_sheet(plan(), yard(), resting, TODAY).picks}
    assert named["B"] == (False,) * 7  # a line, but no pick is likely


def test_every_lot_of_a_stack_that_is_to_be_picked_has_its_days_marked():
    state, picked = diary(), Pick(TODAY - timedelta(days=1), 1.0, "natural")
    lots = {f"E/{n}": StackState(f"E/{n}", 12, picks=(picked,)) for n in (1, 2)}
    state = replace(state, stacks=lots, lot_of=dict.fromkeys(lots, "E"))
    day = picked.on.isoformat()
    flushes = [
        {
            "stack": name,
            "kind": "natural",
            "begun": day,
            "pick": {"p10": day, "p50": day, "p90": day},
            "last": "2027-05-06",
            "expected_kg": 1.5,
        }
        for name in lots
    ]
    made = plan(
        soaks=[],
        under_way=[],
        flushes=flushes,
        not_soaked=[{"stack": n, "reason": ""} for n in lots],
    )
    sheet = week_sheet(made, yard(units="metric"), state, TODAY)
    told = [entry.words for _, entries in sheet.jobs for entry in entries]
    assert told.count("Pick E: about 3.0 kg still to come") == 1
    named = {line.stack: line.expected for line in sheet.picks if line.stack}
    assert named == dict.fromkeys(lots, (True,) * 4 + (False,) * 3)


def test_what_reads_like_all_of_it_is_all_of_it(data: ReportData):
    (sale, *_) = data.plan.outlets
    nearly = sale.model_copy(update={"target_kg": 3.0, "promise_kg": 2.96})
    assert words.supply_text([nearly], 0.8, "metric")[1].startswith(
        "The full amount can be promised on 1"
    )
    assert "you can promise all 3.0 kg" in sale_words(nearly, "metric")
    short = nearly.model_copy(update={"promise_kg": 2.9})
    assert words.supply_text([short], 0.8, "metric")[1].startswith(
        "The full amount can be promised on 0"
    )


def test_the_sheet_has_the_sales_of_its_days():
    sheet = week_sheet(plan(), yard(), diary(), TODAY)
    assert [sale.on for sale in sheet.sales] == [date(2027, 5, 8)]
