"""The answer that comes first: the week, the next sales, what may come by itself."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from rich.console import Console

from fruitcast.diary.plan import Plan, Sale
from fruitcast.outputs.reminder import Reminder, ReminderKind, Weights
from fruitcast.outputs.reminders import reminders
from fruitcast.outputs.terminal import PlanAnswer
from fruitcast.outputs.week import glance, sale_words, told_together, week_ahead
from fruitcast.words import day_words
from tests.outputs.sample_plan import TODAY, diary, plan, soak, yard


def seen(made: Plan, today: date = TODAY):
    return glance(made, week_ahead(reminders(made, yard(), diary()), today), "us", today)


def sale(promise: float, chance: float, target: float = 4.0) -> Sale:
    return Sale(
        outlet="Stall",
        on=TODAY,
        target_kg=target,
        delivered_kg=0.0,
        available_p10_kg=0.0,
        available_p90_kg=0.0,
        chance=chance,
        promise_kg=promise,
    )


def test_the_week_is_told_job_by_job_and_in_one_sentence():
    found = seen(plan())
    jobs = [(job.on, job.words) for job in found.jobs]
    assert jobs[0] == (TODAY, "Pull D (24 logs): due since Sun 2 May")
    assert (date(2027, 5, 4), "Soak A (24 logs, 24 h)") in jobs
    assert found.short.startswith("Pull D (24 logs) now; soak A on Tue 4 May for 24 h")
    [why] = [job.why for job in found.jobs if job.words.startswith("Soak")]
    assert why.startswith("About 6.4 lb, first pick Fri 14 May")


def test_a_soak_that_was_done_is_not_asked_for_again():
    # D went in on 30 April and is in the diary; the old plan still has it.
    done = plan(soaks=[soak("D", 24, "2027-04-30", "2027-05-01", ("2027-05-12",) * 3, 1.0, "x")])
    found = seen(done, date(2027, 4, 30))
    assert "soak D" not in found.short and not any("Soak D" in job.words for job in found.jobs)


def test_a_week_without_a_soak_names_the_next():
    later = plan(soaks=[soak("A", 24, "2027-06-01", "2027-06-02", ("2027-06-12",) * 3, 1.0, "x")])
    assert "no soak this week; the next is A on Tue 1 Jun" in seen(later).short
    assert seen(plan(soaks=[], outlets=[])).short.endswith("no soak this week.")


@pytest.mark.parametrize(
    ("promise", "chance", "said"),
    [
        (4.0, 0.9, "Stall, you can promise all 8.8 lb"),
        (2.0, 0.5, "Stall, promise 4.4 lb of 8.8 lb"),
        (2.0, 0.1, "Stall, you can't fill this: about 4.4 lb of 8.8 lb"),
        (0.05, 0.3, "Stall wants 8.8 lb: promise nothing yet"),
    ],
)
def test_what_can_be_said_to_an_outlet(promise: float, chance: float, said: str):
    assert sale_words(sale(promise, chance), "us") == said


@pytest.mark.parametrize(
    ("promise", "given", "said"),
    [
        (2.0, 2.0, "Stall, 4.4 lb promised: likely enough"),
        (4.0, 2.0, "Stall, 4.4 lb promised; you can promise all 8.8 lb"),
        (3.0, 2.0, "Stall, 4.4 lb promised; you can promise 6.6 lb of 8.8 lb in all"),
        (1.0, 2.0, "Stall, 4.4 lb promised, but only 2.2 lb is likely enough: tell them in time"),
        (0.01, 2.0, "Stall, 4.4 lb promised, but none of it is likely enough: tell them in time"),
    ],
)
def test_a_promise_that_was_given_is_told_where_the_sale_is(
    promise: float, given: float, said: str
):
    one = sale(promise, 0.9).model_copy(update={"given_kg": given})
    assert sale_words(one, "us") == said


def test_only_the_next_two_days_of_sale_are_told():
    days = [TODAY + timedelta(days=n) for n in (1, 1, 5, 12)]
    made = plan(outlets=[{**sale(4.0, 0.9).plain(), "on": day.isoformat()} for day in days])
    assert [line.split(":")[0] for line in seen(made).sales] == [
        "Tue 4 May",
        "Tue 4 May",
        "Sat 8 May",
    ]


def test_natural_flushes_beyond_three_weeks_are_not_told():
    weeks = [(3, 0.6), (10, 0.2), (17, 0.5), (24, 0.9)]
    entries = [
        {"stack": f"N{day}", "week": f"2027-05-{day:02}", "chance": chance, "expected_kg": 1.2}
        for day, chance in weeks
    ]
    assert seen(plan(natural=entries)).natural == (
        "N3 (60% likely, then about 4.4 lb) this week",
        "N17 (50% likely, then about 5.3 lb) in the week of Mon 17 May",
    )


def test_a_natural_flush_that_is_being_picked_is_not_said_to_come():
    weeks = [("A", "2027-05-03"), ("A", "2027-05-17"), ("B", "2027-05-03")]
    entries = [{"stack": a, "week": on, "chance": 0.6, "expected_kg": 1.2} for a, on in weeks]
    flush = {
        "stack": "A",
        "kind": "natural",
        "begun": "2027-05-02",
        "pick": {"p10": "2027-05-02", "p50": "2027-05-02", "p90": "2027-05-02"},
        "last": "2027-05-10",
        "expected_kg": 1.9,
    }
    told = seen(plan(natural=entries, flushes=[flush])).natural
    assert [line.partition(" (")[0] for line in told] == ["B", "A"]
    (this_week, _) = seen(plan(natural=entries, flushes=[{**flush, "kind": "forced"}])).natural
    assert this_week.startswith("A (") and "and B (" in this_week


def job(stack: str, kind: ReminderKind = "pick", day: date = TODAY) -> Reminder:
    return Reminder(kind, stack, 1, day, day + timedelta(days=4), f"{kind} {stack} now")


def test_what_all_lots_of_a_stack_ask_for_alike_is_told_once():
    dates = ("2027-05-14",) * 3
    made = plan(
        soaks=[soak(name, 8, "2027-05-07", "2027-05-08", dates, 1.0, "x") for name in "AB"]
        + [soak(f"D/{n}", 8, "2027-05-07", "2027-05-08", dates, 1.0, "x") for n in (1, 2)],
        not_soaked=[{"stack": "D/3", "reason": "rests"}],
    )
    lots = [job(f"D/{n}") for n in (1, 2, 3)]
    (told,) = told_together(lots, made, "metric")
    assert (told.stack, told.summary, told.last_day) == ("D", "pick D now", lots[0].last_day)
    # Two of three, other days, and what goes into the tank or out of it stay each lot's own.
    later = job("D/3", day=TODAY + timedelta(days=1))
    for apart in (lots[:2], [*lots[:2], later], [job("A"), job("B")]):
        assert told_together(apart, made, "metric") == apart
    for kind in ("soak", "pull"):
        apart = [job(f"D/{n}", kind) for n in (1, 2, 3)]
        assert told_together(apart, made, "metric") == apart
    others = [job("B"), *lots, job("A")]
    assert [each.stack for each in told_together(others, made, "metric")] == ["B", "D", "A"]


def test_lots_told_as_one_stack_have_their_weights_summed():
    made = plan(not_soaked=[{"stack": f"D/{n}", "reason": "rests"} for n in (1, 2, 3)])

    def of_lots(kind: ReminderKind, weights: Weights, **words: Any) -> Reminder:
        drafts = [job(f"D/{n}", kind) for n in (1, 2, 3)]
        (told,) = told_together(
            [replace(draft, weights=weights, **words) for draft in drafts], made, "metric"
        )
        return told

    coming = of_lots("picking", Weights(2.63, 2.88), reasons=("so far 2.6 kg",))
    assert coming.summary == "Pick D: about 8.6 kg still to come"
    assert coming.reasons == ("so far 7.9 kg, about 16.5 kg in all",)
    picked = of_lots("pick", Weights(2.63, latest=1.23), done=True)
    day = day_words(picked.last_day)
    assert picked.summary == f"Picked D: 3.7 kg on {day}, 7.9 kg of this flush so far"
    assert of_lots("pick", Weights(2.63), done=True).summary == "Picked D: 7.9 kg"


def test_a_soak_that_fails_in_more_than_one_year_of_ten_says_so_wherever_it_is_told():
    entry = soak("A", 8, "2027-05-07", "2027-05-08", ("2027-05-14",) * 3, 1.0, "x")
    for comes, said in ((0.63, "something comes in 6 of 10 years"), (0.95, ""), (None, "")):
        made = plan(soaks=[{**entry, "comes": comes}])
        (job_of_soak,) = [job for job in seen(made).jobs if job.words.startswith("Soak A")]
        listed = reminders(made, yard(), diary())
        (reminder,) = [r for r in listed if r.kind == "soak" and not r.done and r.stack == "A"]
        for words in (job_of_soak.why, reminder.description):
            assert (said in words) if said else "something comes" not in words
        print_out = io.StringIO()
        answer = PlanAnswer(made, yard(), diary()).table()
        Console(file=print_out, width=100).print(answer)
        # Below the line of the week and below the row of the soak.
        assert print_out.getvalue().count("something comes in 6 of 10 years") == 2 * bool(said)
