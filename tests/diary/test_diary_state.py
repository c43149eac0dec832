"""What the diary says of each stack on a day."""

from __future__ import annotations

import re
import time
from dataclasses import MISSING, fields, replace
from datetime import date, timedelta

import pytest

from fruitcast.diary.book import Diary
from fruitcast.diary.events import WHITE_ENDS, Event
from fruitcast.diary.history import StackHistory, dry_basis_moisture
from fruitcast.diary.plan import Plan
from fruitcast.diary.state import Pick, SampleLog, Soak, StackState
from fruitcast.diary.state_from_diary import (
    left_undone,
    read_yard_state,
    released,
    unplanned,
    yard_state,
)
from fruitcast.numbers import default_numbers
from tests.diary.diary_samples import NOW, TODAY, day, entry, stack, yard
from tests.outputs.sample_plan import plan as published_plan
from tests.outputs.sample_plan import soak


def state(*events: Event, today: date = TODAY, plan: Plan | None = None, **changes):
    return yard_state(yard(**changes), events, today, plan)


def test_without_entries_every_stack_stands_as_listed():
    seen = state()
    assert {name: s.logs for name, s in seen.stacks.items()} == {
        "A": 24,
        "B": 30,
        "C": 12,
        "H/1": 50,
        "H/2": 50,
    }
    assert seen.lot_of == {"A": "A", "B": "B", "C": "C", "H/1": "H", "H/2": "H"}
    assert not seen.stock and not seen.notes and not seen.published and not seen.rain_gauge
    assert all(not s.soaks and not s.picks and not s.in_tank for s in seen.stacks.values())


def test_a_soak_holds_the_tank_until_the_pull():
    soak = entry("soak", "05-04", "A", hours=24.0)
    assert state(soak, today=day("05-05")).stacks["A"].in_tank
    pulled = state(soak, entry("pull", "05-05", "A"), today=day("05-05")).stacks["A"]
    assert not pulled.in_tank
    assert pulled.last_soak == Soak(day("05-04"), 24, 24.0, day("05-05"))


def test_a_part_of_a_stack_may_be_soaked_and_the_rest_after_it():
    seen = state(
        entry("soak", "05-04", "A", logs=12, hours=72.0), entry("soak", "05-05", "A", logs=12)
    ).stacks["A"]
    assert [(s.on, s.logs, s.pulled_on) for s in seen.soaks] == [
        (day("05-04"), 12, None),
        (day("05-05"), 12, None),
    ]
    assert seen.in_tank


def test_nothing_dated_after_today_is_known_but_late_records_of_earlier_days_are():
    late = replace(entry("pick", "05-01", "A", kg=1.0), recorded_at=NOW + timedelta(days=9))
    future = replace(entry("soak", "05-10", "A"), recorded_at=NOW)
    seen = state(late, future).stacks["A"]
    assert seen.picked_kg == 1.0
    assert not seen.soaks


def test_the_order_of_recording_does_not_matter():
    events = [
        entry("soak", "04-06", "A", hours=24.0),
        entry("pull", "04-07", "A"),
        entry("pick", "04-18", "A", kg=1.2),
        entry("pins", "05-05", "A"),
    ]
    assert state(*events).stacks["A"] == state(*reversed(events)).stacks["A"]


def test_a_pick_within_35_days_of_the_pull_is_forced_and_a_later_one_natural():
    seen = state(
        entry("soak", "03-01", "A", hours=24.0),
        entry("pull", "03-02", "A"),
        entry("pick", "02-27", "A", kg=0.1),
        entry("pick", "04-06", "A", kg=0.5),  # the 35th day after the pull
        entry("pick", "04-07", "A", kg=0.7),
    ).stacks["A"]
    assert [(p.on, p.kind, p.soaked_on) for p in seen.picks] == [
        (day("02-27"), "natural", None),
        (day("04-06"), "forced", day("03-01")),
        (day("04-07"), "natural", None),
    ]
    assert seen.natural_seen_on == day("02-27")


def test_mushrooms_seen_without_a_soak_prove_the_spawn_run_done():
    assert state(entry("fruiting", "05-01", "A")).stacks["A"].natural_seen_on == day("05-01")
    after_soak = state(
        entry("soak", "04-20", "A"), entry("pull", "04-21", "A"), entry("fruiting", "05-01", "A")
    ).stacks["A"]
    assert after_soak.natural_seen_on is None
    assert after_soak.fruiting_on == day("05-01")


@pytest.mark.parametrize("kind", ["pins", "fruiting"])
@pytest.mark.parametrize("later", [("pick", {"kg": 1.0}), ("soak", {})])
def test_pins_and_fruiting_end_with_the_pick_or_a_soak(kind, later):
    seen = entry(kind, "05-01", "A")
    attribute = f"{kind}_on"
    assert getattr(state(seen).stacks["A"], attribute) == day("05-01")
    over = state(seen, entry(later[0], "05-04", "A", **later[1])).stacks["A"]
    assert getattr(over, attribute) is None


def test_pins_never_picked_do_not_bar_a_stack_for_ever():
    pins = entry("pins", "05-01", "A")
    assert state(pins, today=day("05-31")).stacks["A"].pins_on == day("05-01")
    gone = state(pins, today=day("06-01"))
    assert gone.stacks["A"].pins_on is None
    assert gone.notes == (
        "A: pins seen on 2027-05-01 and nothing picked since; taken as gone. "
        "If nothing came, record 'nothing' for the stack",
    )


def test_pins_counted_are_kept_with_their_day():
    counted = state(entry("pins", "05-01", "A", note="about 15 a log; small")).stacks["A"]
    assert counted.pins_counted == (day("05-01"), 15.0)
    again = state(
        entry("pins", "05-01", "A", note="15 pins per log"), entry("pins", "05-03", "A")
    ).stacks["A"]
    assert (again.pins_on, again.pins_counted) == (day("05-03"), (day("05-01"), 15.0))


def test_nothing_came_of_a_soak_or_of_pins():
    soak, pull = entry("soak", "03-02", "A"), entry("pull", "03-03", "A")
    failed = state(soak, pull, entry("nothing", "04-01", "A")).stacks["A"]
    assert failed.last_soak is not None and failed.last_soak.brought_nothing
    # What was picked of it is no nothing; pins end all the same.
    picked = entry("pick", "03-14", "A", kg=1.0)
    pins = entry("pins", "03-30", "A")
    kept = state(soak, pull, picked, pins, entry("nothing", "04-01", "A")).stacks["A"]
    assert kept.last_soak is not None and not kept.last_soak.brought_nothing
    assert kept.pins_on is None
    # A later soak is another one.
    later = [entry("soak", "05-01", "A"), entry("pull", "05-02", "A")]
    both = state(soak, pull, entry("nothing", "04-01", "A"), *later).stacks["A"].soaks
    assert [one.brought_nothing for one in both] == [True, False]


def test_a_forgotten_pull_is_inferred_and_said():
    soak = entry("soak", "05-04", "A", hours=40.0)
    assert state(soak, today=day("05-13")).stacks["A"].in_tank
    later = state(soak, today=day("05-14"))
    assert later.stacks["A"].last_soak == Soak(day("05-04"), 24, 40.0, day("05-06"), False)
    assert (
        "A: soaked on 2027-05-04 and no pull recorded; taken as pulled on 2027-05-06"
        in (later.notes[0])
    )
    # The pull recorded at last replaces the guess.
    recorded = state(soak, entry("pull", "05-05", "A"), today=day("05-14"))
    assert recorded.stacks["A"].last_soak == Soak(day("05-04"), 24, 40.0, day("05-05"))
    assert not recorded.notes


def test_a_pick_or_another_soak_shows_that_the_logs_were_pulled():
    soak = entry("soak", "04-01", "A", hours=24.0)
    picked = state(soak, entry("pick", "04-12", "A", kg=1.0), today=day("04-12"))
    assert picked.stacks["A"].picks[0].soaked_on == day("04-01")
    assert not picked.stacks["A"].in_tank
    again = state(soak, entry("soak", "04-05", "A"), today=day("04-05"))
    assert [s.pulled_on for s in again.stacks["A"].soaks] == [day("04-02"), None]


def test_a_pull_without_a_soak_is_left_out_and_said():
    seen = state(entry("pull", "05-04", "A"))
    assert not seen.stacks["A"].soaks
    assert "A: a pull on 2027-05-04 without a soak" in seen.notes[0]


def test_dead_and_retired_logs_leave_the_stack():
    seen = state(
        entry("inspect", "04-01", "A", logs=3, findings=("loose bark", "dead logs")),
        entry("retire", "05-01", "A", logs=1),
        entry("retire", "05-02", "C"),
    )
    assert seen.stacks["A"].logs == 20
    assert seen.stacks["A"].lost == ((day("04-01"), 3), (day("05-01"), 1))
    assert seen.stacks["A"].inspected_on == day("04-01")
    assert seen.stacks["A"].findings == ("loose bark", "dead logs")
    assert seen.stacks["C"].logs == 0


def test_the_spawn_run_is_seen_done_at_the_first_inspection_that_says_so():
    seen = state(
        entry("inspect", "03-01", "A", findings=("white ends",)),
        entry("inspect", "04-01", "A", findings=("spawn run done",)),
        entry("inspect", "05-01", "A", findings=("spawn run done",)),
    ).stacks["A"]
    assert seen.spawn_run_seen_on == day("04-01")


def test_what_is_done_to_a_stack_of_lots_holds_for_each_and_weights_are_shared_by_logs():
    seen = state(
        entry("retire", "04-01", "H/1", logs=20),  # 30 and 50 logs are left
        entry("soak", "05-01", "H"),
        entry("pull", "05-02", "H"),
        entry("pick", "05-06", "H", kg=8.0),
        entry("pick", "05-07", "H/2", kg=1.0),
    ).stacks
    assert [seen[lot].logs for lot in ("H/1", "H/2")] == [30, 50]
    assert [seen[lot].soaks[0].logs for lot in ("H/1", "H/2")] == [30, 50]
    assert [seen[lot].picked_kg for lot in ("H/1", "H/2")] == pytest.approx([3.0, 6.0])


def test_lots_keep_apart_what_is_recorded_for_one():
    seen = state(entry("soak", "05-04", "H/2")).stacks
    assert not seen["H/1"].soaks
    assert seen["H/2"].soaks[0].logs == 50


def test_dead_logs_of_a_stack_of_lots_are_whole_logs():
    seen = state(entry("inspect", "04-01", "H", logs=7, findings=("dead logs",))).stacks
    assert sorted([seen["H/1"].logs, seen["H/2"].logs]) == [46, 47]


def test_entries_for_a_lot_that_a_larger_tank_did_away_with_hold_for_the_stack():
    larger = replace(yard().soaking, tank_logs=120)
    seen = state(entry("pick", "05-04", "H/2", kg=2.0), soaking=larger)
    assert seen.stacks["H"].picked_kg == 2.0
    assert not seen.notes


def test_a_split_takes_its_share_of_the_past_along():
    seen = state(
        entry("soak", "03-01", "A"),
        entry("pull", "03-02", "A"),
        entry("pick", "03-20", "A", kg=2.4),
        entry("split", "04-01", "A", logs=10, into="K"),
        entry("pick", "05-01", "K", kg=1.0),
    )
    a, k = seen.stacks["A"], seen.stacks["K"]
    assert (a.logs, k.logs) == (14, 10)
    assert seen.lot_of["K"] == "A"
    assert a.picked_kg == pytest.approx(1.4)
    assert [(p.on, round(p.kg, 6)) for p in k.picks] == [(day("03-20"), 1.0), (day("05-01"), 1.0)]
    assert [s.on for s in k.soaks] == [day("03-01")]
    assert a.picked_kg + k.picked_kg == pytest.approx(3.4)


FULL = StackState(
    name="A",
    logs=24,
    soaks=(Soak(day("04-20"), 24, 30.0, day("04-21"), False, True),),
    picks=(Pick(day("03-20"), 2.4, "natural"),),
    pins_on=day("05-02"),
    pins_counted=(day("05-02"), 15.0),
    fruiting_on=day("05-03"),
    natural_seen_on=day("03-20"),
    spawn_run_seen_on=day("03-01"),
    moisture_seen=((day("03-02"), 0.6),),
    watered=((day("04-02"), 20.0),),
    sample_logs=(SampleLog("1", day("03-02"), 12.0, 0.4),),
    inspected_on=day("03-01"),
    findings=(WHITE_ENDS,),
    lost=((day("03-01"), 2),),
    place="north bank",
    white_ends_on=day("03-01"),
    fixed=(day("06-01"), 24.0),
    held_until=day("07-01"),
    held_since=day("05-01"),
    tended=(("turn", day("04-25")),),
)
"""A state in which every field says something."""


def left_at_default(seen: StackState | Soak) -> set[str]:
    return {
        f.name
        for f in fields(seen)
        if f.default is not MISSING and getattr(seen, f.name) == f.default
    }


def test_a_history_made_of_a_state_leads_to_it_again():
    assert not left_at_default(FULL) and not any(left_at_default(soak) for soak in FULL.soaks)
    history = StackHistory.of(FULL, "A", default_numbers().diary)
    assert history.state(TODAY) == FULL and not history.notes


def test_a_split_hands_over_all_that_was_seen_but_who_died_and_which_log_was_weighed():
    old = StackHistory.of(FULL, "A", default_numbers().diary)
    new = StackHistory("K", "A", 0, 0.0, default_numbers().diary)
    old.give(10, new)
    assert left_at_default(new.state(TODAY)) == {"lost", "sample_logs"}
    assert not any(left_at_default(soak) for soak in new.state(TODAY).soaks)
    assert new.state(TODAY).pins_counted == FULL.pins_counted


def test_the_last_word_about_a_stack_holds_until_it_is_soaked_or_let_go():
    fix = entry("fix", "05-01", "A", hours=24.0, into="2027-06-01")
    hold = entry("hold", "05-02", "A", into="season")
    assert state(fix).stacks["A"].fixed == (day("06-01"), 24.0)
    held = state(fix, hold).stacks["A"]
    assert (held.fixed, held.held_until, held.held_since) == (None, None, day("05-02"))
    for last in (entry("release", "05-03", "A"), entry("soak", "05-03", "A")):
        free = state(fix, hold, last).stacks["A"]
        assert (free.fixed, free.held_until, free.held_since) == (None, None, None)
    gone = state(entry("fix", "04-01", "A", into="2027-04-20"))
    assert gone.stacks["A"].fixed is None
    assert any("fixed for 2027-04-20 and not soaked" in note for note in gone.notes)
    over = state(entry("hold", "04-01", "A", into="2027-05-01")).stacks["A"]
    assert over.held_since is None


def test_a_day_let_go_binds_no_longer_and_one_that_was_kept_does():
    dates = ("2027-06-10", "2027-06-11", "2027-06-12")
    soaks = [soak(name, 24, "2027-06-01", "2027-06-02", dates, 1.0) for name in "AB"]
    made = published_plan(soaks=[{**soaks[0], "fixed": True}, soaks[1]])
    fix = entry("fix", "05-01", "A", into="2027-06-01")
    assert released(made, state(fix)) == frozenset()
    assert released(made, state(fix, entry("release", "05-03", "A"))) == {"A"}
    done = entry("soak", "05-30", "A")
    assert released(made, state(fix, done, today=day("05-31"))) == frozenset()
    assert released(None, state(fix)) == frozenset()


def test_what_was_promised_is_known_until_its_day_and_the_last_word_counts():
    first = entry("promised", "05-01", outlet="Inn", kg=2.0, into="2027-06-01")
    second = entry("promised", "05-02", outlet="Inn", kg=1.5, into="2027-06-01")
    past = entry("promised", "04-01", outlet="Inn", kg=1.0, into="2027-04-20")
    assert state(first, second, past).promised == (("Inn", day("06-01"), 1.5),)


def test_a_promise_is_taken_off_for_its_day_or_all_of_an_outlet():
    days = ("2027-06-01", "2027-06-08")
    given = [entry("promised", "05-01", outlet="Inn", kg=2.0, into=on) for on in days]
    given.append(entry("promised", "05-01", outlet="Shop", kg=1.0, into=days[0]))
    one = entry("release", "05-02", outlet="Inn", into=days[0])
    assert state(*given, one).promised == (
        ("Inn", day("06-08"), 2.0),
        ("Shop", day("06-01"), 1.0),
    )
    every = entry("release", "05-02", outlet="Inn")
    assert state(*given, every).promised == (("Shop", day("06-01"), 1.0),)
    # A promise given afterwards stands, and no stack's word was let go with it.
    held = entry("hold", "05-01", "A", into="season")
    after = state(held, *given, every, replace(given[0], on=day("05-03")))
    assert ("Inn", day("06-01"), 2.0) in after.promised
    assert after.stacks["A"].held_since == day("05-01")


def test_of_two_counts_of_pins_a_merged_stack_keeps_the_later():
    counts = [
        entry("pins", f"05-0{n}", name, note=f"{10 * n} a log") for n, name in ((1, "A"), (2, "B"))
    ]
    for source, into in (("A", "B"), ("B", "A")):
        seen = state(*counts, entry("merge", "05-03", source, into=into)).stacks
        assert seen[into].pins_counted == (day("05-02"), 20.0)
        assert seen[source].pins_counted is None


def test_a_split_larger_than_the_tank_becomes_lots():
    seen = state(entry("split", "04-01", "H", logs=80, into="K")).stacks
    assert {name: s.logs for name, s in seen.items() if name[0] in "HK"} == {
        "H/1": 10,
        "H/2": 10,
        "K/1": 40,
        "K/2": 40,
    }


def test_a_merge_moves_logs_and_past_and_rest_counts_from_the_later_soak():
    seen = state(
        entry("soak", "03-01", "A"),
        entry("pull", "03-02", "A"),
        entry("soak", "04-01", "C"),
        entry("pull", "04-02", "C"),
        entry("pick", "04-12", "C", kg=0.9),
        entry("merge", "05-01", "C", into="A"),
    ).stacks
    assert (seen["A"].logs, seen["C"].logs) == (36, 0)
    assert [s.on for s in seen["A"].soaks] == [day("03-01"), day("04-01")]
    assert seen["A"].picked_kg == pytest.approx(0.9)
    assert seen["C"].picked_kg == 0.0


def test_a_move_is_kept():
    assert state(entry("move", "05-01", "A", into="north bank")).stacks["A"].place == "north bank"


def test_a_stack_missing_from_the_list_is_left_out_and_said():
    seen = state(entry("soak", "05-01", "Z"), entry("pull", "05-02", "Z"))
    assert "Z" not in seen.stacks
    assert seen.notes[0].startswith("Z: 2 diary entries left out, the stack is not in stacks.csv")


def test_a_cancelled_entry_never_happened_and_an_undone_undo_brings_it_back():
    soak = replace(entry("soak", "05-04", "A"), uuid="s")
    undo = replace(entry("undo", "05-04", cancels="s"), uuid="u")
    redo = replace(entry("undo", "05-04", cancels="u"), uuid="r")
    assert not state(soak, undo).stacks["A"].soaks
    assert state(soak, undo, redo).stacks["A"].soaks
    # A correction dated after the day asked about corrects that day too.
    late = replace(undo, on=day("05-20"))
    assert not state(soak, late).stacks["A"].soaks


@pytest.mark.parametrize(
    ("kg", "start_kg", "wet", "expected_wet"),
    [
        # Figures worked out by hand: 42 % wet is 58 dry and 42 water of 100; 90 is left of
        # 100, so 32 water of 90.
        (90.0, 100.0, 0.42, 32 / 90),
        (83.0, 100.0, 0.42, 25 / 83),
        (35.0, 35.0, 0.42, 0.42),
    ],
)
def test_moisture_from_the_weight_of_a_sample_log(kg, start_kg, wet, expected_wet):
    dry_basis = dry_basis_moisture(kg, start_kg, wet)
    assert dry_basis / (1 + dry_basis) == pytest.approx(expected_wet)


def test_moisture_check_values():
    def wet(lighter: float) -> float:
        moisture = dry_basis_moisture(1.0 - lighter, 1.0, 0.42)
        return moisture / (1 + moisture)

    assert round(100 * wet(0.10), 1) == 35.6
    assert round(100 * wet(0.17), 1) == 30.1
    # Hill (Univ. of Kentucky FOR-83) weighs 35 lb at first and 29 lb later: a 17 % loss.
    assert round(100 * (1 - 29 / 35)) == 17


def test_weighings_count_from_the_baseline_in_force():
    seen = state(
        entry("weigh", "2026-04-01", "A", kg=10.0, start_kg=10.0, moisture_wet=0.4),
        entry("weigh", "2026-08-01", "A", kg=9.0),
        entry("weigh", "04-01", "A", kg=9.5, start_kg=9.5, moisture_wet=0.45),
        entry("weigh", "05-01", "A", kg=9.0),
    ).stacks["A"]
    assert [m for _, m in seen.moisture_seen] == pytest.approx(
        [4 / 6, 3 / 6, 0.45 / 0.55, (9.0 - 5.225) / 5.225]
    )
    assert seen.sample_logs[0].since == day("04-01")
    assert seen.sample_logs[0].dry_kg == pytest.approx(5.225)


def test_two_sample_logs_of_a_day_are_averaged():
    seen = state(
        entry("weigh", "04-01", "A", kg=10.0, start_kg=10.0, moisture_wet=0.5, sample="1"),
        entry("weigh", "04-01", "A", kg=10.0, start_kg=10.0, moisture_wet=0.4, sample="2"),
    ).stacks["A"]
    assert seen.moisture_seen == ((day("04-01"), pytest.approx((1.0 + 4 / 6) / 2)),)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kg": 9.0}, "A: the weight of 2027-05-01 says nothing without a starting weight"),
        (
            {"kg": 3.0, "start_kg": 10.0, "moisture_wet": 0.4},
            r"A: the sample log weighed 3.00 kg on 2027-05-01, less than its dry wood \(6.00 kg\)",
        ),
    ],
)
def test_weighings_that_say_nothing_are_named(fields, words):
    seen = state(entry("weigh", "05-01", "A", **fields))
    assert not seen.stacks["A"].moisture_seen
    assert re.match(words, seen.notes[0])


def test_water_in_mm_in_litres_or_without_an_amount():
    seen = state(
        entry("water", "05-01", "A", mm=12.0),
        # 24 logs of 0.125 x 1 m cover 3 m2: 60 litres are 20 mm.
        entry("water", "05-02", "A", litres=60.0),
        entry("water", "05-03"),
    ).stacks
    assert seen["A"].watered == (
        (day("05-01"), 12.0),
        (day("05-02"), pytest.approx(20.0)),
        (day("05-03"), 25.0),
    )
    assert seen["H/2"].watered == ((day("05-03"), 25.0),)


def test_the_last_reading_of_the_rain_gauge_counts():
    seen = state(entry("rain", "05-01", mm=3.0), entry("rain", "05-01", mm=5.0))
    assert seen.rain_gauge == {day("05-01"): 5.0}


def stock(*events: Event, today: date = TODAY) -> dict[str, float]:
    return {on.isoformat()[5:]: round(kg, 6) for on, kg in state(*events, today=today).stock}


def test_stock_is_picks_less_the_unsaleable_and_what_was_sold_oldest_first():
    picks = (entry("pick", "05-03", "A", kg=2.0), entry("pick", "05-05", "B", kg=1.0))
    assert stock(*picks) == {"05-03": 1.7, "05-05": 0.85}
    sold = entry("sold", "05-05", kg=1.9, outlet="Inn")
    assert stock(*picks, sold) == {"05-05": 0.65}
    assert stock(*picks, sold, entry("discard", "05-06", kg=0.15)) == {"05-05": 0.5}


def test_stock_older_than_the_cold_store_keeps_is_gone():
    pick = entry("pick", "05-01", "A", kg=1.0)
    assert stock(pick, today=day("05-11")) == {"05-01": 0.85}
    assert stock(pick, today=day("05-12")) == {}


def test_a_count_of_the_stock_overrules_what_was_thought():
    picks = (entry("pick", "05-03", "A", kg=2.0), entry("pick", "05-05", "B", kg=1.0))
    less = entry("stock", "05-06", kg=1.0)
    assert stock(*picks, less) == {"05-03": 0.15, "05-05": 0.85}
    more = entry("stock", "05-06", kg=3.0)
    assert stock(*picks, more) == {"05-03": 1.7, "05-05": 0.85, "05-06": 0.45}
    assert stock(*picks, entry("stock", "05-06", kg=0.0)) == {}


def test_a_count_covers_what_was_recorded_before_it_on_its_day_and_not_what_comes_after():
    before = entry("pick", "05-06", "A", kg=1.0)
    count = entry("stock", "05-06", kg=0.5)
    after = entry("pick", "05-06", "B", kg=2.0)
    assert stock(before, count, after) == {"05-06": 2.2}


def test_a_sale_written_down_before_the_pick_of_the_same_day_still_takes_it():
    assert stock(entry("sold", "05-05", kg=0.85), entry("pick", "05-05", "A", kg=1.0)) == {}


def plan(*soaks: tuple[str, str]) -> Plan:
    days = [(stack, f"2027-{on}") for stack, on in soaks]
    return published_plan(soaks=[soak(s, 20, on, on, (on,) * 3, 2.0) for s, on in days])


def test_a_published_soak_that_nobody_recorded_is_asked_after():
    soaks = plan(("A", "05-04"), ("B", "05-04"), ("C", "05-05")).soaks

    def asked(*events: Event, on: str = "05-06") -> list[str]:
        return left_undone(soaks, state(*events, today=day(on)).stacks, day(on))

    assert asked(on="05-04") == []  # its day is not over
    both, last = asked()
    assert both.startswith("A and B: planned to be soaked on Tue 4 May, and no soak is recorded.")
    assert "'fruitcast record soaked C on 2027-05-05'" in last
    one, _ = asked(entry("soak", "05-02", "A"), entry("pull", "05-03", "A"))
    assert one.startswith("B: ")
    assert asked(entry("hold", "05-03", "C", into="2027-06-30"))[1:] == []
    assert asked(on="07-01") == []  # so long ago nobody knows


def test_the_next_published_soak_of_each_stack():
    made = plan(("A", "05-04"), ("A", "07-06"), ("B", "05-07"), ("B", "07-13"), ("Q", "05-11"))
    assert state(plan=made).published == {"A": day("07-06"), "B": day("05-07")}
    # What is done is no longer next.
    assert state(entry("soak", "05-07", "B"), plan=made).published["B"] == day("07-13")


def test_lots_parted_otherwise_than_planned_were_not_planned():
    def new(*planned: str, seen=None) -> set[str]:
        return set(unplanned(planned, seen or state()))

    everything = ("A", "B", "C", "H/1", "H/2")
    assert new(*everything) == set()
    assert new("A", "B", "C", "H") == {"H/1", "H/2"}
    # The name H/1 was there, but for another part of the stack.
    assert new("A", "B", "C", "H/1", "H/2", "H/3") == {"H/1", "H/2"}
    assert new("A", "B/1", "B/2", "C", "H/1", "H/2") == {"B"}
    # A stack that came since, one that is gone since, and one without a log left.
    assert new("A", "C", "H/1", "H/2") == {"B"}
    assert new(*everything, "Q") == set()
    rest = state(entry("retire", "05-04", "H/2", logs=50))
    assert new(*everything, seen=rest) == {"H/1"}
    assert new("A", "B", "C", "H/1", seen=rest) == set()


def test_the_state_is_read_from_the_yards_diary(tmp_path):
    here = yard(tmp_path)
    assert read_yard_state(here, TODAY) == yard_state(here, (), TODAY)
    assert not list(tmp_path.iterdir())
    with Diary(here.diary_file) as diary:
        diary.add([entry("soak", "05-04", "A")], NOW)
        for on, soak_on in (("05-05", "2027-05-11"), ("05-09", "2027-05-14")):
            soaks = [soak("B", 20, soak_on, soak_on, (soak_on,) * 3, 2.0)]
            diary.save_document("plan", day(on), published_plan(soaks=soaks).json_text())
    seen = read_yard_state(here, TODAY)
    assert seen.stacks["A"].in_tank
    assert seen.published == {"B": day("05-11")}  # the later plan is not known yet


@pytest.mark.benchmark
def test_a_diary_of_5000_entries_is_read_in_under_50_ms():
    kinds = [
        ("soak", {"hours": 24.0}),
        ("pull", {}),
        ("pins", {}),
        ("pick", {"kg": 1.0}),
        ("pick", {"kg": 0.5}),
        ("sold", {"kg": 1.2}),
        ("water", {"mm": 10.0}),
        ("rain", {"mm": 3.0}),
    ]
    events = []
    for n in range(5000):
        kind, fields = kinds[n % len(kinds)]
        on = date(2025, 1, 1) + timedelta(days=n // 6)
        events.append(Event(kind, on, "AB"[n // len(kinds) % 2], **fields))
    here = yard(stacks=(stack("A"), stack("B")))
    best = float("inf")
    for _ in range(5):
        begun = time.process_time()
        yard_state(here, events, TODAY)
        best = min(best, time.process_time() - begun)
    assert best < 0.05, f"{1000 * best:.0f} ms"


def test_a_split_of_more_logs_than_there_are_takes_what_is_there_and_says_so():
    seen = state(entry("split", "05-01", "C", logs=20, into="K"))
    assert (seen.stacks["C"].logs, seen.stacks["K"].logs) == (0, 12)
    assert seen.notes == ("C: the split of 2027-05-01 wants 20 logs, 12 were there",)


def test_a_merge_into_a_stack_that_is_not_there_changes_nothing_and_is_said():
    seen = state(entry("merge", "05-01", "C", into="Q"))
    assert seen.stacks["C"].logs == 12
    assert seen.notes[0].startswith("Q: 1 diary entry left out")


def test_logs_merged_into_lots_are_shared_among_them():
    seen = state(
        entry("retire", "04-01", "H/1", logs=25), entry("merge", "05-01", "C", into="H")
    ).stacks
    assert [seen[lot].logs for lot in ("H/1", "H/2")] == [29, 58]
    assert sum(s.logs for s in seen.values()) == 24 + 30 + 12 + 75


def test_a_pick_confirmed_in_its_note_says_so():
    seen = state(
        entry("pick", "04-20", "A", kg=9.0, note="weighed twice, confirmed"),
        entry("pick", "04-21", "A", kg=1.0, note="unconfirmed guess"),
    )
    assert [pick.confirmed for pick in seen.stacks["A"].picks] == [True, False]


def test_the_first_white_ends_stay_known_after_later_inspections():
    seen = state(
        entry("inspect", "03-01", "A", findings=("white ends",)),
        entry("inspect", "04-01", "A", findings=("healthy",)),
    ).stacks["A"]
    assert seen.white_ends_on == day("03-01")
    assert seen.findings == ("healthy",)
