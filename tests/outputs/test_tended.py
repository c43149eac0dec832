"""A job recorded is gone, or done, in every output alike; recorded twice it is one job."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fruitcast.app.serving import Situation
from fruitcast.diary.events import Event
from fruitcast.diary.kept_plan import Background
from fruitcast.diary.plan import YoungCare
from fruitcast.diary.state_from_diary import yard_state
from fruitcast.outputs.calendar_state import update, yard_calendar
from fruitcast.outputs.reminder import still_asked
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.report_words import week_sheet
from fruitcast.outputs.week import week_ahead
from fruitcast.web.words import week_days
from tests.outputs.sample_plan import TODAY, plan, yard

NOW = (
    Event("soak", date(2027, 4, 26), "A", hours=24.0),
    Event("pull", date(2027, 4, 27), "A"),
    Event("soak", date(2027, 5, 1), "D", hours=36.0),
)


def under_way(stack, logs, soak_on, pull_on, pick, cover=None):
    first, likely, last = pick
    made = {
        "stack": stack,
        "logs": logs,
        "soak_on": soak_on,
        "hours": 24,
        "pull_on": pull_on,
        "pick": {"p10": first, "p50": likely, "p90": last},
        "expected_kg": 2.0,
        "reasons": [],
    }
    if cover:
        made["cover"] = {"from": cover[0], "to": cover[1], "reason": "rain"}
    return made


def care(ordinal, first, last, what):
    return {"stack": "H", "ordinal": ordinal, "from": first, "to": last, "what": what}


COVER = {"job": "cover", "stack": "C", "on": "2027-05-03", "until": "2027-05-05", "reason": "rain"}
ASKED = plan(
    soaks=[
        under_way("B", 20, "2027-05-03", "2027-05-04", ("2027-05-12", "2027-05-14", "2027-05-18"))
    ],
    under_way=[
        under_way(
            "A",
            24,
            "2027-04-26",
            "2027-04-27",
            ("2027-05-08", "2027-05-09", "2027-05-12"),
            ("2027-05-04", "2027-05-06"),
        ),
        under_way("D", 24, "2027-05-01", "2027-05-03", ("2027-05-12", "2027-05-13", "2027-05-15")),
    ],
    jobs=[COVER],
    care=[
        care(0, "2027-05-02", "2027-05-09", "inoculate 36 logs"),
        care(11, "2027-05-05", "2027-05-05", "turn and restack the logs"),
    ],
    water=[
        {"stack": "C", "on": "2027-05-04", "moisture_wet": 0.31, "reason": "31 % wet, keep 35 %"}
    ],
    rest_ends=[],
    ready=[],
    natural=[],
)


def open_jobs(*recorded, plan=ASKED):
    """Return the jobs still to do, one set for each output."""
    here, state = yard(), yard_state(yard(), (*NOW, *recorded), TODAY)
    listed = reminders(plan, here, state)
    sheet = week_sheet(plan, here, state, TODAY)
    page = week_days(Situation(TODAY, here, state, plan, True, Background()))
    calendar = update(yard_calendar(here), listed, TODAY).events
    end = TODAY + timedelta(days=7)
    return [
        {row.what for row in week_ahead(listed, TODAY).rows() if not row.done},
        {job.words for _, jobs in sheet.jobs for job in jobs if not job.done},
        {job.title for day in page for job in day.jobs if not job.done},
        {
            event.reminder.summary
            for event in calendar
            if not event.reminder.done
            and event.reminder.last_day >= TODAY
            and event.reminder.first_day < end
        },
    ]


LOOK = "Look at A: first pick about Sun 9 May (8 to 12 May)"

JOBS = {
    "soak": ("Soak B (20 logs, 24 h)", [Event("soak", TODAY, "B", hours=24.0)]),
    "pull": ("Pull D (24 logs)", [Event("pull", TODAY, "D")]),
    "watch": ("Watch A for pins", [Event("pins", TODAY, "A")]),
    "pick": (LOOK, [Event("pick", TODAY, "A", kg=1.0)]),
    "nothing came": (LOOK, [Event("nothing", TODAY, "A")]),
    "cover after a soak": ("Keep A covered", [Event("cover", TODAY, "A")]),
    "cover": ("Keep C covered", [Event("cover", TODAY, "C")]),
    "water": ("Water logs: C", [Event("water", TODAY, "C", mm=20.0)]),
    "turn": ("H: turn and restack the logs", [Event("turn", TODAY, "H")]),
    "inoculate": ("H: inoculate 36 logs", [Event("inoculate", TODAY, "H")]),
}


@pytest.mark.parametrize("job", JOBS)
def test_a_job_recorded_is_asked_of_nobody_any_more(job):
    asked, done = JOBS[job]
    before, after = open_jobs(), open_jobs(*done)
    for was, now in zip(before, after, strict=True):
        assert asked in was
        assert asked not in now
        if job in ("watch", "cover", "cover after a soak", "water", "turn", "inoculate"):
            assert was - now == {asked} and now <= was
    assert before[0] == before[1] == before[2] == before[3]
    assert after[0] == after[1] == after[2] == after[3]


def test_a_cover_taken_off_again_is_asked_for_as_before():
    asked = JOBS["cover"][0]
    cover = Event("cover", TODAY - timedelta(days=1), "C")
    for after in open_jobs(cover):
        assert asked not in after
    for after in open_jobs(cover, Event("uncover", TODAY, "C")):
        assert asked in after


@pytest.mark.parametrize("job", ["cover", "turn", "inoculate", "watch", "nothing came"])
def test_ticked_on_two_phones_it_is_one_job(job):
    (entry,) = JOBS[job][1]
    twice = [replace(entry, uuid="a"), replace(entry, uuid="b")]
    once = reminders(ASKED, yard(), yard_state(yard(), (*NOW, entry), TODAY))
    assert reminders(ASKED, yard(), yard_state(yard(), (*NOW, *twice), TODAY)) == once
    assert open_jobs(*twice) == open_jobs(entry)
    undone = (*twice, Event("undo", TODAY, cancels="a"), Event("undo", TODAY, cancels="b"))
    assert open_jobs(*undone) == open_jobs()


@pytest.mark.parametrize(
    ("job", "words"),
    [
        ("turn", "Turned and restacked H"),
        ("inoculate", "Inoculated H"),
        ("cover", "Covered C"),
    ],
)
def test_what_was_done_stands_on_its_day_in_week_and_calendar(job, words):
    state = yard_state(yard(), (*NOW, *JOBS[job][1]), TODAY)
    listed = reminders(ASKED, yard(), state)
    assert [(r.first_day, r.done) for r in listed if r.summary == words] == [(TODAY, True)]
    assert len({r.key for r in listed}) == len(listed)
    first = update(yard_calendar(yard()), listed, TODAY)
    assert [e.cancelled_on for e in first.events if e.reminder.summary == words] == [None]
    # Days later the plan speaks of it no more, and the calendar keeps it.
    later = TODAY + timedelta(days=9)
    kept = update(first, reminders(plan(care=[], jobs=[]), yard(), state), later)
    assert [e.cancelled_on for e in kept.events if e.reminder.summary == words] == [None]


def test_a_turning_early_or_late_takes_the_place_of_the_nearest():
    days = [date(2027, 4, 5), date(2027, 6, 4), date(2027, 8, 3)]
    entries = [
        YoungCare.model_validate(care(10 + n, day, day, "turn")) for n, day in enumerate(days)
    ]

    def left(*turned):
        events = [Event("turn", on, "H") for on in turned]
        asked = still_asked(entries, yard_state(yard(), events, date(2027, 12, 1)), turn_days=60)
        return [entry.first for entry in asked]

    assert left() == days
    assert left(date(2027, 5, 20)) == [days[0], days[2]]
    assert left(date(2027, 6, 20)) == [days[0], days[2]]
    assert left(*days) == []


def test_turning_one_lot_or_the_whole_stack_is_one_turning():
    wide = replace(yard(), soaking=replace(yard().soaking, tank_logs=18))
    events = [Event("turn", TODAY, "H"), Event("turn", TODAY, "H/1")]
    state = yard_state(wide, events, TODAY)
    assert len(state.stacks["H/1"].tended) == 2
    told = [r.summary for r in reminders(ASKED, wide, state) if r.summary.startswith("Turned")]
    assert told == ["Turned and restacked H"]
