"""What was foretold is held against the diary as it was told at the time."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from fruitcast.diary.cold_store import cold_store, cold_store_by_day
from fruitcast.diary.kept_plan import (
    AVAILABLE,
    FIRST_PICK,
    FLUSH_WEIGHT,
    NATURAL_FLUSH,
    PROMISE,
    Foretold,
)
from fruitcast.forecast.outcomes import outcomes
from fruitcast.numbers import default_numbers
from tests.diary.diary_samples import day, entry, yard

LATER = date(2027, 8, 1)


def picks(made_on: str, p50: float = 12.0, whose: str = "A", soak: str = "05-04"):
    return day(made_on), Foretold(FIRST_PICK, whose, day(soak).isoformat(), p50 - 2, p50, p50 + 4)


def weight(made_on: str, kg: float, whose: str = "A", soak: str = "05-04"):
    return day(made_on), Foretold(FLUSH_WEIGHT, whose, day(soak).isoformat(), mean=kg)


def sale(made_on: str, on: str = "05-15", outlet: str = "Saturday market", kg: float = 2.0):
    key = (outlet, day(on).isoformat())
    return [
        (day(made_on), Foretold(AVAILABLE, *key, p10=kg, p90=kg + 2, least=kg + 1, chance=0.6)),
        (day(made_on), Foretold(PROMISE, *key, least=kg, chance=0.8)),
    ]


SOAK = [entry("soak", "05-04", "A", logs=24, hours=24.0), entry("pull", "05-05", "A")]


def found(told, events, today=LATER, **changes):
    return outcomes(told, yard(**changes), events, today, default_numbers())


def shown(result, about):
    """By span: what was told of it last, and what came."""
    return {
        band: [(pair.told, pair.came) for pair in pairs]
        for (what, band), pairs in result.pairs.items()
        if what == about
    }


def test_each_lead_has_the_forecast_of_its_time():
    told = [picks("04-20", 14), picks("05-03", 13), picks("05-11", 11)]
    result = found(told, [*SOAK, entry("pick", "05-15", "A", kg=1.5)])
    # Expected on 18 May from 28 days, on 17 May from 14, on 15 May from 4.
    assert {band: rows[0][0].p50 for band, rows in shown(result, FIRST_PICK).items()} == {
        2: 14,
        1: 13,
        0: 11,
    }
    assert {rows[0][1] for rows in shown(result, FIRST_PICK).values()} == {11.0}


def test_a_forecast_that_was_not_told_again_still_stood_nearer_by():
    result = found([picks("04-22")], [*SOAK, entry("pick", "05-15", "A", kg=1.5)])
    assert {band: len(rows) for band, rows in shown(result, FIRST_PICK).items()} == {
        0: 1,
        1: 1,
        2: 1,
    }
    near = found([picks("05-10")], [*SOAK, entry("pick", "05-15", "A", kg=1.5)])
    assert list(shown(near, FIRST_PICK)) == [0]


def test_what_is_told_on_the_day_or_later_is_no_forecast():
    events = [*SOAK, entry("pick", "05-15", "A", kg=1.5)]
    assert not found([picks("05-15"), picks("05-16", 11)], events).pairs


def test_the_weight_counts_when_the_flush_is_over():
    events = [
        *SOAK,
        entry("pick", "05-15", "A", kg=1.5),
        entry("pick", "05-18", "A", kg=0.5),
    ]
    told = [picks("04-28"), weight("04-28", 3.0)]
    assert not shown(found(told, events, date(2027, 5, 19)), FLUSH_WEIGHT)
    over = shown(found(told, events), FLUSH_WEIGHT)
    assert over[1][0][0].mean == 3.0 and over[1][0][1] == pytest.approx(2.0)


def test_a_soak_on_another_day_is_another_soak():
    told = [picks("04-28", soak="05-07"), weight("04-28", 3.0, soak="05-07")]
    assert not found(told, [*SOAK, entry("pick", "05-15", "A", kg=1.5)]).pairs


def test_a_soak_of_which_nothing_is_told_is_counted_as_silent():
    told = [picks("04-28")]
    assert found(told, SOAK).silent_soaks == 1
    assert found(told, SOAK, date(2027, 5, 20)).silent_soaks == 0
    assert found(told, [*SOAK, entry("pick", "05-15", "A", kg=1.5)]).silent_soaks == 0
    assert found(told, []).silent_soaks == 0


def test_a_soak_that_brought_nothing_weighs_nothing():
    told = [picks("04-28"), weight("04-28", 3.0)]
    result = found(told, [*SOAK, entry("nothing", "06-01", "A")])
    assert [came for _, came in shown(result, FLUSH_WEIGHT)[1]] == [0.0]
    assert not shown(result, FIRST_PICK) and result.silent_soaks == 0


def test_natural_flushes_by_their_week_while_the_diary_goes_on():
    told = [
        (day("05-01"), Foretold(NATURAL_FLUSH, "B", f"2027-05-{monday}", mean=0.2, chance=0.3))
        for monday in ("03", "10", "17")
    ]
    events = [entry("pick", "05-12", "B", kg=0.4), entry("pick", "05-18", "B", kg=0.4)]
    result = shown(found(told, events), NATURAL_FLUSH)
    # The week of the 10th has the first pick; that of the 17th ends after the last entry.
    assert [(pair[0].day[-2:], pair[1]) for pair in result[0]] == [("03", 0.0), ("10", 1.0)]
    again = [*events, entry("note", "05-23", note="quiet")]
    on = shown(found(told, again), NATURAL_FLUSH)
    assert [pair[1] for pair in on[0]] == [0.0, 1.0, 0.0]
    assert [pair[1] for pair in on[1]] == [1.0, 0.0]


STOCK = [entry("stock", "05-10", kg=5.0)]


def test_what_was_on_hand_is_what_was_sold_and_what_was_left():
    sold = entry("sold", "05-15", kg=1.5, outlet="Saturday market")
    result = found(sale("05-09"), [*STOCK, sold])
    assert shown(result, AVAILABLE)[0][0][1] == pytest.approx(5.0)
    assert shown(result, PROMISE)[0][0][1] == pytest.approx(5.0)


def test_the_stock_day_by_day_is_that_of_each_day_alone():
    rng = np.random.default_rng(3)
    events = [
        entry(kind, f"05-{on:02d}", stack, kg=round(float(kg), 2), outlet=outlet)
        for on, kg in zip(np.sort(rng.integers(1, 31, 60)), rng.gamma(2.0, 1.0, 60), strict=True)
        for kind, stack, outlet in [
            [("pick", "A", ""), ("pick", "B", "Inn"), ("sold", "", "Inn"), ("stock", "", "")][
                rng.choice(4, p=[0.4, 0.2, 0.3, 0.1])
            ]
        ]
    ]
    how = {"saleable": 0.85, "keeps_days": 4}
    by_day = cold_store_by_day(events, today=LATER, **how)
    assert len(by_day) > 15
    for on, (on_hand, gone) in by_day.items():
        left, all_gone = cold_store(events, today=on, **how)
        assert tuple(on_hand) == left
        assert gone == [part for part in all_gone if part.event.on == on]


def test_a_sale_of_which_nothing_is_told_counts_for_nothing():
    assert not found(sale("05-09"), STOCK).pairs
    other = entry("sold", "05-15", kg=1.5, outlet="Inn")
    assert not found(sale("05-09"), [*STOCK, other]).pairs


def test_whoever_is_served_first_finds_more():
    """The ledger's order: of outlets that weigh the same the first by name."""
    events = [
        *STOCK,
        entry("sold", "05-15", kg=2.0, outlet="Inn"),
        entry("sold", "05-15", kg=1.0, outlet="Saturday market"),
    ]
    told = [*sale("05-09"), *sale("05-09", outlet="Inn")]
    on_hand = {forecast.whose: came for forecast, came in shown(found(told, events), AVAILABLE)[0]}
    assert on_hand == {"Inn": pytest.approx(5.0), "Saturday market": pytest.approx(3.0)}


def test_what_was_picked_on_the_day_is_there_only_as_far_as_it_was_sold_at_once():
    events = [
        entry("pick", "05-15", "B", kg=2.0),
        entry("sold", "05-15", kg=0.5, outlet="Saturday market"),
    ]
    result = found(sale("05-09"), events)
    assert shown(result, AVAILABLE)[0][0][1] == pytest.approx(0.5)


def test_an_entry_taken_back_never_happened():
    pick = entry("pick", "05-15", "A", kg=1.5, uuid="p")
    undone = [*SOAK, pick, entry("undo", "05-16", cancels="p", uuid="u")]
    assert not found([picks("05-03")], undone).pairs
