"""What of a plan and a diary becomes a reminder, and under which key."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from fruitcast.diary.plan import Plan
from fruitcast.diary.state import Pick, Soak, StackState, YardState
from fruitcast.outputs.calendar_state import update, yard_calendar
from fruitcast.outputs.reminder import DRY_SPELLS, Reminder, until_words
from fruitcast.outputs.reminder_writer import local_time
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.report_words import week_sheet
from fruitcast.outputs.week import week_ahead
from tests.outputs.sample_plan import TODAY, diary, document, plan, soak, yard

ZONE = ZoneInfo("America/New_York")


def by_key(found: tuple[Reminder, ...]) -> dict[str, Reminder]:
    keyed = {reminder.key: reminder for reminder in found}
    assert len(keyed) == len(found)
    return keyed


def sample() -> dict[str, Reminder]:
    return by_key(reminders(plan(), yard(), diary()))


def test_a_soak_lies_at_the_soak_time_and_rings_the_evening_before():
    planned = sample()["soak|2|A"]
    assert planned.start == datetime(2027, 5, 4, 8, tzinfo=ZONE)
    assert planned.end == datetime(2027, 5, 4, 9, 15, tzinfo=ZONE)  # 24 logs at 3 minutes each
    assert planned.alarms == (datetime(2027, 5, 3, 18, tzinfo=ZONE),)
    assert planned.summary == "Soak A (24 logs, 24 h)"
    assert "pull on Wed 5 May at 08:00" in planned.description
    assert "First pick about Fri 14 May (12 to 18 May), 6.4 lb expected." in planned.description
    assert "Why: covers Saturday market on 15 May" in planned.description
    assert "Note: north end, by the spring" in planned.description
    assert planned.reasons[0] == "ready since 20 Apr"
    assert not planned.done


def test_the_work_takes_as_long_as_the_yard_says():
    slow = replace(yard(), numbers={"work.soak_hours_per_log": 0.1})
    planned = by_key(reminders(plan(), slow, diary()))["soak|2|A"]
    assert planned.end == datetime(2027, 5, 4, 10, 30, tzinfo=ZONE)


def test_a_pull_rings_an_hour_before():
    pull = sample()["pull|2|A"]
    assert pull.start == datetime(2027, 5, 5, 8, tzinfo=ZONE)
    assert pull.alarms == (datetime(2027, 5, 5, 7, tzinfo=ZONE),)


def test_the_pick_window_spans_the_range_and_names_the_likely_first_pick():
    pick = sample()["pick|2|A"]
    assert (pick.start, pick.end) == (date(2027, 5, 12), date(2027, 5, 19))
    assert (pick.first_day, pick.last_day) == (date(2027, 5, 12), date(2027, 5, 18))
    assert pick.summary == "Look at A: first pick about Fri 14 May (12 to 18 May)"
    assert pick.alarms == ()


def test_a_stack_is_looked_at_until_there_is_something_to_pick():
    key, on = "pick|3|D", date(2027, 5, 13)
    job = by_key(reminders(plan(), yard(), diary()))[key]
    assert job.summary == "Look at D: first pick about Thu 13 May (11 to 16 May)"
    # The days stand in the summary: the last of them is not told as if picking ended with it.
    assert until_words(job, on) == ""
    seen = replace(diary(), stacks={**diary().stacks})
    seen.stacks["D"] = replace(seen.stacks["D"], fruiting_on=on)
    job = by_key(reminders(plan(), yard(), seen))[key]
    assert job.summary == "Pick D: seen on Thu 13 May"
    assert until_words(job, on) == "until Sun 16 May"


def test_a_month_of_dry_spells_is_told_when_it_begins_not_every_day():
    spells = Reminder("care", "N", DRY_SPELLS + 1, date(2027, 5, 4), date(2027, 6, 1), "N: water")
    told = [
        [job for _, jobs in week_ahead([spells], day).days for job in jobs]
        for day in (date(2027, 5, 1), date(2027, 5, 4), date(2027, 5, 5), date(2027, 5, 20))
    ]
    assert told == [[spells], [spells], [], []]


def test_pins_are_watched_for_from_the_pull_on_until_the_pick_window():
    # Pull 5 May, earliest likely pick 12 May: 0.4 of seven days is day 3.
    pins = sample()["pins|2|A"]
    assert (pins.first_day, pins.last_day) == (date(2027, 5, 8), date(2027, 5, 11))


def test_no_watch_for_pins_when_the_pick_may_follow_the_pull_at_once():
    early = soak("A", 24, "2027-05-04", "2027-05-05", ("2027-05-05",) * 3, 1.0)
    found = by_key(reminders(plan(soaks=[early]), yard(), diary()))
    assert "pins|2|A" not in found
    assert found["pick|2|A"].first_day == date(2027, 5, 5)


def test_rest_and_readiness_and_cover_are_days_of_their_own():
    entry = {**document()["soaks"][3], "cover": {"from": "2027-10-17", "to": "2027-10-30"}}
    entry["cover"]["reason"] = "nights below freezing are likely"
    found = by_key(reminders(plan(soaks=[entry]), yard(), diary()))
    assert found["rest|3|D"].first_day == date(2027, 7, 2)
    assert found["rest|3|D"].reasons == ("nine weeks from its last soak",)
    assert found["ready|0|H"].first_day == date(2027, 6, 20)
    assert found["cover|1|C"].last_day == date(2027, 10, 30)
    assert "nights below freezing" in found["cover|1|C"].description


def test_one_watering_a_day_lists_all_stacks():
    due = sample()[f"water|{date(2027, 5, 6).toordinal()}|"]
    assert due.summary == "Water logs: B, H"
    assert due.reasons == ("B: 33 % wet, keep 35 %", "H: 31 % wet, keep 35 %")
    given = sample()[f"water|{date(2027, 5, 1).toordinal()}|"]
    assert given.summary == "Watered: B"
    assert given.done


def test_a_stack_watered_on_the_day_is_no_longer_asked_to_be():
    state, on = diary(), date(2027, 5, 6)
    key = f"water|{on.toordinal()}|"

    def given(*names):
        wet = {name: replace(state.stacks[name], watered=((on, 20.0),)) for name in names}
        return by_key(reminders(plan(), yard(), replace(state, stacks={**state.stacks, **wet})))

    one, both = given("H")[key], given("B", "H")[key]
    assert one.summary == "Water logs: B" and not one.done
    assert one.description.startswith("Watered: H\n")
    assert one.reasons == ("B: 33 % wet, keep 35 %",)
    assert both.summary == "Watered: B, H" and both.done and not both.reasons


def test_new_logs_that_want_water_on_a_day_are_told_of_once():
    entry = {
        "stack": "H",
        "ordinal": 101,
        "from": "2027-05-01",
        "to": "2027-05-31",
        "what": "water the new logs in dry spells",
        "reason": "about twice in May",
    }

    def told(day):
        found = week_ahead(reminders(plan(care=[entry]), yard(), diary()), day)
        return [job.kind for job in found.days[0][1] if "ater" in job.summary]

    assert told(date(2027, 5, 6)) == ["water"]
    assert told(date(2027, 5, 7)) == []  # its month has begun and was told


def test_soaks_are_numbered_through_a_stacks_life():
    keys = [key for key in sample() if key.startswith("soak|")]
    assert sorted(keys) == [
        "soak|1|A",
        "soak|1|B",
        "soak|1|C",
        "soak|1|D",
        "soak|2|A",
        "soak|2|D",
        "soak|3|A",
        "soak|3|D",
    ]
    assert sample()["soak|3|A"].first_day == date(2027, 7, 9)


def test_a_soak_keeps_its_key_when_it_moves_and_when_it_is_recorded():
    moved = document()
    moved["soaks"][0].update(soak_on="2027-05-07", pull_on="2027-05-08")
    assert by_key(reminders(plan(**moved), yard(), diary()))["soak|2|A"].first_day == date(
        2027, 5, 7
    )

    state = diary()
    done = Soak(date(2027, 5, 5), 22, 24.0, date(2027, 5, 6))
    stack = replace(state.stacks["A"], soaks=(*state.stacks["A"].soaks, done))
    later = plan(soaks=document()["soaks"][1:])
    found = by_key(reminders(later, yard(), replace(state, stacks={**state.stacks, "A": stack})))
    assert found["soak|2|A"].done
    assert found["soak|2|A"].summary == "Soaked A (22 logs, 24 h)"
    assert found["soak|2|A"].first_day == date(2027, 5, 5)
    assert found["soak|2|A"].alarms == ()
    assert found["pull|2|A"].done
    assert found["soak|3|A"].first_day == date(2027, 7, 9)


def test_a_plan_older_than_the_diary_makes_no_second_soak():
    state = diary()
    done = Soak(date(2027, 5, 4), 24, 24.0, None)
    stack = replace(state.stacks["A"], soaks=(*state.stacks["A"].soaks, done))
    found = by_key(reminders(plan(), yard(), replace(state, stacks={**state.stacks, "A": stack})))
    assert found["soak|2|A"].done
    assert found["soak|3|A"].first_day == date(2027, 7, 9)
    assert found["pick|2|A"].first_day == date(2027, 5, 12)  # still from the old plan


def test_a_soak_under_way_is_to_be_pulled_and_picked():
    found = sample()
    assert found["soak|3|D"].done
    assert found["pull|3|D"].first_day == date(2027, 5, 2)
    assert not found["pull|3|D"].done
    assert found["pick|3|D"].first_day == date(2027, 5, 11)


def test_logs_that_died_in_the_tank_are_not_counted_with_those_to_pull():
    state = diary()
    fewer = {**state.stacks, "D": replace(state.stacks["D"], logs=21)}
    found = by_key(reminders(plan(), yard(), replace(state, stacks=fewer)))
    assert found["pull|3|D"].summary == "Pull D (21 logs)"


@pytest.mark.parametrize(
    ("hours", "pulled"),
    [
        (None, date(2027, 5, 1)),  # the usual 24 hours
        (12.0, date(2027, 5, 1)),
        (24.0, date(2027, 5, 1)),
        (24.5, date(2027, 5, 2)),
        (36.0, date(2027, 5, 2)),
        (48.0, date(2027, 5, 2)),
    ],
)
def test_logs_come_out_on_the_first_morning_after_their_hours_are_full(hours, pulled):
    state = YardState({"D": StackState("D", 24, (Soak(date(2027, 4, 30), 24, hours, None),))}, {})
    found = by_key(reminders(plan(under_way=[]), yard(), state))
    assert found["pull|1|D"].first_day == pulled


FLUSH = {
    "stack": "D",
    "kind": "forced",
    "begun": "2027-04-30",
    "pick": dict.fromkeys(("p10", "p50", "p90"), "2027-05-02"),
    "last": "2027-05-09",
    "expected_kg": 1.5,
    "reasons": ["so far 2.4 lb, in all 4.4 lb to 7.7 lb most likely"],
}


def with_picks(*picks: Pick) -> YardState:
    state = diary()
    stack = replace(state.stacks["D"], picks=picks, natural_seen_on=picks[0].on)
    return replace(state, stacks={**state.stacks, "D": stack})


def test_a_flush_that_is_being_picked_is_still_to_be_picked_until_it_is_over():
    soaked = date(2027, 4, 30)
    first = Pick(date(2027, 5, 2), 1.1, "forced", soaked)
    today = Pick(TODAY, 0.5, "forced", soaked)

    def told(*picks):
        found = by_key(reminders(plan(flushes=[FLUSH]), yard(), with_picks(*picks)))
        return found["pick|3|D"], found[f"picking|{soaked.toordinal()}|D"]

    picked, more = told(first)
    assert picked.summary == "Picked D: 2.4 lb"
    assert more.summary == "Pick D: about 3.3 lb still to come" and not more.done
    assert (more.first_day, more.last_day) == (TODAY, date(2027, 5, 9))
    assert more.reasons == ("so far 2.4 lb, in all 4.4 lb to 7.7 lb most likely",)
    # What was picked today is told with the flush's sum, and the job waits for tomorrow.
    picked, more = told(first, today)
    assert picked.summary == "Picked D: 1.1 lb on Mon 3 May, 3.5 lb of this flush so far"
    assert picked.done and picked.last_day == TODAY
    assert more.first_day == TODAY + timedelta(days=1)


def test_a_natural_flush_seen_or_picked_has_its_picking_job():
    seen, day = date(2027, 5, 1), "2027-05-05"
    entry = {
        **FLUSH,
        "kind": "natural",
        "begun": seen.isoformat(),
        "pick": dict.fromkeys(("p10", "p50", "p90"), day),
        "reasons": [],
    }
    natural = plan(soaks=[], under_way=[], flushes=[entry])
    job = by_key(reminders(natural, yard(), diary()))[f"pick|{seen.toordinal()}|D"]
    assert job.summary == "Look at D: first pick about Wed 5 May"
    assert (job.first_day, job.last_day) == (date(2027, 5, 5), date(2027, 5, 5))
    picked = with_picks(Pick(seen, 0.9, "natural"))
    found = by_key(reminders(natural, yard(), picked))
    assert found[f"pick|{seen.toordinal()}|D"].summary == "Picked D: 2.0 lb"
    job = found[f"picking|{seen.toordinal()}|D"]
    assert (job.first_day, job.last_day) == (TODAY, date(2027, 5, 9))
    assert [r.kind for r in dict(week_ahead(found.values(), TODAY).days)[TODAY]] == ["picking"]
    over = by_key(reminders(plan(flushes=[]), yard(), picked))
    assert not any(key.startswith("picking") for key in over)


def test_picks_of_a_soak_are_added_up():
    picked = sample()["pick|1|D"]
    assert picked.done
    # 1.6 + 1.1 kg
    assert picked.summary == "Picked D: 6.0 lb"
    assert picked.description == "Thu 11 Jun: 3.5 lb\nSat 13 Jun: 2.4 lb"
    assert (picked.first_day, picked.last_day) == (date(2026, 6, 11), date(2026, 6, 13))


def test_natural_picks_are_not_those_of_a_soak():
    state = diary()
    natural = Pick(date(2026, 8, 20), 9.0, "natural")
    stack = replace(state.stacks["D"], picks=(*state.stacks["D"].picks, natural))
    found = by_key(reminders(plan(), yard(), replace(state, stacks={**state.stacks, "D": stack})))
    assert found["pick|2|D"].summary == "Picked D: 4.9 lb"


def test_weights_are_in_the_yards_units():
    found = by_key(reminders(plan(), yard(units="metric"), diary()))
    assert "2.9 kg expected" in found["soak|2|A"].description
    assert found["pick|1|D"].summary.endswith(": 2.7 kg")


def test_lots_carry_the_note_of_their_row():
    lot = soak("A/2", 12, "2027-05-04", "2027-05-05", ("2027-05-12",) * 3, 1.0)
    state = YardState({"A/2": StackState("A/2", 12)}, {"A/2": "A"})
    found = by_key(reminders(plan(soaks=[lot], under_way=[]), yard(), state))
    assert "Note: north end, by the spring" in found["soak|1|A/2"].description


def test_a_plan_without_the_optional_parts_is_enough():
    optional = ("under_way", "rest_ends", "ready", "care", "short", "jobs", "goes_by")
    bare = {key: value for key, value in document().items() if key not in optional}
    bare["water"] = []
    read = Plan.model_validate_json(json.dumps(bare))
    found = by_key(reminders(read, yard(), YardState({}, {})))
    assert {reminder.kind for reminder in found.values()} == {"soak", "pull", "pins", "pick"}


def test_control_characters_of_notes_and_reasons_are_gone():
    spiteful = document()
    spiteful["soaks"][0]["reasons"] = ["rested\x1b[31m\nATTACH:x\x00 \u202eabc"]
    found = by_key(reminders(plan(**spiteful), yard(note="a\r\nBEGIN:VALARM\u2028b\x7f"), diary()))
    text = found["soak|2|A"].description
    assert "Why: rested[31m ATTACH:x abc" in text
    assert "Note: a\nBEGIN:VALARM\nb" in text


# --- times that the change of the clock skips or repeats ---------------------------------------


def test_a_skipped_time_is_read_with_the_offset_before_the_change():
    # RFC 5545, section 3.3.5: 2:30 on 11 March 2007 in New York "is interpreted using the UTC
    # offset before the gap", that is 3:30 EDT.
    found = local_time(date(2007, 3, 11), time(2, 30), ZONE)
    assert (found.hour, found.minute, found.utcoffset()) == (3, 30, timedelta(hours=-4))


def test_a_repeated_time_is_its_first_occurrence():
    # RFC 5545, section 3.3.5: 1:30 on 4 November 2007 in New York is 1:30 EDT.
    found = local_time(date(2007, 11, 4), time(1, 30), ZONE)
    assert (found.hour, found.utcoffset()) == (1, timedelta(hours=-4))


@pytest.mark.parametrize("day", ["2027-03-14", "2027-11-07"])
@pytest.mark.parametrize("start", [time(0, 45), time(1, 30), time(1, 45), time(2, 30), time(8)])
def test_work_never_ends_before_it_begins(day, start):
    entry = soak("A", 6, day, "2027-11-09", ("2027-11-12",) * 3, 1.0)
    found = by_key(
        reminders(plan(soaks=[entry], under_way=[]), yard(start=start), YardState({}, {}))
    )
    planned = found["soak|1|A"]
    assert planned.end.astimezone(UTC) > planned.start.astimezone(UTC)
    assert planned.end.replace(tzinfo=None) > planned.start.replace(tzinfo=None)


def test_the_evening_before_stays_six_oclock_across_the_change():
    entry = soak("A", 24, "2027-03-14", "2027-03-15", ("2027-03-25",) * 3, 1.0)
    found = by_key(reminders(plan(soaks=[entry], under_way=[]), yard(), YardState({}, {})))
    alarm = found["soak|1|A"].alarms[0]
    assert (alarm.day, alarm.hour) == (13, 18)
    # Two o'clock was skipped, so the span is 13 hours where it is 14 otherwise.
    span = found["soak|1|A"].start.astimezone(UTC) - alarm.astimezone(UTC)
    assert span == timedelta(hours=13)


# --- one list of jobs ----------------------------------------------------------------------------


def test_what_the_logs_ask_for_is_in_week_report_and_calendar_alike():
    asked = [
        ("weigh", "A", "Weigh the sample logs of A"),
        ("retire", "B", "Sort out logs of B"),
        ("inspect", "C", "Look over C"),
        ("pick twice", "D", "Pick D twice a day"),
        ("cover", "H", "Keep H covered"),
    ]
    made = plan(
        jobs=[
            {"job": kind, "stack": stack, "on": "2027-05-05", "until": "2027-05-06", "reason": kind}
            for kind, stack, _ in asked
        ]
    )
    wanted = {words for _, _, words in asked}
    listed = reminders(made, yard(), diary())
    assert wanted <= {r.summary for r in listed}
    assert wanted <= {row.what for row in week_ahead(listed, TODAY).rows()}
    sheet = week_sheet(made, yard(), diary(), TODAY)
    assert wanted <= {job.words for _, jobs in sheet.jobs for job in jobs}
    state = update(yard_calendar(yard()), listed, TODAY)
    assert wanted <= {event.reminder.summary for event in state.events}


def test_a_look_that_is_still_wanted_the_next_day_is_the_same_event():
    def asked(day: date) -> Plan:
        entry = {"job": "inspect", "stack": "C", "on": f"{day}", "until": f"{day}", "reason": "x"}
        return plan(jobs=[entry])

    tomorrow = TODAY + timedelta(days=1)
    first = update(yard_calendar(yard()), reminders(asked(TODAY), yard(), diary()), TODAY)
    second = update(first, reminders(asked(tomorrow), yard(), diary()), tomorrow)
    events = [
        [event for event in state.events if event.reminder.kind == "inspect"]
        for state in (first, second)
    ]
    assert [len(found) for found in events] == [1, 1]
    assert events[0][0].uid == events[1][0].uid and events[1][0].sequence == 1
    assert events[1][0].reminder.first_day == tomorrow
    done = update(second, reminders(plan(jobs=[]), yard(), diary()), tomorrow)
    [gone] = [event for event in done.events if event.reminder.kind == "inspect"]
    assert gone.cancelled_on == tomorrow


def lot(name: str, on: date) -> dict[str, object]:
    days = [(on + timedelta(days=n)).isoformat() for n in (0, 1, 8, 10, 14)]
    return soak(name, 10, days[0], days[1], (days[2], days[3], days[4]), 1.2)


def test_a_lot_says_which_logs_how_heavy_and_what_stays():
    accepted = dict.fromkeys(("C/1", "C/2", "C/3"), date(2027, 5, 1))
    lots = {name: StackState(name, 10) for name in accepted}
    state = YardState(stacks=lots, lot_of=dict.fromkeys(accepted, "C"), accepted=accepted)

    def words(*planned: tuple[str, date], state: YardState = state) -> str:
        made = plan(soaks=[lot(name, on) for name, on in planned])
        return by_key(reminders(made, yard(units="metric"), state))["soak|1|C/1"].summary

    first, later = date(2027, 5, 4), date(2027, 5, 7)
    # White oak of 12.7 cm and 102 cm, 990 kg/m3 green: 12.8 kg a log, two loads of 70 kg.
    assert words(("C/1", first), ("C/2", later)) == (
        "Soak C/1 (10 logs, 24 h): on top, put 1 dot on their ends, about 128 kg, "
        "2 barrow loads; C/2, C/3 stay"
    )
    assert words(("C/1", first), ("C/2", first)).endswith("2 barrow loads; with C/2; C/3 stays")


def test_a_lot_soaked_before_is_known_by_its_dots():
    soaked = StackState("C/2", 10, soaks=(Soak(date(2027, 2, 1), 10, 24.0, date(2027, 2, 2)),))
    state = YardState(
        stacks={"C/1": StackState("C/1", 10), "C/2": soaked},
        lot_of={"C/1": "C", "C/2": "C"},
        accepted=dict.fromkeys(("C/1", "C/2"), date(2027, 1, 1)),
    )
    made = plan(soaks=[lot("C/2", date(2027, 5, 4))])
    planned = by_key(reminders(made, yard(units="metric"), state))["soak|2|C/2"]
    assert ": those with 2 dots on the ends, about " in planned.summary
    assert planned.summary.endswith("; C/1 stays")
